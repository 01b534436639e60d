//! What a command is: its name, its documentation, its code.

use crate::workspace::Workspace;

/// A command's work; an error is the sentence shown to the user.
pub type Run = fn(&Workspace, &[String]) -> Result<(), String>;

/// One command of `cargo xtask`.
pub struct Command {
    /// The word typed after `cargo xtask`.
    pub name: &'static str,
    /// What may follow the name, as shown in the help; empty when nothing may.
    pub arguments: &'static str,
    /// One line for the list of commands.
    pub summary: &'static str,
    /// The rest of the command's page.
    pub details: &'static str,
    /// The work itself.
    pub run: Run,
}

impl Command {
    /// The command line to type, with its arguments.
    pub fn usage(&self) -> String {
        format!("cargo xtask {} {}", self.name, self.arguments)
            .trim_end()
            .to_owned()
    }

    /// The command's whole page of help.
    pub fn page(&self) -> String {
        format!(
            "{}\n    {}\n\n{}",
            self.usage(),
            self.summary,
            self.details.trim_end()
        )
    }
}

/// Refuses anything typed after a command that takes nothing.
pub fn no_arguments(name: &str, arguments: &[String]) -> Result<(), String> {
    match arguments.first() {
        None => Ok(()),
        Some(first) => Err(format!(
            "'{name}' takes no arguments, but was given '{first}'"
        )),
    }
}
