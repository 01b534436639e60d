//! Named steps of a longer job: each announced, timed, and kept for the table at the end.

use std::process::Command;
use std::time::{Duration, Instant};

use crate::tools;

/// The steps run so far.
#[derive(Default)]
pub struct Steps {
    done: Vec<Step>,
}

struct Step {
    name: &'static str,
    took: Duration,
    passed: bool,
}

impl Steps {
    /// Runs a command as a step; the error names the step and how to repeat it.
    pub fn command(&mut self, name: &'static str, command: &mut Command) -> Result<(), String> {
        println!("\n{name}: {}", tools::command_line(command));
        self.task(name, || {
            tools::run(command).map_err(|error| {
                let line = tools::command_line(command);
                format!("{name} failed ({error}); to repeat it: {line}")
            })
        })
    }

    /// Runs work of our own as a step.
    pub fn task(
        &mut self,
        name: &'static str,
        work: impl FnOnce() -> Result<(), String>,
    ) -> Result<(), String> {
        let start = Instant::now();
        let result = work();
        self.done.push(Step {
            name,
            took: start.elapsed(),
            passed: result.is_ok(),
        });
        result
    }

    /// The names of the steps run so far, for a closing line.
    pub fn names(&self) -> String {
        self.done
            .iter()
            .map(|step| step.name)
            .collect::<Vec<_>>()
            .join(", ")
    }

    /// The wall time of all steps together.
    pub fn total(&self) -> Duration {
        self.done.iter().map(|step| step.took).sum()
    }

    /// One line for each step: name, wall time, outcome.
    pub fn table(&self) -> String {
        let widest = self
            .done
            .iter()
            .map(|step| step.name.len())
            .max()
            .unwrap_or(0)
            .max(5);
        let line = |name: &str, took: Duration, word: &str| {
            format!("{name:widest$}  {:>8.1} s  {word}", took.as_secs_f64())
                .trim_end()
                .to_owned()
        };
        let mut lines: Vec<String> = self
            .done
            .iter()
            .map(|step| {
                line(
                    step.name,
                    step.took,
                    if step.passed { "passed" } else { "FAILED" },
                )
            })
            .collect();
        lines.push(line("total", self.total(), ""));
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_step_is_kept_and_told() {
        let mut steps = Steps::default();
        assert!(steps.task("good", || Ok(())).is_ok());
        assert!(steps.task("bad", || Err("no".to_owned())).is_err());
        assert!(
            steps
                .command("none", &mut Command::new("no-such-program-anywhere"))
                .is_err()
        );
        let table = steps.table();
        let of = |name: &str| {
            table
                .lines()
                .find(|line| line.starts_with(name))
                .unwrap_or("")
        };
        assert!(of("good").ends_with("passed"), "{table}");
        assert!(of("bad").ends_with("FAILED"), "{table}");
        assert!(of("none").ends_with("FAILED"), "{table}");
        assert_eq!(steps.names(), "good, bad, none");
    }
}
