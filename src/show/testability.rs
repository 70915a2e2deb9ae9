//! A campaign: its figures for people and for programs, its trials one by one.

use super::baselines;
use super::json::{FORMAT, answer, culprit, fault, set_up, test_value, verdict_key};
use super::text::{self, line, paragraph, row};
use crate::circuit::NodeId;
use crate::job::{Culprit, System, Taken};
use crate::testability::{
    Alike, Campaign, Change, Difference, Faults, Figures, Fitted, Mark, Reliability, Stop, Trial,
};
use serde_json::{Value, json};

/// Repairs named together that are listed at most.
const GROUPS: usize = 5;

/// The figures of a campaign in words.
pub fn report(campaign: &Campaign) -> String {
    let mut out = String::new();
    let (plan, figures) = (&campaign.plan, &campaign.figures);
    paragraph(&mut out, 0, &format!("{}: {}", campaign.system.install.title, hidden(plan.faults)));
    let how = if plan.noise {
        format!("with noise, parts straying {} times as far as usual", plan.tolerance_scale)
    } else {
        "exact readings".to_owned()
    };
    row(&mut out, "Readings", &how);
    row(&mut out, "Trials", &format!("{}, seed {}", figures.trials, plan.seed));
    if plan.faults != Faults::None {
        let detected = format!("{} of {} hidden states cause a complaint", percent(figures.detected), figures.faults);
        row(&mut out, "Detected", &detected);
    }
    line(&mut out, "");
    for (mark, _) in Mark::ALL {
        line(&mut out, &format!("{:<46}{:>10}", says(mark), percent(figures.share(mark))));
    }
    line(&mut out, &format!("{:<46}{:>10}", "Wrong and sure: 99 % limit", finely(figures.wrong_upper)));
    line(&mut out, "");
    if plan.faults != Faults::None {
        for (repairs, share) in ["1 repair", "at most 2", "at most 3"].iter().zip(figures.isolated) {
            line(&mut out, &format!("{:<46}{:>10}", format!("Isolated to {repairs}"), percent(share)));
        }
    }
    let (mean, worst) = figures.tests;
    line(&mut out, &format!("{:<36}{:>20}", "Tests: mean, worst", format!("{mean:.1}, {worst}")));
    let (mean, most, worst) = figures.minutes;
    let minutes = format!("{mean:.1}, {most:.1}, {worst:.1}");
    line(&mut out, &format!("{:<36}{minutes:>20}", "Minutes: mean, 95 % below, worst"));
    if plan.faults != Faults::None {
        line(&mut out, &format!("{:<36}{:>20.1}", "Minutes to the proven repair: mean", figures.minutes_proven));
    }
    if plan.faults == Faults::Pair {
        line(&mut out, &format!("{:<46}{:>10}", "Complaint cured by the second verdict", percent(figures.cured)));
    }
    trust(&mut out, figures);
    if !figures.groups.is_empty() {
        line(&mut out, "");
        line(&mut out, "Most often not told apart:");
        for group in figures.groups.iter().take(GROUPS) {
            let names = repairs(&group.repairs).join("; ");
            paragraph(&mut out, 2, &format!("{} {names}", percent(group.share)));
        }
    }
    further(&mut out, campaign);
    baselines::report(&mut out, campaign);
    out
}

/// What no offered test tells apart, and where one more test point or lamp would.
fn further(out: &mut String, campaign: &Campaign) {
    if campaign.alike.is_empty() {
        return;
    }
    line(out, "");
    line(out, "Alike to every test with all parts in their places:");
    for alike in &campaign.alike {
        let names: Vec<&str> = alike.repairs.iter().map(|(repair, _)| repair.as_str()).collect();
        paragraph(out, 2, &format!("{} {}", percent(alike.share), names.join("; ")));
        let Some(further) = &alike.further else {
            paragraph(out, 4, "no further test point or lamp would split it");
            continue;
        };
        let system = &campaign.system;
        let at = text::place(system, system.install.points[further.point].place);
        let at = at.map_or(String::new(), |place| format!(", at: {place}"));
        let (what, point) = (fitted(further.fitted), text::point(system, further.point));
        paragraph(out, 4, &format!("one more {what} would split it into {}: {point}{at}", further.parts.len()));
        for (repairs, share) in &further.parts {
            paragraph(out, 6, &format!("{} {}", percent(*share), repairs.join("; ")));
        }
    }
}

fn fitted(fitted: Fitted) -> &'static str {
    match fitted {
        Fitted::TestPoint => "test point",
        Fitted::Lamp => "indicator lamp",
    }
}

fn alike(system: &System, alike: &Alike) -> Value {
    let shared = |(repair, share): &(String, f64)| json!({"repair": repair, "share": share});
    let part = |(repairs, share): &(Vec<String>, f64)| json!({"repairs": repairs, "share": share});
    json!({
        "share": alike.share,
        "repairs": alike.repairs.iter().map(shared).collect::<Vec<_>>(),
        "add": alike.further.as_ref().map(|further| json!({
            "what": fitted(further.fitted),
            "point": system.install.points[further.point].name,
            "bits": further.bits,
            "parts": further.parts.iter().map(part).collect::<Vec<_>>(),
        })),
    })
}

/// How far the announced probabilities can be relied on, and what stopping at other figures would have come to.
fn trust(out: &mut String, figures: &Figures) {
    line(out, "");
    line(out, &format!("{:<22}{:>12}{:>12}{:>10}", "Doubt at the verdict", "announced", "right", "trials"));
    for bin in &figures.calibration {
        let doubt = format!("{} to {}", bin.from, bin.to);
        let (announced, right) = (finely(bin.announced), finely(bin.right));
        line(out, &format!("  {doubt:<20}{announced:>12}{right:>12}{:>10}", bin.trials));
    }
    line(out, "");
    line(out, &format!("{:<22}{:>12}{:>12}{:>10}", "Stopping once P holds", "reached", "wrong", "minutes"));
    for stop in &figures.curve {
        let (reached, wrong) = (percent(stop.reached), finely(stop.wrong));
        line(out, &format!("  {:<20}{reached:>12}{wrong:>12}{:>10.1}", stop.at, stop.minutes));
    }
}

/// The same for programs.
pub fn json(campaign: &Campaign) -> Value {
    let (plan, figures) = (&campaign.plan, &campaign.figures);
    let system = &campaign.system;
    let groups = figures.groups.iter().map(|g| json!({"share": g.share, "repairs": repairs(&g.repairs)}));
    let unnoticed = campaign.unnoticed.iter().map(|hidden| {
        let one = |(index, ohms): &(usize, Option<crate::units::Ohms>)| {
            let fault = system.possible.iter().nth(*index);
            json!({
                "part": fault.map(|f| &f.part_id),
                "mode": fault.map(|f| &f.mode),
                "ohms": ohms.map(crate::units::Ohms::get),
            })
        };
        let changes = hidden.changes.iter().map(|c| change(system, c));
        hidden.faults.iter().map(one).chain(changes).collect::<Vec<_>>()
    });
    let mut value = json!({
        "format": FORMAT,
        "install": system.install.title,
        "hidden": match plan.faults { Faults::Single => "single",
            Faults::Pair => "pair",
            Faults::Wiring => "wiring",
            Faults::Altered => "altered",
            Faults::None => "none",
        },
        "noise": plan.noise,
        "tolerance_scale": plan.tolerance_scale,
        "seed": plan.seed,
        "trials": figures.trials,
        "no_fault": figures.no_fault,
        "faults": figures.faults,
        "detected": figures.detected,
        "isolated_1": figures.isolated[0],
        "isolated_2": figures.isolated[1],
        "isolated_3": figures.isolated[2],
        "mean_tests": figures.tests.0,
        "worst_tests": figures.tests.1,
        "mean_minutes": figures.minutes.0,
        "p95_minutes": figures.minutes.1,
        "worst_minutes": figures.minutes.2,
        "mean_minutes_proven": figures.minutes_proven,
        "wrong_confident_upper": figures.wrong_upper,
        "calibration": figures.calibration.iter().map(bin).collect::<Vec<_>>(),
        "curve": figures.curve.iter().map(stop).collect::<Vec<_>>(),
        "groups": groups.collect::<Vec<_>>(),
        "alike": campaign.alike.iter().map(|a| alike(system, a)).collect::<Vec<_>>(),
        "undetected": unnoticed.collect::<Vec<_>>(),
    });
    if plan.faults == Faults::Pair {
        value["cured_by_second"] = json!(figures.cured);
    }
    baselines::json(&mut value, campaign);
    for (mark, key) in Mark::ALL {
        value[key] = json!(figures.share(mark));
    }
    value
}

fn bin(bin: &Reliability) -> Value {
    json!({
        "doubt_from": bin.from,
        "doubt_to": bin.to,
        "announced": bin.announced,
        "true": bin.right,
        "trials": bin.trials,
    })
}

fn stop(stop: &Stop) -> Value {
    json!({"p": stop.at, "reached": stop.reached, "wrong": stop.wrong, "mean_minutes": stop.minutes})
}

/// One trial for programs: hidden state, complaint, every test and reading, verdict.
pub fn trace(system: &System, trial: &Trial) -> Value {
    let hidden = trial.hidden.iter().map(|hid| {
        let mut value = fault(system, hid.fault);
        value["ohms"] = json!(hid.ohms.map(crate::units::Ohms::get));
        value
    });
    let changes = trial.changes.iter().map(|c| change(system, c));
    let culprits = |named: &[Culprit]| named.iter().map(|c| culprit(system, c)).collect::<Vec<_>>();
    let second = trial.second.as_ref().map(|second| {
        json!({
            "with": set_up(system, &second.complaint.set_up),
            "readings": readings(system, &second.taken),
            "verdict": verdict_key(&second.verdict),
            "named": culprits(&second.named),
        })
    });
    json!({
        "hidden": hidden.collect::<Vec<_>>(),
        "changes": changes.collect::<Vec<_>>(),
        "weight": trial.weight,
        "with": set_up(system, &trial.complaint.set_up),
        "readings": readings(system, &trial.taken),
        "verdict": verdict_key(&trial.verdict),
        "named": culprits(&trial.named),
        "something_not_modelled": trial.unknown,
        "mark": trial.mark.key(),
        "tests": trial.tests(),
        "minutes": trial.minutes,
        "minutes_proven": trial.minutes_proven,
        "second": second,
        "cured": trial.cured,
    })
}

/// A difference from the description.
fn change(system: &System, change: &Change) -> Value {
    let node = |node: NodeId| system.circuit.netlist.nodes.get(node).map(|n| n.name.clone());
    let mut value = match change.what {
        Difference::OtherLoad(factor) => json!({"what": "another load", "times": factor}),
        Difference::AddedWire(a, b, ohms) => {
            json!({"what": "an added wire", "from": node(a), "to": node(b), "ohms": ohms.get()})
        }
        Difference::AddedLoad(at, ohms) => json!({"what": "an added load", "from": node(at), "ohms": ohms.get()}),
        Difference::LeftOut => json!({"what": "a part left out"}),
    };
    let parts = change.parts.iter().filter_map(|part| system.install.parts.get(*part));
    value["parts"] = json!(parts.map(|part| part.id.clone()).collect::<Vec<_>>());
    value
}

fn readings(system: &System, taken: &[Taken]) -> Vec<Value> {
    let one = |taken: &Taken| {
        let mut value = test_value(system, &taken.test);
        value["read"] = answer(system, &taken.answer, &taken.test.probe);
        value["complaint"] = json!(taken.complaint);
        value["minutes"] = json!(taken.minutes.get());
        value
    };
    taken.iter().map(one).collect()
}

fn hidden(faults: Faults) -> &'static str {
    match faults {
        Faults::Single => "one fault hidden",
        Faults::Pair => "two faults hidden",
        Faults::Wiring => "one mistake of wiring hidden",
        Faults::Altered => "it differs from its description",
        Faults::None => "nothing wrong, the complaint mistaken",
    }
}

fn says(mark: Mark) -> &'static str {
    match mark {
        Mark::Right => "Right",
        Mark::TooBroad => "Right, but among too many",
        Mark::WrongConfident => "Wrong, and sure of it",
        Mark::Misfit => "'The readings do not fit', or 'no fault'",
        Mark::Undecided => "No verdict",
    }
}

/// The repairs of groups, as suspects name them.
fn repairs(groups: &[Vec<String>]) -> Vec<String> {
    let one = |words: &Vec<String>| if words.is_empty() { "nothing wrong".to_owned() } else { words.join(" and ") };
    groups.iter().map(one).collect()
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

fn finely(share: f64) -> String {
    format!("{:.2} %", 100.0 * share)
}
