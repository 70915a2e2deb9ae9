//! Near copies of a reading: what all of them would show is known once one was read, whatever explains it.

use halfsplit::document::Source;
use halfsplit::install::load;
use halfsplit::job::{Diagnosis, Next, System, load_answers};
use halfsplit::knowledge::Knowledge;
use halfsplit::network::Network;
use std::path::Path;

const INSTALL: &str = "examples/sprayer/install.yaml";

/// What jobs have read, and the points of the metal that was read there.
struct Read {
    job: &'static str,
    bus: &'static [&'static str],
}

/// A valve is weak, and the battery low: the bus of the board was read three times in one set-up. What stands for a low battery
/// explains it by its inner resistance, what stands for a bad joint by the supply, both alike by now.
const LOW: Read = Read {
    job: "
complaint: {what: [agitator valve], how: weak, with: {S4: on}}
readings:
  - {with: {S4: on}, red: power socket.plus.in, black: power socket.minus.in, reads: 11.07 V}
  - {with: {S4: on}, red: power socket.plus.out, black: power socket.minus.in, reads: 11.07 V}
  - {with: {S4: on, S5: on}, red: B.1.fuse.in, black: frame, reads: 10.48 V}
  - {with: {S4: on, S5: on}, red: B.2.relay.30, black: frame, reads: 10.48 V}
",
    bus: &["B.1.fuse", "B.2.fuse", "B.3.fuse", "B.5.fuse", "B.6.fuse", "F2"],
};

/// Two lamps glow on a holder that has gone bad: whatever else is bad in its place passes the same current, and everything behind
/// it shows the same.
const HOLDER: Read = Read {
    job: "
complaint: {what: [left lamp], how: glows, with: {S5: on}}
readings:
  - {with: {S5: on}, red: power socket.plus.out, black: power socket.minus.in, reads: 3.09 V}
  - {with: {S5: on}, red: F1.out, black: battery.-, reads: 3.23 V}
  - {with: {S5: on}, red: F1.in, black: battery.-, reads: 13.08 V}
  - {with: {S5: on}, red: B.1.fuse.in, black: frame, reads: 3.03 V}
",
    bus: &["B.1.fuse", "B.2.fuse", "B.3.fuse", "B.4.fuse", "B.6.fuse", "F2", "power socket"],
};

#[track_caller]
fn is_not_read_again(read: &Read) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(INSTALL);
    let source = Source::new(INSTALL.to_owned(), std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in()).unwrap_or_else(|r| panic!("{r:?}"));
    let system = System::new(install).expect("a complete install");
    let job = load_answers(&Source::new("job.yaml", read.job), &system, &system.instruments());
    let job = job.unwrap_or_else(|r| panic!("{r:?}"));
    let network = Network::new(&system.circuit.netlist);
    let mut diagnosis = Diagnosis::begin(&system, &network, system.instruments(), job.complaint, 1).unwrap();
    // Seen once more by the person who starts the job.
    let Next::Take(first) = diagnosis.next() else { panic!("no test") };
    let word = diagnosis.complaint().facts[0].word;
    diagnosis.answer(first.test, halfsplit::belief::Answer::Word(word));
    let mut last = None;
    for given in job.given {
        last = Some(given.test.set_up.clone());
        diagnosis.answer(given.test, given.answer);
    }
    let Next::Take(next) = diagnosis.next() else { panic!("no test") };
    let asked = halfsplit::show::test::brief(&system, &next.test);
    let again = Some(&next.test.set_up) == last.as_ref() && read.bus.iter().any(|part| asked.starts_with(part));
    assert!(!again, "{asked}, {} bits", next.bits);
}

#[test]
fn what_a_low_battery_explains_is_not_read_again_and_again() {
    is_not_read_again(&LOW);
}

#[test]
fn what_a_bad_joint_of_any_size_explains_is_not_read_again_and_again() {
    is_not_read_again(&HOLDER);
}
