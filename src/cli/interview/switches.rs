//! The switches with which a complaint shows.

use super::super::ask::{Asked, Asker};
use super::super::output::Output;
use super::super::volts::switched;
use super::choose::is_quit;
use crate::circuit::SetUp;
use crate::job::System;
use crate::show::text;

/// Asks for the set-up; `usual` is offered first.
pub(super) fn ask(system: &System, usual: Option<SetUp>, asker: &mut dyn Asker, output: &Output) -> Option<SetUp> {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let first = usual.unwrap_or_else(|| rest.clone());
    loop {
        let engine = if system.engine().is_some() { " and engine" } else { "" };
        output.talk(&format!("Switches{engine} when it shows:"));
        output.talk(&format!("  1 {}", text::set_up(system, &first)));
        let controls = &system.install.controls;
        let names: Vec<&str> = controls.iter().map(|c| c.name.as_str()).collect();
        output.talk(&format!("  or those that are on, with commas: {}", names.join(", ")));
        let other = controls.iter().find_map(|c| Some(format!("{}={}", c.name, c.positions.last()?)));
        output.talk(&format!("  another position like this: {}", other.unwrap_or_default()));
        let Asked::Line(line) = asker.ask("1, or names >") else { return None };
        let line = line.trim();
        if is_quit(line) {
            return None;
        }
        match line {
            "" => continue,
            "1" => return Some(first),
            "off" | "all off" => return Some(rest),
            _ => {}
        }
        let mut set_up = rest.clone();
        let mut wrong = None;
        for name in line.split(',').map(str::trim).filter(|n| !n.is_empty()) {
            match switched(system, set_up.clone(), name) {
                Ok(next) => set_up = next,
                Err(message) => wrong = Some(message),
            }
        }
        match wrong {
            None => return Some(set_up),
            Some(message) => output.talk(&message),
        }
    }
}
