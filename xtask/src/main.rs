//! The project's own chores. Each command has its file; this one only finds and starts it.

mod bench;
mod bundle;
mod check;
mod command;
mod display;
mod golden;
mod help;
mod install;
mod instructions;
mod needs;
mod open;
mod setup;
mod shots;
mod steps;
mod test;
mod tidy;
mod tools;
mod workspace;

use std::process::ExitCode;

use command::Command;
use workspace::Workspace;

/// Every command, in the order in which `help` shows them.
const COMMANDS: &[Command] = &[
    setup::COMMAND,
    check::COMMAND,
    tidy::COMMAND,
    test::COMMAND,
    bundle::COMMAND,
    install::COMMAND,
    open::COMMAND,
    shots::COMMAND,
    golden::COMMAND,
    bench::COMMAND,
    help::COMMAND,
];

fn main() -> ExitCode {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let name = if arguments.is_empty() {
        "help".to_owned()
    } else {
        arguments.remove(0)
    };
    let name = if matches!(name.as_str(), "--help" | "-h") {
        "help"
    } else {
        name.as_str()
    };
    let Some(command) = COMMANDS.iter().find(|command| command.name == name) else {
        let names: Vec<&str> = COMMANDS.iter().map(|command| command.name).collect();
        eprintln!(
            "error: there is no command '{name}'; there are: {}",
            names.join(", ")
        );
        return ExitCode::from(2);
    };
    if arguments
        .iter()
        .any(|argument| matches!(argument.as_str(), "--help" | "-h"))
    {
        println!("{}", command.page());
        return ExitCode::SUCCESS;
    }
    match Workspace::find().and_then(|workspace| (command.run)(&workspace, &arguments)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("error: {message}");
            ExitCode::FAILURE
        }
    }
}
