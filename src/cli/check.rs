//! `halfsplit check`: every error of an install file at once.

use super::Ending;
use super::args::Check;
use super::files;
use super::output::Output;
use crate::circuit::Circuit;
use crate::show::text::counted;

pub(super) fn run(args: &Check, output: &mut Output) -> Ending {
    let Some((source, install, warnings)) = files::install(&args.install, output) else {
        return Ending::BadInput;
    };
    // The suspects are not made: they take the most room, and nothing can be wrong with them alone.
    let faults = Circuit::expand(&install).and_then(|c| c.possible_faults(&install));
    let (faults, mistakes) = match faults {
        Ok(all) => {
            let mistakes = all.iter().filter(|fault| fault.mistake).count();
            (all.len() - mistakes, mistakes)
        }
        Err(incomplete) => {
            let places: Vec<(usize, usize)> = install.parts.iter().map(|p| (p.line, p.column)).collect();
            files::lacking(output, &incomplete, &places, &source);
            return Ending::BadInput;
        }
    };
    files::told(output, &warnings, &source);
    if !output.is_json() {
        output.print(&format!(
            "{}: {}, {}, {}, {} and {} of wiring that may be found; {}\n",
            install.title,
            counted(install.parts.iter().filter(|p| p.joint_of.is_none()).count(), "part"),
            counted(install.controls.len(), "control"),
            counted(install.wiring().loads().len(), "load"),
            counted(faults, "fault"),
            counted(mistakes, "mistake"),
            if warnings.is_empty() { "nothing wrong" } else { "no errors" },
        ));
    }
    Ending::Good
}
