//! The incoming look of a job on the bench: asked and recorded before power is put on.

use super::{Did, Sitting};
use crate::belief::Probe;
use crate::cli::ask::{Asked, Asker};
use crate::cli::interview::is_quit;
use crate::cli::understood::answer;
use crate::job::record::{OnBench, Record};

/// What is recorded where nothing was found.
const NOTHING: &str = "nothing";

impl Sitting<'_, '_> {
    /// Asks what has not been `asked` yet, then says how power is put on. `false`: the person leaves.
    pub(super) fn comes_in(&mut self, bench: &OnBench, asked: &[(String, String)]) -> bool {
        let system = self.job.system();
        let questions = system.install.knowledge.bench.incoming.iter();
        let open: Vec<_> = questions.filter(|(key, _)| asked.iter().all(|(about, _)| about != key)).collect();
        if !open.is_empty() {
            self.output
                .talk("Before power is put on. What names a part counts: X3 green; F1 browned. All else is kept.");
        }
        for (about, question) in open {
            self.output.talk(question);
            let Asked::Line(line) = self.desk.ask("what and where, Enter: nothing >") else { return false };
            let line = line.trim();
            if is_quit(line) {
                return false;
            }
            for piece in line.split(';').map(str::trim).filter(|piece| !piece.is_empty()) {
                if !self.seen_on_arrival(piece) {
                    return false;
                }
            }
            let says = if line.is_empty() { NOTHING } else { line }.to_owned();
            if !self.desk.write(Record::Incoming { about: about.clone(), says }) {
                return false;
            }
        }
        for line in system.before_power(bench) {
            self.output.talk(&line);
        }
        if system.exceeds_limit(&self.job.complaint().usual) {
            self.output.talk("With all as it should be this circuit takes more than the limit: set a higher one.");
        }
        true
    }

    /// Enters what names a part and a word for it; everything else stands in the record alone. `false`: the person leaves.
    fn seen_on_arrival(&mut self, text: &str) -> bool {
        let system = self.job.system();
        let set_up = system.set_up_named(&system.resting(), &Vec::new());
        let Ok(set_up) = set_up else { return true };
        let already = system.already(&system.instruments(), text, &set_up).and_then(Result::ok);
        let looked = already.filter(|a| matches!(a.test.probe, Probe::Look(s) if system.is_inspection(s)));
        // Killed between the two records it is asked again: what was entered then is not entered twice.
        let Some(looked) = looked.filter(|looked| self.looked_before(&looked.test).is_none()) else { return true };
        match answer(system, &looked.test, &looked.value) {
            Ok(word) => !matches!(self.enter(&looked.test, word, &looked.value, None), Did::Left),
            Err(_) => true,
        }
    }
}
