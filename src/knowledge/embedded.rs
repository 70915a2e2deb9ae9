//! The one place where the knowledge files enter the program.

use super::NamedText;

macro_rules! embed {
    ($($name:literal)+) => {
        &[$(($name, include_str!(concat!("../../knowledge/", $name)))),+]
    };
}

/// The questions about one circuit, and the install file that their answers make.
pub const CIRCUIT: &str = include_str!("../../knowledge/circuit.txt");

/// All built-in knowledge files: name and text.
pub const FILES: &[NamedText<'static>] = embed! {
    "bench.yaml"
    "causes.yaml"
    "cautions.yaml"
    "complaints.yaml"
    "facts/drop-limits.yaml"
    "facts/meters-and-copper.yaml"
    "facts/protection-rules.yaml"
    "facts/relay-figures.yaml"
    "facts/supplies.yaml"
    "limits.yaml"
    "parts/charging.yaml"
    "parts/components.yaml"
    "parts/conductors.yaml"
    "parts/controls.yaml"
    "parts/devices.yaml"
    "parts/electronics.yaml"
    "parts/fuses.yaml"
    "parts/joints.yaml"
    "parts/loads.yaml"
    "parts/metal.yaml"
    "parts/protection.yaml"
    "parts/relays-special.yaml"
    "parts/relays.yaml"
    "parts/selectors.yaml"
    "parts/sensors.yaml"
    "parts/splices.yaml"
    "parts/supplies.yaml"
    "parts/twin-lamps.yaml"
    "repairs.yaml"
    "tables/ampacity-105c.yaml"
    "tables/ampacity-125c.yaml"
    "tables/ampacity-200c.yaml"
    "tables/ampacity-60c.yaml"
    "tables/ampacity-75c.yaml"
    "tables/ampacity-80c.yaml"
    "tables/ampacity-90c.yaml"
    "tables/awg.yaml"
    "tables/blade-fuse-gate.yaml"
    "tables/blade-fuse-ohms.yaml"
    "tables/bolted-fuse-gate.yaml"
    "tables/glass-fuse-gate.yaml"
    "tables/iec-60228-class-5.yaml"
    "tables/thermal-breaker-gate.yaml"
    "terminals.yaml"
    "tolerances.yaml"
    "words.yaml"
};
