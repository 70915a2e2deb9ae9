//! The faulty install as ngspice has it, with a meter, a test lamp and a pair of eyes.
//!
//! The meter has 4000 counts and picks its own range: 0.1 mV below 0.4 V, 1 mV below 4 V, 10 mV below 40 V. It loads the
//! circuit with 10 MΩ (`knowledge/facts/meters-and-copper.yaml`); a common make of meter, from memory.

use super::record::Hidden;
use crate::support::ngspice::{Kept, Solved, solve};
use halfsplit::belief::{Answer, Probe, Shown};
use halfsplit::choice::{Target, Test};
use halfsplit::circuit::{Edit, Element, ElementId, Emf, NodeId, Primitive, SetUp, edited};
use halfsplit::document::Source;
use halfsplit::index::Id;
use halfsplit::install::load;
use halfsplit::job::{Fact, Given, System};
use halfsplit::knowledge::{Knowledge, Noticed, NoticedState, WordTable};
use halfsplit::network::Instrument;
use halfsplit::suspects::FaultId;
use halfsplit::units::Ohms;
use std::path::Path;

/// Most amps that rounding alone sends through a meter: `n e G V` with `n` = 300 elements of `G` = 2e3 S at `V` = 30 V and
/// `e` = 1.1e-16; a leak of 100 kohm at 12 V sends 1e-4 A.
const ROUNDING: f64 = 2e-9;

/// An install made ready.
pub(super) fn system(path: &Path) -> System {
    let source = Source::new(path.display().to_string(), std::fs::read_to_string(path).unwrap());
    let (install, _) = load(&source, &Knowledge::built_in())
        .unwrap_or_else(|report| panic!("{}: {:#?}", path.display(), report.sorted()));
    System::new(install).unwrap_or_else(|lacking| panic!("{}: {lacking:#?}", path.display()))
}

/// What an instrument or a person reports.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Reads {
    /// Volts before rounding.
    Volts(f64),
    /// Nothing settles.
    Jumps,
    /// A word of the table.
    Word(usize),
}

/// The faulty install, and what it remembers of the set-ups so far.
pub(super) struct Bench<'s> {
    system: &'s System,
    edits: Vec<Edit>,
    /// The fault, and how far up its range it is, by the logarithm (0 to 1).
    hidden: FaultId,
    size: f64,
    /// What the last stay started from, what it left, and its set-up.
    before: Kept,
    after: Kept,
    here: Option<SetUp>,
}

impl<'s> Bench<'s> {
    pub(super) fn new(system: &'s System, hidden: &Hidden) -> Self {
        let id = system.fault(&hidden.part, &hidden.mode).unwrap_or_else(|| {
            let all: Vec<String> = system.possible.iter().map(|f| format!("{} {}", f.part_id, f.mode)).collect();
            panic!("no fault {} {} among {all:#?}", hidden.part, hidden.mode)
        });
        let fault = &system.suspects.faults()[id];
        assert_eq!(fault.severity.is_some(), hidden.ohms.is_some(), "a soft fault has its size: {hidden:?}");
        let ohms = Ohms::try_from(hidden.ohms.unwrap_or(0.0)).unwrap();
        let size = fault.severity.zip(hidden.ohms).map_or(0.0, |(range, ohms)| {
            let [low, high] = [range.low, range.high].map(|ohms| ohms.get().ln());
            (ohms.ln() - low) / (high - low)
        });
        let edits = fault.effect.edits(ohms);
        Self { system, hidden: id, size, edits, before: Kept::new(), after: Kept::new(), here: None }
    }

    /// Enters a set-up, unless it is in force.
    fn enter(&mut self, set_up: &SetUp) {
        if self.here.as_ref() == Some(set_up) {
            return;
        }
        self.before = self.after.clone();
        self.after = self.plain(set_up).kept;
        self.here = Some(set_up.clone());
    }

    fn plain(&self, set_up: &SetUp) -> Solved {
        let netlist = &self.system.circuit.netlist;
        solve(netlist, &self.edits, set_up, &self.before).expect("ngspice solves it")
    }

    /// What a test shows.
    pub(super) fn take(&mut self, test: &Test) -> Reads {
        self.enter(&test.set_up);
        match &test.probe {
            Probe::Volts { instrument: Instrument::Voltmeter(inside), red, black, .. } => {
                self.volts(&test.set_up, *inside, (*red, *black))
            }
            Probe::Light { instrument: Instrument::TestLamp { hot, nominal }, red, black } => {
                let lamp = Primitive::Filament { hot: *hot, nominal: *nominal };
                self.light(&test.set_up, lamp, (*red, *black))
            }
            Probe::Look(sight) => Reads::Word(self.look(*sight, &test.set_up)),
            other => panic!("no job asks for {other:?}"),
        }
    }

    fn volts(&self, set_up: &SetUp, inside: Ohms, (red, black): (NodeId, NodeId)) -> Reads {
        let mut edits = self.edits.clone();
        edits.push(Edit::Bridge(red, black, inside));
        let netlist = &self.system.circuit.netlist;
        let solved = solve(netlist, &edits, set_up, &self.before).expect("ngspice solves it");
        if solved.chatters {
            return Reads::Jumps;
        }
        let volts = solved.between(red, black).expect("the meter joins its points");
        let alone = self.plain(set_up);
        // The meter is one more element behind the circuit's own.
        if solved.active.starts_with(&alone.active) && alone.between(red, black).is_none() {
            // Nothing but the meter joins its leads: what flows into one side through it flows nowhere, so none does (Kirchhoff's
            // current law over that side). ngspice sums conductances of 1e3 S and 1e-7 S in one matrix, and the last bit
            // of the former, times the volts of the supply, is a current through the latter. It was measured: the same 1e-12
            // to 2e-11 A with meters of 1e5, 1e7 and 1e9 ohms (so a hundred times the volts for a hundred times the
            // ohms), and ten thousand times less once every joint of some milliohms was made 10 ohms.
            let amps = volts / inside.get();
            assert!(amps.abs() < ROUNDING, "{amps} A through a meter that alone joins its leads");
            return Reads::Volts(0.0);
        }
        Reads::Volts(volts)
    }

    fn light(&self, set_up: &SetUp, lamp: Primitive, (red, black): (NodeId, NodeId)) -> Reads {
        let mut netlist = self.system.circuit.netlist.clone();
        let element = Element { name: "test lamp".to_owned(), from: red, to: black, primitive: lamp };
        let id = netlist.elements.push(element.clone());
        let solved = solve(&netlist, &self.edits, set_up, &self.before).expect("ngspice solves it");
        let Primitive::Filament { hot, nominal } = &element.primitive else { unreachable!() };
        let full = nominal.get() * nominal.get() / hot.get();
        let noticed = if solved.chatters {
            Noticed::State(NoticedState::Unsteady)
        } else {
            Noticed::Share(watts(&element, id, &solved) / full)
        };
        let table = self.system.tester_words().expect("words for a tester");
        Reads::Word(likeliest(table, noticed))
    }

    fn look(&self, sight: usize, set_up: &SetUp) -> usize {
        if let Shown::Marks(marks) = &self.system.senses.sights[sight].shown {
            // No simulator knows that a pin is green: the word is the likeliest of the knowledge base's own.
            let [low, high] = marks.of.get(&self.hidden).cloned().unwrap_or([marks.sound.clone(), marks.sound.clone()]);
            let share = |word: &usize| low[*word] + self.size * (high[*word] - low[*word]);
            return (0..low.len()).max_by(|a, b| share(a).total_cmp(&share(b))).expect("a table has words");
        }
        let table = self.system.words(sight).expect("words for a sight");
        likeliest(table, self.noticed(sight, set_up))
    }

    /// What there is to be noticed of a sight.
    fn noticed(&self, sight: usize, set_up: &SetUp) -> Noticed {
        let netlist = &self.system.circuit.netlist;
        let seen = &self.system.senses.sights[sight];
        let solved = self.plain(set_up);
        if solved.chatters {
            return Noticed::State(NoticedState::Unsteady);
        }
        let elements = edited(netlist, &self.edits);
        let power = |id: ElementId| elements[id].as_ref().map_or(0.0, |e| watts(e, id, &solved));
        let (element, nominal) = match &seen.shown {
            Shown::Work { element, nominal } => (*element, *nominal),
            Shown::Heat { elements, hot } => {
                return Noticed::Share(elements.iter().map(|e| power(*e)).sum::<f64>() / hot);
            }
            Shown::Charge { posts: (plus, minus), nominal } => {
                return Noticed::Share(solved.between(*plus, *minus).unwrap_or(0.0) / nominal);
            }
            // The same measure as the knowledge base names it: the drain, and how far below 1.02 of nominal it rests.
            Shown::Standing { source, posts: (plus, minus), drain, nominal } => {
                let inside = &netlist.elements[*source];
                let volts = solved.between(inside.from, inside.to).unwrap_or(0.0);
                let amps = if volts.abs() > 1e-9 { (-power(*source) / volts).max(0.0) } else { 0.0 };
                let rests = solved.between(*plus, *minus).unwrap_or(0.0);
                return Noticed::Share(amps / drain + (1.02 * nominal - rests).max(0.0) / (0.05 * nominal));
            }
            Shown::Marks(_) => panic!("marks are nothing that the circuit does"),
        };
        let k = element.position();
        let state = match &netlist.elements[element].primitive {
            Primitive::Fuse { .. } if elements[element].is_some() && solved.active[k] => NoticedState::Whole,
            Primitive::Fuse { .. } => NoticedState::Opened,
            Primitive::Coil { .. } => {
                let rest = self.plain(&SetUp::at_rest(&netlist.controls));
                if rest.pulled[k] == solved.pulled[k] { NoticedState::Unchanged } else { NoticedState::Changed }
            }
            _ => {
                return Noticed::Share((power(element) / nominal).max(0.0));
            }
        };
        Noticed::State(state)
    }

    /// Why a recorded reading is not what ngspice has, if so.
    pub(super) fn disagrees(&mut self, given: &Given) -> Option<String> {
        let reads = self.take(&given.test);
        let agrees = match (&reads, &given.answer) {
            (Reads::Volts(volts), Answer::Number { value, .. }) => (volts - value).abs() <= digit(*volts).0,
            (Reads::Volts(volts), Answer::Between(low, high)) => (low..=high).contains(&volts),
            (Reads::Jumps, Answer::Unsteady) => true,
            (Reads::Word(word), Answer::Word(said)) => word == said,
            _ => false,
        };
        (!agrees).then(|| format!("ngspice has {}", self.text(&given.test, &reads)))
    }

    /// Why a complaint is not what would be seen, if so: a word with less than a tenth of the probability.
    pub(super) fn disagrees_with_complaint(&mut self, fact: &Fact) -> Option<String> {
        self.enter(&fact.set_up);
        let table = self.system.words(fact.sight).expect("words for a sight");
        let noticed = self.noticed(fact.sight, &fact.set_up);
        let share = table.likelihood(&table.words[fact.word].key, noticed);
        (share < 0.1).then(|| format!("`{}` is hardly said of {noticed:?}", table.words[fact.word].key))
    }

    /// An answer as it stands in a job file.
    pub(super) fn text(&self, test: &Test, reads: &Reads) -> String {
        match reads {
            Reads::Volts(volts) => shown(*volts),
            Reads::Jumps => "jumps".to_owned(),
            Reads::Word(word) => {
                let table = match test.probe {
                    Probe::Look(sight) => self.system.words(sight),
                    _ => self.system.tester_words(),
                };
                table.expect("words").words[*word].key.clone()
            }
        }
    }

    /// A test with its answer as one line of a job file; `usual` is the complaint's set-up.
    pub(super) fn line(&self, test: &Test, reads: &Reads, usual: &SetUp) -> String {
        let install = &self.system.install;
        let mut entries = Vec::new();
        if test.set_up != *usual {
            let controls = install.controls.enumerate().filter_map(|(id, control)| {
                let at = self.system.circuit.control_of[id];
                let position = test.set_up.positions[at];
                let moved = position != self.system.circuit.netlist.controls[at].rest;
                moved.then(|| format!("{}: {}", quoted(&control.name), quoted(&control.positions[position])))
            });
            entries.push(format!("with: {{{}}}", controls.collect::<Vec<_>>().join(", ")));
        }
        let answer = self.text(test, reads);
        match (&test.at, &test.probe) {
            (Target::Part(part), probe) => {
                let name = match probe {
                    Probe::Look(sight) => self.system.sight_name(&self.system.sights[*sight]),
                    _ => install.parts[*part].id.clone(),
                };
                entries.push(format!("look: {}", quoted(&name)));
                entries.push(format!("shows: {answer}"));
            }
            (Target::Points { red, black }, probe) => {
                let lamp = matches!(probe, Probe::Light { .. });
                let keys = if lamp { ["lamp", "clip", "shows"] } else { ["red", "black", "reads"] };
                let name = |point| quoted(&install.points[point].name);
                let values = [name(*red), name(*black), answer];
                entries.extend(keys.iter().zip(values).map(|(key, value)| format!("{key}: {value}")));
            }
        }
        format!("  - {{{}}}\n", entries.join(", "))
    }
}

/// A name inside a flow map.
fn quoted(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || " ._/-+".contains(c);
    let good = name.chars().all(plain) && name.starts_with(char::is_alphanumeric);
    let word = ["on", "off", "yes", "no", "true", "false"].contains(&name);
    if good || word { name.to_owned() } else { format!("\"{name}\"") }
}

/// Power in an element.
fn watts(element: &Element, id: ElementId, solved: &Solved) -> f64 {
    let Some(volts) = solved.between(element.from, element.to) else {
        return 0.0;
    };
    let on = solved.active[id.position()];
    match &element.primitive {
        // The law of a filament as the export writes it: `R = hot (V / nominal)^0.45`, a tenth of it when cold.
        Primitive::Filament { hot, nominal } => {
            let share = (volts.abs() / nominal.get()).powf(0.45).max(0.1);
            volts * volts / (hot.get() * share)
        }
        Primitive::Motor { winding, running, .. } => volts * volts / if on { running.get() } else { winding.get() },
        Primitive::Resistance { ohms } | Primitive::Coil { ohms, .. } => volts * volts / ohms.get(),
        Primitive::Contact { closed: ohms, .. } | Primitive::Fuse { ohms, .. } => {
            if on {
                volts * volts / ohms.get()
            } else {
                0.0
            }
        }
        // A source takes up what runs into its plus: less than nothing while it delivers.
        Primitive::Source { emf: Emf::Fixed(emf), internal, .. } => volts * (volts - emf.get()) / internal.get(),
        Primitive::Diode { forward, series } if on => volts * (volts - forward.get()) / series.get(),
        Primitive::Diode { .. } => 0.0,
        Primitive::Power { watts, .. } if on => watts.get(),
        Primitive::Power { leakage, .. } => volts * volts / leakage.get(),
        other => panic!("the power of {other:?} is not looked at in any job"),
    }
}

fn likeliest(table: &WordTable, noticed: Noticed) -> usize {
    let share = |word: &usize| table.likelihood(&table.words[*word].key, noticed);
    (0..table.words.len()).max_by(|a, b| share(a).total_cmp(&share(b))).expect("a table has words")
}

/// The last digit of the meter at a value in volts, and the decimals that it shows (in mV below 0.4 V).
fn digit(volts: f64) -> (f64, usize) {
    match volts.abs() {
        v if v < 0.399_95 => (1e-4, 1),
        v if v < 3.9995 => (1e-3, 3),
        v if v < 39.995 => (1e-2, 2),
        _ => (1e-1, 1),
    }
}

/// A value as the meter shows it.
fn shown(volts: f64) -> String {
    let (digit, decimals) = digit(volts);
    // No meter shows a minus before zero.
    let volts = if volts.abs() < 0.5 * digit { 0.0 } else { volts };
    match digit {
        d if d < 5e-4 => format!("{:.decimals$} mV", 1000.0 * volts),
        _ => format!("{volts:.decimals$} V"),
    }
}
