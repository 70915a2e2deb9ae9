//! The complaint, asked in a few short questions: what, how, when, what still works, with which switches.

mod choose;
mod subjects;
mod switches;

use super::ask::Asker;
use super::output::Output;
use crate::circuit::SetUp;
use crate::job::{Complaint, How, Said, Subject, System};
use crate::knowledge::{Manner, Notices};
pub(super) use choose::is_quit;
use choose::{Choice, choose};
use subjects::Subjects;

/// What is wrong, in the words of the first question.
enum What {
    /// These parts.
    Parts(Vec<Subject>),
    /// All loads, each with its own switches.
    All(Vec<Subject>),
    /// Something gets hot: this part.
    Hot(Subject),
    /// Nothing is known to be.
    Nothing,
}

/// Asks what is wrong, how and when it shows, what still works, and with which switches; `None` when the person leaves.
pub(super) fn complaint(system: &System, asker: &mut dyn Asker, output: &Output) -> Option<Complaint> {
    let mut asked = Interview { system, asker, output };
    loop {
        let said = asked.said()?;
        match system.complaint(&said) {
            Ok(complaint) => return Some(complaint),
            Err(unclear) => {
                for why in &unclear {
                    output.talk(&format!("{}.", system.why_unclear(why)));
                }
                output.talk("Once more:");
            }
        }
    }
}

struct Interview<'a> {
    system: &'a System,
    asker: &'a mut dyn Asker,
    output: &'a Output,
}

impl<'a> Interview<'a> {
    fn said(&mut self) -> Option<Said<'a>> {
        let complaints = &self.system.install.knowledge.complaints;
        let what = self.what()?;
        let (what, all) = match what {
            What::Nothing => {
                let history = Some(self.history()?);
                let nothing = Said::about(Vec::new(), How::Word(""));
                return Some(Said { occasion: complaints.occasions.without_complaint, history, ..nothing });
            }
            What::Parts(list) => (list, false),
            What::Hot(part) => (vec![part], false),
            What::All(list) => (list, true),
        };
        let manner = self.how(&what)?;
        let instead = if manner.instead.is_empty() { Vec::new() } else { self.others("Which one answers?", &what)? };
        let (occasion, engine) = self.when(manner)?;
        let occasion = occasion.or(manner.comes);
        let history = Some(self.history()?);
        let unsteady = occasion.filter(|word| !complaints.occasions.is_steady(*word));
        let reported = match unsteady {
            Some(word) => !self.shows_now(word)?,
            None => !self.seen()?,
        };
        let mut said = Said { instead, occasion, history, engine, reported, ..Said::about(what, How::Manner(manner)) };
        if all {
            return Some(said);
        }
        // The complaint as far as it goes says which switches to offer: all that its parts need.
        let usual = self.system.complaint(&said).ok().map(|complaint| together(self.system, &complaint));
        said.with = Some(self.switches(usual)?);
        if matches!(manner.of, Notices::Work) {
            said.works = self.others("What still works, each with its own switch?", &said.what)?;
        }
        Some(said)
    }

    fn what(&mut self) -> Option<What> {
        let subjects = Subjects::of(self.system);
        let mut choices = subjects.numbered();
        choices.push(Choice::letter("a", "everything: all of them"));
        choices.push(Choice::letter("h", "something gets hot"));
        choices.push(Choice::letter("n", "nothing: it came back without a complaint"));
        let prompt = "number, name or letter >";
        let chosen = choose(self.asker, self.output, "What is wrong? One or several:", &choices, prompt)?;
        let letter = |c: &str| chosen.iter().any(|i| choices[*i].typed == c);
        if letter("n") {
            Some(What::Nothing)
        } else if letter("h") {
            self.hot().map(What::Hot)
        } else if letter("a") {
            Some(What::All(self.system.everything()))
        } else {
            Some(What::Parts(chosen.iter().filter_map(|i| subjects.list.get(*i)).copied().collect()))
        }
    }

    fn hot(&mut self) -> Option<Subject> {
        let hot = Subjects::hot(self.system);
        let choices = hot.numbered();
        loop {
            let chosen = choose(self.asker, self.output, "What gets hot?", &choices, "number or name >")?;
            match chosen[..] {
                [one] => return hot.list.get(one).copied(),
                _ => self.output.talk("the hottest one alone"),
            }
        }
    }

    fn how(&mut self, what: &[Subject]) -> Option<&'a Manner> {
        let system = self.system;
        let manners = system.install.knowledge.complaints.manners.iter();
        let others = !Subjects::working(system, what).list.is_empty();
        let fits = |m: &&Manner| what.iter().all(|s| system.shows(*s, m).is_some()) && (others || m.instead.is_empty());
        let manners: Vec<&Manner> = manners.filter(fits).collect();
        let first = what.first()?;
        let choice = |(i, m): (usize, &&Manner)| {
            let word = system.shows(*first, m).and_then(|(sight, word)| system.words(sight)?.words.get(word));
            let own = word.map_or("", |w| w.says.as_str());
            let also: Vec<&str> = m.also.iter().chain([&m.key]).map(String::as_str).collect();
            Choice::numbered(i, &m.says.replace("{}", own), &also)
        };
        let choices: Vec<Choice> = manners.iter().enumerate().map(choice).collect();
        if choices.is_empty() {
            self.output.talk("these do not show in the same way: take them one at a time");
            return None;
        }
        let heading = match what {
            [one] => format!("{}: how does it show?", subjects::label(system, *one)),
            _ => "How do they show it?".to_owned(),
        };
        loop {
            let chosen = choose(self.asker, self.output, &heading, &choices, "number or word >")?;
            match chosen[..] {
                [one] => return manners.get(one).copied(),
                _ => self.output.talk("one answer only"),
            }
        }
    }

    /// When it shows: an occasion, or with the engine running or standing. What comes and goes is not asked whether it is
    /// always there.
    fn when(&mut self, manner: &Manner) -> Option<(Option<usize>, Option<bool>)> {
        let occasions = &self.system.install.knowledge.complaints.occasions;
        let words = &occasions.words;
        let fits = |i: &usize| occasions.without_complaint != Some(*i);
        let comes = |i: &usize| manner.comes.is_none() || !occasions.is_steady(*i);
        let offered: Vec<usize> = (0..words.len()).filter(fits).filter(comes).collect();
        let mut choices: Vec<Choice> =
            offered.iter().enumerate().map(|(i, w)| Choice::numbered(i, &words[*w].says, &[&words[*w].key])).collect();
        let engine = [("engine on", "only with the engine running"), ("engine off", "only with the engine off")];
        if self.system.engine().is_some() {
            let from = choices.len();
            choices.extend(engine.iter().enumerate().map(|(i, (key, says))| Choice::numbered(from + i, says, &[*key])));
        }
        loop {
            let chosen = choose(self.asker, self.output, "When does it show?", &choices, "number >")?;
            match chosen[..] {
                [one] => {
                    return Some(match offered.get(one) {
                        Some(word) => (Some(*word), None),
                        None => (None, Some(one == offered.len())),
                    });
                }
                _ => self.output.talk("one answer only: what fits best"),
            }
        }
    }

    /// What was before.
    fn history(&mut self) -> Option<usize> {
        let words = &self.system.install.knowledge.complaints.history.words;
        let choices: Vec<Choice> =
            words.iter().enumerate().map(|(i, w)| Choice::numbered(i, &w.says, &[&w.key])).collect();
        loop {
            let chosen = choose(self.asker, self.output, "Did it work before?", &choices, "number >")?;
            match chosen[..] {
                [one] => return Some(one),
                _ => self.output.talk("one answer only"),
            }
        }
    }

    /// Whether somebody beside the customer has seen it: what nobody has is tried before anything is measured.
    fn seen(&mut self) -> Option<bool> {
        let choices =
            [Choice::letter("y", "yes, with my own eyes"), Choice::letter("n", "no, I only heard of it: try it first")];
        loop {
            match choose(self.asker, self.output, "Have you seen it yourself?", &choices, "y or n >")?[..] {
                [0] => return Some(true),
                [1] => return Some(false),
                _ => self.output.talk("one answer only"),
            }
        }
    }

    /// Waits until a fault that comes and goes shows: what is not there cannot be measured. That it does not come is an answer
    /// once it was tried.
    fn shows_now(&mut self, occasion: usize) -> Option<bool> {
        let mut choices = vec![Choice::letter("y", "yes"), Choice::letter("n", "no")];
        let mut prompt = "y or n >";
        loop {
            match choose(self.asker, self.output, "Does it show now?", &choices, prompt)?[..] {
                [0] => return Some(true),
                [2] => return Some(false),
                [1] => {
                    self.make_it_show(occasion);
                    if choices.len() == 2 {
                        choices.push(Choice::letter("t", "tried that, it does not come"));
                        prompt = "y, n or t >";
                    }
                }
                _ => self.output.talk("one answer only"),
            }
        }
    }

    /// How to make it show: under the condition that was named, else under each.
    fn make_it_show(&self, occasion: usize) {
        let occasions = &self.system.install.knowledge.complaints.occasions;
        self.output.talk("What does not show cannot be measured. Make it show first:");
        let named = occasions.conditions.iter().any(|(word, _)| *word == occasion);
        for (_, tried) in occasions.conditions.iter().filter(|(word, _)| !named || *word == occasion) {
            self.output.talk(&format!("  {tried}"));
        }
    }

    fn others(&mut self, heading: &str, than: &[Subject]) -> Option<Vec<Subject>> {
        let others = Subjects::working(self.system, than);
        if others.list.is_empty() {
            return Some(Vec::new());
        }
        let mut choices = others.numbered();
        choices.push(Choice::letter("n", "none, or not tried"));
        let chosen = choose(self.asker, self.output, heading, &choices, "numbers or n >")?;
        Some(chosen.iter().filter_map(|i| others.list.get(*i)).copied().collect())
    }

    fn switches(&mut self, usual: Option<SetUp>) -> Option<SetUp> {
        switches::ask(self.system, usual, self.asker, self.output)
    }
}

/// The set-up in which everything is set that some part of a complaint needs.
fn together(system: &System, complaint: &Complaint) -> SetUp {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    complaint.wrong().fold(rest, |set_up, fact| system.moved_as(set_up, &fact.set_up))
}
