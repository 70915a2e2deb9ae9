//! What a job holds by position, by name, and back: an install may be corrected between two sittings.

use super::{Complained, Got, Probed, Reading, Seen, Setting};
use crate::belief::{Answer, Probe};
use crate::choice::{Instruments, Target, Test};
use crate::circuit::SetUp;
use crate::diagnostic::quoted;
use crate::install::{PartId, PointId};
use crate::job::{Complaint, Fact, System, Typed, read_entry, unit};

/// A name of a job file that the install does not have, or not any more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Gone {
    /// A control.
    Control(String),
    /// A position of a control.
    Position(String, String),
    /// A point.
    Point(String),
    /// A part.
    Part(String),
    /// Something that can be seen.
    Sight(String),
    /// A word for what is seen.
    Word(String, String),
    /// The part has not just two ends.
    Ends(String),
    /// There is more than one way for a current through the part.
    Current(String),
    /// When it shows, or what was before.
    Occasion(String),
    /// A fault of a part.
    Fault(String, String),
    /// The value is none.
    Value(String),
}

impl Gone {
    /// In words.
    pub fn says(&self) -> String {
        match self {
            Self::Control(name) => format!("no control called {}", quoted(name)),
            Self::Position(name, position) => format!("{} has no position {}", quoted(name), quoted(position)),
            Self::Point(name) => format!("no point called {}", quoted(name)),
            Self::Part(name) => format!("no part called {}", quoted(name)),
            Self::Sight(name) => format!("nothing of {} can be seen or heard", quoted(name)),
            Self::Word(name, word) => format!("{} is no word for {}", quoted(word), quoted(name)),
            Self::Ends(name) => format!("{} has not just two ends", quoted(name)),
            Self::Current(name) => {
                format!("{} has more than one way for a current: name a wire or one of its ends", quoted(name))
            }
            Self::Occasion(word) => format!("no occasion called {}", quoted(word)),
            Self::Fault(name, fault) => format!("{} has no fault {}", quoted(name), quoted(fault)),
            Self::Value(text) => format!("{} is no reading", quoted(text)),
        }
    }
}

impl System {
    /// The controls that are not at rest, and the parts that are taken out or bridged.
    pub fn setting(&self, set_up: &SetUp) -> Setting {
        let off_rest = self.install.controls.enumerate().filter_map(|(id, control)| {
            let at = self.circuit.control_of[id];
            let position = set_up.positions.get(at).copied()?;
            let moved = position != self.circuit.netlist.controls.get(at)?.rest;
            moved.then(|| Some((control.name.clone(), control.positions.get(position)?.clone())))?
        });
        let out = self.by_hand(set_up);
        let out = out.into_iter().map(|(part, state)| (self.install.parts[part].id.clone(), state.to_owned()));
        off_rest.chain(out).collect()
    }

    /// The rest position of every control.
    pub fn resting(&self) -> Setting {
        let at_rest = self.install.controls.enumerate().filter_map(|(id, control)| {
            let rest = self.circuit.netlist.controls.get(self.circuit.control_of[id])?.rest;
            Some((control.name.clone(), control.positions.get(rest)?.clone()))
        });
        at_rest.collect()
    }

    /// The set-up of a record: the controls that it names, all others as they rested when it was written (`rest`). A control that
    /// only rested and is gone, or cannot stand there any more, makes no difference.
    ///
    /// # Errors
    /// A control or a position that the record names and the install does not have.
    pub fn set_up_named(&self, rest: &Setting, with: &Setting) -> Result<SetUp, Gone> {
        let mut set_up = SetUp::at_rest(&self.circuit.netlist.controls);
        for (name, position) in rest {
            if let Ok(moved) = self.moved(&set_up, name, position) {
                set_up = moved;
            }
        }
        for (name, position) in with {
            set_up = self.moved(&set_up, name, position)?;
        }
        Ok(set_up)
    }

    fn moved(&self, set_up: &SetUp, name: &str, position: &str) -> Result<SetUp, Gone> {
        let found = self.install.controls.enumerate().find(|(_, c)| c.name == name);
        let Some((id, control)) = found else {
            let gone = || {
                if self.words_by_hand(name).is_empty() {
                    Gone::Control(name.to_owned())
                } else {
                    Gone::Position(name.to_owned(), position.to_owned())
                }
            };
            return self.with_by_hand(set_up, name, position).ok_or_else(gone);
        };
        let index = control.positions.iter().position(|p| p == position);
        let index = index.ok_or_else(|| Gone::Position(name.to_owned(), position.to_owned()))?;
        Ok(set_up.clone().with(self.circuit.control_of[id], index))
    }

    /// Instrument and place of a test by name.
    pub fn probed(&self, test: &Test) -> Probed {
        let point = |id: PointId| self.install.points.get(id).map(|p| p.name.clone()).unwrap_or_default();
        let sight = |sight: usize| self.sights.get(sight).map(|s| self.sight_name(s)).unwrap_or_default();
        match (&test.probe, &test.at) {
            (Probe::Look(at), _) => Probed::Look(sight(*at)),
            (Probe::Amps { .. }, Target::Part(part)) => Probed::Amps(self.install.parts[*part].id.clone()),
            (Probe::Ohms { .. }, Target::Points { red, black }) => {
                Probed::Ohms { red: point(*red), black: point(*black) }
            }
            (Probe::Light { .. }, Target::Points { red, black }) => {
                Probed::Lamp { tip: point(*red), clip: point(*black) }
            }
            (Probe::Volts { unsigned: true, .. }, Target::Points { red, .. }) => {
                let part = self.install.points.get(*red).and_then(|p| p.of).map(|(part, _)| part);
                Probed::Drop(part.map(|part| self.install.parts[part].id.clone()).unwrap_or_default())
            }
            (_, Target::Points { red, black }) => Probed::Volts { red: point(*red), black: point(*black) },
            (_, Target::Part(part)) => Probed::Look(self.install.parts[*part].id.clone()),
        }
    }

    /// The test of a record.
    ///
    /// # Errors
    /// The first name that the install does not have.
    pub fn test_named(
        &self,
        instruments: &Instruments,
        rest: &Setting,
        with: &Setting,
        probed: &Probed,
    ) -> Result<Test, Gone> {
        let set_up = self.set_up_named(rest, with)?;
        let point = |name: &String| self.point(name).ok_or_else(|| Gone::Point(name.clone()));
        match probed {
            Probed::Look(name) => {
                let sight = self.sight_called(name).ok_or_else(|| Gone::Sight(name.clone()))?;
                let part = self.sights.get(sight).map(|s| s.part).ok_or_else(|| Gone::Sight(name.clone()))?;
                Ok(Test { set_up, probe: Probe::Look(sight), at: Target::Part(part) })
            }
            Probed::Volts { red, black } => {
                let (red, black) = (point(red)?, point(black)?);
                self.volts(instruments, set_up, [red, black], false).ok_or_else(|| Gone::Value(String::new()))
            }
            Probed::Drop(name) => {
                let part = self.part(name).ok_or_else(|| Gone::Part(name.clone()))?;
                let ends = self.ends(part).ok_or_else(|| Gone::Ends(name.clone()))?;
                self.volts(instruments, set_up, ends, true).ok_or_else(|| Gone::Value(String::new()))
            }
            Probed::Amps(name) => {
                let part = self.part(name).ok_or_else(|| Gone::Part(name.clone()))?;
                self.amps(set_up, part).ok_or_else(|| Gone::Current(name.clone()))
            }
            Probed::Ohms { red, black } => Ok(self.ohms(set_up, [point(red)?, point(black)?])),
            Probed::Lamp { tip, clip } => {
                let (red, black) = (point(tip)?, point(clip)?);
                let instrument = instruments.test_lamp.clone().ok_or_else(|| Gone::Value(String::new()))?;
                let probe = Probe::Light { instrument, red: self.node(red), black: self.node(black) };
                Ok(Test { set_up, probe, at: Target::Points { red, black } })
            }
        }
    }

    /// The two ends of a part, if it has just two.
    pub fn ends(&self, part: PartId) -> Option<[PointId; 2]> {
        self.install.parts.get(part)?.terminals.clone().try_into().ok()
    }

    /// Volts between two points; `unsigned`: without regard to the sign. `None` without a voltmeter.
    pub fn volts(
        &self,
        instruments: &Instruments,
        set_up: SetUp,
        [red, black]: [PointId; 2],
        unsigned: bool,
    ) -> Option<Test> {
        let instrument = instruments.voltmeter.clone()?;
        let probe = Probe::Volts { instrument, red: self.node(red), black: self.node(black), unsigned };
        Some(Test { set_up, probe, at: Target::Points { red, black } })
    }

    /// What was read, as a record keeps it; `typed` is the line of a value.
    pub fn got(&self, test: &Test, answer: &Answer, typed: &str) -> Got {
        match answer {
            Answer::NotTaken => {
                let unsure = matches!(read_entry(typed, "V"), Ok(Typed::NotSure));
                Got::Skipped(if unsure { "not sure" } else { "cannot take it" }.to_owned())
            }
            Answer::Word(word) => {
                let table = match test.probe {
                    Probe::Look(sight) => self.words(sight),
                    Probe::Light { .. } | Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } => {
                        self.tester_words()
                    }
                };
                Got::Shows(table.and_then(|t| t.words.get(*word)).map(|w| w.key.clone()).unwrap_or_default())
            }
            Answer::Number { .. } | Answer::Between(..) | Answer::Unsteady => Got::Reads(typed.trim().to_owned()),
        }
    }

    /// The answer that a record keeps.
    ///
    /// # Errors
    /// A word or a value that is none here.
    pub fn answer_named(&self, test: &Test, probed: &Probed, got: &Got) -> Result<Answer, Gone> {
        match got {
            Got::Skipped(_) => Ok(Answer::NotTaken),
            Got::Reads(text) => {
                let is_number = matches!(test.probe, Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. });
                let typed = read_entry(text, unit(&test.probe)).ok().filter(|_| is_number);
                let answer = typed.and_then(|typed| self.reading(&test.probe, &typed));
                answer.ok_or_else(|| Gone::Value(text.clone()))
            }
            Got::Shows(word) => {
                let table = match test.probe {
                    Probe::Look(sight) => self.words(sight),
                    Probe::Light { .. } => self.tester_words(),
                    Probe::Volts { .. } | Probe::Amps { .. } | Probe::Ohms { .. } => None,
                };
                let name = match probed {
                    Probed::Look(name) | Probed::Drop(name) | Probed::Amps(name) => name,
                    Probed::Lamp { tip, .. } => tip,
                    Probed::Volts { red, .. } | Probed::Ohms { red, .. } => red,
                };
                let gone = || Gone::Word(name.clone(), word.clone());
                table.and_then(|t| t.word(word)).map(Answer::Word).ok_or_else(gone)
            }
        }
    }

    /// Test and answer of a record.
    ///
    /// # Errors
    /// The first name that the install does not have.
    pub fn observed(
        &self,
        instruments: &Instruments,
        rest: &Setting,
        reading: &Reading,
    ) -> Result<(Test, Answer), Gone> {
        let test = self.test_named(instruments, rest, &reading.with, &reading.probed)?;
        let answer = self.answer_named(&test, &reading.probed, &reading.got)?;
        Ok((test, answer))
    }

    /// A complaint by name.
    pub fn complained(&self, complaint: &Complaint) -> Complained {
        let knowledge = &self.install.knowledge.complaints;
        let fact = |fact: &Fact| Seen {
            with: self.setting(&fact.set_up),
            look: self.sights.get(fact.sight).map(|s| self.sight_name(s)).unwrap_or_default(),
            shows: self.words(fact.sight).and_then(|t| t.words.get(fact.word)).map_or("", |w| &w.key).to_owned(),
            wrong: fact.wrong,
        };
        let when = complaint.occasion.and_then(|word| knowledge.occasions.words.get(word));
        let history = complaint.history.and_then(|word| knowledge.history.words.get(word));
        Complained {
            what: complaint.what.iter().map(|part| self.install.parts[*part].id.clone()).collect(),
            facts: complaint.facts.iter().map(fact).collect(),
            with: self.setting(&complaint.set_up),
            usual: self.setting(&complaint.usual),
            when: when.map(|w| w.key.clone()),
            history: history.map(|w| w.key.clone()),
            seen: !complaint.reported,
        }
    }

    /// The complaint of a record.
    ///
    /// # Errors
    /// Every name that the install does not have.
    pub fn complaint_named(&self, rest: &Setting, said: &Complained) -> Result<Complaint, Vec<Gone>> {
        let mut gone = Vec::new();
        let mut set_up = |with: &Setting| match self.set_up_named(rest, with) {
            Ok(set_up) => set_up,
            Err(why) => {
                gone.push(why);
                SetUp::at_rest(&self.circuit.netlist.controls)
            }
        };
        let (with, usual) = (set_up(&said.with), set_up(&said.usual));
        let set_ups: Vec<SetUp> = said.facts.iter().map(|fact| set_up(&fact.with)).collect();
        let mut facts = Vec::new();
        for (fact, set_up) in said.facts.iter().zip(set_ups) {
            match self.sight_and_word(fact) {
                Ok((sight, word)) => facts.push(Fact { set_up, sight, word, wrong: fact.wrong }),
                Err(why) => gone.push(why),
            }
        }
        let mut what = Vec::new();
        for name in &said.what {
            match self.part(name) {
                Some(part) => what.push(part),
                None => gone.push(Gone::Part(name.clone())),
            }
        }
        let knowledge = &self.install.knowledge.complaints;
        let mut occasion = |word: &Option<String>, find: &dyn Fn(&str) -> Option<usize>| {
            let found = word.as_deref().and_then(find);
            if let (Some(word), None) = (word, found) {
                gone.push(Gone::Occasion(word.clone()));
            }
            found
        };
        let when = occasion(&said.when, &|word| knowledge.occasions.word(word));
        let history = occasion(&said.history, &|word| knowledge.history.word(word));
        if !gone.is_empty() {
            return Err(gone);
        }
        Ok(Complaint { what, facts, set_up: with, usual, occasion: when, history, reported: !said.seen })
    }

    fn sight_and_word(&self, fact: &Seen) -> Result<(usize, usize), Gone> {
        let sight = self.sight_called(&fact.look).ok_or_else(|| Gone::Sight(fact.look.clone()))?;
        let word = self.words(sight).and_then(|t| t.word(&fact.shows));
        Ok((sight, word.ok_or_else(|| Gone::Word(fact.look.clone(), fact.shows.clone()))?))
    }
}

/// A value without its sign where only the size was noted.
pub fn sized(answer: Answer, probe: &Probe) -> Answer {
    let unsigned = matches!(probe, Probe::Volts { unsigned: true, .. } | Probe::Amps { unsigned: true, .. });
    match answer {
        Answer::Number { value, sigma } if unsigned => Answer::Number { value: value.abs(), sigma },
        // Between -0.2 and 0.3 the size is anything up to 0.3.
        Answer::Between(low, high) if unsigned => {
            let (a, b) = (low.abs(), high.abs());
            if low < 0.0 && high > 0.0 { Answer::Between(0.0, a.max(b)) } else { Answer::Between(a.min(b), a.max(b)) }
        }
        answer => answer,
    }
}
