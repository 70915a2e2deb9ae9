//! A second opinion: ngspice (Debian package `ngspice`) solves each discrete state, and a state loop of its
//! own, written apart from the engine's, says what switches.

use halfsplit::circuit::{Drive, Edit, Element, ElementId, Export, Netlist, NodeId, Primitive, Reset, SetUp, edited};
use halfsplit::index::{Id, IdVec};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};

/// What lasts from one set-up to the next, by element: `true` is pulled in, closed (latches), blown,
/// turning, tripped (electronic switches).
pub(crate) type Kept = BTreeMap<ElementId, bool>;

/// A circuit to be solved.
pub(crate) struct Problem<'p> {
    pub(crate) netlist: &'p Netlist,
    pub(crate) edits: Vec<Edit>,
    pub(crate) set_up: SetUp,
    pub(crate) before: Kept,
}

/// How a problem ended.
#[derive(Clone, Debug)]
pub(crate) struct Solved {
    /// Potential of each node against its island's first.
    pub(crate) volts: Vec<f64>,
    /// The island of each node.
    pub(crate) island: Vec<usize>,
    /// Export states, by element (see `Export::active`).
    pub(crate) active: Vec<bool>,
    /// Coils that are pulled in.
    pub(crate) pulled: Vec<bool>,
    pub(crate) kept: Kept,
    /// The states repeat: the voltages are those of one of them.
    pub(crate) chatters: bool,
    /// Two fuses were within a factor of two of each other; the quicker one has opened.
    pub(crate) raced: bool,
}

impl Solved {
    /// Voltage between two nodes, when something joins them.
    pub(crate) fn between(&self, a: NodeId, b: NodeId) -> Option<f64> {
        let (a, b) = (a.position(), b.position());
        (self.island[a] == self.island[b]).then(|| self.volts[a] - self.volts[b])
    }
}

/// Whether the simulator is installed.
pub(crate) fn is_there() -> bool {
    Command::new("ngspice")
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// One circuit.
pub(crate) fn solve(netlist: &Netlist, edits: &[Edit], set_up: &SetUp, before: &Kept) -> Result<Solved, String> {
    let problem = Problem { netlist, edits: edits.to_vec(), set_up: set_up.clone(), before: before.clone() };
    solve_all(&[problem]).remove(0)
}

/// Many circuits, all of one round of the state loop in one process.
pub(crate) fn solve_all(problems: &[Problem<'_>]) -> Vec<Result<Solved, String>> {
    let mut walks: Vec<Walk<'_>> = problems.iter().map(Walk::new).collect();
    for _ in 0..400 {
        let open: Vec<usize> = (0..walks.len()).filter(|i| walks[*i].end.is_none()).collect();
        if open.is_empty() {
            break;
        }
        let texts: Vec<String> = open.iter().map(|i| walks[*i].text()).collect();
        for (index, volts) in open.into_iter().zip(run(&texts)) {
            match volts {
                Some(volts) => walks[index].take(&volts),
                None => walks[index].end = Some(Err("ngspice found no operating point".to_owned())),
            }
        }
    }
    walks.into_iter().map(|walk| walk.end.unwrap_or_else(|| Err("the states never came to rest".to_owned()))).collect()
}

/// Runs all texts in one process; the potentials of `n0`, `n1`, ... of each.
fn run(texts: &[String]) -> Vec<Option<BTreeMap<usize, f64>>> {
    static RUNS: AtomicUsize = AtomicUsize::new(0);
    let run = RUNS.fetch_add(1, Ordering::Relaxed);
    let folder: PathBuf = std::env::temp_dir().join(format!("halfsplit-ngspice-{}-{run}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut driver = String::from("* all circuits of one round\n.control\nset numdgt=15\n");
    for (index, text) in texts.iter().enumerate() {
        let file = folder.join(format!("{index}.cir"));
        let whole = format!(
            "* circuit {index}\n.options reltol=1e-10 abstol=1e-15 vntol=1e-12 gmin=1e-20 itl1=500\n{text}.end\n"
        );
        std::fs::write(&file, whole).unwrap();
        let _ =
            writeln!(driver, "echo circuit {index}\nsource {}\nop\nprint all\nremcirc\ndestroy all", file.display());
    }
    driver.push_str("quit 0\n.endc\n.end\n");
    let script = folder.join("driver.cir");
    std::fs::write(&script, driver).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(&script).output().expect("ngspice runs");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut found: Vec<Option<BTreeMap<usize, f64>>> = vec![None; texts.len()];
    let mut now = None;
    for line in said.lines() {
        let line = line.trim();
        if let Some(index) = line.strip_prefix("circuit ") {
            now = index.parse::<usize>().ok();
        }
        let Some((name, value)) = line.split_once(" = ") else {
            continue;
        };
        let node = name.strip_prefix('n').and_then(|n| n.parse().ok());
        if let (Some(now), Some(node), Ok(value)) = (now, node, value.trim().parse::<f64>())
            && let Some(place) = found.get_mut(now)
        {
            place.get_or_insert_default().insert(node, value);
        }
    }
    if std::env::var_os("KEEP_NGSPICE").is_none() {
        let _ = std::fs::remove_dir_all(&folder);
    }
    found
}

/// One circuit on its way through a set-up.
struct Walk<'p> {
    problem: &'p Problem<'p>,
    elements: IdVec<ElementId, Option<Element>>,
    positions: Vec<usize>,
    /// Controls still to be moved.
    moves: Vec<(usize, usize)>,
    /// `Export::active` without what follows from coils and controls.
    active: Vec<bool>,
    pulled: Vec<bool>,
    /// Latches, steps: closed. Electronic switches: tripped. Power: gave up.
    memory: Vec<bool>,
    volts: Vec<f64>,
    seen: Vec<(Vec<bool>, Vec<bool>, Vec<bool>)>,
    raced: bool,
    end: Option<Result<Solved, String>>,
}

impl<'p> Walk<'p> {
    fn new(problem: &'p Problem<'p>) -> Self {
        let mut edits = problem.edits.clone();
        edits.extend(problem.set_up.interventions.iter().cloned());
        let elements = edited(problem.netlist, &edits);
        let n = elements.len();
        let mut walk = Self {
            problem,
            positions: problem.netlist.controls.iter().map(|c| c.rest).collect(),
            moves: Vec::new(),
            active: vec![false; n],
            pulled: vec![false; n],
            memory: vec![false; n],
            volts: Vec::new(),
            seen: Vec::new(),
            raced: false,
            end: None,
            elements,
        };
        for (control, position) in problem.set_up.positions.iter().enumerate() {
            if walk.positions.get(control).is_some_and(|rest| rest != position) {
                walk.moves.push((control, *position));
            }
        }
        for (id, element) in walk.elements.enumerate() {
            let k = id.position();
            let kept = problem.before.get(&id).copied().unwrap_or(false);
            match element.as_ref().map(|e| &e.primitive) {
                Some(Primitive::Fuse { .. }) => walk.active[k] = !kept,
                Some(Primitive::Coil { .. }) => walk.pulled[k] = kept,
                Some(Primitive::Motor { .. }) => walk.active[k] = kept,
                Some(Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. }) => {
                    walk.memory[k] = kept;
                }
                _ => {}
            }
        }
        walk.drive();
        walk
    }

    fn primitive(&self, k: usize) -> Option<&Primitive> {
        self.elements.get(ElementId::new(k)).and_then(Option::as_ref).map(|e| &e.primitive)
    }

    fn is_pulled(&self, coil: ElementId) -> bool {
        self.pulled.get(coil.position()).copied().unwrap_or(false)
    }

    /// Contacts and switches as controls and coils have them; converters without their enable go off.
    fn drive(&mut self) {
        for k in 0..self.elements.len() {
            let Some(primitive) = self.primitive(k) else {
                continue;
            };
            match primitive {
                Primitive::Contact { drive, .. } => self.active[k] = self.wants(drive, k),
                Primitive::ElectronicSwitch { drive, .. } => {
                    let wants = self.wants(drive, k);
                    self.memory[k] &= wants;
                    self.active[k] = wants && !self.memory[k];
                }
                Primitive::ConverterInput { enable: Some(e), .. } if !self.is_pulled(*e) => {
                    self.active[k] = false;
                }
                _ => {}
            }
        }
    }

    fn wants(&self, drive: &Drive, k: usize) -> bool {
        match drive {
            Drive::Control { control, positions } => positions.contains(&self.positions[control.position()]),
            Drive::Coils { coils, closed_at_rest } => coils.iter().any(|c| self.is_pulled(*c)) != *closed_at_rest,
            Drive::Latch { .. } | Drive::Step { .. } => self.memory[k],
        }
    }

    fn export(&self) -> Export<'_> {
        Export {
            netlist: self.problem.netlist,
            elements: &self.elements,
            positions: &self.positions,
            active: &self.active,
        }
    }

    fn text(&self) -> String {
        self.export().text()
    }

    /// Takes the potentials of this state and makes the next.
    fn take(&mut self, found: &BTreeMap<usize, f64>) {
        let nodes = self.problem.netlist.nodes.len();
        self.volts = (0..nodes).map(|n| found.get(&n).copied().unwrap_or(0.0)).collect();
        let island = self.export().islands();
        let now = (self.active.clone(), self.pulled.clone(), self.memory.clone());
        let repeats = self.seen.contains(&now);
        self.seen.push(now);
        if !repeats && self.switch(&island) {
            return;
        }
        // At rest, or going round: the next control, or the end.
        if !self.moves.is_empty() {
            let (control, position) = self.moves.remove(0);
            self.positions[control] = position;
            self.seen.clear();
            self.forgive();
            self.drive();
            return;
        }
        self.end = Some(Ok(Solved {
            volts: self.volts.clone(),
            island,
            active: self.active.clone(),
            pulled: self.pulled.clone(),
            kept: self.kept(),
            chatters: repeats,
            raced: self.raced,
        }));
    }

    fn kept(&self) -> Kept {
        self.elements
            .ids()
            .filter_map(|id| {
                let k = id.position();
                let kept = match self.primitive(k)? {
                    Primitive::Fuse { reset, .. } => !self.active[k] && *reset != Reset::ByItself,
                    Primitive::Coil { .. } => self.pulled[k],
                    Primitive::Motor { .. } => self.active[k],
                    Primitive::Contact { .. } | Primitive::ElectronicSwitch { .. } => self.memory[k],
                    _ => return None,
                };
                Some((id, kept))
            })
            .collect()
    }

    /// Power elements that gave up may try again.
    fn forgive(&mut self) {
        for k in 0..self.elements.len() {
            if matches!(self.primitive(k), Some(Primitive::Power { .. } | Primitive::ConverterInput { .. })) {
                self.memory[k] = false;
            }
        }
    }

    /// Voltage across an element, nothing where its ends are not joined.
    fn across(&self, k: usize, island: &[usize]) -> f64 {
        let Some(Some(element)) = self.elements.get(ElementId::new(k)) else {
            return 0.0;
        };
        let (a, b) = (element.from.position(), element.to.position());
        if island[a] == island[b] { self.volts[a] - self.volts[b] } else { 0.0 }
    }

    /// Changes what must change next; whether anything did.
    fn switch(&mut self, island: &[usize]) -> bool {
        if self.fast(island) {
            return true;
        }
        if self.cut_outs(island) || self.trips(island) {
            return true;
        }
        if self.relays(island) || self.motors(island) || self.breakers(island) {
            self.forgive();
            return true;
        }
        if self.fuses(island) || self.cool() {
            self.forgive();
            return true;
        }
        false
    }

    /// The diode or limit that is most in the wrong.
    fn fast(&mut self, island: &[usize]) -> bool {
        let mut worst: Option<(f64, usize)> = None;
        for k in 0..self.elements.len() {
            let Some(primitive) = self.primitive(k) else {
                continue;
            };
            let volts = self.across(k, island);
            let wrong = match primitive {
                Primitive::Diode { forward, .. } => {
                    // One that carries nothing is dark: what hangs on it floats.
                    let above = volts - forward.get();
                    match self.active[k] {
                        true if above < 1e-11 => 1e-7 - above,
                        true => 0.0,
                        false => above,
                    }
                }
                Primitive::Source { emf: halfsplit::circuit::Emf::Fixed(emf), internal, limit: Some(limit) } => {
                    let over = emf.get() - volts - limit.get() * internal.get();
                    if self.active[k] { -over } else { over }
                }
                Primitive::ConverterOutput { emf, internal, limit: Some(limit), input }
                    if self.active[input.position()] =>
                {
                    let over = emf.get() - volts - limit.get() * internal.get();
                    if self.active[k] { -over } else { over }
                }
                _ => continue,
            };
            if wrong > 1e-8 && worst.is_none_or(|(w, _)| wrong > w) {
                worst = Some((wrong, k));
            }
        }
        if let Some((_, k)) = worst {
            self.active[k] = !self.active[k];
        }
        worst.is_some()
    }

    fn cut_outs(&mut self, island: &[usize]) -> bool {
        let mut weakest: Option<(f64, usize)> = None;
        let mut starts = Vec::new();
        for k in 0..self.elements.len() {
            let volts = self.across(k, island);
            let share = match self.primitive(k) {
                Some(Primitive::Power { cut_off, polarised, .. }) => {
                    (if *polarised { volts } else { volts.abs() }) / cut_off.get().max(0.01)
                }
                Some(Primitive::ConverterInput { cut_off, enable, .. }) if enable.is_none_or(|e| self.is_pulled(e)) => {
                    volts / cut_off.get().max(0.01)
                }
                _ => continue,
            };
            if self.active[k] {
                if share < 1.0 && weakest.is_none_or(|(w, _)| share < w) {
                    weakest = Some((share, k));
                }
            } else if share >= 1.0 && !self.memory[k] {
                starts.push(k);
            }
        }
        if let Some((_, k)) = weakest {
            self.active[k] = false;
            self.memory[k] = true;
            return true;
        }
        for k in &starts {
            self.active[*k] = true;
        }
        !starts.is_empty()
    }

    fn trips(&mut self, island: &[usize]) -> bool {
        let mut any = false;
        for k in 0..self.elements.len() {
            if let Some(Primitive::ElectronicSwitch { on, trip: Some(trip), .. }) = self.primitive(k)
                && self.active[k]
                && self.across(k, island).abs() / on.get() > trip.get()
            {
                self.memory[k] = true;
                any = true;
            }
        }
        self.drive();
        any
    }

    fn relays(&mut self, island: &[usize]) -> bool {
        let mut moved = Vec::new();
        for k in 0..self.elements.len() {
            let volts = self.across(k, island).abs();
            match self.primitive(k) {
                Some(Primitive::Coil { pull_in, .. }) if !self.pulled[k] && volts >= pull_in.get() => {
                    moved.push(k);
                }
                Some(Primitive::Coil { release, .. }) if self.pulled[k] && volts < release.get() => {
                    moved.push(k);
                }
                _ => {}
            }
        }
        for k in &moved {
            self.pulled[*k] = !self.pulled[*k];
        }
        let rose = |coil: ElementId, walk: &Self| moved.contains(&coil.position()) && walk.is_pulled(coil);
        for k in 0..self.elements.len() {
            let Some(Primitive::Contact { drive, .. } | Primitive::ElectronicSwitch { drive, .. }) = self.primitive(k)
            else {
                continue;
            };
            self.memory[k] = match drive {
                Drive::Latch { reset, .. } if rose(*reset, self) => false,
                Drive::Latch { set, .. } if rose(*set, self) => true,
                Drive::Step { coil } if rose(*coil, self) => !self.memory[k],
                _ => self.memory[k],
            };
        }
        self.drive();
        !moved.is_empty()
    }

    fn motors(&mut self, island: &[usize]) -> bool {
        let mut any = false;
        for k in 0..self.elements.len() {
            let volts = self.across(k, island).abs();
            if let Some(Primitive::Motor { start, stop, .. }) = self.primitive(k) {
                let turns = volts >= if self.active[k] { stop.get() } else { start.get() };
                any |= turns != self.active[k];
                self.active[k] = turns;
            }
        }
        any
    }

    /// Breakers that reset when dead.
    fn breakers(&mut self, island: &[usize]) -> bool {
        let mut any = false;
        for k in 0..self.elements.len() {
            let dead = self.across(k, island).abs() < 1.0;
            if let Some(Primitive::Fuse { reset: Reset::WhenDead, .. }) = self.primitive(k)
                && !self.active[k]
                && dead
            {
                self.active[k] = true;
                any = true;
            }
        }
        any
    }

    fn fuses(&mut self, island: &[usize]) -> bool {
        let mut melting: Vec<(f64, usize)> = Vec::new();
        for k in 0..self.elements.len() {
            if let Some(Primitive::Fuse { ohms, rating, gate, .. }) = self.primitive(k)
                && self.active[k]
            {
                let amps = self.across(k, island).abs() / ohms.get();
                if let Some(seconds) = gate.melting_seconds(amps / rating.get()) {
                    melting.push((seconds, k));
                }
            }
        }
        melting.sort_by(|a, b| a.0.total_cmp(&b.0));
        if let [(first, _), (second, _), ..] = melting.as_slice() {
            self.raced |= *second < 2.0 * *first;
        }
        match melting.first() {
            Some((_, k)) => {
                self.active[*k] = false;
                true
            }
            None => false,
        }
    }

    /// Breakers that reset by themselves close again.
    fn cool(&mut self) -> bool {
        let mut any = false;
        for k in 0..self.elements.len() {
            if let Some(Primitive::Fuse { reset: Reset::ByItself, .. }) = self.primitive(k)
                && !self.active[k]
            {
                self.active[k] = true;
                any = true;
            }
        }
        any
    }
}
