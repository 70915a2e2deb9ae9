//! `halfsplit check`: every error of an install file at once.

use super::Ending;
use super::args::Check;
use super::files;
use super::output::Output;

pub(super) fn run(args: &Check, output: &mut Output) -> Ending {
    let Some((source, system, warnings)) = files::system(&args.install, output) else {
        return Ending::BadInput;
    };
    if output.is_json() {
        files::told(output, &warnings, &source);
        return Ending::Good;
    }
    files::told(output, &warnings, &source);
    let install = &system.install;
    output.print(&format!(
        "{}: {} parts, {} controls, {} loads, {} faults that may be found; nothing wrong\n",
        install.title,
        install.parts.iter().filter(|p| p.joint_of.is_none()).count(),
        install.controls.len(),
        install.wiring().loads().len(),
        system.possible.len(),
    ));
    Ending::Good
}
