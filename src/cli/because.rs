//! `halfsplit because`: the reasoning of a job.

use super::Ending;
use super::args::Because;
use super::job_file;
use super::output::Output;
use crate::network::Network;
use crate::show::because::{Telling, json, text};

pub(super) fn run(args: &Because, output: &mut Output) -> Ending {
    let told = || {
        let course = job_file::read(&args.job, output)?;
        let system = job_file::system(&course, &args.job, args.install.as_deref(), output)?;
        let network = Network::new(&system.circuit.netlist);
        let retold = job_file::retold(&system, &network, &course, output)?;
        let reasoning = retold.job.reasoning();
        let telling = Telling {
            job: &retold.job,
            numbers: &retold.numbers,
            reasoning: &reasoning,
            odds: args.with_odds,
            all: args.all,
        };
        if output.is_json() {
            output.json(&json(&telling));
        } else {
            output.print(&text(&telling));
        }
        Some(())
    };
    if told().is_some() { Ending::Good } else { Ending::BadInput }
}
