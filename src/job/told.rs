//! The complaint of a recorded job, as it stands in the file.

use super::answers::Reader;
use super::complaint::{Complaint, How, Said, Subject, Unclear};
use super::system::SightOf;
use crate::diagnostic::{Span, quoted};
use crate::document::{Fields, Node, Text};
use crate::install::Install;
use crate::knowledge::Notices;

/// Words that stand for all loads, and for none.
const ALL: &str = "everything";
const NONE: &str = "nothing";

/// When it shows, where that is a matter of the engine: the words, and whether it runs.
const ENGINE: [(&str, bool); 2] = [("engine on", true), ("engine off", false)];

impl Reader<'_> {
    /// Reads `complaint:`.
    pub(super) fn complaint(&mut self, node: &Node) -> Option<Complaint> {
        let mut fields = Fields::open(node, "a complaint", &mut self.report);
        let what = fields.texts("what", &mut self.report);
        let how = fields.text("how", &mut self.report);
        let when = fields.text("when", &mut self.report);
        let history = fields.text("history", &mut self.report);
        let works = fields.texts("works", &mut self.report);
        let instead = fields.texts("instead", &mut self.report);
        let with = fields.take("with");
        let seen = fields.text("seen", &mut self.report);
        // The customer's own words are kept for the record.
        fields.take("says");
        fields.finish(&mut self.report);
        let with = match with {
            Some(node) => Some(self.set_up(Some(node))?),
            None => None,
        };
        let (occasion, engine) = when.as_ref().map_or((None, None), |when| self.when(when));
        let history = history.as_ref().and_then(|history| self.history(history));
        let reported = seen.as_ref().is_some_and(|seen| self.unseen(seen));
        let none = matches!(&what[..], [only] if only.text == NONE);
        if what.is_empty() {
            return self.wrong("missing", node.span, "a complaint names what it is about: `what: [...]`");
        }
        let [what, works, instead] = [what, works, instead].map(|names| self.subjects(&names));
        if none {
            let occasion = occasion.or(self.system.install.knowledge.complaints.occasions.without_complaint);
            let how = How::Word("");
            let said = Said { what, how, with, works, instead, occasion, history, engine, reported };
            return self.understood(&said, node.span);
        }
        let Some(how) = how else {
            return self.wrong("missing", node.span, "a complaint says `how` it shows");
        };
        let manner = self.system.install.knowledge.complaints.manner(&how.text);
        let occasion = occasion.or_else(|| manner.and_then(|m| m.comes));
        let fits = |manner| what.iter().all(|s| self.system.shows(*s, manner).is_some());
        let shown = match manner {
            // A word of the part's own table may mean the same as a manner that does not suit the part.
            Some(manner) if fits(manner) => How::Manner(manner),
            _ if what.iter().all(|s| self.has_word(*s, &how.text)) => How::Word(&how.text),
            Some(manner) => How::Manner(manner),
            None => return self.no_such_way(&what, &how),
        };
        let said = Said { what, how: shown, with, works, instead, occasion, history, engine, reported };
        self.understood(&said, how.span)
    }

    /// The complaint as facts, or what is unclear of it.
    fn understood(&mut self, said: &Said<'_>, span: Span) -> Option<Complaint> {
        if self.report.has_errors() {
            return None;
        }
        match self.system.complaint(said) {
            Ok(complaint) => Some(complaint),
            Err(unclear) => {
                for why in unclear {
                    self.wrong::<()>("unclear-complaint", span, self.system.why_unclear(&why));
                }
                None
            }
        }
    }

    /// Reads `seen:`, whether somebody beside the customer has seen it: `true` for `no`.
    fn unseen(&mut self, seen: &Text) -> bool {
        let known = ["yes", "no"];
        if !known.contains(&seen.text.as_str()) {
            self.unknown::<()>("answer", seen, known.into_iter());
        }
        seen.text == "no"
    }

    fn subjects(&mut self, names: &[Text]) -> Vec<Subject> {
        let system = self.system;
        let mut subjects = Vec::new();
        for name in names {
            if name.text == ALL {
                subjects.extend(system.everything());
            } else if name.text == NONE && names.len() == 1 {
            } else if let Some(part) = system.part(&name.text) {
                subjects.push(Subject { part, sight: None });
            } else if let Some(sight) = system.sight_called(&name.text).filter(|s| !system.is_inspection(*s)) {
                subjects.push(Subject { part: system.sights[sight].part, sight: Some(sight) });
            } else {
                let known: Vec<String> = system.sights.iter().map(|s| system.sight_name(s)).collect();
                self.unknown::<()>("part", name, known.iter().map(String::as_str).chain([ALL, NONE]));
            }
        }
        subjects
    }

    /// When it shows: an occasion, or with the engine.
    fn when(&mut self, when: &Text) -> (Option<usize>, Option<bool>) {
        if let Some((_, running)) = ENGINE.iter().find(|(word, _)| *word == when.text) {
            return (None, Some(*running));
        }
        // `after 10 minutes` is `after some minutes`; how many stays in the record.
        let minutes = when.text.strip_prefix("after ").and_then(|rest| rest.strip_suffix(" minutes"));
        let word = if minutes.is_some_and(|n| n.parse::<f64>().is_ok()) { "minutes" } else { &when.text };
        let found = self.occasion(word);
        if found.is_none() {
            let occasions = &self.system.install.knowledge.complaints.occasions;
            let known = occasions.words.iter().map(|w| w.key.as_str()).chain(ENGINE.map(|(word, _)| word));
            self.unknown::<()>("occasion", when, known);
        }
        (found, None)
    }

    fn occasion(&self, word: &str) -> Option<usize> {
        self.system.install.knowledge.complaints.occasions.word(word)
    }

    fn history(&mut self, said: &Text) -> Option<usize> {
        let history = &self.system.install.knowledge.complaints.history;
        let found = history.word(&said.text);
        if found.is_none() {
            self.unknown::<()>("history", said, history.words.iter().map(|w| w.key.as_str()));
        }
        found
    }

    fn has_word(&self, subject: Subject, word: &str) -> bool {
        let sight = subject.sight.or_else(|| self.system.sight(subject.part));
        sight.and_then(|sight| self.system.words(sight)?.word(word)).is_some()
    }

    fn no_such_way<T>(&mut self, what: &[Subject], how: &Text) -> Option<T> {
        let system = self.system;
        let own = what.iter().filter_map(|s| system.words(s.sight.or_else(|| system.sight(s.part))?));
        let own = own.flat_map(|table| table.words.iter().map(|w| w.key.as_str()));
        let manners = system.install.knowledge.complaints.manners.iter().map(|m| m.key.as_str());
        self.unknown("word", how, manners.chain(own))
    }
}

/// Loads of a complaint about everything.
const MOST: usize = 12;

/// The loads of an install that can be seen.
pub(super) fn all_loads(install: &Install, sights: &[SightOf]) -> Vec<Subject> {
    let of = |part| {
        let works = move |s: &&(usize, &SightOf)| s.1.part == part && s.1.notices == Notices::Work;
        sights.iter().enumerate().filter(move |s| works(&s)).map(move |(sight, _)| (part, sight))
    };
    let loads = install.wiring().loads();
    loads.into_iter().flat_map(of).map(|(part, sight)| Subject { part, sight: Some(sight) }).collect()
}

impl super::System {
    /// All loads that can be seen.
    pub fn all_loads(&self) -> &[Subject] {
        &self.loads
    }

    /// What a complaint about everything is about: the loads of which the switches are known, the first dozen of them, which
    /// say as much as all.
    pub fn everything(&self) -> Vec<Subject> {
        let known = |s: &Subject| s.sight.and_then(|sight| self.usual_set_up(sight)).is_some();
        self.loads.iter().copied().filter(known).take(MOST).collect()
    }

    /// What is unclear of a complaint, in words.
    pub fn why_unclear(&self, why: &Unclear) -> String {
        let label = |part: &crate::install::PartId| quoted(&self.install.parts[*part].label);
        match why {
            Unclear::NotShown(part) => format!("{} does not show in this way", label(part)),
            Unclear::NoSetUp(part) => {
                format!("no switch setting is known in which {} works: name it, `with: {{...}}`", label(part))
            }
            Unclear::NotSeen(part) => format!("nothing of {} can be seen or heard", label(part)),
            Unclear::NoEngine => "this install has no engine that runs".to_owned(),
        }
    }
}
