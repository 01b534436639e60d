//! The `penstock` program; everything is in `penstock::cli`.

use std::process::ExitCode;

fn main() -> ExitCode {
    penstock::cli::run(std::env::args_os())
}
