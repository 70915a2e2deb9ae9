//! Whatever a person types or an install is called stands in the file as it was, on one line.

use super::script::lines_of;
use halfsplit::diagnostic::Span;
use halfsplit::document::{Entry, Node, Text, Value};
use halfsplit::job::record::{
    About, Blamed, Closed, Complained, Correction, Described, Ended, Failed, Finding, Got, Left, Line, Moment, OnBench,
    Opened, Outcome, Probed, Proven, Reading, Record, Repair, Seen,
};
use halfsplit::job::{AtHand, Held};
use halfsplit::suspects::{Counts, Learnt};
use proptest::prelude::{Strategy, any, prop, prop_oneof, proptest};

/// What YAML, screens and file systems take for something else. Sources: YAML 1.2 (indicators, escapes, line breaks, null and
/// booleans), ECMA-48 (escape), Unicode UAX 9 (direction of writing).
const HOSTILE: [&str; 44] = [
    "",
    " ",
    "a b ",
    " a",
    "-",
    "- a",
    "-1",
    "--- ",
    "...",
    "?",
    "? a",
    ":",
    ": ",
    "a: b",
    "a:",
    "#",
    "a # b",
    "a#b",
    "'",
    "\"",
    "it's \"so\"",
    "\\",
    "\\n",
    "\n",
    "a\nb\n",
    "\r\n",
    "\t",
    "a\tb",
    "{a: b}",
    "[a]",
    "a, b",
    "&a",
    "*a",
    "!t",
    "%a",
    "@",
    "`",
    "~",
    "null",
    "yes",
    "12.40",
    "\u{1b}[2J\u{7}\0",
    "\u{85}\u{2028}\u{2029}\u{feff}\u{202e}\u{200b}",
    "🔦 Ω mm² ä\u{10ffff}\u{fffe}",
];

fn text(text: &str) -> Text {
    Text { span: Span::default(), text: text.to_owned() }
}

fn node(value: Value) -> Node {
    Node { span: Span::default(), value }
}

/// A record of every kind with this text wherever a text can stand.
fn every(said: &str) -> Vec<Record> {
    let s = || said.to_owned();
    let with = || vec![(s(), s())];
    let one = || vec![s(), s()];
    let seen = |wrong| Seen { with: with(), look: s(), shows: s(), wrong };
    let complaint = |when, seen_too| Complained {
        what: one(),
        facts: vec![seen(true), seen(false)],
        with: with(),
        usual: with(),
        when,
        history: Some(s()),
        seen: seen_too,
    };
    let reading = |number, probed, got| Reading {
        number,
        with: with(),
        probed,
        got,
        expected: Some(s()),
        minutes: 2.5,
        cautions: one(),
        asked: number % 2 == 0,
        proof: None,
    };
    let blamed = || vec![Blamed { part: s(), fault: s(), sure: 0.998_7, repair: s() }];
    let failed =
        |kind: Option<String>| Failed { part: s(), fault: s(), right: kind.is_some(), place: kind.clone(), kind };
    let mut counts = Counts::default();
    counts.add(said, said, 3);
    let inner = node(Value::Map(vec![Entry { key: text(said), value: node(Value::Text(s())) }]));
    let marked = node(Value::Map(vec![
        Entry { key: text(said), value: inner },
        Entry { key: text("nominal"), value: node(Value::Text("12 V".to_owned())) },
    ]));
    let mut records = vec![
        Record::Opened(Opened { program: s(), install: s(), file: s(), seed: u64::MAX, cautions: one() }),
        Record::Described(Described::of(&marked, with())),
        Record::About(About(with())),
        Record::Circuit(with()),
        Record::History(Learnt { jobs: 12, strength: 100.5, counts }),
        Record::Complaint(complaint(Some(s()), true)),
        Record::Complaint(complaint(None, false)),
        Record::Reading(reading(1, Probed::Volts { red: s(), black: s() }, Got::Reads(s()))),
        Record::Reading(reading(2, Probed::Drop(s()), Got::Skipped(s()))),
        Record::Reading(reading(3, Probed::Lamp { tip: s(), clip: s() }, Got::Shows(s()))),
        Record::Reading(Reading {
            proof: Some(Proven { held: Held::No, shows: s() }),
            ..reading(4, Probed::Look(s()), Got::Shows(s()))
        }),
        Record::Reading(Reading {
            proof: Some(Proven { held: Held::NotTaken, shows: String::new() }),
            ..reading(5, Probed::Look(s()), Got::Skipped(s()))
        }),
        Record::Reading(reading(6, Probed::Amps(s()), Got::Reads(s()))),
        Record::Reading(reading(7, Probed::Ohms { red: s(), black: s() }, Got::Reads(s()))),
        Record::Undo(7),
        Record::Correct(Correction { number: 3, got: Got::Reads(s()), held: Some(Held::Yes) }),
        Record::Note(s()),
        Record::MistakesToo,
        Record::Bench(OnBench { limit: 2.5, dummies: one() }),
        Record::Lesson,
        Record::AtHand(AtHand::read("test-lamp").unwrap()),
        Record::Incoming { about: s(), says: s() },
        Record::Left(Left { minutes: 0.1, cautions: one(), open: one() }),
        Record::Resumed { file: s(), program: s() },
        Record::Repair(Repair { part: s(), done: s(), minutes: Some(25.0), culprits: blamed() }),
        Record::Repair(Repair { part: s(), done: s(), minutes: None, culprits: Vec::new() }),
    ];
    for (ended, _) in Ended::ALL {
        let finding = Finding { ended, culprits: blamed(), cautions: one(), minutes: 12.3, open: one() };
        records.push(Record::Finding(finding));
    }
    for (outcome, _) in Outcome::ALL {
        records.push(Record::Outcome { outcome, says: Some(s()), cautions: one() });
        records.push(Record::Closed(Closed {
            outcome,
            install: s(),
            began: Moment::from_seconds(951_827_696),
            complaint: s(),
            ended: Ended::Found,
            culprits: blamed(),
            failed: vec![failed(Some(s())), failed(None)],
            repair: Some(s()),
            readings: 7,
            minutes: 40.0,
            repair_minutes: Some(25.5),
        }));
    }
    records
}

#[track_caller]
fn survives(said: &str) {
    let first = Line { at: Moment::from_seconds(0), record: every("x")[0].clone() }.to_string();
    let mut file = first.clone();
    let records = every(said);
    for (i, record) in records.iter().enumerate() {
        let at = Moment::from_seconds(1_795_646_285 + i64::try_from(i).unwrap());
        let line = Line { at, record: record.clone() }.to_string();
        assert!(line.ends_with('\n') && line.matches('\n').count() == 1, "one line: {line:?}");
        assert!(!line.trim_end_matches('\n').chars().any(char::is_control), "nothing steers a screen: {line:?}");
        file += &line;
        assert!(!first.is_empty());
    }
    let read: Vec<Record> = lines_of(file.as_bytes()).into_iter().skip(1).map(|line| line.record).collect();
    for (wrote, read) in records.iter().zip(&read) {
        assert_eq!(wrote, read, "{said:?}");
    }
    assert_eq!(read.len(), records.len());
}

#[test]
fn hostile_text_in_every_field_survives() {
    for said in HOSTILE {
        survives(said);
    }
}

/// The job file that `examples/README.md` explains is one, and shows every kind of record.
#[test]
fn the_records_of_the_examples_are_taken() {
    let text = std::fs::read_to_string(super::script::path("examples/README.md")).unwrap();
    let block = text.split("```yaml\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let lines = lines_of(block.as_bytes());
    let course = super::script::course(block.as_bytes()).unwrap();
    assert_eq!((course.readings.len(), course.closed.is_some()), (5, true));
    let mut kinds: Vec<_> = every("x").iter().map(std::mem::discriminant).collect();
    kinds.retain(|kind| !lines.iter().any(|line| std::mem::discriminant(&line.record) == *kind));
    assert!(kinds.is_empty(), "kinds of record without an example: {}", kinds.len());
}

#[test]
fn a_very_long_text_survives() {
    let note = "🔦\u{1b}'\": #\n".repeat(20_000);
    let records = [every("x")[0].clone(), Record::Note(note)];
    let lines = records.map(|record| Line { at: Moment::from_seconds(1), record });
    let file: String = lines.iter().map(ToString::to_string).collect();
    assert_eq!(lines_of(file.as_bytes()), lines);
}

proptest! {
    #[test]
    fn any_text_in_every_field_survives(said in prop_oneof![
        any::<String>(),
        prop::collection::vec(prop::sample::select(HOSTILE.to_vec()), 0..6).prop_map(|pieces| pieces.concat()),
        "[ -~]{0,40}",
    ]) {
        survives(&said);
    }

    /// Seconds since 1970 and back, over the years that four digits hold.
    #[test]
    fn any_moment_survives(seconds in -62_167_219_200_i64..=253_402_300_799) {
        let moment = Moment::from_seconds(seconds);
        assert_eq!(Moment::parse(&moment.to_string()), Some(moment));
    }
}
