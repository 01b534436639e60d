//! `penstock pad`: a design, ideal and as built, and what the built pad really does.

mod answer;
mod args;
mod facts;
mod job;
mod rounding;
mod say;
mod sheet;

pub(super) use args::PadArgs;

use super::error::Failure;
use super::json;
use facts::Facts;
use job::{Built, Job};
use penstock_dsp::pad::Network;
use penstock_dsp::units::Dbfs;
use serde_json::json;

/// Designs one pad, or one for each loss of a comma list.
pub(super) fn run(args: &PadArgs) -> Result<u8, Failure> {
    let job = Job::new(args)?;
    let builds = job
        .losses
        .iter()
        .map(|loss| job.build(*loss))
        .collect::<Result<Vec<Built>, Failure>>()?;
    if let Some(path) = &args.sheet {
        let [built] = builds.as_slice() else {
            return Err(Failure::usage(
                "a sheet is for one pad; --loss-db names several losses",
            ));
        };
        if built.request.network == Network::None {
            return Err(Failure::usage("there is no pad to draw: straight in"));
        }
        let facts = Facts::of(&job, built, args)?;
        sheet::write(path, args, &job, built, &facts)?;
    }
    let rounding = |built: &Built| match args.rounding_at_dbfs {
        Some(level) if built.request.network != Network::None => {
            rounding::measure(&job, built, Dbfs(level))
        }
        _ => Ok(Vec::new()),
    };
    if args.common.json {
        let mut rows = Vec::new();
        for built in &builds {
            let facts = Facts::of(&job, built, args)?;
            rows.push(answer::answer(&job, built, &facts, &rounding(built)?));
        }
        match (rows.pop(), job.is_list) {
            (Some(only), false) => json::print(&only),
            (last, _) => {
                rows.extend(last);
                json::print(&json!({ "rows": rows }));
            }
        }
    } else if job.is_list {
        print!("{}", say::list(&job, &builds));
    } else {
        for built in &builds {
            let facts = Facts::of(&job, built, args)?;
            print!("{}", say::one(&job, built, &facts, args.of_return));
            print!("{}", say::rounding(&rounding(built)?));
        }
        if let Some(path) = &args.sheet {
            println!("\nThe sheet is {}.", path.display());
        }
    }
    Ok(0)
}
