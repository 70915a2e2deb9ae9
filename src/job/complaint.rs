//! A complaint: what shows wrong, how, with which switches, and when; what still works beside it.

use super::System;
use crate::circuit::{Control, ControlId, SetUp};
use crate::install::PartId;
use crate::knowledge::{Manner, Notices, Origin, Role, Situation};

/// What the customer says, as facts.
#[derive(Clone, Debug, PartialEq)]
pub struct Complaint {
    /// The parts that it is about; none where an install came back without a complaint.
    pub what: Vec<PartId>,
    /// What was seen, set-up after set-up; what shows in the set-up of the job comes last.
    pub facts: Vec<Fact>,
    /// The set-up in which it shows, and in which the job begins.
    pub set_up: SetUp,
    /// A set-up in which the healthy system sends current where the complaint is.
    pub usual: SetUp,
    /// When it shows: position among the occasions' words.
    pub occasion: Option<usize>,
    /// What was before: position among the history's words.
    pub history: Option<usize>,
    /// Nobody but the customer has seen it: it is tried again before anything is measured.
    pub reported: bool,
}

/// Something seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// The set-up.
    pub set_up: SetUp,
    /// Position of the sight.
    pub sight: usize,
    /// Position of the word.
    pub word: usize,
    /// It is what is complained of, which the fault finder has seen too; else only the customer's word.
    pub wrong: bool,
}

/// How it shows: a manner of the knowledge base, or a word of the part's own table.
#[derive(Clone, Copy, Debug)]
pub enum How<'a> {
    /// A manner.
    Manner(&'a Manner),
    /// A key of a word.
    Word(&'a str),
}

/// What something is said of: a part, and which of its sights where it was named (`headlamp.main beam`).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subject {
    /// The part.
    pub part: PartId,
    /// Position of the sight.
    pub sight: Option<usize>,
}

/// What a person has said, before it is understood.
#[derive(Clone, Debug)]
pub struct Said<'a> {
    /// What it is about; nothing: no complaint.
    pub what: Vec<Subject>,
    /// How it shows.
    pub how: How<'a>,
    /// The set-up, if it was named.
    pub with: Option<SetUp>,
    /// Parts that work all the same in that set-up.
    pub works: Vec<Subject>,
    /// Parts that answer in its place.
    pub instead: Vec<Subject>,
    /// Position of the occasion.
    pub occasion: Option<usize>,
    /// Position of what was before.
    pub history: Option<usize>,
    /// It shows only while the engine runs (`true`), or only while it stands.
    pub engine: Option<bool>,
    /// Nobody but the customer has seen it.
    pub reported: bool,
}

impl<'a> Said<'a> {
    /// That some things show in this way, and no more.
    pub fn about(what: Vec<Subject>, how: How<'a>) -> Self {
        Self {
            what,
            how,
            with: None,
            works: Vec::new(),
            instead: Vec::new(),
            occasion: None,
            history: None,
            engine: None,
            reported: false,
        }
    }
}

/// Why a complaint says nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unclear {
    /// The part does not show in this way.
    NotShown(PartId),
    /// There is no set-up in which the healthy system makes the part work, so one must be named.
    NoSetUp(PartId),
    /// Nothing of it can be seen.
    NotSeen(PartId),
    /// The install has no engine.
    NoEngine,
}

impl System {
    /// Understands what was said.
    ///
    /// # Errors
    ///
    /// What does not fit the install, part by part.
    pub fn complaint(&self, said: &Said<'_>) -> Result<Complaint, Vec<Unclear>> {
        let mut unclear = Vec::new();
        let mut facts = Vec::new();
        let mut usual = None;
        for subject in &said.what {
            match self.fact(*subject, said) {
                Ok((fact, from)) => {
                    facts.push(fact);
                    usual = Some(from);
                }
                Err(why) => unclear.push(why),
            }
        }
        let rest = SetUp::at_rest(&self.circuit.netlist.controls);
        let set_up = facts.last().map_or_else(|| said.with.clone().unwrap_or(rest), |f: &Fact| f.set_up.clone());
        for subject in &said.works {
            match self.works_beside(*subject, &set_up) {
                Some(fact) => facts.insert(0, fact),
                None => unclear.push(Unclear::NotSeen(subject.part)),
            }
        }
        for subject in &said.instead {
            let answers = match said.how {
                How::Manner(manner) => self.sight_meant(*subject).and_then(|s| self.word_of(s, &manner.instead)),
                How::Word(_) => None,
            };
            match answers {
                Some((sight, word)) => facts.insert(0, Fact { set_up: set_up.clone(), sight, word, wrong: false }),
                None => unclear.push(Unclear::NotShown(subject.part)),
            }
        }
        // What is said of the engine's own work shows only while it runs; there is no other state to compare with.
        let own_work = matches!(said.how, How::Manner(manner) if manner.with == Situation::Running);
        if let Some(running) = said.engine.filter(|_| !own_work) {
            match self.engine() {
                Some((id, control)) => {
                    let contrast = if running {
                        set_up.clone().with(id, control.rest)
                    } else {
                        let runs = self.running_set_up().unwrap_or_else(|| set_up.clone());
                        self.moved_as(set_up.clone(), &runs)
                    };
                    let wrong: Vec<Fact> = facts.iter().filter(|f| f.wrong).cloned().collect();
                    for fact in wrong {
                        // In the other state of the engine all is well.
                        if let Some(word) = self.word_when_well(fact.sight, &contrast) {
                            let well = Fact { set_up: contrast.clone(), sight: fact.sight, word, wrong: false };
                            facts.insert(0, well);
                        }
                    }
                }
                None => unclear.push(Unclear::NoEngine),
            }
        }
        // Facts of one set-up stand together, those of the job's own last, so that each set-up is entered once.
        let mut order: Vec<SetUp> = Vec::new();
        for fact in &facts {
            if !order.contains(&fact.set_up) && fact.set_up != set_up {
                order.push(fact.set_up.clone());
            }
        }
        facts.sort_by_key(|f| order.iter().position(|s| *s == f.set_up).unwrap_or(order.len()));
        if unclear.is_empty() {
            let what = said.what.iter().map(|s| s.part).collect();
            let usual = usual.unwrap_or_else(|| set_up.clone());
            Ok(Complaint {
                what,
                facts,
                set_up,
                usual,
                occasion: said.occasion,
                history: said.history,
                reported: said.reported,
            })
        } else {
            Err(unclear)
        }
    }

    /// The complaint that one thing looks wrong in a set-up.
    pub fn seen_wrong(&self, sight: usize, word: usize, set_up: SetUp) -> Complaint {
        let rest = SetUp::at_rest(&self.circuit.netlist.controls);
        let usual = if set_up == rest { self.usual_set_up(sight) } else { None };
        Complaint {
            what: self.sights.get(sight).map(|s| s.part).into_iter().collect(),
            usual: usual.unwrap_or_else(|| set_up.clone()),
            facts: vec![Fact { set_up: set_up.clone(), sight, word, wrong: true }],
            set_up,
            occasion: None,
            history: None,
            reported: false,
        }
    }

    /// What is seen of one part, and the set-up in which current flows there when all is well.
    fn fact(&self, subject: Subject, said: &Said<'_>) -> Result<(Fact, SetUp), Unclear> {
        let part = subject.part;
        let (sight, word) = match said.how {
            How::Word(word) => {
                let sight = self.sight_meant(subject).ok_or(Unclear::NotSeen(part))?;
                (sight, self.words(sight).and_then(|t| t.word(word)).ok_or(Unclear::NotShown(part))?)
            }
            How::Manner(manner) => self.shows(subject, manner).ok_or(Unclear::NotShown(part))?,
        };
        let with = match said.how {
            How::Word(_) => Situation::Usual,
            How::Manner(manner) => manner.with,
        };
        let usual = || {
            let works = self.sight_meant(subject).and_then(|sight| self.usual_set_up(sight));
            works.or_else(|| self.most_current(part))
        };
        let rest = SetUp::at_rest(&self.circuit.netlist.controls);
        let (set_up, flows) = match (&said.with, with) {
            (Some(named), Situation::Usual) if *named != rest => (named.clone(), named.clone()),
            (Some(named), Situation::Usual) => (named.clone(), usual().unwrap_or(rest)),
            (None, Situation::Usual) => {
                let found = usual().ok_or(Unclear::NoSetUp(part))?;
                (found.clone(), found)
            }
            (named, Situation::Rest) => {
                let named = named.clone().unwrap_or_else(|| rest.clone());
                (named, usual().unwrap_or(rest))
            }
            (named, Situation::Running) => {
                let named = named.clone().or_else(|| self.running_set_up()).ok_or(Unclear::NoEngine)?;
                (named.clone(), named)
            }
        };
        Ok((Fact { set_up, sight, word, wrong: true }, flows))
    }

    /// That a part works all the same: in this set-up if that makes it work, else with its own switches.
    fn works_beside(&self, subject: Subject, set_up: &SetUp) -> Option<Fact> {
        let sight = self.sight_meant(subject)?;
        let word = self.good_word(sight)?;
        let here = self.word_when_well(sight, set_up) == Some(word);
        let set_up = if here { set_up.clone() } else { self.usual_set_up(sight)? };
        Some(Fact { set_up, sight, word, wrong: false })
    }

    /// The sight and the word in which a part shows in this manner; for a blown fuse those of the fuse.
    pub fn shows(&self, subject: Subject, manner: &Manner) -> Option<(usize, usize)> {
        let sight = match (manner.protection, manner.of) {
            (Some(resets), _) => self.sight(self.protection_of(subject.part, resets)?),
            (None, Notices::Work) => self.sight_meant(subject),
            (None, other) => self.sight_as(subject.part, other),
        };
        self.word_of(sight?, &manner.shows)
    }

    /// The sight that a subject names, else the first of what its part does.
    fn sight_meant(&self, subject: Subject) -> Option<usize> {
        subject.sight.or_else(|| self.sight(subject.part))
    }

    /// The first of these words that a sight has.
    fn word_of(&self, sight: usize, keys: &[String]) -> Option<(usize, usize)> {
        keys.iter().find_map(|key| Some((sight, self.words(sight)?.word(key)?)))
    }

    /// Whether a complaint speaks of an install that was wired wrong: it never worked, or not since somebody worked on it.
    pub(super) fn speaks_of_mistakes(&self, complaint: &Complaint) -> bool {
        let history = &self.install.knowledge.complaints.history;
        let likely = |word: usize, origin: Origin| history.likelihood(word, origin);
        complaint.history.is_some_and(|word| likely(word, Origin::Mistake) > likely(word, Origin::Wear))
    }

    /// The control that starts the engine: the one of a supply that has positions.
    pub fn engine(&self) -> Option<(ControlId, &Control)> {
        let (id, _) = self.install.controls.enumerate().find(|(_, c)| {
            let kind = &self.install.knowledge.kinds[self.install.parts[c.part].kind];
            kind.role == Role::Supply
        })?;
        let id = self.circuit.control_of[id];
        Some((id, &self.circuit.netlist.controls[id]))
    }

    /// Whether the engine runs in a set-up.
    pub fn engine_runs(&self, set_up: &SetUp) -> bool {
        self.engine().is_some_and(|(id, engine)| set_up.positions.get(id) != Some(&engine.rest))
    }
}

impl Complaint {
    /// What was seen of the parts that are complained of.
    pub fn wrong(&self) -> impl Iterator<Item = &Fact> {
        self.facts.iter().filter(|f| f.wrong)
    }
}
