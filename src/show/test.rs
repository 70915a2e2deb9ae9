//! One test on the screen, in the order in which it is carried out; the prompt comes last.

use super::text::{amps, ohms, paragraph, part, place, point, predicted, row, set_up};
use crate::belief::{Predicted, Probe};
use crate::choice::{Ranked, Target, Test};
use crate::circuit::Move;
use crate::install::PointId;
use crate::job::{AMPS_FORM, Diagnosis, Expect, OHMS_FORM, System, measured};
use crate::knowledge::{Figures, WordTable};
use crate::units::Dimension;

/// A test with its number, minutes and place, cautions, set-up, leads, and what good and bad circuits show.
pub fn test(system: &System, number: usize, ranked: &Ranked, expect: &Expect) -> String {
    told(system, number, ranked, expect, &InJob::default())
}

/// The same in a job: behind a repair with what the test is to prove, and between what it is right.
pub fn test_in(job: &Diagnosis<'_>, number: usize, ranked: &Ranked, expect: &Expect) -> String {
    let shows = super::proof::shows(job, &ranked.test);
    let limit = super::proof::limit(job, &ranked.test);
    let clamped = job.taken().iter().any(|taken| matches!(taken.test.probe, Probe::Amps { .. }));
    told(
        job.system(),
        number,
        ranked,
        expect,
        &InJob { shows, limit, clamped, proves_dead: job.proves_dead(&ranked.test) },
    )
}

/// What a test is to prove, and between what it is right: nothing, for most; and what was said before.
#[derive(Default)]
struct InJob {
    shows: Option<String>,
    limit: Option<String>,
    /// A clamp meter was laid around a wire before: what is said of it once has been said.
    clamped: bool,
    /// The volts that come before ohms.
    proves_dead: bool,
}

fn told(system: &System, number: usize, ranked: &Ranked, expect: &Expect, in_job: &InJob) -> String {
    let mut out = String::new();
    let test = &ranked.test;
    let (at, other) = places(system, test);
    let minutes = ranked.minutes.get();
    // A place that the install does not name is left out: the leads say where to go.
    let at_place = at.map_or(String::new(), |at| format!(", at: {at}"));
    // What is complained of is tried where the person stands.
    let time = if minutes < 0.05 { "at once".to_owned() } else { format!("about {minutes:.1} min") };
    paragraph(&mut out, 0, &format!("Test {number}, {time}{at_place}"));
    for caution in system.cautions_at_test(test, &expect.energised) {
        row(&mut out, "CAUTION", &caution);
    }
    // Nothing is parted or joined under load: it would arc.
    if !expect.moves.is_empty() {
        row(&mut out, "First", "all off");
    }
    for to_do in &expect.moves {
        row(&mut out, "Then", &moved(system, *to_do));
    }
    row(&mut out, "Switches", &set_up(system, &test.set_up));
    if let Some(wait) = wait(system, test) {
        row(&mut out, "Wait", &wait);
    }
    match (&test.probe, &test.at) {
        (Probe::Volts { .. }, Target::Points { red, black }) => {
            row(&mut out, "Meter", "DC volts");
            row(&mut out, "Red", &lead(system, *red, at));
            let far = other.filter(|o| Some(*o) != at).map_or("", |_| "; long lead");
            row(&mut out, "Black", &format!("{}{far}", lead(system, *black, at)));
        }
        (Probe::Amps { .. }, Target::Part(id)) => {
            row(&mut out, "Meter", "clamp on DC amps, set to zero beside the wire");
            let label = &system.install.parts[*id].label;
            row(&mut out, "Around", &format!("{label}: this one wire alone, not the whole cable"));
            if !in_job.clamped {
                row(&mut out, "", "A clamp for AC alone shows no DC.");
            }
        }
        (Probe::Ohms { .. }, Target::Points { red, black }) => {
            row(&mut out, "Meter", "ohms; tips together first, that is taken off");
            row(&mut out, "One tip", &lead(system, *red, at));
            row(&mut out, "Other", &lead(system, *black, at));
        }
        (Probe::Light { .. }, Target::Points { red, black }) => {
            row(&mut out, "Test lamp", &format!("one end on {}", lead(system, *red, at)));
            row(&mut out, "", &format!("other end on {}", lead(system, *black, at)));
        }
        (Probe::Look(sight), Target::Part(id)) => row(&mut out, "Look at", &seen(system, *sight, &part(system, *id))),
        (_, Target::Part(id)) => row(&mut out, "Look at", &part(system, *id)),
        (_, Target::Points { red, .. }) => row(&mut out, "At", &lead(system, *red, at)),
    }
    if in_job.proves_dead {
        row(&mut out, "Why", "under 0.1 V it is dead; ohms come next");
    }
    let words = words(system, &test.probe);
    if let (Probe::Look(_), Some(words)) = (&test.probe, words) {
        row(&mut out, "How", &words.ask);
    }
    if let Some(shows) = &in_job.shows {
        row(&mut out, "Proof", shows);
    }
    if let Some(limit) = &in_job.limit {
        row(&mut out, "Good", limit);
    }
    let good = expect.good.as_ref().filter(|_| in_job.limit.is_none());
    out.push_str(&good_and_bad(system, &test.probe, good, expect.bad.as_ref()));
    if let Some(words) = words {
        let choices = words.words.iter().enumerate();
        let choices: Vec<String> = choices.map(|(i, w)| format!("{} {}", i + 1, w.says)).collect();
        row(&mut out, "Answer", &choices.join(", "));
    }
    out
}

/// What a good circuit shows and what a bad one.
pub fn good_and_bad(system: &System, probe: &Probe, good: Option<&Predicted>, bad: Option<&Predicted>) -> String {
    let mut out = String::new();
    if let Some(good) = good {
        row(&mut out, "Good", &would_show(system, probe, good));
    }
    if let Some(bad) = bad {
        row(&mut out, "Bad", &format!("for example {}", would_show(system, probe, bad)));
    }
    out
}

/// The words with which a probe is answered, if it is not by number.
pub fn words<'s>(system: &'s System, probe: &Probe) -> Option<&'s WordTable> {
    match probe {
        Probe::Look(sight) => system.words(*sight),
        Probe::Light { .. } => system.tester_words(),
        Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } => None,
    }
}

/// What a probe is predicted to show, with its unit.
pub fn would_show(system: &System, probe: &Probe, what: &Predicted) -> String {
    match (probe, what) {
        (Probe::Amps { .. }, Predicted::Number { mean, jumps, .. }) if *jumps < 0.5 => amps(*mean),
        (Probe::Ohms { .. }, Predicted::Number { mean, jumps, .. }) if *jumps < 0.5 => ohms(*mean),
        _ => predicted(what, words(system, probe)),
    }
}

/// The prompt of a test.
pub fn prompt(system: &System, test: &Test) -> String {
    let what = if words(system, &test.probe).is_some() { "number or word" } else { measured(&test.probe) };
    format!("{what} (h help) >")
}

/// A test in one line, for lists and reports.
pub fn brief(system: &System, test: &Test) -> String {
    match &test.at {
        Target::Part(id) => {
            let label = &system.install.parts[*id].label;
            match &test.probe {
                Probe::Look(sight) => format!("look at {}", seen(system, *sight, label)),
                Probe::Amps { .. } => format!("amps of {label}"),
                _ => format!("look at {label}"),
            }
        }
        Target::Points { red, black } => {
            let between = match across(system, *red, *black) {
                Some(part) => format!("across {part}"),
                None => format!("{} to {}", short(system, *red), short(system, *black)),
            };
            match test.probe {
                Probe::Light { .. } => format!("test lamp {between}"),
                Probe::Ohms { .. } => format!("ohms {between}"),
                Probe::Volts { .. } | Probe::Amps { .. } | Probe::Look(_) => between,
            }
        }
    }
}

/// What to do with a part before a test.
fn moved(system: &System, to_do: Move) -> String {
    let id = to_do.part;
    let at = place(system, system.install.parts[id].place).map_or(String::new(), |at| format!(", at: {at}"));
    format!("{}{at}: {}", part(system, id), system.to_do(to_do))
}

/// What is looked at of a part, where there is more than one thing.
fn seen(system: &System, sight: usize, part: &str) -> String {
    let name = system.sights.get(sight).map_or("", |s| s.name.as_str());
    if name.is_empty() { part.to_owned() } else { format!("{part}, {name}") }
}

/// The part whose only two ends two points are, where the lead on the end that its kind names first is the red one.
fn across(system: &System, red: PointId, black: PointId) -> Option<&str> {
    let points = &system.install.points;
    let (part, terminal) = points[red].of?;
    let ends = &system.install.parts[part].terminals;
    let both = ends.len() == 2 && terminal == 0 && points[black].of == Some((part, 1));
    both.then_some(system.install.parts[part].label.as_str())
}

/// A point in few words: its name without what is said of it.
fn short(system: &System, at: PointId) -> String {
    let point = &system.install.points[at];
    match point.of.map(|(part, terminal)| (&system.install.parts[part], terminal)) {
        Some((part, _)) if !part.pins.is_empty() => point.name.replace('.', " "),
        _ => point.name.clone(),
    }
}

fn lead(system: &System, at: PointId, here: Option<&str>) -> String {
    let text = point(system, at);
    match place(system, system.install.points[at].place) {
        Some(place) if Some(place) != here => format!("{text}, at: {place}"),
        _ => text,
    }
}

/// Where the person stands, and where the other lead goes.
fn places<'s>(system: &'s System, test: &Test) -> (Option<&'s str>, Option<&'s str>) {
    match &test.at {
        Target::Part(id) => (place(system, system.install.parts[*id].place), None),
        Target::Points { red, black } => {
            let points = &system.install.points;
            (place(system, points[*red].place), place(system, points[*black].place))
        }
    }
}

/// How long to wait before a reading, for parts with a delay on the way to where it is taken.
pub fn wait(system: &System, test: &Test) -> Option<String> {
    let install = &system.install;
    let wiring = install.wiring();
    let mut on_the_way = Vec::new();
    match &test.at {
        Target::Part(id) => {
            on_the_way = wiring.upstream(*id);
            on_the_way.push(*id);
        }
        Target::Points { red, black } => {
            for point in [*red, *black] {
                on_the_way.extend(wiring.feed_of(point));
                on_the_way.extend(install.points[point].of.map(|(part, _)| part));
            }
        }
    }
    let delays = on_the_way.iter().filter_map(|id| {
        let part = install.parts.get(*id)?;
        let kind = install.knowledge.kinds.get(part.kind)?;
        let figures =
            Figures { kind, stated: &part.figures, nominal: install.nominal, tables: &install.knowledge.tables };
        let delay = kind.figures.iter().find(|figure| figure.unit == Dimension::Minutes)?;
        Some((figures.value(&delay.key).ok()?.value, part))
    });
    let (minutes, part) = delays.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let time = if minutes < 2.0 { format!("{:.0} s", 60.0 * minutes) } else { format!("{minutes:.0} min") };
    Some(format!("{time}: {} has a delay", part.label))
}

/// What can be typed at a test; without one where a finding stands.
pub fn help(job: &Diagnosis<'_>, test: Option<&Test>) -> String {
    let system = job.system();
    let mut out = String::new();
    if let Some(test) = test {
        if words(system, &test.probe).is_some() {
            row(&mut out, "answer", "the number in front of the word, or the word");
        } else {
            let example = match test.probe {
                Probe::Amps { .. } => "4.2  4,2  350m  3..5  jumps",
                Probe::Ohms { .. } => "4.2  4,2  350  12k  1.5M  OL  3..5",
                _ => "12.4  12,4  -0.3  350m  8..11  jumps",
            };
            row(&mut out, measured(&test.probe), example);
        }
        row(&mut out, "n", "cannot take it");
        row(&mut out, "x", "not sure");
        row(&mut out, "w", "why this test");
    }
    row(&mut out, "s", "suspects");
    row(&mut out, "because", "the reasoning so far");
    row(&mut out, "r", "readings so far, with their numbers");
    row(&mut out, "u", "undo the last answer");
    row(&mut out, "correct", "correct 2 11.9: reading 2 was 11.9");
    row(&mut out, "yours", &system.already_forms());
    if job.instruments().clamp_meter {
        row(&mut out, "", AMPS_FORM);
    }
    if job.instruments().ohmmeter {
        row(&mut out, "", OHMS_FORM);
    }
    row(&mut out, "note:", &format!("to be kept; so are {}", crate::job::ABOUT.join(": ")));
    if test.is_none() {
        row(&mut out, "y", "it is repaired; y 25 min: the work took that");
        row(&mut out, "left as", &crate::job::left_as_forms());
    }
    row(&mut out, "q", "quit");
    row(&mut out, "Enter", if test.is_some() { "say the test again" } else { "say the finding" });
    out
}
