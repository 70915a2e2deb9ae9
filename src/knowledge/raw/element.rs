//! The inner elements of a kind of part, as written.

use super::{Ordered, Text, raw};

raw! {
    /// An inner element, as written: its ends and exactly one behaviour.
    RawElement {
        from: Option<Text>,
        to: Option<Text>,
        source: Option<RawSource>,
        resistance: Option<Text>,
        conductor: Option<RawConductor>,
        filament: Option<RawFilament>,
        motor: Option<RawMotor>,
        power: Option<RawPower>,
        fuse: Option<RawFuse>,
        coil: Option<RawCoil>,
        contact: Option<RawContact>,
        electronic: Option<RawElectronic>,
        diode: Option<RawDiode>,
        #[serde(rename = "converter input")]
        converter_input: Option<RawConverterInput>,
        #[serde(rename = "converter output")]
        converter_output: Option<RawConverterOutput>,
    }
    /// EMF: one text, or by position of the kind's own control (`open` = delivers nothing).
    RawSource {
        emf: Option<Text>,
        #[serde(default, rename = "emf by position")]
        by_position: Ordered<Text>,
        internal: Text,
        limit: Option<Text>,
    }
    /// A conductor with size and length.
    RawConductor {
        size: Text,
        length: Text,
        tables: Vec<Text>,
    }
    /// A filament.
    RawFilament {
        hot: Text,
        nominal: Text,
    }
    /// A motor.
    RawMotor {
        winding: Text,
        running: Text,
        start: Text,
        stop: Text,
    }
    /// A constant power.
    RawPower {
        watts: Text,
        #[serde(rename = "cuts off below")]
        cut_off: Text,
        leakage: Text,
        #[serde(default)]
        polarised: bool,
    }
    /// A fuse or breaker.
    RawFuse {
        ohms: Text,
        rating: Text,
        gate: Text,
        reset: Text,
    }
    /// A coil.
    RawCoil {
        ohms: Text,
        #[serde(rename = "pulls in at")]
        pull_in: Text,
        #[serde(rename = "lets go below")]
        release: Text,
    }
    /// What moves a contact or commands an electronic switch; exactly one.
    RawContact {
        closed: Text,
        #[serde(default, rename = "closed in")]
        positions: Vec<Text>,
        #[serde(default, rename = "made by")]
        made_by: Vec<Text>,
        #[serde(default, rename = "broken by")]
        broken_by: Vec<Text>,
        #[serde(rename = "set by")]
        set_by: Option<Text>,
        #[serde(rename = "reset by")]
        reset_by: Option<Text>,
        #[serde(rename = "stepped by")]
        stepped_by: Option<Text>,
    }
    /// An electronic switch.
    RawElectronic {
        on: Text,
        leakage: Text,
        trip: Option<Text>,
        #[serde(rename = "on share")]
        on_share: Option<Text>,
        #[serde(default, rename = "on in")]
        positions: Vec<Text>,
        #[serde(default, rename = "commanded by")]
        coils: Vec<Text>,
    }
    /// A diode.
    RawDiode {
        forward: Text,
        series: Text,
    }
    /// The input side of a converter.
    RawConverterInput {
        output: Text,
        efficiency: Text,
        #[serde(rename = "cuts off below")]
        cut_off: Text,
        idle: Text,
        #[serde(rename = "enabled by")]
        enable: Option<Text>,
    }
    /// The output side of a converter.
    RawConverterOutput {
        emf: Text,
        internal: Text,
        limit: Option<Text>,
        input: Text,
    }
}
