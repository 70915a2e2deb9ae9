//! A circuit as text for ngspice, in one discrete state; and the circuit with its edits as plain data.
//!
//! The state is the caller's: this module neither solves nor decides what switches.

use super::{Edit, Element, ElementId, Emf, Netlist, NodeId, Primitive};
use crate::index::{Id, IdVec};
use crate::units::{Amps, Ohms, Volts};
use std::collections::BTreeSet;
use std::fmt::Write;

/// Slope of a source in its limit as a share of `limit / |emf|`.
const LIMIT_SLOPE: f64 = 2e-7;
/// No resistance is written below this.
const LEAST_OHMS: f64 = 1e-7;

/// The elements with `edits` applied in order: `None` for one that conducts nothing; bridges follow the
/// elements of the netlist. An edit that points outside changes nothing.
pub fn edited(netlist: &Netlist, edits: &[Edit]) -> IdVec<ElementId, Option<Element>> {
    let mut elements: Vec<Option<Element>> = netlist.elements.iter().cloned().map(Some).collect();
    let own = elements.len();
    let mut opened = BTreeSet::new();
    let exists = |node: NodeId| netlist.nodes.get(node).is_some();
    for edit in edits {
        let (target, nodes) = match edit {
            Edit::Open(e) | Edit::Replace(e, _) | Edit::Series(e, _) | Edit::Stuck(e, _) => (Some(*e), Vec::new()),
            Edit::Move { element, to, .. } => (Some(*element), vec![*to]),
            Edit::Bridge(a, b, _) => (None, vec![*a, *b]),
        };
        if target.is_some_and(|e| e.position() >= own) || !nodes.into_iter().all(exists) {
            continue;
        }
        match edit {
            Edit::Open(e) => {
                elements[e.position()] = None;
                opened.insert(*e);
            }
            // What is open stays open, whatever else is wrong with it.
            Edit::Replace(e, _) if opened.contains(e) => {}
            Edit::Replace(e, primitive) => {
                // A new part where one was stuck open takes its place again.
                let now = elements[e.position()].take();
                elements[e.position()] = now
                    .or_else(|| netlist.elements.get(*e).cloned())
                    .map(|element| Element { primitive: primitive.clone(), ..element });
            }
            Edit::Series(e, ohms) => {
                if let Some(element) = &mut elements[e.position()] {
                    lengthen(&mut element.primitive, *ohms);
                }
            }
            Edit::Stuck(e, closed) => {
                let now = elements[e.position()].take();
                elements[e.position()] = now.and_then(|element| stuck(element, *closed));
            }
            Edit::Move { element: e, from_end, to } => {
                if let Some(element) = &mut elements[e.position()] {
                    *(if *from_end { &mut element.from } else { &mut element.to }) = *to;
                }
            }
            Edit::Bridge(a, b, ohms) => elements.push(Some(Element {
                name: "bridge".to_owned(),
                from: *a,
                to: *b,
                primitive: Primitive::Resistance { ohms: *ohms },
            })),
        }
    }
    elements.into_iter().collect()
}

/// A contact or switch that no longer moves; other elements as they were.
fn stuck(element: Element, closed: bool) -> Option<Element> {
    let ohms = match &element.primitive {
        Primitive::Contact { closed: ohms, .. } => closed.then_some(*ohms),
        Primitive::ElectronicSwitch { on, leakage, .. } => Some(if closed { *on } else { *leakage }),
        _ => return Some(element),
    };
    ohms.map(|ohms| Element { primitive: Primitive::Resistance { ohms }, ..element })
}

fn lengthen(primitive: &mut Primitive, by: Ohms) {
    match primitive {
        Primitive::Resistance { ohms }
        | Primitive::Source { internal: ohms, .. }
        | Primitive::ConverterOutput { internal: ohms, .. }
        | Primitive::Fuse { ohms, .. }
        | Primitive::Contact { closed: ohms, .. }
        | Primitive::Diode { series: ohms, .. } => *ohms = *ohms + by,
        Primitive::Coil { ohms, pull_in, release } => {
            // The winding alone moves the armature, so more is needed across winding and joint.
            let share = (*ohms + by).get() / ohms.get().max(f64::MIN_POSITIVE);
            *pull_in = *pull_in * share;
            *release = *release * share;
            *ohms = *ohms + by;
        }
        Primitive::ElectronicSwitch { on, leakage, .. } => {
            *on = *on + by;
            *leakage = *leakage + by;
        }
        Primitive::Filament { .. }
        | Primitive::Motor { .. }
        | Primitive::Power { .. }
        | Primitive::ConverterInput { .. } => {}
    }
}

/// What a text for ngspice is made from.
pub struct Export<'e> {
    /// The circuit.
    pub netlist: &'e Netlist,
    /// Its elements with the edits in force ([`edited`]).
    pub elements: &'e IdVec<ElementId, Option<Element>>,
    /// The position of each control (0-based), for sources that follow one.
    pub positions: &'e [usize],
    /// How each element stands. `true`: contact closed, switch on, fuse whole, diode conducting, motor
    /// turning, power or converter input on, source (also a converter's output) in its limit.
    pub active: &'e [bool],
}

impl Export<'_> {
    fn is_active(&self, element: ElementId) -> bool {
        self.active.get(element.position()).copied().unwrap_or(false)
    }

    /// Open-circuit voltage of a source, `None` when it is open.
    fn emf(&self, emf: &Emf) -> Option<f64> {
        match emf {
            Emf::Fixed(volts) => Some(volts.get()),
            Emf::By { control, volts } => {
                let position = *self.positions.get(control.position())?;
                volts.get(position)?.map(Volts::get)
            }
        }
    }

    /// Whether an element joins its nodes.
    pub fn conducts(&self, id: ElementId, element: &Element) -> bool {
        match &element.primitive {
            Primitive::Source { emf, .. } => self.emf(emf).is_some(),
            Primitive::Fuse { .. } | Primitive::Contact { .. } | Primitive::Diode { .. } => self.is_active(id),
            Primitive::ConverterOutput { input, .. } => {
                self.is_active(*input) && self.elements.get(*input).is_some_and(Option::is_some)
            }
            Primitive::Resistance { .. }
            | Primitive::Filament { .. }
            | Primitive::Motor { .. }
            | Primitive::Power { .. }
            | Primitive::Coil { .. }
            | Primitive::ElectronicSwitch { .. }
            | Primitive::ConverterInput { .. } => true,
        }
    }

    /// The island of each node: the lowest node that closed elements join it to.
    pub fn islands(&self) -> Vec<usize> {
        let mut leader: Vec<usize> = (0..self.netlist.nodes.len()).collect();
        for (id, element) in self.elements.enumerate() {
            let Some(element) = element.as_ref().filter(|e| self.conducts(id, e)) else {
                continue;
            };
            let (from, to) = (element.from.position(), element.to.position());
            if let (Some(a), Some(b)) = (leader.get(from), leader.get(to)) {
                let (low, high) = (*a.min(b), *a.max(b));
                for l in leader.iter_mut().filter(|l| **l == high) {
                    *l = low;
                }
            }
        }
        leader
    }

    /// The whole circuit as ngspice reads it, without commands. Node `k` is called `n<k>`; the lowest node
    /// of each island is tied to node 0 by an ohm that carries no current.
    pub fn text(&self) -> String {
        let mut out = String::new();
        for (id, node) in self.netlist.nodes.enumerate() {
            let name: String = node.name.chars().filter(|c| !c.is_control()).collect();
            let _ = writeln!(out, "* n{} is {name}", id.position());
        }
        for (node, island) in self.islands().into_iter().enumerate() {
            if node == island {
                let _ = writeln!(out, "Rpin{node} n{node} 0 1");
            }
        }
        for (id, element) in self.elements.enumerate() {
            if let Some(element) = element
                && element.from.position() < self.netlist.nodes.len()
                && element.to.position() < self.netlist.nodes.len()
                && element.from != element.to
                && self.conducts(id, element)
            {
                let name: String = element.name.chars().filter(|c| !c.is_control()).collect();
                let _ = writeln!(out, "* {name}");
                self.element(&mut out, id, element);
            }
        }
        out
    }

    #[expect(clippy::many_single_char_names, reason = "the letters of the netlist itself")]
    fn element(&self, out: &mut String, id: ElementId, element: &Element) {
        let k = id.position();
        let (a, b) = (element.from.position(), element.to.position());
        let on = self.is_active(id);
        let resistor = |out: &mut String, ohms: f64| {
            let _ = writeln!(out, "R{k} n{a} n{b} {:.17e}", ohms.max(LEAST_OHMS));
        };
        match &element.primitive {
            Primitive::Source { emf, internal, limit } => {
                let emf = self.emf(emf).unwrap_or(0.0);
                let limit = limit.filter(|_| on).map(Amps::get);
                source(out, k, (a, b), emf, internal.get(), limit);
            }
            Primitive::ConverterOutput { emf, internal, limit, .. } => {
                let limit = limit.filter(|_| on).map(Amps::get);
                source(out, k, (a, b), emf.get(), internal.get(), limit);
            }
            Primitive::Resistance { ohms }
            | Primitive::Fuse { ohms, .. }
            | Primitive::Coil { ohms, .. }
            | Primitive::Contact { closed: ohms, .. } => resistor(out, ohms.get()),
            Primitive::Filament { hot, nominal } => {
                let _ = writeln!(
                    out,
                    "B{k} n{a} n{b} I=V(n{a},n{b})/({:.17e}*max(0.1,pow(abs(V(n{a},n{b}))/{:.17e},0.45)))",
                    hot.get(),
                    nominal.get()
                );
            }
            Primitive::Motor { winding, running, .. } => resistor(out, if on { running.get() } else { winding.get() }),
            Primitive::Power { watts, cut_off, leakage, .. } => {
                if on {
                    let (w, c) = (watts.get(), cut_off.get().max(0.01));
                    let _ = writeln!(
                        out,
                        "B{k} n{a} n{b} I=abs(V(n{a},n{b}))>{c:.17e} ? {w:.17e}/V(n{a},n{b}) : V(n{a},n{b})*{:.17e}",
                        w / (c * c)
                    );
                } else {
                    resistor(out, leakage.get());
                }
            }
            Primitive::ElectronicSwitch { on: closed, leakage, .. } => {
                resistor(out, if on { closed.get() } else { leakage.get() });
            }
            Primitive::ConverterInput { output, efficiency, cut_off, idle, .. } => {
                resistor(out, idle.get());
                if let Some(Some(o)) = self.elements.get(*output)
                    && on
                {
                    let (p, m) = (o.from.position(), o.to.position());
                    let c = cut_off.get().max(0.01);
                    let _ = writeln!(
                        out,
                        "B{k} n{a} n{b} I=max(0,V(n{p},n{m})*({}))*(V(n{a},n{b})>{c:.17e} ? {:.17e}/V(n{a},n{b}) : V(n{a},n{b})*{:.17e})",
                        self.delivered(*output, o),
                        1.0 / efficiency,
                        1.0 / (efficiency * c * c)
                    );
                }
            }
            Primitive::Diode { forward, series } => {
                source(out, k, (a, b), forward.get(), series.get(), None);
            }
        }
    }

    /// What a converter's output delivers, as an expression of its voltage.
    fn delivered(&self, id: ElementId, output: &Element) -> String {
        let (p, m) = (output.from.position(), output.to.position());
        match &output.primitive {
            Primitive::ConverterOutput { emf, internal, limit, .. } => {
                let emf = emf.get();
                match limit.filter(|_| self.is_active(id)) {
                    None => format!("({emf:.17e}-V(n{p},n{m}))/{:.17e}", internal.get()),
                    Some(limit) => format!(
                        "{:.17e}+({emf:.17e}-V(n{p},n{m}))*{:.17e}",
                        limit.get(),
                        LIMIT_SLOPE * limit.get() / emf.abs()
                    ),
                }
            }
            _ => "0".to_owned(),
        }
    }
}

/// An EMF behind its resistance, on a node of its own; in its limit a current beside a slope.
fn source(out: &mut String, k: usize, (a, b): (usize, usize), emf: f64, ohms: f64, limit: Option<f64>) {
    let _ = writeln!(out, "V{k} i{k} n{b} {emf:.17e}");
    match limit {
        None => {
            let _ = writeln!(out, "R{k} n{a} i{k} {:.17e}", ohms.max(LEAST_OHMS));
        }
        Some(limit) => {
            let slope = LIMIT_SLOPE * limit.abs().max(1e-6) / emf.abs().max(1e-3);
            let _ = writeln!(out, "R{k} n{a} i{k} {:.17e}", 1.0 / slope);
            let _ = writeln!(out, "I{k} n{b} n{a} {:.17e}", limit * emf.signum());
        }
    }
}
