//! A recorded job: the complaint and the readings, to be given when they are asked for.

use super::reading::{Entry, Typed, read_entry};
use super::record::{Gone, sized};
use super::{Complaint, Diagnosis, System, measured, meter_sigma, unit};
use crate::belief::{Answer, LEAST_OHMS, OPEN_OHMS, Probe, log_ohms};
use crate::choice::{Instruments, Target, Test};
use crate::circuit::SetUp;
use crate::diagnostic::{Diagnostic, Report, Span, nearest, quoted};
use crate::document::{Fields, Node, Source, Text, read};
use crate::install::{PartId, PointId};

/// The complaint and the readings of a recorded job.
#[derive(Clone, Debug, PartialEq)]
pub struct Answers {
    /// The complaint.
    pub complaint: Complaint,
    /// The readings in the order of the file.
    pub given: Vec<Given>,
}

/// One recorded reading or look.
#[derive(Clone, Debug, PartialEq)]
pub struct Given {
    /// The test that it answers.
    pub test: Test,
    /// The answer.
    pub answer: Answer,
    /// As it stands in the file.
    pub text: String,
}

/// What a recorded job says to a test that is asked.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// The answer, and which reading of the file it is.
    Given(usize, Answer),
    /// It was not taken.
    NotTaken,
}

impl Answers {
    /// The answer to a test. Points count by their metal; with the leads exchanged, the sign turns.
    pub fn hear(&self, test: &Test) -> Heard {
        for (i, given) in self.given.iter().enumerate() {
            if given.test.set_up != test.set_up {
                continue;
            }
            if let Some(answer) = same(&given.test.probe, &test.probe, &given.answer) {
                return Heard::Given(i, answer);
            }
        }
        Heard::NotTaken
    }
}

fn same(recorded: &Probe, asked: &Probe, answer: &Answer) -> Option<Answer> {
    match (recorded, asked) {
        (Probe::Look(a), Probe::Look(b)) => (a == b).then(|| answer.clone()),
        (Probe::Volts { red: r, black: b, .. }, Probe::Volts { red, black, .. }) => {
            if (r, b) == (red, black) {
                Some(answer.clone())
            } else if (r, b) == (black, red) {
                Some(turned(answer))
            } else {
                None
            }
        }
        (Probe::Light { red: r, black: b, .. }, Probe::Light { red, black, .. }) => {
            ((r, b) == (red, black) || (r, b) == (black, red)).then(|| answer.clone())
        }
        (Probe::Amps { element: a, .. }, Probe::Amps { element: b, .. }) => (a == b).then(|| answer.clone()),
        (Probe::Ohms { red: r, black: b }, Probe::Ohms { red, black }) => {
            ((r, b) == (red, black) || (r, b) == (black, red)).then(|| answer.clone())
        }
        (_, _) => None,
    }
}

fn turned(answer: &Answer) -> Answer {
    match answer {
        Answer::Number { value, sigma } => Answer::Number { value: -value, sigma: *sigma },
        Answer::Between(low, high) => Answer::Between(-high, -low),
        Answer::Unsteady | Answer::Word(_) | Answer::NotTaken => answer.clone(),
    }
}

/// Reads an answers file for a system.
///
/// # Errors
/// Everything that is wrong with it, each with its place.
pub fn load_answers(source: &Source, system: &System, instruments: &Instruments) -> Result<Answers, Report> {
    let document = read(source)?;
    let mut reader = Reader { system, instruments, report: Report::new() };
    let mut fields = Fields::open(&document, "a recorded job", &mut reader.report);
    let complaint = fields.needed("complaint", &mut reader.report);
    let readings = fields.take("readings");
    // For tests alone (the verdict, and the fault that the readings were made with); never looked at.
    fields.take("finding");
    fields.take("hidden");
    fields.take("job");
    fields.finish(&mut reader.report);
    let complaint = complaint.and_then(|node| reader.complaint(node));
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let usual = complaint.as_ref().map_or(rest, |c| c.set_up.clone());
    let list = readings.map(|node| reader.list(node)).unwrap_or_default();
    let given: Vec<Given> = list.iter().filter_map(|node| reader.given(node, &usual)).collect();
    match complaint {
        Some(complaint) if !reader.report.has_errors() => Ok(Answers { complaint, given }),
        _ => Err(reader.report),
    }
}

pub(super) struct Reader<'a> {
    pub(super) system: &'a System,
    instruments: &'a Instruments,
    pub(super) report: Report,
}

impl Reader<'_> {
    pub(super) fn wrong<T>(&mut self, code: &'static str, span: Span, message: impl Into<String>) -> Option<T> {
        self.report.push(Diagnostic::error(code, span, message));
        None
    }

    pub(super) fn unknown<'n, T>(
        &mut self,
        what: &str,
        text: &Text,
        known: impl Iterator<Item = &'n str>,
    ) -> Option<T> {
        let message = format!("no {what} called {}", quoted(&text.text));
        let mut diagnostic = Diagnostic::error("unknown-name", text.span, message);
        if let Some(near) = nearest(&text.text, known) {
            diagnostic = diagnostic.hint(format!("did you mean {}?", quoted(near)));
        }
        self.report.push(diagnostic);
        None
    }

    fn list<'n>(&mut self, node: &'n Node) -> &'n [Node] {
        node.as_list().unwrap_or_else(|| {
            self.wrong::<()>("wrong-form", node.span, "readings are a list");
            &[]
        })
    }

    /// Something that can be seen: the part and the position of its sight.
    fn seen(&mut self, name: &Text) -> Option<(PartId, usize)> {
        let system = self.system;
        if let Some(sight) = system.sight_called(&name.text) {
            return Some((system.sights[sight].part, sight));
        }
        if system.part(&name.text).is_some() {
            let message = format!("nothing of {} can be seen or heard", quoted(&name.text));
            return self.wrong("not-seen", name.span, message);
        }
        let known: Vec<String> = system.sights.iter().map(|s| system.sight_name(s)).collect();
        self.unknown("part", name, known.iter().map(String::as_str))
    }

    fn word(&mut self, sight: usize, said: &Text) -> Option<usize> {
        let system = self.system;
        let table = system.words(sight)?;
        match table.word(&said.text) {
            Some(word) => Some(word),
            None => self.unknown("word", said, table.words.iter().map(|w| w.key.as_str())),
        }
    }

    /// A set-up: all controls at rest but those named.
    pub(super) fn set_up(&mut self, node: Option<&Node>) -> Option<SetUp> {
        let system = self.system;
        let mut set_up = SetUp::at_rest(&system.circuit.netlist.controls);
        let entries = node.and_then(|n| n.as_map()).unwrap_or_default();
        if let Some(node) = node.filter(|n| n.as_map().is_none()) {
            return self.wrong("wrong-form", node.span, "`with` is a map: `{S1: on}`");
        }
        for entry in entries {
            let control = system.install.controls.enumerate().find(|(_, c)| c.name == entry.key.text);
            let said = entry.value.as_text().unwrap_or_default().to_owned();
            let Some((id, control)) = control else {
                if let Some(parted) = system.with_by_hand(&set_up, &entry.key.text, &said) {
                    set_up = parted;
                    continue;
                }
                let words = system.words_by_hand(&entry.key.text);
                if !words.is_empty() {
                    let text = Text { span: entry.value.span, text: said };
                    return self.unknown("word", &text, words.into_iter());
                }
                let known = system.install.controls.iter().map(|c| c.name.as_str());
                return self.unknown("control", &entry.key, known);
            };
            let Some(position) = control.positions.iter().position(|p| *p == said) else {
                let text = Text { span: entry.value.span, text: said };
                return self.unknown("position", &text, control.positions.iter().map(String::as_str));
            };
            set_up = set_up.with(system.circuit.control_of[id], position);
        }
        Some(set_up)
    }

    fn given(&mut self, node: &Node, usual: &SetUp) -> Option<Given> {
        let mut fields = Fields::open(node, "a reading", &mut self.report);
        let with = fields.take("with");
        let look = fields.text("look", &mut self.report);
        let [amps, ohms, to] = ["amps", "ohms", "to"].map(|key| fields.text(key, &mut self.report));
        let lamp = fields.text("lamp", &mut self.report);
        let red = fields.text("red", &mut self.report);
        let black = fields.text("black", &mut self.report);
        let clip = fields.text("clip", &mut self.report);
        let reads = fields.text("reads", &mut self.report);
        let shows = fields.text("shows", &mut self.report);
        fields.finish(&mut self.report);
        let set_up = if with.is_some() { self.set_up(with)? } else { usual.clone() };
        if ohms.is_some() && look.is_none() && lamp.is_none() && red.is_none() && amps.is_none() {
            let [(red, red_name), (black, black_name)] = self.points([ohms, to], node.span)?;
            let test = self.system.ohms(set_up, [red, black]);
            let (answer, reads) = self.read(&test, reads, node.span)?;
            return Some(Given { test, answer, text: format!("ohms {red_name} to {black_name} {reads}") });
        }
        match (look, lamp, red, amps) {
            (Some(look), None, None, None) => self.look(set_up, &look, shows, node.span),
            (None, Some(lamp), None, None) => self.light(set_up, [Some(lamp), clip], shows, node.span),
            (None, None, Some(red), None) => self.volts(set_up, [Some(red), black], reads, node.span),
            (None, None, None, Some(part)) => self.amps(set_up, &part, reads, node.span),
            _ => self.wrong("wrong-form", node.span, "a reading has one of `red`, `lamp`, `amps`, `ohms` and `look`"),
        }
    }

    fn look(&mut self, set_up: SetUp, look: &Text, shows: Option<Text>, span: Span) -> Option<Given> {
        let (part, sight) = self.seen(look)?;
        let Some(shows) = shows else {
            return self.wrong("missing", span, "a look says what it `shows`");
        };
        let word = self.word(sight, &shows)?;
        let set_up = self.system.as_seen(set_up, sight);
        let test = Test { set_up, probe: Probe::Look(sight), at: Target::Part(part) };
        Some(Given { test, answer: Answer::Word(word), text: format!("{} {}", look.text, shows.text) })
    }

    fn points(&mut self, leads: [Option<Text>; 2], span: Span) -> Option<[(PointId, String); 2]> {
        let [Some(first), Some(second)] = leads else {
            return self.wrong(
                "missing",
                span,
                "a reading names both leads: `red` and `black`, `lamp` and `clip`, or `ohms` and `to`",
            );
        };
        let mut found = Vec::new();
        for lead in [first, second] {
            let system = self.system;
            if let Some(point) = system.point(&lead.text) {
                found.push((point, lead.text));
            } else {
                let known = system.install.points.iter().map(|p| p.name.as_str());
                return self.unknown("point", &lead, known);
            }
        }
        found.try_into().ok()
    }

    fn light(&mut self, set_up: SetUp, leads: [Option<Text>; 2], shows: Option<Text>, span: Span) -> Option<Given> {
        let [(red, red_name), (black, black_name)] = self.points(leads, span)?;
        let Some(shows) = shows else {
            return self.wrong("missing", span, "a test lamp says what it `shows`");
        };
        let system = self.system;
        let table = system.tester_words()?;
        let Some(word) = table.word(&shows.text) else {
            return self.unknown("word", &shows, table.words.iter().map(|w| w.key.as_str()));
        };
        let instrument = self.instruments.test_lamp.clone()?;
        let probe = Probe::Light { instrument, red: system.node(red), black: system.node(black) };
        let test = Test { set_up, probe, at: Target::Points { red, black } };
        let text = format!("lamp {red_name} to {black_name} {}", shows.text);
        Some(Given { test, answer: Answer::Word(word), text })
    }

    fn volts(&mut self, set_up: SetUp, leads: [Option<Text>; 2], reads: Option<Text>, span: Span) -> Option<Given> {
        let [(red, red_name), (black, black_name)] = self.points(leads, span)?;
        let system = self.system;
        let instrument = self.instruments.voltmeter.clone()?;
        let probe = Probe::Volts { instrument, red: system.node(red), black: system.node(black), unsigned: false };
        let test = Test { set_up, probe, at: Target::Points { red, black } };
        let (answer, reads) = self.read(&test, reads, span)?;
        Some(Given { test, answer, text: format!("{red_name} to {black_name} {reads}") })
    }

    fn amps(&mut self, set_up: SetUp, name: &Text, reads: Option<Text>, span: Span) -> Option<Given> {
        let system = self.system;
        let Some(part) = system.part(&name.text) else {
            return self.unknown("part", name, system.install.parts.iter().map(|p| p.id.as_str()));
        };
        let Some(test) = system.amps(set_up, part) else {
            return self.wrong("several-ways", name.span, Gone::Current(name.text.clone()).says());
        };
        let (answer, reads) = self.read(&test, reads, span)?;
        Some(Given { test, answer, text: format!("amps {} {reads}", name.text) })
    }

    /// What a meter read, and that as it stands in the file.
    fn read(&mut self, test: &Test, reads: Option<Text>, span: Span) -> Option<(Answer, String)> {
        let Some(reads) = reads else {
            return self.wrong("missing", span, "a meter says what it `reads`");
        };
        let unit = unit(&test.probe);
        let typed = read_entry(&reads.text, unit).ok();
        let Some(answer) = typed.and_then(|typed| self.system.reading(&test.probe, &typed)) else {
            let message = format!("{} is no reading in {}", quoted(&reads.text), measured(&test.probe));
            return self.wrong("not-a-reading", reads.span, message);
        };
        Some((answer, reads.text))
    }
}

/// A typed line as the answer of one reading in volts; `None` when it is none.
pub fn as_answer(typed: &Typed) -> Option<Answer> {
    read_by(typed, meter_sigma)
}

/// The same by an instrument with this standard deviation at a value.
fn read_by(typed: &Typed, sigma: impl Fn(f64) -> f64) -> Option<Answer> {
    match typed {
        Typed::Values(values) => match values[..] {
            [entry] => Some(number(entry, sigma)),
            _ => None,
        },
        Typed::Between(low, high) => Some(Answer::Between(low.value, high.value)),
        Typed::Jumps => Some(Answer::Unsteady),
        Typed::CannotTake | Typed::NotSure => Some(Answer::NotTaken),
        Typed::OverRange
        | Typed::Why
        | Typed::Suspects
        | Typed::Undo
        | Typed::Quit
        | Typed::Repeat
        | Typed::Word(_) => None,
    }
}

/// A reading with the meter's accuracy and the rounding of its last digit (an even spread of one digit).
fn number(Entry { value, digit }: Entry, sigma: impl Fn(f64) -> f64) -> Answer {
    Answer::Number { value, sigma: sigma(value).hypot(digit / 12_f64.sqrt()) }
}

impl System {
    /// A typed line as what the instrument of a probe has read; `None` when it is none.
    pub fn reading(&self, probe: &Probe, typed: &Typed) -> Option<Answer> {
        if matches!(probe, Probe::Ohms { .. }) {
            return self.ohms_read(typed);
        }
        Some(sized(read_by(typed, |value| self.sigma(probe, value))?, probe))
    }

    /// Ohms as the logarithm that stands for them; OL is an open line.
    fn ohms_read(&self, typed: &Typed) -> Option<Answer> {
        let number = |ohms: f64, digit: f64| {
            let value = log_ohms(Some(ohms));
            let rounding = digit / ohms.abs().max(LEAST_OHMS) / 12_f64.sqrt() / std::f64::consts::LN_10;
            Answer::Number { value, sigma: self.accuracy().ohms_at(value).hypot(rounding.min(1.0)) }
        };
        match typed {
            Typed::OverRange => Some(number(OPEN_OHMS, 0.0)),
            Typed::Values(values) => match values[..] {
                [Entry { value, digit }] => Some(number(value, digit)),
                _ => None,
            },
            Typed::Between(low, high) => Some(Answer::Between(log_ohms(Some(low.value)), log_ohms(Some(high.value)))),
            other => read_by(other, |_| 0.0),
        }
    }
}

impl Diagnosis<'_> {
    /// Enters a reading that was not asked for; whether it changed anything.
    pub fn volunteer(&mut self, given: &Given) -> bool {
        if !self.may_be_read(&given.test) {
            return false;
        }
        let before = self.posterior().clone();
        let told = self.answer(given.test.clone(), given.answer.clone());
        let moved = before.groups.iter().any(|(group, p)| {
            let now = self.posterior().groups.iter().find(|(g, _)| g == group).map_or(0.0, |(_, p)| *p);
            (now - p).abs() > 0.01
        });
        moved || !told.ruled_out.is_empty() || !told.back.is_empty()
    }
}
