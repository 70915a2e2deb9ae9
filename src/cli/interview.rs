//! The complaint, asked in a few short questions.

use super::ask::{Asked, Asker};
use super::output::Output;
use super::volts::switched;
use crate::circuit::SetUp;
use crate::install::PartId;
use crate::job::{BLOWS, Complaint, System};
use crate::show::text;

/// Asks what is wrong, how it shows and with which switches; `None` when the person leaves.
pub(super) fn complaint(system: &System, asker: &mut dyn Asker, output: &Output) -> Option<Complaint> {
    let loads: Vec<PartId> =
        system.install.wiring().loads().into_iter().filter(|p| sight(system, *p).is_some()).collect();
    let what = what(system, &loads, asker, output)?;
    let first = *what.first()?;
    let (how, stays_on) = how(system, first, asker, output)?;
    output.talk("See it for yourself before anything is measured: switch it, and watch.");
    let usual = if stays_on { None } else { system.usual_set_up(first) };
    let set_up = when(system, usual, asker, output)?;
    let how_of = |part: &PartId| {
        let same = system.words(sight(system, *part)?)?;
        same.word(&how)
    };
    let (parts, words) = if let Some((fuse, word)) = system.blown_fuse_of(first, &how) {
        (vec![fuse], vec![word])
    } else {
        let words: Vec<usize> = what.iter().filter_map(how_of).collect();
        (what, words)
    };
    if words.len() != parts.len() {
        output.talk("these parts do not show in the same way: take them one at a time");
        return None;
    }
    Some(Complaint { what: parts, how: words, set_up })
}

fn sight(system: &System, part: PartId) -> Option<usize> {
    system.sight_of.iter().position(|p| *p == part)
}

fn what(system: &System, loads: &[PartId], asker: &mut dyn Asker, output: &Output) -> Option<Vec<PartId>> {
    loop {
        output.talk("What is wrong? One or several, by number or name:");
        for (i, load) in loads.iter().enumerate() {
            let part = &system.install.parts[*load];
            let place = text::place(system, part.place).map_or(String::new(), |p| format!(", at: {p}"));
            output.talk(&format!("  {} {}{place}", i + 1, part.label));
        }
        let Asked::Line(line) = asker.ask("number or name >") else { return None };
        let line = line.trim();
        if is_quit(line) {
            return None;
        }
        let by_name = system.part(line).filter(|p| loads.contains(p));
        let by_number: Option<Vec<PartId>> = line
            .split([' ', ','])
            .filter(|w| !w.is_empty())
            .map(|w| w.parse::<usize>().ok().and_then(|n| loads.get(n.checked_sub(1)?)).copied())
            .collect();
        match by_name.map(|p| vec![p]).or(by_number).filter(|list| !list.is_empty()) {
            Some(list) => return Some(list),
            None if line.is_empty() => {}
            None => output.talk("that is none of them: a number from the list, or a name as it stands there"),
        }
    }
}

/// The word, and whether it is about a part that should be off.
fn how(system: &System, part: PartId, asker: &mut dyn Asker, output: &Output) -> Option<(String, bool)> {
    let table = system.words(sight(system, part)?)?;
    // The last word of a table is what a good one shows while it is on: as a complaint it means that it stays on.
    let good = system.good_word(part)?;
    let mut choices: Vec<(String, String, bool)> = Vec::new();
    for (i, word) in table.words.iter().enumerate() {
        if i != good {
            choices.push((word.says.clone(), word.key.clone(), false));
        }
    }
    choices.push(("stays on when it is switched off".to_owned(), table.words[good].key.clone(), true));
    if system.blown_fuse_of(part, BLOWS).is_some() {
        choices.push(("blows its fuse".to_owned(), BLOWS.to_owned(), false));
    }
    loop {
        output.talk(&format!("How does {} show it?", system.install.parts[part].label));
        for (i, (says, ..)) in choices.iter().enumerate() {
            output.talk(&format!("  {} {says}", i + 1));
        }
        let Asked::Line(line) = asker.ask("number or word >") else { return None };
        let line = line.trim().to_lowercase();
        if is_quit(&line) {
            return None;
        }
        let number = line.parse::<usize>().ok().and_then(|n| choices.get(n.checked_sub(1)?));
        let chosen = number.or_else(|| choices.iter().find(|(says, key, _)| *says == line || *key == line));
        match chosen {
            Some((_, key, stays_on)) => return Some((key.clone(), *stays_on)),
            None if line.is_empty() => {}
            None => output.talk("that is none of them: a number from the list"),
        }
    }
}

fn when(system: &System, usual: Option<SetUp>, asker: &mut dyn Asker, output: &Output) -> Option<SetUp> {
    let rest = SetUp::at_rest(&system.circuit.netlist.controls);
    let first = usual.unwrap_or_else(|| rest.clone());
    loop {
        output.talk("Switches and engine when it shows:");
        output.talk(&format!("  1 {}", text::set_up(system, &first)));
        let names: Vec<&str> = system.install.controls.iter().map(|c| c.name.as_str()).collect();
        output.talk(&format!("  or those that are on, with commas: {}", names.join(", ")));
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

fn is_quit(line: &str) -> bool {
    matches!(line.trim(), "q" | "quit")
}
