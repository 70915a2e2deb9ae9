//! The one place where the knowledge files enter the program.

use super::NamedText;

macro_rules! embed {
    ($($name:literal)+) => {
        &[$(($name, include_str!(concat!("../../knowledge/", $name)))),+]
    };
}

/// All built-in knowledge files: name and text.
pub const FILES: &[NamedText<'static>] = embed! {
    "cautions.yaml"
    "parts/components.yaml"
    "parts/conductors.yaml"
    "parts/controls.yaml"
    "parts/joints.yaml"
    "parts/loads.yaml"
    "parts/protection.yaml"
    "parts/relays.yaml"
    "parts/supplies.yaml"
    "tables/awg.yaml"
    "tables/blade-fuse-gate.yaml"
    "tables/blade-fuse-ohms.yaml"
    "tables/iec-60228-class-5.yaml"
    "tables/thermal-breaker-gate.yaml"
    "terminals.yaml"
    "tolerances.yaml"
    "words.yaml"
};
