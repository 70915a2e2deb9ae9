//! Commanded supplies at another level than described, where that alone switches something.
//!
//! A Gaussian does not cross a change of state: a relay that joins two batteries at 13.3 V joins them while the alternator gives
//! 14.4 V and leaves them apart while it gives 12.9 V, and both are good circuits. Where the healthy circuit stands otherwise with a
//! supply some way off its description, every suspect is followed once more with the supply in the middle of what lies beyond
//! the border, and with the share of jobs in which it does.

use super::density::{cumulative, normal};
use super::{Belief, Evidence, Strays};
use crate::circuit::{Edit, ElementId, Emf, Primitive, SetUp};
use crate::network::{ElementState, Network};
use crate::suspects::{Set, Suspect, SuspectId};

/// Standard deviations up to which a supply is taken from its description.
const FAR: f64 = 2.5;
/// Steps in which the border is searched for.
const STEPS: usize = 5;

/// So many suspects, and none whose log-posterior lies further below the best, are followed with supplies at another level too:
/// at the described one a true fault may have to take some three readings for wrong.
const MOST_ELSEWHERE: usize = 60;
const FAR_FETCHED: f64 = 30.0;

/// A supply beyond a border, and the share of jobs in which it is.
pub(super) struct Level {
    pub(super) edit: Edit,
    pub(super) share: f64,
}

/// The borders of every set-up that was ever entered.
#[derive(Default)]
pub(super) struct Levels {
    known: Vec<(SetUp, Vec<Border>)>,
}

/// How far off its description a supply switches something, in standard deviations.
#[derive(Clone, Copy)]
struct Border {
    source: ElementId,
    /// 1 above its description, -1 below.
    side: f64,
    sigmas: f64,
}

impl Belief<'_> {
    /// Follows the likelier suspects once more with the supplies at other levels, where these alone would switch something. The
    /// log-posterior of the best of them and `best`.
    pub(super) fn follow_elsewhere(&mut self, mut best: f64, evidence: &Evidence) -> f64 {
        let levels = self.levels_of(evidence);
        if levels.is_empty() {
            return best;
        }
        let well = |id: SuspectId| self.suspects().list()[id].faults.is_empty();
        let hopeful = |id: &SuspectId| well(*id) || !self.inert[*id] && self.logs[*id] >= best - FAR_FETCHED;
        let mut likely: Vec<SuspectId> = self.singles().filter(hopeful).collect();
        // That nothing is wrong comes first, however little it explains: else 'no fault found' could not be said of a low supply.
        let by_likelihood = |a: &SuspectId, b: &SuspectId| self.logs[*b].total_cmp(&self.logs[*a]).then(a.cmp(b));
        likely.sort_by(|a, b| well(*b).cmp(&well(*a)).then(by_likelihood(a, b)));
        likely.truncate(MOST_ELSEWHERE);
        for level in levels {
            let at_level = |belief: &mut Self, id: SuspectId| {
                let Suspect { faults, prior, .. } = &belief.suspects().list()[id];
                let set = Set { faults: faults.clone(), supplies: vec![level.edit.clone()], ..Set::default() };
                let prior = prior * level.share;
                belief.admit(set, prior)
            };
            let all = likely.iter().map(|id| at_level(self, *id)).collect();
            best = self.follow_all(all, best, evidence);
        }
        best
    }

    /// The levels that make a difference in the stays of the evidence.
    fn levels_of(&mut self, evidence: &Evidence) -> Vec<Level> {
        let mut levels = std::mem::take(&mut self.levels);
        let found = levels.of(self.network(), self.strays(), &self.sources, evidence);
        self.levels = levels;
        found
    }
}

impl Levels {
    /// The levels that make a difference in the stays of the evidence.
    pub(super) fn of(
        &mut self,
        network: &Network<'_>,
        strays: &Strays,
        sources: &[ElementId],
        evidence: &Evidence,
    ) -> Vec<Level> {
        let mut nearest: Vec<Border> = Vec::new();
        for stay in &evidence.stays {
            if !self.known.iter().any(|(known, _)| known == stay) {
                self.known.push((stay.clone(), borders(network, strays, sources, stay)));
            }
            let known = self.known.iter().find(|(known, _)| known == stay);
            for border in known.iter().flat_map(|(_, borders)| borders) {
                match nearest.iter_mut().find(|b| b.source == border.source && b.side * border.side > 0.0) {
                    Some(before) => before.sigmas = before.sigmas.min(border.sigmas),
                    None => nearest.push(*border),
                }
            }
        }
        nearest.into_iter().filter_map(|border| border.level(network, strays)).collect()
    }
}

impl Border {
    fn level(self, network: &Network<'_>, strays: &Strays) -> Option<Level> {
        let share = cumulative(-self.sigmas);
        // The mean of a standard normal variable beyond a border.
        let middle = normal(self.sigmas, 1.0) / share;
        Some(Level { edit: shifted(network, strays, self.source, self.side * middle)?, share })
    }
}

/// A supply moved by so many standard deviations.
fn shifted(network: &Network<'_>, strays: &Strays, source: ElementId, sigmas: f64) -> Option<Edit> {
    let spread = strays.leading.get(source).copied().filter(|spread| *spread > 0.0)?;
    let primitive = &network.netlist().elements.get(source)?.primitive;
    Some(Edit::Replace(source, primitive.supplying(1.0 + spread * sigmas)?))
}

fn borders(network: &Network<'_>, strays: &Strays, sources: &[ElementId], stay: &SetUp) -> Vec<Border> {
    let Some(described) = standing(network, &[], stay) else { return Vec::new() };
    let mut found = Vec::new();
    for &source in sources.iter().filter(|source| is_commanded(network, **source)) {
        for side in [-1.0, 1.0] {
            let differs = |sigmas: f64| {
                let edit = shifted(network, strays, source, side * sigmas)?;
                Some(standing(network, &[edit], stay)? != described)
            };
            if differs(FAR) != Some(true) {
                continue;
            }
            let (mut low, mut high) = (0.0, FAR);
            for _ in 0..STEPS {
                let middle = 0.5 * (low + high);
                if differs(middle) == Some(true) { high = middle } else { low = middle }
            }
            found.push(Border { source, side, sigmas: 0.5 * (low + high) });
        }
    }
    found
}

/// Whether what a supply gives depends on how it is run: an alternator may be told to give little. A battery is what it is, and is
/// read where it stands.
fn is_commanded(network: &Network<'_>, source: ElementId) -> bool {
    let element = network.netlist().elements.get(source);
    element.is_some_and(|e| matches!(e.primitive, Primitive::Source { emf: Emf::By { .. }, .. }))
}

/// How everything stands that switches with a jump, in the healthy circuit with these edits.
fn standing(network: &Network<'_>, edits: &[Edit], stay: &SetUp) -> Option<Vec<ElementState>> {
    let state = network.enter(edits, &network.fresh(), stay).ok()?.into_iter().next()?.state;
    let all = network.netlist().elements.ids().map(|element| state.state(element));
    let jumps = |state: &ElementState| match state {
        ElementState::Coil(_)
        | ElementState::Contact(_)
        | ElementState::Fuse(_)
        | ElementState::Motor(_)
        | ElementState::Power(_) => true,
        // A diode or a limit bends what is read; it does not break it.
        ElementState::Plain | ElementState::Diode(_) | ElementState::Source(_) => false,
    };
    Some(all.filter(jumps).collect())
}
