//! A job file that is only read: its records, the install that they name, and the job that they tell.

use super::circuit::NAME;
use super::files;
use super::output::Output;
use crate::document::Source;
use crate::job::record::{Course, Torn, read_lines, whole_lines};
use crate::job::{Retold, Sketch, System};
use crate::knowledge::Knowledge;
use crate::network::Network;
use crate::show;
use std::path::{Path, PathBuf};

/// What the bytes of a job file come to, and what is torn behind them. `None`: what is wrong has been said.
pub(super) fn course(name: &str, mut bytes: Vec<u8>, output: &Output) -> Option<(Option<Course>, Option<Torn>)> {
    let Some(found) = whole_lines(&bytes) else {
        output.talk(&format!("error: {name} is no job file. It was left as it is."));
        return None;
    };
    let (whole, torn) = match found {
        Ok(whole) => (whole, None),
        Err(torn) => (torn.whole, Some(torn)),
    };
    bytes.truncate(whole);
    let source = match Source::from_bytes(name.to_owned(), bytes) {
        Ok(source) => source,
        Err(report) => {
            files::told(output, &report, &Source::new(name, ""));
            return None;
        }
    };
    match read_lines(&source).and_then(|lines| Course::follow(&lines)) {
        Ok(course) => Some((course, torn)),
        Err(report) => {
            files::told(output, &report, &source);
            None
        }
    }
}

/// The job of a file that nobody need close for it. `None`: what is wrong has been said.
pub(super) fn read(path: &Path, output: &Output) -> Option<Course> {
    let name = path.display().to_string();
    let (course, torn) = course(&name, files::bytes(path, output)?, output)?;
    if let Some(torn) = torn {
        output.talk(&show::record::torn_end(&torn));
    }
    if course.is_none() {
        output.talk(&format!("error: nothing stands in {name} yet."));
    }
    course
}

/// What a job was done on: the install that is given, else the circuit that was described by answers, else the install that the
/// job names; its suspects weighed as they were then. `None`: what is wrong has been said.
pub(super) fn system(course: &Course, job: &Path, given: Option<&Path>, output: &Output) -> Option<System> {
    let mut system = match &course.circuit {
        Some(said) if given.is_none() => {
            let text = Sketch::with(&Knowledge::built_in(), said).text();
            files::system_of(&Source::new(NAME, text), output)?
        }
        _ => files::system(&install(course, job, given), output)?.1,
    };
    if let Some(bench) = &course.bench {
        system = files::on_bench(system, bench, output)?;
    }
    if let Some(learnt) = &course.learnt {
        system.learn(learnt.clone());
    }
    Some(system)
}

/// The install of a job: the one that is given, else the one that the job names, from here or else beside the job file.
pub(super) fn install(course: &Course, job: &Path, given: Option<&Path>) -> PathBuf {
    if let Some(given) = given {
        return given.to_owned();
    }
    let named = PathBuf::from(&course.file);
    let beside = named.file_name().map(|file| job.with_file_name(file));
    match beside {
        Some(beside) if !named.exists() && beside.exists() => beside,
        _ => named,
    }
}

/// Tells a job once more; `None`: why it cannot be done has been said.
pub(super) fn retold<'n>(
    system: &'n System,
    network: &'n Network<'n>,
    course: &Course,
    output: &Output,
) -> Option<Retold<'n>> {
    match Retold::of(system, network, course) {
        Ok(retold) => {
            for (number, gone) in &retold.lost {
                if let Some(entered) = course.readings.get(number) {
                    output.talk(&show::record::lost(*number, &entered.reading, &gone.says()));
                }
            }
            Some(retold)
        }
        Err(untold) => {
            output.talk(&format!("error: {}", show::record::untold(&untold)));
            None
        }
    }
}
