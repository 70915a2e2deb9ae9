//! The person at the mock-up: sets controls, holds leads, reads the meter, says what is seen.

use super::draws::gauss;
use super::hidden::Hidden;
use super::mock_up::{Instrument, MockUp, NoAnswer};
use super::slips::Slip;
use crate::circuit::{Circuit, ElementId, NodeId, PossibleFault, SetUp, Sighted};
use crate::install::PartId;
use crate::knowledge::{Noticed, Notices, SOUND, Tolerances, WordTable};
use crate::units::Ohms;
use fastrand::Rng;

/// Counts of the meter: 4000, in ranges a factor of ten apart (a common make, from memory).
const RANGES: [(f64, f64); 4] = [(0.399_95, 1e-4), (3.9995, 1e-3), (39.995, 1e-2), (f64::INFINITY, 0.1)];

/// The same of a clamp meter on direct current: 40 A by 10 mA, above that by 0.1 A (a common make, from memory).
const CLAMP_RANGES: [(f64, f64); 2] = [(39.995, 1e-2), (f64::INFINITY, 0.1)];

/// The same on ohms: 400 Ω by 0.1 Ω, and so on to 40 MΩ (a common make, from memory).
const OHM_RANGES: [(f64, f64); 6] =
    [(399.95, 0.1), (3999.5, 1.0), (39_995.0, 10.0), (399_950.0, 100.0), (3.9995e6, 1e3), (f64::INFINITY, 1e4)];
const MOST_OHMS: f64 = 4e7;

/// What is said of a test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Said {
    /// Volts on the meter, and one step of its last digit.
    Volts(f64, f64),
    /// Amps on a clamp meter, without their sign, and one step of its last digit.
    Amps(f64, f64),
    /// Ohms, and one step of the last digit; `None`: OL.
    Ohms(Option<(f64, f64)>),
    /// The reading does not come to rest.
    Jumps,
    /// A word (position in its table).
    Word(usize),
}

/// A person at a mock-up.
#[derive(Clone, Debug)]
pub struct Person<'c> {
    circuit: &'c Circuit,
    mock_up: MockUp<'c>,
    /// What is hidden and may be seen: part, mode, and how far up its range a soft fault is (0 to 1, by the logarithm).
    faults: Vec<(PartId, String, f64)>,
    /// The chance of it all; `None`: everything exact, every word the likeliest.
    chance: Option<Chance>,
    /// The set-up that was asked for, and whether another one stands instead.
    asked: Option<SetUp>,
    wrong: Option<SetUp>,
    /// Where the black lead is meant to be and where it is instead.
    black: Option<(NodeId, NodeId)>,
}

/// Noise of one trial.
#[derive(Clone, Debug)]
struct Chance {
    rng: Rng,
    tolerances: Tolerances,
    /// How far off this meter is, as a share.
    gain: f64,
    /// The same of the clamp meter.
    clamp: f64,
    /// What the supply has come to.
    sag: f64,
}

impl<'c> Person<'c> {
    /// Someone who reads exactly and never errs.
    pub fn exact(circuit: &'c Circuit, mock_up: MockUp<'c>) -> Self {
        Self { circuit, mock_up, faults: Vec::new(), chance: None, asked: None, wrong: None, black: None }
    }

    /// The same at a mock-up whose parts show what is hidden in them.
    #[must_use]
    pub fn before(self, hidden: &Hidden, possible: &[PossibleFault]) -> Self {
        let fault = |(index, ohms): &(usize, Option<Ohms>)| {
            let fault = possible.get(*index)?;
            let share = fault
                .severity
                .zip(*ohms)
                .map_or(0.0, |((low, high), ohms)| ((ohms.get() / low).ln() / (high / low).ln()).clamp(0.0, 1.0));
            Some((fault.part, fault.mode.clone(), share))
        };
        Self { faults: hidden.faults.iter().filter_map(fault).collect(), ..self }
    }

    /// Someone with a common meter, who blunders now and then.
    pub fn noisy(circuit: &'c Circuit, mock_up: MockUp<'c>, tolerances: &Tolerances, mut rng: Rng) -> Self {
        // The accuracy of a meter is the half-width of an even spread.
        let gain = tolerances.meter_share * (2.0 * rng.f64() - 1.0);
        // Drawn by itself, so that whoever has no clamp meter reads as ever.
        let clamp = tolerances.clamp_share * (2.0 * rng.clone().f64() - 1.0);
        let chance = Chance { rng, tolerances: tolerances.clone(), gain, clamp, sag: 1.0 };
        Self { chance: Some(chance), ..Self::exact(circuit, mock_up) }
    }

    /// The mock-up as it stands.
    pub fn mock_up(&self) -> &MockUp<'c> {
        &self.mock_up
    }

    /// Sets the controls; a slip of the set-up lasts until another one is asked for.
    ///
    /// # Errors
    /// Where the mock-up has no answer.
    pub fn set(&mut self, set_up: &SetUp) -> Result<(), NoAnswer> {
        if self.asked.as_ref() != Some(set_up) {
            self.asked = Some(set_up.clone());
            self.wrong = None;
            if let Some(chance) = &mut self.chance {
                chance.sag = (chance.tolerances.supply_own * gauss(&mut chance.rng)).exp();
                self.mock_up.sag(chance.sag);
            }
        }
        let stands = self.wrong.as_ref().unwrap_or(set_up).clone();
        self.mock_up.enter(&stands)
    }

    /// A blunder at this reading, if one is made now. The lasting ones take hold.
    fn slip(&mut self, black: NodeId) -> Option<Slip> {
        if self.black.is_some_and(|(meant, _)| meant != black) {
            self.black = None;
        }
        let slip = self.slip_by(Slip::draw);
        if let Some(Slip::Black(node)) = &slip {
            self.black = Some((black, *node));
        }
        slip
    }

    fn slip_by(&mut self, draw: impl FnOnce(&Circuit, &SetUp, &mut Rng) -> Slip) -> Option<Slip> {
        let set_up = self.asked.clone()?;
        let chance = self.chance.as_mut()?;
        chance.sag *= (chance.tolerances.supply_drift * gauss(&mut chance.rng)).exp();
        self.mock_up.sag(chance.sag);
        if chance.rng.f64() >= chance.tolerances.blunders {
            return None;
        }
        let slip = draw(self.circuit, &set_up, &mut chance.rng);
        match &slip {
            Slip::SetUp(wrong) => self.wrong = Some(wrong.clone()),
            Slip::Black(_) | Slip::Red(_) | Slip::Wire(_) | Slip::Tenfold(_) | Slip::Zero | Slip::Once(_) => {}
        }
        Some(slip)
    }

    /// Holds an instrument to two points.
    fn hold(
        &mut self,
        set_up: &SetUp,
        instrument: Instrument,
        (red, black): (NodeId, NodeId),
    ) -> Result<(super::Met, Option<Slip>), NoAnswer> {
        self.set(set_up)?;
        let slip = self.slip(black);
        self.set(set_up)?;
        let red = if let Some(Slip::Red(other)) = &slip { *other } else { red };
        let black = self.black.map_or(black, |(_, is)| is);
        let met = self.read(slip.as_ref(), |mock_up| mock_up.attach(instrument, red, black))?;
        Ok((met, slip))
    }

    /// Reads something of the mock-up, in the set-up that a slip has made for this one reading.
    fn read<T>(&self, slip: Option<&Slip>, of: impl FnOnce(&MockUp<'c>) -> Result<T, NoAnswer>) -> Result<T, NoAnswer> {
        let Some(Slip::Once(other)) = slip else { return of(&self.mock_up) };
        let mut elsewhere = self.mock_up.clone();
        elsewhere.enter(other)?;
        of(&elsewhere)
    }

    /// Reads a voltmeter between two nodes.
    ///
    /// # Errors
    /// Where the mock-up has no answer.
    pub fn volts(&mut self, set_up: &SetUp, meter: Instrument, red: NodeId, black: NodeId) -> Result<Said, NoAnswer> {
        let (met, slip) = self.hold(set_up, meter, (red, black))?;
        if met.jumps {
            return Ok(Said::Jumps);
        }
        let Some(chance) = &mut self.chance else {
            return Ok(Said::Volts(met.volts, digit(met.volts)));
        };
        let volts = match slip {
            Some(Slip::Tenfold(factor)) => met.volts * factor,
            Some(Slip::Zero) => 0.0,
            _ => met.volts,
        };
        let step = digit(volts);
        let counts = chance.tolerances.meter_counts * (2.0 * chance.rng.f64() - 1.0);
        let shown = ((volts * (1.0 + chance.gain)) / step + counts).round() * step;
        Ok(Said::Volts(shown, step))
    }

    /// Reads a clamp meter around the conductor of an element.
    ///
    /// # Errors
    /// Where the mock-up has no answer.
    pub fn amps(&mut self, set_up: &SetUp, element: ElementId) -> Result<Said, NoAnswer> {
        self.set(set_up)?;
        let slip = self.slip_by(Slip::draw_at_clamp);
        self.set(set_up)?;
        let around = if let Some(Slip::Wire(other)) = &slip { *other } else { element };
        let (amps, jumps) = self.read(slip.as_ref(), |mock_up| mock_up.amps_shown(around))?;
        if jumps {
            return Ok(Said::Jumps);
        }
        let Some(chance) = &mut self.chance else {
            return Ok(Said::Amps(amps.abs(), step(&CLAMP_RANGES, amps)));
        };
        let amps = match slip {
            Some(Slip::Tenfold(factor)) => amps * factor,
            Some(Slip::Zero) => 0.0,
            _ => amps,
        };
        let off = chance.tolerances.clamp_amps * (2.0 * chance.rng.f64() - 1.0);
        let digit = step(&CLAMP_RANGES, amps);
        let shown = ((amps * (1.0 + chance.clamp) + off) / digit).round() * digit;
        Ok(Said::Amps(shown.abs(), digit))
    }

    /// Reads ohms between two nodes.
    ///
    /// # Errors
    /// Where the mock-up has no answer.
    pub fn ohms(&mut self, set_up: &SetUp, red: NodeId, black: NodeId) -> Result<Said, NoAnswer> {
        self.set(set_up)?;
        let slip = self.slip(black);
        self.set(set_up)?;
        let red = if let Some(Slip::Red(other)) = &slip { *other } else { red };
        let black = self.black.map_or(black, |(_, is)| is);
        let met = self.read(slip.as_ref(), |mock_up| mock_up.ohms(red, black))?;
        // Tips that do not touch meet nothing.
        let ohms = if slip == Some(Slip::Zero) { None } else { met };
        let Some(ohms) = ohms.filter(|ohms| *ohms < MOST_OHMS) else { return Ok(Said::Ohms(None)) };
        let Some(chance) = &mut self.chance else {
            return Ok(Said::Ohms(Some((ohms, step(&OHM_RANGES, ohms)))));
        };
        let ohms = if let Some(Slip::Tenfold(factor)) = slip { ohms * factor } else { ohms };
        let leads = chance.tolerances.ohms_leads * chance.rng.f64();
        let off = chance.tolerances.ohms_share * (2.0 * chance.rng.f64() - 1.0);
        let digit = step(&OHM_RANGES, ohms);
        Ok(Said::Ohms(Some((((ohms * (1.0 + off) + leads) / digit).round() * digit, digit))))
    }

    /// Watches the light of a tester between two nodes.
    ///
    /// # Errors
    /// Where the mock-up has no answer.
    pub fn light(
        &mut self,
        set_up: &SetUp,
        lamp: Instrument,
        (red, black): (NodeId, NodeId),
        table: &WordTable,
    ) -> Result<Said, NoAnswer> {
        let (met, slip) = self.hold(set_up, lamp, (red, black))?;
        let noticed = if slip == Some(Slip::Zero) { Noticed::Share(0.0) } else { MockUp::light(&met, lamp) };
        Ok(Said::Word(self.word(table, noticed)))
    }

    /// Looks at, listens to or feels a part (position in `Circuit::sights`).
    ///
    /// # Errors
    /// Where the mock-up has no answer, and for what cannot be seen.
    pub fn look(&mut self, set_up: &SetUp, sight: usize, table: &WordTable) -> Result<Said, NoAnswer> {
        self.set(set_up)?;
        let sight = self.circuit.sights.get(sight).ok_or(NoAnswer)?;
        if sight.notices == Notices::Marks {
            return Ok(Said::Word(self.found_on(sight, table).ok_or(NoAnswer)?));
        }
        let element = sight.elements.first().filter(|_| sight.notices == Notices::Work).ok_or(NoAnswer)?;
        let noticed = self.mock_up.noticed(*element, sight.nominal)?;
        Ok(Said::Word(self.word(table, noticed)))
    }

    /// The word for what the hidden faults have left on a part: of several faults one is seen, by the toss of a coin.
    fn found_on(&mut self, sight: &Sighted, table: &WordTable) -> Option<usize> {
        let left = |(part, mode, share): &(PartId, String, f64)| {
            let [low, high] = sight.marks.get(mode).filter(|_| *part == sight.part)?;
            let rows = [table.marks.get(low)?, table.marks.get(high)?];
            Some(rows[0].iter().zip(rows[1]).map(|(l, h)| (1.0 - share) * l + share * h).collect::<Vec<f64>>())
        };
        let mut rows: Vec<Vec<f64>> = self.faults.iter().filter_map(left).collect();
        if rows.is_empty() {
            rows.push(table.marks.get(SOUND)?.clone());
        }
        let Some(chance) = &mut self.chance else {
            let row = rows.first()?;
            return (0..row.len()).max_by(|a, b| row[*a].total_cmp(&row[*b]).then(b.cmp(a)));
        };
        let words = table.words.len();
        if chance.rng.f64() < table.contradiction {
            return Some(chance.rng.usize(0..words));
        }
        let row = rows.swap_remove(chance.rng.usize(0..rows.len()));
        let mut mark = chance.rng.f64();
        let said = row.iter().position(|p| {
            mark -= p;
            mark <= 0.0
        });
        said.or(words.checked_sub(1))
    }

    /// The word for what is noticed: the likeliest, or one drawn as people say them.
    fn word(&mut self, table: &WordTable, noticed: Noticed) -> usize {
        let Some(chance) = &mut self.chance else { return table.most_said(noticed) };
        let mut mark = chance.rng.f64();
        let said = table.words.iter().position(|word| {
            mark -= table.likelihood(&word.key, noticed);
            mark <= 0.0
        });
        said.unwrap_or(table.words.len().saturating_sub(1))
    }
}

/// One step of the last digit at this many volts.
fn digit(volts: f64) -> f64 {
    step(&RANGES, volts)
}

/// One step of the last digit at a value, by ranges: their ends and steps.
fn step(ranges: &[(f64, f64)], value: f64) -> f64 {
    ranges.iter().find(|(most, _)| value.abs() < *most).map_or(0.1, |(_, step)| *step)
}
