//! Whether the mock-up itself can tell a suspect from what is hidden: its own ambiguity group.

use crate::bench::{Draws, Hidden, MockUp};
use crate::circuit::{NodeId, SetUp};
use crate::job::{Diagnosis, meter_sigma};
use crate::knowledge::{Noticed, Notices};
use crate::suspects::GroupId;
use crate::units::Ohms;
use std::collections::BTreeSet;

/// Readings closer than this many standard deviations are alike.
pub(super) const SIGMAS: f64 = 3.0;
/// Severities at which a soft suspect is tried, over its whole range.
const SEVERITIES: usize = 25;

/// All that can be read and seen in the set-ups of a job: volts of every point against the minus, `None` where none joins
/// them, and what is noticed of every sight.
struct Picture {
    volts: Vec<Option<f64>>,
    noticed: Vec<Option<Noticed>>,
}

/// Whether any suspect of `group`, at some severity, shows what the hidden state shows in the complaint's set-up, at rest and
/// in every set-up that the job has used, within the meter's accuracy.
pub(super) fn alike(job: &Diagnosis<'_>, hidden: &Hidden, group: GroupId) -> bool {
    let system = job.system();
    let mut set_ups = vec![job.complaint().set_up.clone()];
    set_ups.push(SetUp::at_rest(&system.circuit.netlist.controls));
    set_ups.extend(job.taken().iter().map(|t| t.test.set_up.clone()));
    let mut different: Vec<SetUp> = Vec::new();
    for set_up in set_ups {
        if !different.contains(&set_up) {
            different.push(set_up);
        }
    }
    let possible: Vec<_> = system.possible.iter().cloned().collect();
    let Some(true_one) = pictures(job, &different, hidden.edits(&possible)) else { return false };
    let suspects = job.belief().suspects();
    suspects.groups()[group].members.iter().any(|member| {
        let sizes: Vec<Ohms> = match suspects.severity(*member) {
            None => vec![Ohms::ZERO],
            Some(range) => (0..SEVERITIES)
                .filter_map(|k| {
                    let share = k as f64 / (SEVERITIES - 1) as f64;
                    Ohms::try_from(range.low.get() * (range.high.get() / range.low.get()).powf(share)).ok()
                })
                .collect(),
        };
        sizes.iter().any(|ohms| {
            let other = pictures(job, &different, suspects.edits(*member, *ohms, &[]));
            other.is_some_and(|other| true_one.iter().zip(&other).all(|(a, b)| agree(job, a, b)))
        })
    })
}

fn pictures(job: &Diagnosis<'_>, set_ups: &[SetUp], edits: Vec<crate::circuit::Edit>) -> Option<Vec<Picture>> {
    let system = job.system();
    let minus = system.node(system.reference);
    let nodes: BTreeSet<NodeId> = system.circuit.node_of.iter().copied().collect();
    let mut mock_up = MockUp::new(&system.circuit.netlist, edits, Draws::none());
    let mut all = Vec::new();
    for set_up in set_ups {
        mock_up.enter(set_up).ok()?;
        let volts = nodes.iter().map(|n| mock_up.volts(*n, minus)).collect::<Result<_, _>>().ok()?;
        let sights = system.circuit.sights.iter().filter(|s| s.notices == Notices::Work);
        let noticed = sights.map(|s| mock_up.noticed(*s.elements.first()?, s.nominal).ok()).collect();
        all.push(Picture { volts, noticed });
    }
    Some(all)
}

fn agree(job: &Diagnosis<'_>, a: &Picture, b: &Picture) -> bool {
    let near = |(a, b): (&Option<f64>, &Option<f64>)| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < SIGMAS * job.belief().noise().spread(meter_sigma(*a), false),
        (None, None) => true,
        // An open line against the minus: the meter shows next to nothing.
        (Some(volts), None) | (None, Some(volts)) => {
            volts.abs() < SIGMAS * job.belief().noise().spread(meter_sigma(0.0), false)
        }
    };
    let sights = &job.system().circuit.sights;
    let words = &job.system().install.knowledge.words;
    let same = |(k, (a, b)): (usize, (&Option<Noticed>, &Option<Noticed>))| match (a, b, words.get(&sights[k].table)) {
        (Some(a), Some(b), Some(table)) => table.most_said(*a) == table.most_said(*b),
        _ => true,
    };
    a.volts.iter().zip(&b.volts).all(near) && a.noticed.iter().zip(&b.noticed).enumerate().all(same)
}
