//! Quantities with their unit in the type.
//!
//! A quantity is a finite `f64` in the SI unit of its name (minutes, millimetres squared and metres as
//! named). Only products that mean something exist: `Volts / Ohms = Amps`, never `Volts + Amps`.

mod figure;

pub use figure::{Dimension, Figure, FigureError, is_unit, parse_figure, parse_signed, scan_number};

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number that is not finite (NaN or infinite) was offered as a quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotFinite;

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident $symbol:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);
        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);
            /// The unit as it is printed.
            pub const SYMBOL: &'static str = $symbol;
            /// Makes the quantity from a constant known to be finite.
            pub const fn new(value: f64) -> Self {
                assert!(value.is_finite(), "a quantity is finite");
                Self(value)
            }
            /// The number in the unit of the type.
            pub const fn get(self) -> f64 {
                self.0
            }
            /// The size without the sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
        impl TryFrom<f64> for $name {
            type Error = NotFinite;
            fn try_from(value: f64) -> Result<Self, NotFinite> {
                if value.is_finite() { Ok(Self(value)) } else { Err(NotFinite) }
            }
        }
        impl Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&print(self.0, $symbol))
            }
        }
    )+};
}

quantities! {
    /// Volts, V.
    Volts "V";
    /// Ohms, Ω.
    Ohms "Ω";
    /// Amps, A.
    Amps "A";
    /// Watts, W.
    Watts "W";
    /// Metres, m.
    Metres "m";
    /// Conductor cross-section in mm².
    SquareMillimetres "mm²";
    /// Minutes of a person's time.
    Minutes "min";
}

impl Div<Ohms> for Volts {
    type Output = Amps;
    fn div(self, r: Ohms) -> Amps {
        Amps(self.0 / r.0)
    }
}
impl Mul<Ohms> for Amps {
    type Output = Volts;
    fn mul(self, r: Ohms) -> Volts {
        Volts(self.0 * r.0)
    }
}
impl Mul<Amps> for Volts {
    type Output = Watts;
    fn mul(self, i: Amps) -> Watts {
        Watts(self.0 * i.0)
    }
}
impl Div<Amps> for Volts {
    type Output = Ohms;
    fn div(self, i: Amps) -> Ohms {
        Ohms(self.0 / i.0)
    }
}

/// Prints `value` with three significant digits and the SI prefix that suits it (m, k, M).
fn print(value: f64, symbol: &str) -> String {
    let size = value.abs();
    let (scale, prefix) = match size {
        _ if size == 0.0 || symbol == "min" || symbol == "mm²" => (1.0, ""),
        _ if size >= 1e6 => (1e-6, "M"),
        _ if size >= 1e3 => (1e-3, "k"),
        _ if size >= 0.1 => (1.0, ""),
        _ => (1e3, "m"),
    };
    let scaled = value * scale;
    let digits = match scaled.abs() {
        a if a >= 99.95 => 0,
        a if a >= 9.995 => 1,
        _ => 2,
    };
    let mut text = format!("{scaled:.digits$}");
    if text.contains('.') {
        text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    format!("{text} {prefix}{symbol}")
}
