//! Part kinds made by hand for the tests of the install resolver: enough of each to join parts, no modes.

use halfsplit::circuit::Reset;
use halfsplit::index::IdVec;
use halfsplit::knowledge::{
    Amount, ConductorSpec, DriveSpec, ElementSpec, Figure, Kind, Knowledge, PrimitiveSpec, Role,
    Terminal, Unit,
};

fn amount(factor: f64, key: &str) -> Amount {
    let figures = if key.is_empty() {
        Vec::new()
    } else {
        vec![(key.to_owned(), 1)]
    };
    Amount { factor, figures }
}

fn ohms(value: f64) -> PrimitiveSpec {
    PrimitiveSpec::Resistance(amount(value, ""))
}

fn element(key: &str, from: &str, to: &str, primitive: PrimitiveSpec) -> ElementSpec {
    ElementSpec {
        key: key.to_owned(),
        from: from.to_owned(),
        to: to.to_owned(),
        primitive,
    }
}

/// A figure; without a default it must be given.
fn figure(key: &str, unit: Unit, default: Option<f64>) -> Figure {
    Figure {
        key: key.to_owned(),
        unit,
        defaults: default.map(|d| (None, d)).into_iter().collect(),
        tolerance: 0.05,
        source: "test".to_owned(),
    }
}

fn kind(name: &str, role: Role, terminals: &[&str], elements: Vec<ElementSpec>) -> Kind {
    Kind {
        name: name.to_owned(),
        aliases: Vec::new(),
        role,
        terminals: terminals
            .iter()
            .map(|t| Terminal {
                name: (*t).to_owned(),
                meaning: String::new(),
            })
            .collect(),
        per_pin: false,
        through: Some((0, 1)),
        figures: Vec::new(),
        elements,
        positions: Vec::new(),
        momentary: false,
        modes: Vec::new(),
        sight: None,
        access: "open".to_owned(),
        cautions: Vec::new(),
    }
}

fn two_ended(name: &str, role: Role, primitive: PrimitiveSpec, figures: Vec<Figure>) -> Kind {
    Kind {
        figures,
        ..kind(
            name,
            role,
            &["a", "b"],
            vec![element("body", "a", "b", primitive)],
        )
    }
}

fn wire_like(name: &str) -> Kind {
    let spec = ConductorSpec {
        size: "size".to_owned(),
        length: "length".to_owned(),
    };
    two_ended(
        name,
        Role::Conductor,
        PrimitiveSpec::Conductor(spec),
        vec![
            figure("size", Unit::SquareMillimetres, Some(1.5)),
            figure("length", Unit::Metres, Some(2.0)),
        ],
    )
}

fn relay(name: &str, terminals: &[&str]) -> Kind {
    let coil = PrimitiveSpec::Coil {
        ohms: amount(1.0, "coil"),
        pull_in: amount(0.6, "nominal"),
        release: amount(0.2, "nominal"),
    };
    let contact = |closed_at_rest| PrimitiveSpec::Contact {
        closed: amount(0.01, ""),
        drive: DriveSpec::Coils {
            coils: vec!["coil".to_owned()],
            closed_at_rest,
        },
    };
    let mut elements = vec![
        element("coil", "86", "85", coil),
        element("contact", "30", "87", contact(false)),
    ];
    if terminals.contains(&"87a") {
        elements.push(element("rest", "30", "87a", contact(true)));
    }
    Kind {
        figures: vec![figure("coil", Unit::Ohms, Some(85.0))],
        ..kind(name, Role::Switching, terminals, elements)
    }
}

/// All kinds that the tests need.
pub(crate) fn knowledge() -> Knowledge {
    let source = PrimitiveSpec::Source {
        emf: vec![Some(amount(1.05, "nominal"))],
        internal: amount(0.01, ""),
        limit: None,
    };
    let fuse = PrimitiveSpec::Fuse {
        ohms: amount(0.003, ""),
        rating: amount(1.0, "rating"),
        gate: vec![(1.35, 600.0), (2.0, 5.0)],
        reset: Reset::Never,
    };
    let contact = PrimitiveSpec::Contact {
        closed: amount(0.01, ""),
        drive: DriveSpec::Positions(vec!["on".to_owned()]),
    };
    let watts = || vec![figure("watts", Unit::Watts, None)];
    let mut battery = kind(
        "lead-acid battery",
        Role::Supply,
        &["+", "-"],
        vec![element("cells", "+", "-", source)],
    );
    battery.through = Some((1, 0));
    let mut blade = two_ended(
        "blade fuse",
        Role::Protection,
        fuse,
        vec![figure("rating", Unit::Amps, None)],
    );
    blade.aliases.push("fuse".to_owned());
    let mut switch = two_ended("switch", Role::Control, contact, Vec::new());
    switch.positions = vec!["off".to_owned(), "on".to_owned()];
    let mut connector = two_ended("connector", Role::Joint, ohms(0.002), Vec::new());
    connector.per_pin = true;
    let mut cable = wire_like("multi-core cable");
    cable.per_pin = true;
    let mut changeover = relay("changeover relay", &["86", "85", "30", "87", "87a"]);
    changeover.through = None;
    let mut plain_relay = relay("relay", &["86", "85", "30", "87"]);
    plain_relay.through = Some((2, 3));
    let all = [
        battery,
        blade,
        switch,
        connector,
        cable,
        wire_like("wire"),
        plain_relay,
        changeover,
        two_ended("end joint", Role::Joint, ohms(0.001), Vec::new()),
        two_ended("earth joint", Role::Joint, ohms(0.001), Vec::new()),
        two_ended("bolted frame", Role::Conductor, ohms(0.002), Vec::new()),
        two_ended("bracket", Role::Conductor, ohms(0.002), Vec::new()),
        two_ended("filament lamp", Role::Load, ohms(2.6), watts()),
        two_ended("motor", Role::Load, ohms(1.5), watts()),
        two_ended("solenoid", Role::Load, ohms(10.0), watts()),
    ];
    let kinds: IdVec<_, _> = all.into_iter().collect();
    Knowledge { kinds }
}
