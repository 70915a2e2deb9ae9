//! `halfsplit testability`: the engine against the mock-up.

use super::Ending;
use super::args::{Hide, Testability};
use super::files;
use super::output::Output;
use crate::show::testability::{json, report, trace};
use crate::testability::{Faults, Plan, Trouble, campaign};
use std::fs::File;
use std::io::{BufWriter, Write};

pub(super) fn run(args: &Testability, output: &mut Output) -> Ending {
    let Some((source, install, _)) = files::install(&args.install, output) else {
        return Ending::BadInput;
    };
    // A trace that cannot be written is told before minutes are spent on it.
    let mut traced = match args.trace.as_ref().map(File::create).transpose() {
        Ok(file) => file.map(BufWriter::new),
        Err(error) => {
            output.say(&format!("error: the trace cannot be written: {error}"));
            return Ending::BadInput;
        }
    };
    let campaign = match campaign(&install, plan(args)) {
        Ok(campaign) => campaign,
        Err(Trouble::Incomplete(lacking)) => {
            let places: Vec<(usize, usize)> = install.parts.iter().map(|p| (p.line, p.column)).collect();
            files::lacking(output, &lacking, &places, &source);
            return Ending::BadInput;
        }
        Err(Trouble::NoComplaint) => {
            output.say(
                "error: nothing that can be wrong here would be noticed: no load of this install can be seen to fail",
            );
            return Ending::BadInput;
        }
    };
    if let Some(file) = &mut traced {
        let mut lines = campaign.trials.iter().map(|t| trace(&campaign.system, t));
        let written = lines.try_for_each(|line| writeln!(file, "{line}"));
        if let Err(error) = written.and_then(|()| file.flush()) {
            output.say(&format!("error: the trace cannot be written: {error}"));
            return Ending::BadInput;
        }
    }
    if output.is_json() {
        output.json(&json(&campaign));
    } else {
        output.print(&report(&campaign));
    }
    Ending::Good
}

fn plan(args: &Testability) -> Plan {
    Plan {
        faults: match args.faults {
            Hide::Single => Faults::Single,
            Hide::Pair => Faults::Pair,
            Hide::Wiring => Faults::Wiring,
            Hide::Altered => Faults::Altered,
            Hide::None => Faults::None,
        },
        noise: args.noise,
        tolerance_scale: args.tolerance_scale,
        at_hand: args.at_hand.unwrap_or_default(),
        trials: args.trials,
        baselines: args.baselines,
        seed: args.seed,
        threads: std::thread::available_parallelism().map_or(1, std::num::NonZero::get),
    }
}
