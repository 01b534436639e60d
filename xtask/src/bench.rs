//! `cargo xtask bench`: what the circuit costs.

use crate::command::Command;
use crate::tools;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "bench",
    arguments: "",
    summary: "Prints what the circuit costs, against peers, in one run",
    details: "\
Builds and runs dsp/benches/cost: nanoseconds a frame, and FMA-times (how many 256-bit fused
multiply-adds this processor does meanwhile), by oversampling, level, channels, block size and number
of instances; peers beside it; silence; start and change; the worst of a search over hostile sounds.
Takes about a minute. Nothing is compared: let nothing else run meanwhile.",
    run,
};

fn run(workspace: &Workspace, arguments: &[String]) -> Result<(), String> {
    if !arguments.is_empty() {
        return Err("'bench' takes no arguments".to_owned());
    }
    let mut command = workspace.cargo(["bench", "--package", "penstock-dsp", "--bench", "cost"]);
    tools::run(&mut command).map_err(|error| format!("the bench did not run ({error})"))
}
