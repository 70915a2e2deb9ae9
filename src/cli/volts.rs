//! `halfsplit volts`: what every point along the way of each load's current should read.

use super::Ending;
use super::args::Volts;
use super::files;
use super::output::Output;
use crate::circuit::{Edit, SetUp};
use crate::diagnostic::{nearest, quoted};
use crate::job::System;
use crate::network::{Network, Operating};
use crate::show::volts::{Picture, json, states, table};
use crate::units::{Dimension, Ohms, parse_figure};

pub(super) fn run(args: &Volts, output: &mut Output) -> Ending {
    let Some((_, system, _)) = files::system(&args.install, output) else {
        return Ending::BadInput;
    };
    let (set_up, edits) = match asked(&system, args) {
        Ok(asked) => asked,
        Err(message) => {
            output.say(&format!("error: {message}"));
            return Ending::BadInput;
        }
    };
    let network = Network::new(&system.circuit.netlist);
    let rest_set_up = SetUp::at_rest(&system.circuit.netlist.controls);
    let rest = one(&network, &edits, &network.fresh(), &rest_set_up);
    let state = rest.and_then(|rest| {
        let state = one(&network, &edits, rest.memory(), &set_up)?;
        Ok((rest, state))
    });
    let (rest, state) = match state {
        Ok(states) => states,
        Err(why) => {
            output.say(&format!("error: the circuit cannot be solved: {why}"));
            return Ending::BadInput;
        }
    };
    let picture = Picture { system: &system, network: &network, rest: &rest, state: &state, set_up: &set_up };
    let traces = system.traces_in(&state);
    if output.is_json() {
        output.json(&json(&picture, &traces));
    } else {
        for trace in &traces {
            output.print(&table(&picture, trace));
            output.print("\n");
        }
        output.print(&states(&picture));
    }
    Ending::Good
}

fn one<'n>(
    network: &Network<'n>,
    edits: &[Edit],
    before: &crate::network::Memory,
    set_up: &SetUp,
) -> Result<Operating<'n>, String> {
    let branches = network.enter(edits, before, set_up).map_err(|u| u.why)?;
    let likeliest = branches.into_iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
    likeliest.map(|b| b.state).ok_or_else(|| "it has no operating point".to_owned())
}

/// The set-up and the fault that the arguments name.
fn asked(system: &System, args: &Volts) -> Result<(SetUp, Vec<Edit>), String> {
    let mut set_up = SetUp::at_rest(&system.circuit.netlist.controls);
    for on in &args.on {
        set_up = switched(system, set_up, on)?;
    }
    let edits = match &args.fault {
        Some(text) => fault(system, text)?,
        None => Vec::new(),
    };
    Ok((set_up, edits))
}

/// `S1` (its first position off rest) or `S1=high`.
pub(super) fn switched(system: &System, set_up: SetUp, text: &str) -> Result<SetUp, String> {
    system.switched(set_up, text)
}

/// `PART MODE` or `PART MODE SIZE`; a part's id may hold spaces.
fn fault(system: &System, text: &str) -> Result<Vec<Edit>, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    for split in (1..words.len()).rev() {
        let part = words[..split].join(" ");
        let Some(id) = system.fault(&part, words[split]) else { continue };
        let fault = &system.suspects.faults()[id];
        let rest = words[split + 1..].join(" ");
        let ohms = match (&fault.severity, rest.as_str()) {
            (None, "") => Ohms::ZERO,
            (Some(range), "") => {
                // The middle of the range on a logarithmic scale.
                Ohms::try_from((range.low.get() * range.high.get()).sqrt()).unwrap_or(range.low)
            }
            (_, size) => ohms(size)?,
        };
        return Ok(fault.effect.edits(ohms));
    }
    let known: Vec<String> = system.possible.iter().map(|f| format!("{} {}", f.part_id, f.mode)).collect();
    // A part that is known has its modes listed; otherwise the nearest, with the size at the end left out or not.
    let modes_of = |part: &str| -> Vec<&str> {
        system.possible.iter().filter(|f| f.part_id == part).map(|f| f.mode.as_str()).collect()
    };
    let modes = (1..=words.len()).rev().map(|n| modes_of(&words[..n].join(" "))).find(|m| !m.is_empty());
    let near = (1..=words.len()).rev().find_map(|n| nearest(&words[..n].join(" "), known.iter().map(String::as_str)));
    let hint = match (near, modes) {
        (Some(near), _) => format!("; did you mean {}?", quoted(near)),
        (None, Some(modes)) => format!("; that part can be {}", modes.join(", ")),
        (None, None) => String::new(),
    };
    Err(format!("no fault called {}{hint}", quoted(text)))
}

fn ohms(size: &str) -> Result<Ohms, String> {
    let wrong = |why: String| format!("{} is no size of a fault: {why}", quoted(size));
    let figure = parse_figure(size).map_err(|_| wrong("it is given as 5 ohm or 0.2 ohm".to_owned()))?;
    if figure.dimension != Dimension::Ohms {
        return Err(wrong("it is given in ohm".to_owned()));
    }
    Ohms::try_from(figure.value).map_err(|_| wrong("it is not finite".to_owned()))
}
