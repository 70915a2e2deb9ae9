//! How a sitting ends: the finding, what of it was repaired, the proof.

use super::{Did, Sitting};
use crate::belief::{Answer, Verdict};
use crate::cli::Ending;
use crate::cli::args::Diagnose;
use crate::cli::ask::{Asked, Asker};
use crate::cli::diagnose::close;
use crate::job::record::{Blamed, Closed, Ended, Left, Mended, Outcome, Record, Repair, tenths};
use crate::job::{Culprit, Next};
use crate::show;

/// What a line says of a list of culprits.
#[derive(Debug, PartialEq, Eq)]
enum Repaired {
    /// Nothing was repaired.
    Nothing,
    /// These were: positions in the list.
    These(Vec<usize>),
    /// There is no such number.
    Unknown(usize),
}

impl Sitting<'_, '_> {
    /// Whether a verdict names something that the person may repair now.
    pub(super) fn can_be_repaired(&self, verdict: &Verdict) -> bool {
        !self.output.is_json() && !self.desk.is_left() && matches!(verdict, Verdict::Found(_) | Verdict::Ambiguous(_))
    }

    /// Says and records a finding; what of it was repaired is tried at once.
    pub(super) fn found(&mut self, verdict: &Verdict) -> Did {
        if !self.record(verdict) {
            return Did::Left;
        }
        self.output.print(&show::finding::finding(&self.job, verdict));
        self.said = true;
        let named = self.job.named(verdict);
        self.tell_named(&named);
        let prompt = if named.len() > 1 {
            "Repaired? y all, or numbers; Enter ends here >"
        } else {
            "Repaired? y proves it now, Enter ends here >"
        };
        self.go_on(prompt, &named)
    }

    /// Says that it works again. A closed job takes nothing more, so that a slip of the finger can still be taken back.
    pub(super) fn proven(&mut self) -> Did {
        self.output.print(&show::finding::proven(&self.job, &self.cured()));
        self.said = true;
        self.go_on("Enter closes the job, u takes the answer back >", &[])
    }

    /// A finding that stands already: what more is there to say?
    pub(super) fn reopened(&mut self, verdict: &Verdict) -> Did {
        let named = if self.can_be_repaired(verdict) { self.job.named(verdict) } else { Vec::new() };
        let repaired = match named.len() {
            0 => "",
            1 => "y: it is repaired, and is tried now; ",
            _ => "y: all are repaired, or their numbers; ",
        };
        let text = format!(
            "This job has its finding. Enter says it; {repaired}a reading of your own, correct or u goes on with it."
        );
        self.output.talk(&text);
        self.tell_named(&named);
        self.go_on("(h help) >", &named)
    }

    /// Several that were named, with their numbers.
    fn tell_named(&self, named: &[Culprit]) {
        if named.len() > 1 {
            for (i, culprit) in named.iter().enumerate() {
                let text = format!("{}. {}", i + 1, show::finding::culprit(self.job.system(), culprit));
                self.output.talk(&text);
            }
        }
    }

    /// Waits behind a finding for what changes the job.
    fn go_on(&mut self, prompt: &str, named: &[Culprit]) -> Did {
        loop {
            let Asked::Line(line) = self.desk.ask(prompt) else { return Did::Left };
            let (which, minutes) = worked(&line);
            match repaired(which, named.len()) {
                Some(Repaired::Nothing) => return Did::Left,
                Some(Repaired::These(these)) => {
                    let these: Vec<Culprit> = these.iter().filter_map(|i| named.get(*i)).cloned().collect();
                    return self.repaired(&these, minutes);
                }
                Some(Repaired::Unknown(number)) => {
                    self.output.talk(&format!("there is no {number}; {} were named", named.len()));
                    continue;
                }
                None => {}
            }
            match self.aside(&line, None) {
                Did::Told | Did::Again => {}
                did => return did,
            }
        }
    }

    /// Records and enters that these were repaired.
    fn repaired(&mut self, culprits: &[Culprit], minutes: Option<f64>) -> Did {
        let repair = Repair { minutes, ..self.job.repair_of(culprits) };
        let after = self.next_number().saturating_sub(1);
        if !self.desk.write(Record::Repair(repair.clone())) {
            return Did::Left;
        }
        let names: Vec<String> = culprits.iter().map(|c| show::finding::culprit(self.job.system(), c)).collect();
        self.output.talk(&format!("Repaired: {}. Now the proof.", names.join("; ")));
        self.job.mend(&repair);
        self.repairs.push(Mended { after, repair });
        self.found = false;
        Did::Changed
    }

    /// Records how the system is left where it is not repaired for good. The job stays open.
    pub(super) fn left_as(&mut self, outcome: Outcome, says: &str) -> Did {
        if !self.found {
            self.output.talk("how it is left is said behind a finding");
            return Did::Told;
        }
        let Next::Stop(verdict) = self.job.next() else { return Did::Told };
        let cautions = self.job.left_idle(&verdict);
        let text = show::finding::left_as(outcome, &cautions);
        if !self.desk.write(Record::Outcome { outcome, says: Some(says.to_owned()), cautions }) {
            return Did::Left;
        }
        self.output.talk(&text);
        Did::Told
    }

    /// What was not taken, what is in doubt, what the description does not know.
    fn open_ends(&self) -> Vec<String> {
        let system = self.job.system();
        let mut open = Vec::new();
        for (i, taken) in self.job.taken().iter().enumerate().filter(|(_, t)| !t.complaint) {
            let brief = || {
                let with = show::text::set_up(system, &taken.test.set_up);
                format!("{} ({with})", show::test::brief(system, &taken.test))
            };
            if taken.answer == Answer::NotTaken {
                open.push(format!("not taken: {}", brief()));
            } else if self.job.is_doubtful(i) {
                open.push(format!("in doubt: {}", brief()));
            }
        }
        let lost = self.lost.iter().map(|(number, _, gone)| format!("reading {number}: {}", gone.says()));
        open.extend(lost);
        open
    }

    /// Records a verdict, unless the record ends with it already. `false`: the person leaves, since it cannot be saved.
    fn record(&mut self, verdict: &Verdict) -> bool {
        let open = self.open_ends();
        if !self.found {
            let finding = self.job.recorded(verdict, open);
            self.cautioned.extend_from_slice(&finding.cautions);
            self.found = self.desk.write(Record::Finding(finding));
        }
        self.found
    }

    /// Records the verdict or that the person left, and says it.
    pub(super) fn end(mut self, args: &Diagnose, next: &Next) -> Ending {
        match next {
            Next::Stop(_) | Next::Take(_) if self.desk.is_left() => {}
            Next::Stop(Verdict::Cured) => self.prove(),
            Next::Stop(verdict) => {
                self.record(verdict);
            }
            Next::Take(_) => {
                let (minutes, open) = (tenths(self.job.minutes().get()), self.open_ends());
                let cautions = self.job.left_idle(&Verdict::Open);
                // Else it stands with the suspects.
                if !self.output.is_json() && self.job.nothing_leads() {
                    self.output.talk(show::finding::as_left(&self.job, &cautions).trim_end());
                }
                self.desk.write(Record::Left(Left { minutes, cautions, open }));
            }
        }
        let ending = match next {
            Next::Stop(_) if self.said => Ending::Good,
            next => close(&self.job, next, &[], self.output),
        };
        self.desk.tell_unsaved();
        if matches!(next, Next::Take(_)) && !self.output.is_json() {
            self.desk.tell_where(args.install.as_deref());
        }
        self.desk.close();
        ending
    }

    /// Records that what was complained of works again. The two belong together: a job with an outcome is closed.
    fn prove(&mut self) {
        let system = self.job.system();
        let complaint = system.complained(self.job.complaint());
        let wrong = complaint.facts.iter().filter(|fact| fact.wrong);
        let wrong: Vec<String> = wrong.map(|fact| format!("{} {}", fact.look, fact.shows)).collect();
        let mut done: Vec<&str> = Vec::new();
        for repair in self.repairs.iter().map(|mended| mended.repair.done.as_str()).filter(|done| !done.is_empty()) {
            if !done.contains(&repair) {
                done.push(repair);
            }
        }
        let Some(began) = self.began else { return };
        let cured = self.cured();
        let worked = self.repairs.iter().filter_map(|mended| mended.repair.minutes).reduce(|a, b| a + b);
        let closed = Closed {
            outcome: Outcome::Cured,
            install: system.install.title.clone(),
            began,
            complaint: wrong.join(", "),
            ended: Ended::Found,
            failed: self.job.failed(&cured),
            culprits: cured,
            repair: (!done.is_empty()).then(|| done.join("; ")),
            readings: self.numbers.len(),
            minutes: tenths(self.job.minutes().get()),
            repair_minutes: worked,
        };
        let cautions = self.job.system().cautions_on_moving_off();
        let outcome = Record::Outcome { outcome: Outcome::Cured, says: None, cautions };
        self.desk.write_all([outcome, Record::Closed(closed)]);
    }

    /// All that was repaired, each fault once.
    fn cured(&self) -> Vec<Blamed> {
        let mut all: Vec<Blamed> = Vec::new();
        for blamed in self.repairs.iter().flat_map(|mended| &mended.repair.culprits) {
            if !all.iter().any(|known| (&known.part, &known.fault) == (&blamed.part, &blamed.fault)) {
                all.push(blamed.clone());
            }
        }
        all
    }
}

/// Minutes of work behind what was repaired (`y 25 min`), and what stands before them.
fn worked(line: &str) -> (&str, Option<f64>) {
    let text = line.trim();
    let before = text.strip_suffix("min").map(str::trim_end);
    let Some((which, number)) = before.and_then(|before| before.rsplit_once(char::is_whitespace)) else {
        return (line, None);
    };
    match number.replace(',', ".").parse::<f64>() {
        Ok(minutes) if minutes.is_finite() && minutes > 0.0 && minutes <= LONGEST_WORK => {
            (which, Some(tenths(minutes)))
        }
        _ => (line, None),
    }
}

/// Minutes of a repair beyond which it is a slip of the finger: a week.
const LONGEST_WORK: f64 = 10_080.0;

/// Reads what was repaired of `count`; `None`: the line says something else.
fn repaired(line: &str, count: usize) -> Option<Repaired> {
    let line = line.trim().to_lowercase();
    match line.as_str() {
        "" => return Some(Repaired::Nothing),
        _ if count == 0 => return None,
        "n" | "no" => return Some(Repaired::Nothing),
        "y" | "yes" => return Some(Repaired::These((0..count).collect())),
        _ => {}
    }
    let words = line.split(|c: char| c.is_whitespace() || c == ',').filter(|word| !word.is_empty());
    let numbers: Vec<usize> = words.map(str::parse).collect::<Result<_, _>>().ok()?;
    if let Some(unknown) = numbers.iter().find(|number| !(1..=count).contains(*number)) {
        return Some(Repaired::Unknown(*unknown));
    }
    (!numbers.is_empty()).then(|| Repaired::These(numbers.iter().map(|number| number - 1).collect()))
}

#[cfg(test)]
mod tests {
    use super::{Repaired, repaired, worked};

    #[test]
    fn minutes_of_work_stand_behind_what_was_repaired() {
        assert_eq!(worked("y 25 min"), ("y", Some(25.0)));
        assert_eq!(worked(" 1 2 7,5min "), ("1 2", Some(7.5)));
        for other in ["y", "y min", "y x min", "25 min", "y -1 min", "y nan min", "y 1e9 min"] {
            assert_eq!(worked(other), (other, None), "{other}");
        }
    }

    #[test]
    fn what_was_repaired_is_said_by_a_letter_or_numbers() {
        let these = |list: &[usize]| Some(Repaired::These(list.to_vec()));
        assert_eq!(repaired("y", 3), these(&[0, 1, 2]));
        assert_eq!(repaired(" 1, 3 ", 3), these(&[0, 2]));
        assert_eq!(repaired("2", 2), these(&[1]));
        for none in ["", " ", "n", "No"] {
            assert_eq!(repaired(none, 2), Some(Repaired::Nothing), "{none}");
        }
        assert_eq!(repaired("0", 2), Some(Repaired::Unknown(0)));
        assert_eq!(repaired("1 3", 2), Some(Repaired::Unknown(3)));
        for other in ["u", "12.4", "K1.87 = 11.9", "r", ","] {
            assert_eq!(repaired(other, 2), None, "{other}");
        }
        assert_eq!(repaired("y", 0), None, "nothing was named");
    }
}
