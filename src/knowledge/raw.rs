//! The YAML forms of knowledge files, as written: nothing is checked here but the shape.
//!
//! The fields of `Kind`, `Figure`, `PrimitiveSpec` and `Mode` say what each is.
//!
//! No tagged, untagged or flattened types: places of values would be lost in them.

mod complaints;
mod element;
mod kind;
mod tables;

pub(super) use complaints::{RawBench, RawComplaints, RawHistory, RawManner, RawOccasions};
pub(super) use element::{RawConductor, RawContact, RawElectronic, RawElement, RawFuse, RawSource};
pub(super) use kind::{RawBridging, RawFigure, RawKind, RawMode, RawParting, RawSight, RawSoft};
pub(super) use tables::{RawCause, RawCaution, RawFact, RawTable, RawTerminal, RawTolerance, RawWord, RawWords};

use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, Visitor};
use serde_yaml::Spanned;
use std::fmt;
use std::marker::PhantomData;

/// A text with its place.
pub(super) type Text = Spanned<String>;

/// A map that keeps the order of the file.
#[derive(Clone, Debug)]
pub(super) struct Ordered<V>(
    /// Keys with their values.
    pub(super) Vec<(Text, V)>,
);

impl<V> Default for Ordered<V> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'de, V: Deserialize<'de>> Deserialize<'de> for Ordered<V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Entries<V>(PhantomData<V>);
        impl<'de, V: Deserialize<'de>> Visitor<'de> for Entries<V> {
            type Value = Ordered<V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Ordered<V>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry()? {
                    entries.push(entry);
                }
                Ok(Ordered(entries))
            }
        }
        deserializer.deserialize_map(Entries(PhantomData))
    }
}

/// Forms that know all their fields, each with its place.
macro_rules! raw {
    ($($(#[$doc:meta])* $name:ident { $($(#[$meta:meta])* $field:ident: $type:ty,)* })+) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, serde::Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(in crate::knowledge) struct $name { $($(#[$meta])* pub(in crate::knowledge) $field: $type,)* }
    )+};
}
use raw;
