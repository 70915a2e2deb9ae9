//! What switches next, and in which order: diodes and limits at once, then electronics, relays and motors, fuses.

use super::walk::Walk;
use halfsplit::circuit::{Drive, ElementId, Emf, Primitive, Reset};
use halfsplit::index::Id;
use halfsplit::units::Volts;

impl Walk<'_> {
    /// Changes what must change next; whether anything did.
    pub(super) fn switch(&mut self, island: &[usize]) -> bool {
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
                Primitive::Source { emf, internal, limit: Some(limit) } => match self.emf(emf) {
                    Some(emf) => beyond(emf, volts, (internal.get(), limit.get()), self.active[k]),
                    // What gives nothing is not at its limit.
                    None => f64::from(u8::from(self.active[k])),
                },
                Primitive::ConverterOutput { emf, internal, limit: Some(limit), input }
                    if self.active[input.position()] =>
                {
                    beyond(emf.get(), volts, (internal.get(), limit.get()), self.active[k])
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

    /// Open-circuit voltage of a source where the controls stand now; nothing where it is open.
    fn emf(&self, emf: &Emf) -> Option<f64> {
        match emf {
            Emf::Fixed(volts) => Some(volts.get()),
            Emf::By { control, volts } => {
                let position = *self.positions.get(control.position())?;
                volts.get(position).copied().flatten().map(Volts::get)
            }
        }
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

/// How many volts a source is beyond the knee of its characteristic, where an EMF behind its resistance turns into a
/// steady current; how many short of it while it is taken to be in its limit.
fn beyond(emf: f64, volts: f64, (ohms, limit): (f64, f64), limited: bool) -> f64 {
    let over = (emf - volts) * emf.signum() - limit * ohms;
    if limited { -over } else { over }
}
