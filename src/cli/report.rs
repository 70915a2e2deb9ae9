//! `halfsplit report`: the job sheet.

use super::Ending;
use super::args::{Format, Report};
use super::job_file;
use super::output::Output;
use crate::job::record::Course;
use crate::job::{Retold, System};
use crate::network::Network;
use crate::show::sheet::{Sheet, Told, html, markdown, plain, value};

pub(super) fn run(args: &Report, output: &mut Output) -> Ending {
    let Some(course) = job_file::read(&args.job, output) else { return Ending::BadInput };
    // What is wrong with the install is said beside the sheet, which stands without it.
    let talk = output.as_text();
    let system = job_file::system(&course, &args.job, args.install.as_deref(), &talk);
    if system.is_none() {
        talk.talk("The sheet is drawn without the description: no circuit, and parts by their short names.");
    }
    let network = system.as_ref().map(|system| Network::new(&system.circuit.netlist));
    let retold = match (&system, &network) {
        (Some(system), Some(network)) => told(system, network, &course, &talk),
        _ => None,
    };
    let reasoning = retold.as_ref().map(|retold| retold.job.reasoning());
    let told = Told { course: &course, system: system.as_ref(), retold: retold.as_ref().zip(reasoning.as_ref()) };
    match output.format {
        Format::Text => output.print(&plain(&Sheet::of(&told))),
        Format::Markdown => output.print(&markdown(&Sheet::of(&told))),
        Format::Html => output.print(&html(&Sheet::of(&told))),
        // Whoever puts it into a page need not think of tags in it.
        Format::Json => output.json_for_pages(&value(&told)),
    }
    Ending::Good
}

/// The job told once more, where it has come so far.
fn told<'n>(system: &'n System, network: &'n Network<'n>, course: &Course, talk: &Output) -> Option<Retold<'n>> {
    course.complaint.as_ref()?;
    job_file::retold(system, network, course, talk)
}
