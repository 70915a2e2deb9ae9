//! Small installs put together by hand, without an install file.

use halfsplit::index::IdVec;
use halfsplit::install::{Control, Install, JointOf, Part, PartId, Point, PointId};
use halfsplit::knowledge::Knowledge;
use halfsplit::units::Volts;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// Read once for all tests.
static KNOWLEDGE: LazyLock<Knowledge> = LazyLock::new(Knowledge::built_in);

/// An install in the making.
pub(super) struct Bench {
    pub(super) install: Install,
}

impl Bench {
    pub(super) fn new(nominal: f64) -> Self {
        let mut points = IdVec::new();
        let earth = points.push(Point { name: "frame".into(), of: None, place: None });
        Self {
            install: Install {
                title: "bench".into(),
                nominal: Volts::new(nominal),
                fuel: String::new(),
                setting: "trailer".into(),
                earth_word: "earth".into(),
                knowledge: KNOWLEDGE.clone(),
                places: IdVec::new(),
                parts: IdVec::new(),
                points,
                joins: Vec::new(),
                controls: IdVec::new(),
                runs: IdVec::new(),
                earth,
            },
        }
    }

    /// Adds a part with figures in SI units; pins for kinds that have them.
    pub(super) fn part(&mut self, kind: &str, id: &str, figures: &[(&str, f64)], pins: &[&str]) -> PartId {
        let kind_id = self.install.knowledge.kind(kind).unwrap_or_else(|| panic!("no kind {kind}"));
        let kind = self.install.knowledge.kinds[kind_id].clone();
        let part = self.install.parts.push(Part {
            id: id.into(),
            label: id.into(),
            kind: kind_id,
            place: None,
            figures: figures.iter().map(|(k, v)| ((*k).to_owned(), *v)).collect::<BTreeMap<_, _>>(),
            terminals: Vec::new(),
            pins: pins.iter().map(|p| (*p).to_owned()).collect(),
            colour: None,
            joint_of: None,
            line: 1,
            column: 1,
        });
        let named: Vec<String> = if kind.per_pin {
            let terminals =
                |pin: &&str| kind.terminals.iter().map(move |t| format!("{pin}.{}", t.name)).collect::<Vec<_>>();
            pins.iter().flat_map(terminals).collect()
        } else {
            kind.terminals.iter().map(|t| t.name.clone()).collect()
        };
        for (i, name) in named.iter().enumerate() {
            let point =
                self.install.points.push(Point { name: format!("{id}.{name}"), of: Some((part, i)), place: None });
            self.install.parts[part].terminals.push(point);
        }
        if !kind.positions.is_empty() {
            self.install.controls.push(Control {
                name: id.into(),
                part,
                positions: kind.positions.clone(),
                momentary: kind.momentary,
                place: None,
            });
        }
        part
    }

    /// A wire between two points with its two end joints: `id`, `id.a`, `id.b`.
    pub(super) fn wire(&mut self, id: &str, mm2: f64, metres: f64, from: &str, to: &str) {
        let a = self.part("end joint", &format!("{id}.a"), &[], &[]);
        let wire = self.part("wire", id, &[("size", mm2), ("length", metres)], &[]);
        let b = self.part("end joint", &format!("{id}.b"), &[], &[]);
        for (joint, first_end) in [(a, true), (b, false)] {
            self.install.parts[joint].joint_of = Some(JointOf { conductor: wire, first_end });
        }
        self.join(&format!("{id}.a.b"), from);
        self.join(&format!("{id}.a.a"), &format!("{id}.a"));
        self.join(&format!("{id}.b"), &format!("{id}.b.a"));
        self.join(&format!("{id}.b.b"), to);
    }

    /// The point of this name.
    pub(super) fn point(&self, name: &str) -> PointId {
        let found = self.install.points.enumerate().find(|(_, p)| p.name == name);
        found.unwrap_or_else(|| panic!("no point {name}")).0
    }

    pub(super) fn join(&mut self, a: &str, b: &str) {
        let pair = (self.point(a), self.point(b));
        self.install.joins.push(pair);
    }
}
