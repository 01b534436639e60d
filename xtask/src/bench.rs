//! `cargo xtask bench`: what the circuit costs.

use crate::command::Command;
use crate::instructions;
use crate::setup::runner;
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "bench",
    arguments: "[--count | --record]",
    summary: "Prints what the circuit costs, against peers, in one run",
    details: "\
Builds and runs dsp/benches/cost: nanoseconds a frame, and FMA-times (how many 256-bit fused
multiply-adds this processor does meanwhile), by oversampling, level, channels, block size and number
of instances; peers beside it; silence; start and change; a whole file on one core and on two; the
worst of a search over hostile sounds. Takes a minute or two. Nothing is compared: let nothing else run meanwhile.

  --count     instead counts instructions (dsp/benches/instructions, by valgrind) and compares them
              with what is recorded, as test does; whatever else runs
  --record    the same, and records what was found",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    match arguments {
        [] => cost(workspace),
        [option] if option == "--count" => {
            runner::prepare(workspace)?;
            instructions::compare(workspace)
        }
        [option] if option == "--record" => {
            runner::prepare(workspace)?;
            instructions::record(workspace)
        }
        _ => Err(format!("'bench' takes {}", COMMAND.arguments)),
    }
}

fn cost(workspace: &Workspace) -> Result<(), String> {
    let mut command = workspace.cargo(["bench", "--package", "penstock-dsp", "--bench", "cost"]);
    tools::run(&mut command).map_err(|error| format!("the bench did not run ({error})"))
}
