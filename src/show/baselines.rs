//! How well tests are chosen: other ways of choosing them on the same trials, the optimum of the reduced install, and tests that
//! were never asked for.

use super::json::test_value;
use super::text::{self, line, paragraph};
use crate::belief::Probe;
use crate::choice::{Target, Test};
use crate::job::{System, measured};
use crate::testability::{Baselines, Campaign, Reduced};
use serde_json::{Value, json};

/// Tests that were never asked for that are listed at most.
const LISTED: usize = 5;

/// The figures in words.
pub(super) fn report(out: &mut String, campaign: &Campaign) {
    if let Some(baselines) = &campaign.baselines {
        beside(out, baselines);
    }
    if let Some(reduced) = &campaign.reduced {
        line(out, "");
        line(
            out,
            &format!("Reduced to {} faults and {} tests{:>10}{:>8}", reduced.faults, reduced.tests, "minutes", "times"),
        );
        let rows = [
            ("This program", reduced.mean_minutes),
            ("Looking some tests ahead", reduced.rollout_minutes),
            ("The best that is possible", reduced.optimal_minutes),
        ];
        for (who, minutes) in rows {
            let times = if reduced.optimal_minutes > 0.0 { minutes / reduced.optimal_minutes } else { 1.0 };
            line(out, &format!("  {who:<34}{minutes:>10.2}{times:>10.3}"));
        }
    }
    never_useful(out, campaign);
}

fn beside(out: &mut String, baselines: &Baselines) {
    line(out, "");
    let head = format!("Beside {}", text::counted(baselines.trials, "trial"));
    line(out, &format!("{head:<24}{:>8}{:>8}{:>8}{:>8}", "minutes", "tests", "right", "ratio"));
    for (k, who) in ["This program", "Half-split", "From supply to earth"].into_iter().enumerate() {
        let ratio = if k == 0 { String::new() } else { format!("{:.2}", ratio(baselines, k)) };
        let (minutes, tests) = (baselines.minutes[k], baselines.tests[k]);
        let right = format!("{:.0} %", 100.0 * baselines.right[k]);
        line(out, &format!("  {who:<22}{minutes:>8.1}{tests:>8.1}{right:>8}{ratio:>8}"));
    }
    line(out, &format!("  {:<22}{:>16.1}", "No choice is below", baselines.entropy_bound_tests));
    let [half, sequential] = baselines.left_to_engine.map(|share| 100.0 * share);
    let left = format!(
        "where their readings along the current were used up and the verdict still open, this program chose: \
         {half:.0} % and {sequential:.0} % of their tests"
    );
    paragraph(out, 2, &left);
}

/// The minutes of the engine over those of another way of choosing.
fn ratio(baselines: &Baselines, other: usize) -> f64 {
    if baselines.minutes[other] > 0.0 { baselines.minutes[0] / baselines.minutes[other] } else { 1.0 }
}

fn never_useful(out: &mut String, campaign: &Campaign) {
    let never = &campaign.never_useful;
    if never.is_empty() {
        return;
    }
    line(out, "");
    line(out, &format!("Never asked for: {} of {} tests, such as", never.len(), campaign.offered));
    for test in never.iter().take(LISTED) {
        paragraph(out, 2, &named(&campaign.system, test));
    }
}

/// A test in a few words, whatever the set-up.
fn named(system: &System, test: &Test) -> String {
    match (&test.probe, &test.at) {
        (probe, Target::Points { red, black }) => {
            let what = if matches!(probe, Probe::Light { .. }) { "test lamp" } else { measured(probe) };
            format!("{what}: {} to {}", text::point(system, *red), text::point(system, *black))
        }
        (Probe::Look(sight), Target::Part(_)) => {
            format!("look: {}", system.sights.get(*sight).map_or_else(String::new, |s| system.sight_name(s)))
        }
        (Probe::Amps { .. }, Target::Part(part)) => format!("amps: {}", system.install.parts[*part].label),
        (_, Target::Part(part)) => format!("look: {}", system.install.parts[*part].id),
    }
}

/// The same for programs, put beside the other figures.
pub(super) fn json(value: &mut Value, campaign: &Campaign) {
    let never = campaign.never_useful.iter().map(|test| {
        let mut test = test_value(&campaign.system, test);
        if let Some(map) = test.as_object_mut() {
            map.remove("with");
        }
        test
    });
    value["offered_tests"] = json!(campaign.offered);
    value["never_useful"] = json!(never.collect::<Vec<_>>());
    value["baseline_trials"] = json!(campaign.baselines.as_ref().map_or(0, |b| b.trials));
    if let Some(b) = &campaign.baselines {
        value["baseline_own_minutes"] = json!(b.minutes[0]);
        value["half_split_minutes"] = json!(b.minutes[1]);
        value["sequential_minutes"] = json!(b.minutes[2]);
        value["baseline_own_tests"] = json!(b.tests[0]);
        value["half_split_tests"] = json!(b.tests[1]);
        value["sequential_tests"] = json!(b.tests[2]);
        value["half_split_right"] = json!(b.right[1]);
        value["sequential_right"] = json!(b.right[2]);
        value["half_split_left_to_engine"] = json!(b.left_to_engine[0]);
        value["sequential_left_to_engine"] = json!(b.left_to_engine[1]);
        value["entropy_bound_tests"] = json!(b.entropy_bound_tests);
    }
    value["reduced"] = json!(campaign.reduced.as_ref().map(reduced));
}

fn reduced(reduced: &Reduced) -> Value {
    json!({
        "faults": reduced.faults,
        "tests": reduced.tests,
        "mean_minutes": reduced.mean_minutes,
        "optimal_minutes": reduced.optimal_minutes,
        "rollout_minutes": reduced.rollout_minutes,
    })
}
