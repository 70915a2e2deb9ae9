//! `halfsplit check`: every error of an install file at once.

use super::Ending;
use super::args::Check;
use super::files;
use super::output::Output;
use crate::circuit::Circuit;

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
            "{}: {} parts, {} controls, {} loads, {faults} faults and {mistakes} mistakes of wiring that may be found; {}\n",
            install.title,
            install.parts.iter().filter(|p| p.joint_of.is_none()).count(),
            install.controls.len(),
            install.wiring().loads().len(),
            if warnings.is_empty() { "nothing wrong" } else { "no errors" },
        ));
    }
    Ending::Good
}
