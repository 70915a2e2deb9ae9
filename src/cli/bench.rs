//! `--on bench`: what is not here and what stands in for it, asked before the job begins.

use super::Ending;
use super::args::{Diagnose, Where};
use super::ask::{Asked, Asker};
use super::desk::Desk;
use super::files;
use super::interview::is_quit;
use super::output::Output;
use crate::job::System;
use crate::job::record::{Course, OnBench};

/// Whether the install can be worked on.
pub(super) enum Laid {
    /// As it lies, and what stands in on the bench if it lies there.
    Out(Box<System>, Option<OnBench>),
    /// The person has left, or it cannot be done.
    Left(Ending),
}

/// Lays the install out where the arguments say, or where the job was begun.
pub(super) fn laid_out(
    args: &Diagnose,
    system: System,
    course: Option<&Course>,
    desk: &mut Desk<'_>,
    output: &Output,
) -> Laid {
    let on_bench = match course {
        Some(course) => {
            if args.on.is_some_and(|on| (on == Where::Bench) != course.bench.is_some()) {
                output.talk("This job goes on where it was begun: its readings were taken there.");
            }
            course.bench.clone()
        }
        None if args.on == Some(Where::Bench) => match ask(&system, desk, output) {
            Some(bench) => Some(bench),
            None => return Laid::Left(Ending::NoVerdict),
        },
        None => None,
    };
    let Some(bench) = on_bench else { return Laid::Out(Box::new(system), None) };
    match files::on_bench(system, &bench, output) {
        Some(system) => Laid::Out(Box::new(system), Some(bench)),
        None => Laid::Left(Ending::BadInput),
    }
}

/// Asks for the limit of the supply and for the loads that are not here; `None`: the person leaves.
fn ask(system: &System, desk: &mut Desk<'_>, output: &Output) -> Option<OnBench> {
    output.talk("On the bench: a supply with a current limit instead of the vehicle's.");
    let limit = limit(system, desk, output)?;
    let loads = system.bench_loads();
    if loads.is_empty() {
        return Some(OnBench { limit, dummies: Vec::new() });
    }
    output.talk("Which loads are not here? A dummy lamp stands in for each.");
    for (i, id) in loads.iter().enumerate() {
        output.talk(&format!("  {} {}", i + 1, system.install.parts[*id].label));
    }
    loop {
        let line = asked(desk, "numbers, a all, Enter: all here >")?;
        let line = line.trim();
        let chosen: Option<Vec<usize>> = match line {
            "" => Some(Vec::new()),
            "a" | "all" => Some((0..loads.len()).collect()),
            _ => line.split([',', ' ']).filter(|part| !part.is_empty()).map(|part| at(part, loads.len())).collect(),
        };
        match chosen {
            Some(chosen) => {
                let mut dummies: Vec<String> = Vec::new();
                for id in chosen.into_iter().filter_map(|i| loads.get(i)) {
                    let name = &system.install.parts[*id].id;
                    if !dummies.contains(name) {
                        dummies.push(name.clone());
                    }
                }
                return Some(OnBench { limit, dummies });
            }
            None => output.talk(&format!("numbers from 1 to {} with commas, a, or Enter", loads.len())),
        }
    }
}

fn at(number: &str, count: usize) -> Option<usize> {
    number.parse::<usize>().ok()?.checked_sub(1).filter(|at| *at < count)
}

fn limit(system: &System, desk: &mut Desk<'_>, output: &Output) -> Option<f64> {
    let usual = system.usual_limit().unwrap_or(1.0);
    loop {
        let line = asked(desk, &format!("current limit in amps [{usual}] >"))?;
        let typed = line.trim().replace(',', ".");
        if typed.is_empty() {
            return Some(usual);
        }
        match typed.trim_end_matches(['A', 'a']).trim().parse::<f64>() {
            Ok(amps) if amps > 0.0 && amps <= 200.0 => return Some(amps),
            _ => output.talk("amps, such as 10 or 2.5"),
        }
    }
}

fn asked(desk: &mut Desk<'_>, prompt: &str) -> Option<String> {
    match desk.ask(prompt) {
        Asked::Line(line) if is_quit(&line) => None,
        Asked::Line(line) => Some(line),
        Asked::End => None,
    }
}
