//! Programs of the machine: where they are, how to start them, how to show a command line.

use std::ffi::OsStr;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// The first of these programs that is on the search path, with its full path.
pub fn find_program(names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
    names.iter().find_map(|name| {
        let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
        folders
            .iter()
            .map(|folder| folder.join(&file))
            .find(|path| path.is_file())
    })
}

/// Whether a command runs and succeeds, its output thrown away.
pub fn succeeds(command: &mut Command) -> bool {
    command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// Runs a command that should succeed, its output shown as it comes; an error says how it ended.
pub fn run(command: &mut Command) -> Result<(), String> {
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(status.to_string()),
        Err(error) => Err(format!("could not be started: {error}")),
    }
}

/// The command as one would type it, with the variables set for it in front.
pub fn command_line(command: &Command) -> String {
    let set = command
        .get_envs()
        .filter_map(|(name, value)| Some(format!("{}={}", name.to_string_lossy(), quoted(value?))));
    // Cargo tells its children its full path, which nobody types.
    let program = match command.get_program() {
        path if path.to_string_lossy().ends_with("/cargo") => "cargo".to_owned(),
        path => quoted(path),
    };
    set.chain([program])
        .chain(command.get_args().map(quoted))
        .collect::<Vec<_>>()
        .join(" ")
}

/// A word for a POSIX shell, in quotes only where it needs them.
fn quoted(word: &OsStr) -> String {
    let word = word.to_string_lossy();
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_=./:,+@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.into_owned()
    } else {
        format!("'{}'", word.replace('\'', r"'\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_command_line_can_be_typed_again() {
        let mut command = Command::new("/usr/lib/rust/bin/cargo");
        command
            .args(["doc", "--lib", "it's two"])
            .env("RUSTDOCFLAGS", "-D warnings");
        command.env_remove("CARGO_PKG_NAME");
        assert_eq!(
            command_line(&command),
            r"RUSTDOCFLAGS='-D warnings' cargo doc --lib 'it'\''s two'"
        );
    }

    #[test]
    fn a_program_nobody_has_is_not_found() {
        assert!(find_program(&["no-such-program-anywhere"]).is_none());
        assert!(!succeeds(&mut Command::new("no-such-program-anywhere")));
        assert!(run(&mut Command::new("no-such-program-anywhere")).is_err());
    }
}
