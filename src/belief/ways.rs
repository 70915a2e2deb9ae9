//! The ways in which the readings of one cell can have come about: which blunders were made.
//!
//! Of the blunders that last (of the black lead, of the set-up) none, each one, and each one beside the best of them are
//! taken. A black lead on other metal shifts all readings of a stay by the same volts, which nobody knows; where it touches
//! nothing they are lost. From each of these, blunders of single readings are added: each one, pairs where the readings fit badly, and then
//! each one beside the best so far, for as long as that helps. No set of blunders is counted twice, and the best sets are among those that are counted.

use super::blunders::Latent;
use super::density::nothing;
use super::fit::{Fit, Solved};
use super::integral::{LogSum, NOTHING, Otherwise, Scene};
use super::joint::{Left, Quadratic};
use super::spoilt::How;
use super::{Answer, Blunder};

/// Most blunders of single readings that are reckoned with together.
const MOST_BLUNDERS: usize = 6;
/// Best single blunders of which pairs are made.
const PAIRED: usize = 6;
/// A blunder that can add no more than this, in log-likelihood below the best way, is not worked out (`e^-9`).
pub(super) const HARDLY: f64 = 9.0;

/// A blunder as it was made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Made {
    /// Position in the list of latents.
    pub(super) latent: usize,
    /// What it has made of its readings.
    pub(super) how: How,
}

impl Made {
    fn lost(latent: usize) -> Self {
        Self { latent, how: How::Lost }
    }
}

/// One way: a cell, and blunders.
pub(super) struct Way {
    pub(super) cell: usize,
    pub(super) density: Quadratic,
    /// The most that words may have become likelier by its blunders.
    pub(super) words: f64,
    /// The list of blunders that it shares with others, how many of that list are its own, and up to two more.
    list: usize,
    before: usize,
    last: Option<usize>,
    also: Option<usize>,
}

/// The ways of all cells, as they are found.
#[derive(Default)]
pub(super) struct Ways {
    pub(super) all: Vec<Way>,
    lists: Vec<Vec<Made>>,
}

impl Ways {
    /// The blunders of a way.
    pub(super) fn blunders<'a>(&'a self, way: &'a Way) -> impl Iterator<Item = Made> + 'a {
        let more = way.last.iter().chain(&way.also).map(|latent| Made::lost(*latent));
        self.lists[way.list].iter().take(way.before).copied().chain(more)
    }
}

/// The readings that are left after some blunders, and what these cost.
struct Start<'f> {
    left: Left<'f>,
    log: f64,
    /// The most that words may have become likelier.
    words: f64,
    made: Vec<Made>,
}

/// What is fixed for one cell.
struct Search<'a, 's> {
    scene: &'a Scene<'s>,
    solved: &'a Solved,
    cell: usize,
    /// The observations of the cell's numbers.
    numbers: &'a [usize],
    /// Places in the cell's numbers that each latent spoils.
    members: Vec<Vec<usize>>,
    /// Log of the density of any value.
    flat: f64,
    /// Log of the density of each of the cell's numbers where it was spoilt by itself.
    alone: Vec<f64>,
    /// The most that words can become likelier by each latent: lost, and in each of its set-ups.
    regained: Vec<Vec<f64>>,
    highest: f64,
}

impl Scene<'_> {
    /// Adds the ways of one cell; the highest of their densities, and the readings that are not spoilt in the best.
    pub(super) fn ways<'f>(
        &self,
        fit: &Fit,
        c: usize,
        solved: &'f Solved,
        (log_weight, regained): (f64, Vec<Vec<f64>>),
        ways: &mut Ways,
    ) -> (f64, Left<'f>) {
        let cell = &fit.cells[c];
        let answer = |i: &usize| &self.evidence.observations[*i].answer;
        let residual = |(i, mean): (&usize, &f64)| answer(i).value().map_or(0.0, |v| v - mean);
        let a: Vec<f64> = cell.numbers.iter().zip(&cell.mean).map(residual).collect();
        let mut left = Left::all(&solved.precision, &a, &cell.slope, &solved.k_slope);
        let mut log = log_weight;
        let mut otherwise = Otherwise::default();
        for (place, (i, jumps)) in cell.numbers.iter().zip(&cell.jumps).enumerate() {
            let counts = !self.left_out.contains(i);
            if !counts || answer(i).value().is_none() {
                left.remove(place);
                if counts && *answer(i) == Answer::Unsteady {
                    let stay = self.evidence.observations[*i].stay;
                    log += otherwise.chance(stay, self.noise.called_jumping(*jumps)).ln();
                }
            } else {
                log += (1.0 - jumps).ln();
            }
        }
        let place = |i: &usize| cell.numbers.binary_search(i).ok();
        let members: Vec<Vec<usize>> =
            self.latents.iter().map(|l| l.blunder.spoils().iter().filter_map(place).collect()).collect();
        for (latent, spoils) in self.latents.iter().zip(&members) {
            if spoils.iter().any(|m| left.has(*m)) {
                log += (1.0 - latent.chance).ln();
            }
        }
        let mut search = Search {
            scene: self,
            solved,
            cell: c,
            numbers: &cell.numbers,
            members,
            flat: -self.noise.span.ln(),
            alone: cell.numbers.iter().map(|i| self.spoilt.alone(*i)).collect(),
            regained,
            highest: f64::NEG_INFINITY,
        };
        search.run(&Start { left, log, words: 0.0, made: Vec::new() }, ways)
    }
}

impl Search<'_, '_> {
    fn run<'f>(&mut self, plain: &Start<'f>, ways: &mut Ways) -> (f64, Left<'f>) {
        let lasting: Vec<usize> = (0..self.members.len()).filter(|l| self.is_lasting(*l)).collect();
        let mut best = self.chain(plain.copy(), ways);
        let mut helped: Option<(f64, Start<'f>)> = None;
        for l in &lasting {
            for how in self.ways_of(*l) {
                let Some(start) = self.after(plain, *l, how) else { continue };
                let peak = peak_of(&start);
                if helped.as_ref().is_none_or(|(p, _)| peak > *p) {
                    helped = Some((peak, start.copy()));
                }
                best = higher(best, self.chain(start, ways));
            }
        }
        // A second one that lasts is made beside the best first one, if that was any help.
        if let Some((_, first)) = helped.filter(|(peak, _)| *peak > peak_of(plain)) {
            for l in lasting.iter().filter(|l| !first.made.iter().any(|made| made.latent == **l)) {
                for how in self.ways_of(*l) {
                    if let Some(start) = self.after(&first, *l, how) {
                        best = higher(best, self.chain(start, ways));
                    }
                }
            }
        }
        (self.highest, best.1)
    }

    fn is_lasting(&self, l: usize) -> bool {
        self.scene.latents[l].blunder.spoils().len() > 1
    }

    /// The ways in which a lasting blunder may have spoilt its readings.
    fn ways_of(&self, l: usize) -> Vec<How> {
        match self.scene.latents[l].blunder {
            Blunder::Reading(_) => vec![How::Lost],
            Blunder::BlackLead(_) => vec![How::Lost, How::Shifted],
            Blunder::SetUp(_) => {
                std::iter::once(How::Lost).chain((0..self.scene.spoilt.set_ups(l)).map(How::Elsewhere)).collect()
            }
        }
    }

    /// What is left after one more blunder; `None` when it spoils nothing more, or cannot be worth it.
    fn after<'f>(&self, start: &Start<'f>, l: usize, how: How) -> Option<Start<'f>> {
        let alive: Vec<usize> = self.members[l].iter().copied().filter(|m| start.left.has(*m)).collect();
        // One reading alone is lost if it is shifted.
        if alive.len() < 1 + usize::from(how == How::Shifted) {
            return None;
        }
        let share = self.share(l, how);
        let words = start.words + self.regained(l, how);
        let mut log = start.log + self.odds(l) + share.ln();
        let quadratic = start.left.quadratic;
        let misfit = -2.0 * (quadratic.peak() - quadratic.log);
        let gained = if how == How::Shifted {
            0.5 * misfit
        } else {
            log += self.lost(l, how, &alive);
            self.solved.precision.most_gained(&alive, misfit)
        };
        if share <= 0.0 || quadratic.peak() + log + words + gained < self.highest - HARDLY {
            return None;
        }
        let mut made = start.made.clone();
        made.push(Made { latent: l, how });
        let mut left = start.left.clone();
        if how == How::Shifted {
            let observations = &self.scene.evidence.observations;
            let numbers = &self.numbers;
            for stay in alive.chunk_by(|a, b| observations[numbers[*a]].stay == observations[numbers[*b]].stay) {
                left.shift(stay, self.scene.noise.shift());
            }
            return Some(Start { left, log, words, made });
        }
        for m in &alive {
            left.remove(*m);
        }
        // Whether a reading was spoilt by itself too makes no difference any more: both count.
        let hidden = |(latent, members): (&Latent, &Vec<usize>)| match members[..] {
            [m] if latent.blunder.spoils().len() == 1 && alive.contains(&m) => (1.0 - latent.chance).ln(),
            _ => 0.0,
        };
        let both: f64 = self.scene.latents.iter().zip(&self.members).map(hidden).sum();
        Some(Start { left, log: log - both, words, made })
    }

    /// The share of a blunder's cases in which its readings are shifted, or lost.
    fn share(&self, l: usize, how: How) -> f64 {
        let latent = &self.scene.latents[l];
        let black = matches!(latent.blunder, Blunder::BlackLead(_));
        let shifted = if black { self.scene.noise.shifted } else { 0.0 };
        match how {
            How::Shifted => shifted,
            How::Lost => 1.0 - shifted - latent.elsewhere.iter().map(|other| other.share).sum::<f64>(),
            How::Elsewhere(nth) => latent.elsewhere.get(nth).map_or(0.0, |other| other.share),
        }
    }

    /// The most that words become likelier.
    fn regained(&self, l: usize, how: How) -> f64 {
        let at = match how {
            How::Shifted => return 0.0,
            How::Lost => 0,
            How::Elsewhere(nth) => nth + 1,
        };
        self.regained.get(l).and_then(|of| of.get(at)).copied().unwrap_or(0.0)
    }

    /// Log of the density of readings that are lost together: those of another set-up; any values; or, where the black lead
    /// touches nothing, none.
    fn lost(&self, l: usize, how: How, alive: &[usize]) -> f64 {
        let noise = self.scene.noise;
        if matches!(how, How::Elsewhere(_)) {
            let log = |m: &usize| self.scene.spoilt.log(l, how, self.numbers[*m]).unwrap_or(self.flat);
            return alive.iter().map(log).sum();
        }
        let any = self.flat * alive.len() as f64;
        if !matches!(self.scene.latents[l].blunder, Blunder::BlackLead(_)) || noise.untouched <= 0.0 {
            return any;
        }
        let answer = |m: &usize| &self.scene.evidence.observations[self.numbers[*m]].answer;
        let none: f64 = alive.iter().map(|m| nothing(answer(m), noise).ln()).sum();
        let mut sum = LogSum::default();
        sum.add((1.0 - noise.untouched).ln() + any);
        sum.add(noise.untouched.ln() + none);
        sum.value()
    }

    fn odds(&self, l: usize) -> f64 {
        let chance = self.scene.latents[l].chance;
        (chance / (1.0 - chance)).ln()
    }

    /// Adds blunders of single readings; the highest density come to, and what is left there.
    fn chain<'f>(&mut self, mut start: Start<'f>, ways: &mut Ways) -> (f64, Left<'f>) {
        let list = ways.lists.len();
        ways.lists.push(std::mem::take(&mut start.made));
        let words = start.words;
        let mut best = (self.add(ways, (list, words), start.left.quadratic, start.log, []), start.left.clone());
        for depth in 0..MOST_BLUNDERS {
            let count = start.left.count() as f64;
            let misfit = -2.0 * (start.left.quadratic.peak() - start.left.quadratic.log);
            let singles = self.singles(&start, ways, list);
            let Some(&(peak, l, m)) = singles.first() else { break };
            // Of two readings that are wrong alike neither need help alone: what fits badly is tried with pairs.
            let badly = depth == 0 && misfit > count + 4.0 * (2.0 * count).sqrt();
            let pair = if badly { self.pairs(&start, &singles, ways, list) } else { None };
            let made = match pair {
                Some((higher, pair)) if higher > peak.max(best.0) => pair.to_vec(),
                _ if peak > best.0 => vec![(l, m)],
                _ => break,
            };
            let alone = badly && made.len() == 1;
            for (l, m) in made {
                start.log += self.odds(l) + self.alone[m];
                start.left.remove(m);
                ways.lists[list].push(Made::lost(l));
            }
            best = (start.left.quadratic.peak() + start.log + words, start.left.clone());
            // Its pairs have been counted, and none of them was better.
            if alone {
                break;
            }
        }
        best
    }

    /// Adds a way with the blunders of a list and a few more.
    fn add<const N: usize>(
        &mut self,
        ways: &mut Ways,
        (list, words): (usize, f64),
        density: Quadratic,
        log: f64,
        more: [usize; N],
    ) -> f64 {
        let density = Quadratic { log: density.log + log, ..density };
        let before = ways.lists[list].len();
        let [last, also] = [0, 1].map(|i| more.get(i).copied());
        let peak = density.peak() + words;
        self.highest = self.highest.max(peak);
        if peak > self.highest - NOTHING {
            ways.all.push(Way { cell: self.cell, density, words, list, before, last, also });
        }
        peak
    }

    /// Adds each blunder of one more reading: its density, latent and place, best first.
    fn singles(&mut self, start: &Start<'_>, ways: &mut Ways, list: usize) -> Vec<(f64, usize, usize)> {
        let mut singles = Vec::new();
        for l in 0..self.members.len() {
            let [m] = self.members[l][..] else { continue };
            if !self.is_lasting(l) && start.left.has(m) {
                let log = start.log + self.odds(l) + self.alone[m];
                singles.push((self.add(ways, (list, start.words), start.left.without(m), log, [l]), l, m));
            }
        }
        singles.sort_by(|a, b| b.0.total_cmp(&a.0));
        singles
    }

    /// Adds pairs among the best of these, and of the best with all others; the highest, with latents and places.
    fn pairs(
        &mut self,
        start: &Start<'_>,
        singles: &[(f64, usize, usize)],
        ways: &mut Ways,
        list: usize,
    ) -> Option<(f64, [(usize, usize); 2])> {
        let mut best: Option<(f64, [(usize, usize); 2])> = None;
        for (i, (_, la, ma)) in singles.iter().enumerate().take(PAIRED) {
            let others = if i == 0 { singles.len() } else { PAIRED.min(singles.len()) };
            for (_, lb, mb) in &singles[i + 1..others.max(i + 1)] {
                let log = start.log + self.odds(*la) + self.alone[*ma] + self.odds(*lb) + self.alone[*mb];
                let peak = self.add(ways, (list, start.words), start.left.without_two(*ma, *mb), log, [*la, *lb]);
                if best.is_none_or(|(p, _)| peak > p) {
                    best = Some((peak, [(*la, *ma), (*lb, *mb)]));
                }
            }
        }
        best
    }
}

impl Start<'_> {
    fn copy(&self) -> Self {
        Self { left: self.left.clone(), log: self.log, words: self.words, made: self.made.clone() }
    }
}

fn peak_of(start: &Start<'_>) -> f64 {
    start.left.quadratic.peak() + start.log + start.words
}

fn higher<'f>(a: (f64, Left<'f>), b: (f64, Left<'f>)) -> (f64, Left<'f>) {
    if b.0 > a.0 { b } else { a }
}
