//! `cargo xtask help`: what there is, from the same table that starts it.

use crate::COMMANDS;
use crate::command::Command;
use crate::workspace::Workspace;

/// The command's entry in the table.
pub const COMMAND: Command = Command {
    name: "help",
    arguments: "[COMMAND]",
    summary: "Shows every command, or one in full",
    details: "Without a name: one line for each command. With a name: that command's page.",
    run,
};

fn run(_: &Workspace, arguments: &[String]) -> Result<(), String> {
    match arguments {
        [] => println!("{}", overview()),
        [name] => println!("{}", page(name)?),
        _ => return Err("'help' takes at most one command name".to_owned()),
    }
    Ok(())
}

fn overview() -> String {
    let widest = COMMANDS
        .iter()
        .map(|command| command.usage().len())
        .max()
        .unwrap_or(0);
    let mut text = String::from("The project's own chores; from any folder of the project:\n");
    for command in COMMANDS {
        text.push_str(&format!(
            "\n  {:widest$}  {}",
            command.usage(),
            command.summary
        ));
    }
    text + "\n\nMore of one: cargo xtask help COMMAND"
}

fn page(name: &str) -> Result<String, String> {
    COMMANDS
        .iter()
        .find(|command| command.name == name)
        .map(Command::page)
        .ok_or_else(|| format!("there is no command '{name}' to tell of"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_a_page_and_a_line() {
        let overview = overview();
        for command in COMMANDS {
            assert!(
                overview.contains(command.summary),
                "{} is not listed",
                command.name
            );
            assert!(
                !command.details.trim().is_empty(),
                "{} has no details",
                command.name
            );
            assert!(page(command.name).is_ok());
        }
        assert!(page("no-such-command").is_err());
    }

    #[test]
    fn names_are_unique() {
        for (index, command) in COMMANDS.iter().enumerate() {
            assert!(
                COMMANDS[index + 1..]
                    .iter()
                    .all(|other| other.name != command.name)
            );
        }
    }
}
