//! What a person has measured of his own: `K1.87 = 11.9`, `drop F1 0.4`, `left lamp dark`.

use super::System;
use super::record::Gone;
use crate::belief::Probe;
use crate::choice::{Instruments, Target, Test};
use crate::circuit::SetUp;
use crate::diagnostic::{nearest, quoted};
use crate::install::{PartId, PointId};
use crate::knowledge::Notices;

/// The forms that are understood.
const FORMS: &str = "POINT = volts (against {}); POINT to POINT = volts; drop PART volts; PART word. \
                         Behind it, if the switches were others: with S1, S2=high; if a part was out: with S1, F1=out";

/// A test that the person has made, and what he found, as typed.
#[derive(Clone, Debug, PartialEq)]
pub struct Already {
    /// The test.
    pub test: Test,
    /// The value or word.
    pub value: String,
}

/// The form of amps by a clamp meter.
pub const AMPS_FORM: &str = "amps PART amps";

/// The forms of ohms where it is dead.
pub const OHMS_FORM: &str = "ohms PART ohms; ohms POINT to POINT = ohms";

const DROP: &str = "drop ";
const AMPS: &str = "amps ";
const OHMS: &str = "ohms ";
const WITH: &str = " with ";
const TO: &str = " to ";

impl System {
    /// Understands a line as something that was measured already, with the switches as they stand (`set_up`) if it names none;
    /// `None` when it looks like nothing of the sort.
    ///
    /// # Errors
    /// What is wrong with it, and what would be accepted.
    pub fn already(&self, instruments: &Instruments, line: &str, set_up: &SetUp) -> Option<Result<Already, String>> {
        let line = line.trim();
        if line.get(..OHMS.len()).is_some_and(|start| start.eq_ignore_ascii_case(OHMS)) {
            let rest = line.get(OHMS.len()..)?;
            return Some(self.with_switches(rest, set_up).and_then(|(rest, set_up)| {
                let (ends, value) = match rest.split_once('=') {
                    Some((points, value)) => (self.leads(points.trim())?, value.trim()),
                    None => self.across(rest)?,
                };
                self.made(Some(self.ohms(set_up, ends)), value)
            }));
        }
        let with = line.rfind(WITH);
        let equals = line.find('=').filter(|at| with.is_none_or(|with| *at < with));
        if let Some(equals) = equals {
            let (points, value) = (line.get(..equals)?.trim(), line.get(equals + 1..)?.trim());
            return Some(self.with_switches(value, set_up).and_then(|(value, set_up)| {
                let leads = self.leads(points)?;
                self.made(self.volts(instruments, set_up, leads, false), value)
            }));
        }
        if line.get(..DROP.len()).is_some_and(|start| start.eq_ignore_ascii_case(DROP)) {
            let rest = line.get(DROP.len()..)?;
            return Some(self.with_switches(rest, set_up).and_then(|(rest, set_up)| {
                let (ends, value) = self.across(rest)?;
                self.made(self.volts(instruments, set_up, ends, true), value)
            }));
        }
        if line.get(..AMPS.len()).is_some_and(|start| start.eq_ignore_ascii_case(AMPS)) {
            let rest = line.get(AMPS.len()..)?;
            return Some(self.with_switches(rest, set_up).and_then(|(rest, set_up)| {
                let (part, name, value) = self.part_and_value(rest, AMPS_FORM)?;
                let test = self.amps(set_up, part).ok_or_else(|| Gone::Current(name.to_owned()).says())?;
                self.made(Some(test), value)
            }));
        }
        self.looked_at(line, set_up)
    }

    /// The forms, with this install's reference, and with a part of it that can be bridged.
    pub fn already_forms(&self) -> String {
        let reference = self.install.points.get(self.reference).map_or("", |p| p.name.as_str());
        let bridged = self.install.parts.ids().find_map(|part| Some((part, self.bridging(part)?)));
        let bridged = bridged.map_or(String::new(), |(part, bridging)| {
            format!("; if a jumper was in its place: with S1, {}={}", self.install.parts[part].id, bridging.state)
        });
        format!("{}{bridged}", FORMS.replace("{}", reference))
    }

    fn made(&self, test: Option<Test>, value: &str) -> Result<Already, String> {
        let test = test.ok_or_else(|| "there is no voltmeter at hand".to_owned())?;
        if value.is_empty() {
            return Err(format!("no value stands there: {}", self.already_forms()));
        }
        Ok(Already { test, value: value.to_owned() })
    }

    /// What stands before ` with `, and the set-up that stands behind it.
    fn with_switches<'l>(&self, text: &'l str, usual: &SetUp) -> Result<(&'l str, SetUp), String> {
        let Some((text, names)) = text.rsplit_once(WITH) else { return Ok((text.trim(), usual.clone())) };
        let mut set_up = SetUp::at_rest(&self.circuit.netlist.controls);
        let names = names.trim();
        if !matches!(names, "all off" | "all at rest") {
            for name in names.split(',').map(str::trim).filter(|name| !name.is_empty()) {
                set_up = self.switched(set_up, name)?;
            }
        }
        Ok((text.trim(), set_up))
    }

    /// Red and black: one point against the reference, or two.
    fn leads(&self, text: &str) -> Result<[PointId; 2], String> {
        if let Some(red) = self.point(text) {
            return Ok([red, self.reference]);
        }
        match text.split_once(TO) {
            Some((red, black)) => Ok([self.point_or_why(red.trim())?, self.point_or_why(black.trim())?]),
            None => Ok([self.point_or_why(text)?, self.reference]),
        }
    }

    fn point_or_why(&self, name: &str) -> Result<PointId, String> {
        let exact = self.point(name);
        if let Some(point) = exact.or_else(|| self.point_in_any_case(name)) {
            return Ok(point);
        }
        let part = self.part_in_any_case(name);
        let points = part.map(|part| self.points_of(part)).unwrap_or_default();
        // A part with one terminal is that point.
        match points[..] {
            [point] => return Ok(point),
            [] => {}
            _ => {
                let names: Vec<&str> = points.iter().map(|p| self.install.points[*p].name.as_str()).collect();
                return Err(format!("{} has the points {}", quoted(name), names.join(", ")));
            }
        }
        let near = nearest(name, self.install.points.iter().map(|p| p.name.as_str()));
        let hint = near.map_or(String::new(), |near| format!("; did you mean {}?", quoted(near)));
        Err(format!("no point called {}{hint}\n{}", quoted(name), self.already_forms()))
    }

    fn point_in_any_case(&self, name: &str) -> Option<PointId> {
        let same = name.to_lowercase();
        let mut found = self.install.points.enumerate().filter(|(_, p)| p.name.to_lowercase() == same);
        let only = found.next().map(|(id, _)| id);
        only.filter(|_| found.next().is_none())
    }

    fn part_in_any_case(&self, name: &str) -> Option<PartId> {
        let same = name.to_lowercase();
        let is = |p: &crate::install::Part| p.id.to_lowercase() == same || p.label.to_lowercase() == same;
        self.part(name).or_else(|| self.install.parts.enumerate().find(|(_, p)| is(p)).map(|(id, _)| id))
    }

    fn points_of(&self, part: PartId) -> Vec<PointId> {
        self.install.parts.get(part).map(|p| p.terminals.clone()).unwrap_or_default()
    }

    /// `F1 0.4`: the two ends of a part, and what stands behind it.
    fn across<'l>(&self, text: &'l str) -> Result<([PointId; 2], &'l str), String> {
        let (part, name, value) = self.part_and_value(text, &self.already_forms())?;
        let ends = self.ends(part).ok_or_else(|| {
            let points = self.points_of(part);
            let names: Vec<&str> = points.iter().map(|p| self.install.points[*p].name.as_str()).collect();
            format!(
                "{} has not just two ends: name them, POINT to POINT = volts; it has {}",
                quoted(name),
                names.join(", ")
            )
        })?;
        Ok((ends, value))
    }

    /// `F1 0.4`: the longest name in front that is a part, and what stands behind it. `forms`: what would be accepted.
    fn part_and_value<'l>(&self, text: &'l str, forms: &str) -> Result<(PartId, &'l str, &'l str), String> {
        let cuts = text.char_indices().rev().filter(|(_, c)| c.is_whitespace()).map(|(at, _)| at);
        for cut in cuts {
            let (name, value) = text.split_at(cut);
            if let Some(part) = self.part_in_any_case(name.trim()) {
                return Ok((part, name.trim(), value.trim()));
            }
        }
        if self.part_in_any_case(text.trim()).is_some() {
            return Err(format!("no value stands there: {forms}"));
        }
        let name = text.rsplit_once(char::is_whitespace).map_or(text, |(name, _)| name).trim();
        let near = nearest(name, self.install.parts.iter().map(|p| p.id.as_str()));
        let hint = near.map_or(String::new(), |near| format!("; did you mean {}?", quoted(near)));
        Err(format!("no part called {}{hint}\n{forms}", quoted(name)))
    }

    /// `left lamp dark`: something that can be seen, and a word for it.
    fn looked_at(&self, line: &str, usual: &SetUp) -> Option<Result<Already, String>> {
        let find = |text: &str| {
            let cuts = text.char_indices().rev().filter(|(_, c)| c.is_whitespace()).map(|(at, _)| at);
            cuts.map(|cut| text.split_at(cut)).find_map(|(name, word)| {
                let (name, word) = (name.trim(), word.trim());
                let sight = self.sight_with(name, word).or_else(|| self.sight_in_any_case(name))?;
                Some((sight, name.to_owned(), word.to_owned()))
            })
        };
        // Only a line that begins with something to be seen is taken for a look.
        find(line)?;
        Some(self.with_switches(line, usual).and_then(|(text, set_up)| {
            let Some((sight, name, word)) = find(text) else {
                return Err(format!("no word stands there: {}", self.already_forms()));
            };
            let table = self.words(sight);
            if table.is_none_or(|t| t.word(&word.to_lowercase()).is_none()) {
                let known: Vec<&str> = table.iter().flat_map(|t| &t.words).map(|w| w.says.as_str()).collect();
                return Err(format!("{} can be {}", quoted(&name), known.join(", ")));
            }
            let part = self.sights.get(sight).map(|s| s.part).ok_or_else(|| self.already_forms())?;
            let set_up = self.as_seen(set_up, sight);
            let test = Test { set_up, probe: Probe::Look(sight), at: Target::Part(part) };
            Ok(Already { test, value: word.to_lowercase() })
        }))
    }

    /// The first sight of a part that has this word: `X3 green` is a look at its pins, `F1 blown` one at the fuse where it sits.
    fn sight_with(&self, part: &str, word: &str) -> Option<usize> {
        let (part, word) = (self.part_in_any_case(part)?, word.to_lowercase());
        let mut own = self.sights.iter().enumerate().filter(|(_, s)| s.part == part);
        own.find(|(_, s)| s.kind_sight.is_some() && s.table.word(&word).is_some()).map(|(sight, _)| sight)
    }

    fn sight_in_any_case(&self, name: &str) -> Option<usize> {
        let same = name.to_lowercase();
        let part = || {
            let part = self.part_in_any_case(name)?;
            let marks = || self.sights.iter().position(|s| s.part == part && s.notices == Notices::Marks);
            self.sight(part).or_else(marks)
        };
        let own = || self.sights.iter().position(|s| self.sight_name(s).to_lowercase() == same);
        self.sight_called(name).or_else(own).or_else(part)
    }

    /// `S1` (its first position off rest) or `S1=high`, as a change of a set-up.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn switched(&self, set_up: SetUp, text: &str) -> Result<SetUp, String> {
        let controls = &self.install.controls;
        let (name, position) = match text.split_once('=') {
            Some((name, position)) => (name.trim(), Some(position.trim())),
            None => (text.trim(), None),
        };
        let found = controls.enumerate().find(|(_, c)| c.name == name);
        if let (None, Some(state)) = (found, position)
            && let Some(set_up) = self.with_by_hand(&set_up, name, state)
        {
            return Ok(set_up);
        }
        let Some((id, control)) = found else {
            if let [others @ .., last] = &self.words_by_hand(name)[..] {
                return Err(format!("{} can be {} or {last}", quoted(name), others.join(", ")));
            }
            let near = nearest(name, controls.iter().map(|c| c.name.as_str()));
            let hint = near.map_or(String::new(), |n| format!("; did you mean {}?", quoted(n)));
            return Err(format!("no control called {}{hint}", quoted(name)));
        };
        let at = self.circuit.control_of[id];
        let rest = self.circuit.netlist.controls[at].rest;
        let index = match position {
            // What rests `on`, such as an isolator, is on when it is said to be.
            None => {
                let on = control.positions.iter().position(|p| p == "on");
                on.or_else(|| (0..control.positions.len()).find(|p| *p != rest))
            }
            Some(word) => control.positions.iter().position(|p| p == word),
        };
        match index {
            Some(index) => Ok(set_up.with(at, index)),
            None => Err(format!("{} has the positions {}", quoted(name), control.positions.join(", "))),
        }
    }
}
