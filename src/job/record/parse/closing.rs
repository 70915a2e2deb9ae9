//! The job in short, and what others like it have taught.

use super::Reader;
use crate::document::{Fields, Node};
use crate::job::record::{Closed, Ended, Failed, Outcome};
use crate::suspects::{Counts, Learnt};

impl Reader {
    pub(super) fn closed(&mut self, fields: &mut Fields<'_>) -> Option<Closed> {
        let outcome = self.word(fields, "closed", &Outcome::ALL);
        let install = self.needed(fields, "install");
        let began = self.moment(fields, "began");
        let complaint = self.needed(fields, "complaint");
        let ended = self.word(fields, "finding", &Ended::ALL);
        let culprits = self.culprits(fields);
        let failed = self.list(fields, "failed").iter().map(|node| self.failed(node)).collect();
        let failed: Option<Vec<Failed>> = failed;
        let repair = self.optional(fields, "repair");
        let readings = self.number(fields, "readings");
        let minutes = self.number(fields, "minutes");
        let repair_minutes = self.some_number(fields, "repair minutes");
        Some(Closed {
            outcome: outcome?,
            install: install?,
            began: began?,
            complaint: complaint?,
            ended: ended?,
            culprits: culprits?,
            failed: failed?,
            repair,
            readings: readings?,
            minutes: minutes?,
            repair_minutes,
        })
    }

    fn failed(&mut self, node: &Node) -> Option<Failed> {
        let mut fields = Fields::open(node, "a part that failed", &mut self.report);
        let [part, fault] = ["part", "fault"].map(|key| self.needed(&mut fields, key));
        let [kind, place] = ["kind", "place"].map(|key| self.optional(&mut fields, key));
        let right = self.yes(&mut fields, "right", true);
        fields.finish(&mut self.report);
        Some(Failed { part: part?, fault: fault?, kind, place, right })
    }

    pub(super) fn learnt(&mut self, fields: &mut Fields<'_>) -> Option<Learnt> {
        let (jobs, strength) = (self.number(fields, "history"), self.number(fields, "strength"));
        let mut counts = Counts::default();
        for node in self.list(fields, "counts") {
            let mut fields = Fields::open(node, "a count", &mut self.report);
            let [kind, fault] = ["kind", "fault"].map(|key| self.needed(&mut fields, key));
            let times = self.number(&mut fields, "times");
            fields.finish(&mut self.report);
            counts.add(&kind?, &fault?, times?);
        }
        Some(Learnt { jobs: jobs?, strength: strength?, counts })
    }
}
