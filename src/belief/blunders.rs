//! What may have gone wrong in taking the readings: one latent for each reading, for each stay of the black lead and for
//! each stay of the set-up.
//!
//! A blunder of a stay spoils all readings of it, or all from some reading on: the black lead on the wrong metal, a switch in the
//! wrong position. What such readings show is `spoilt`'s.

use super::density::{Noise, is_value};
use super::elsewhere::{Elsewhere, of_elsewhere};
use super::{Answer, Evidence, Observation, Probe};

/// Something that may have gone wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Blunder {
    /// One reading: wrong point, misread scale. Position in the evidence.
    Reading(usize),
    /// The black lead was on other metal than said, during these readings and test lamps.
    BlackLead(Vec<usize>),
    /// The controls were not as said, during these observations.
    SetUp(Vec<usize>),
}

impl Blunder {
    /// The observations that it spoils.
    pub fn spoils(&self) -> &[usize] {
        match self {
            Self::Reading(one) => std::slice::from_ref(one),
            Self::BlackLead(all) | Self::SetUp(all) => all,
        }
    }
}

/// A blunder with its prior probability.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Latent {
    pub(super) blunder: Blunder,
    pub(super) chance: f64,
    /// The set-ups in which its observations may have been made instead.
    pub(super) elsewhere: Vec<Elsewhere>,
    /// It began while the stay was under way.
    pub(super) late: bool,
}

impl Latent {
    fn new(blunder: Blunder, chance: f64) -> Self {
        Self { blunder, chance, elsewhere: Vec::new(), late: false }
    }
}

/// So many moments in a stay are reckoned with at which a control may have been moved.
const MOST_MOMENTS: usize = 3;

/// The blunders that can have happened. A stay with a single reading has none of its own: that reading's covers it, so
/// the chance that a given reading is spoilt is always the same.
/// `elsewhere`: for each stay in what other set-ups it may have been.
pub(super) fn latents(evidence: &Evidence, noise: &Noise, elsewhere: &[Vec<Elsewhere>]) -> Vec<Latent> {
    let all = &evidence.observations;
    let numbers: Vec<usize> = (0..all.len()).filter(|i| is_value(&all[*i].answer, noise)).collect();
    let same_stay = |a: usize, b: usize| all[a].stay == all[b].stay;
    let leads = chunks(&numbers, |a, b| black(&all[a].probe).is_some() && black(&all[a].probe) == black(&all[b].probe));
    let stays = chunks(&numbers, same_stay);
    let mut own: Vec<f64> = all.iter().map(|o| o.blunder).collect();
    let mut list = Vec::new();
    for (groups, is_lead) in [(leads, true), (stays, false)] {
        for group in groups.into_iter().filter(|g| g.len() > 1) {
            let least = group.iter().fold(1.0_f64, |l, i| l.min(all[*i].blunder));
            let chance = 0.5 * noise.lasting * least;
            for i in &group {
                own[*i] -= chance;
            }
            if is_lead {
                list.push(Latent::new(Blunder::BlackLead(with_lamps(group, all)), chance));
            } else {
                let stay = group.first().map_or(0, |i| all[*i].stay);
                let elsewhere = elsewhere.get(stay).map_or(&[][..], Vec::as_slice);
                list.extend(of_set_up(&group, chance, elsewhere, (all, noise)));
            }
        }
    }
    let single = numbers.iter().map(|i| Latent::new(Blunder::Reading(*i), own[*i].max(0.0)));
    let mut latents: Vec<Latent> = single.chain(list).collect();
    latents.retain(|l| l.chance > 0.0);
    latents
}

/// The blunders of the set-up in one stay, whose readings these are: in half of cases it was another from the first of them on,
/// in the other half from a later one, if that looks like another set-up's.
fn of_set_up(
    readings: &[usize],
    chance: f64,
    elsewhere: &[Elsewhere],
    (all, noise): (&[Observation], &Noise),
) -> Vec<Latent> {
    let latent = |readings: &[usize], chance: f64, late: bool| {
        let blunder = Blunder::SetUp(with_what_was_seen(readings.to_vec(), all));
        Latent { blunder, chance, elsewhere: elsewhere.to_vec(), late }
    };
    if elsewhere.is_empty() {
        return vec![latent(readings, chance, false)];
    }
    let likeness = |i: &usize| {
        let of = |other: &Elsewhere| Some(of_elsewhere(&all[*i].answer, other.shows(*i)?, noise) * noise.span);
        elsewhere.iter().filter_map(of).fold(0.0, f64::max).ln()
    };
    let like: Vec<f64> = readings.iter().map(likeness).collect();
    let moments = readings.len().saturating_sub(2);
    let mut later: Vec<(f64, usize)> = (1..=moments)
        .map(|at| (like.iter().skip(at).sum(), at))
        .filter(|(sum, at)| *sum > 0.0 && like[*at] > 0.0)
        .collect();
    later.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    later.truncate(MOST_MOMENTS);
    let each = 0.5 * chance / moments.max(1) as f64;
    let late = later.into_iter().map(|(_, at)| latent(&readings[at..], each, true));
    std::iter::once(latent(readings, 0.5 * chance, false)).chain(late).collect()
}

/// Adds what was seen or heard in the stay after its first reading: with the controls not as said it is not to be trusted either.
fn with_what_was_seen(readings: Vec<usize>, all: &[Observation]) -> Vec<usize> {
    let Some(&first) = readings.first() else { return readings };
    let stay = all[first].stay;
    (first..all.len()).filter(|i| all[*i].stay == stay && all[*i].answer != Answer::NotTaken).collect()
}

/// Adds what a test lamp showed on the same metal before the black lead went elsewhere.
fn with_lamps(readings: Vec<usize>, all: &[Observation]) -> Vec<usize> {
    let Some(&first) = readings.first() else { return readings };
    let held = black(&all[first].probe);
    let moves = |o: &Observation| black(&o.probe).is_some() && black(&o.probe) != held;
    let until = (first..all.len()).find(|i| moves(&all[*i])).unwrap_or(all.len());
    let lit = |i: &usize| matches!(&all[*i].probe, Probe::Light { black, .. } if Some(*black) == held);
    let mut spoilt: Vec<usize> = (first..until).filter(|i| lit(i) && all[*i].answer != Answer::NotTaken).collect();
    spoilt.extend(readings);
    spoilt.sort_unstable();
    spoilt
}

fn black(probe: &Probe) -> Option<crate::circuit::NodeId> {
    match probe {
        Probe::Volts { black, .. } => Some(*black),
        Probe::Amps { .. } | Probe::Ohms { .. } | Probe::Light { .. } | Probe::Look(_) => None,
    }
}

/// Runs of neighbours that belong together.
fn chunks(list: &[usize], same: impl Fn(usize, usize) -> bool) -> Vec<Vec<usize>> {
    list.chunk_by(|a, b| same(*a, *b)).map(<[usize]>::to_vec).collect()
}

#[cfg(test)]
mod tests {
    use super::{Blunder, latents};
    use crate::belief::density::Noise;
    use crate::belief::{Answer, Evidence, Observation, Probe};
    use crate::circuit::NodeId;
    use crate::index::Id;
    use crate::network::Instrument;
    use crate::units::{Ohms, Volts};

    fn seen(probe: Probe, answer: Answer) -> Observation {
        Observation { probe, answer, stay: 0, blunder: 0.02, times: 1 }
    }

    #[test]
    fn a_black_lead_on_the_wrong_metal_spoils_lamps_too() {
        let (red, frame, minus) = (NodeId::new(0), NodeId::new(1), NodeId::new(2));
        let volts = |black| {
            let instrument = Instrument::Voltmeter(Ohms::new(1e7));
            seen(Probe::Volts { instrument, red, black, unsigned: false }, Answer::Number { value: 12.0, sigma: 0.1 })
        };
        let lamp = |black| {
            let instrument = Instrument::TestLamp { hot: Ohms::new(29.0), nominal: Volts::new(12.0) };
            seen(Probe::Light { instrument, red, black }, Answer::Word(1))
        };
        let observations = vec![lamp(frame), volts(frame), lamp(frame), volts(frame), volts(minus), lamp(frame)];
        let evidence = Evidence { observations, ..Evidence::default() };
        let noise = Noise {
            floating_sigma: 0.3,
            leaky: 0.1,
            model_floor: 0.01,
            lasting: 0.5,
            shifted: 0.5,
            untouched: 0.5,
            missed: 0.25,
            moved: 0.5,
            span: 30.0,
            unsteady_mistaken: 0.02,
        };
        let leads: Vec<Vec<usize>> = latents(&evidence, &noise, &[])
            .into_iter()
            .filter_map(|latent| match latent.blunder {
                Blunder::BlackLead(all) => Some(all),
                Blunder::Reading(_) | Blunder::SetUp(_) => None,
            })
            .collect();
        // The lamp before the first reading may have been on other metal, the one behind the last is.
        assert_eq!(leads, [vec![1, 2, 3]]);
    }
}
