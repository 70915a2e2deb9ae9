//! Other ways of choosing tests, played beside some of the trials.

use super::{PLAN, run};
use halfsplit::testability::{Faults, Plan};

#[test]
fn baselines_are_played_beside_as_many_trials_as_asked_and_change_none() {
    let plain = run(PLAN);
    assert!(plain.baselines.is_none() && plain.trials.iter().all(|t| t.beside.is_none()));
    let plan = Plan { baselines: Some(4), ..PLAN };
    let (campaign, again) = (run(plan), run(Plan { threads: 1, ..plan }));
    assert_eq!(campaign.trials, again.trials);
    let alone = |mut trial: halfsplit::testability::Trial| {
        trial.beside = None;
        trial
    };
    assert_eq!(campaign.trials.iter().cloned().map(alone).collect::<Vec<_>>(), plain.trials);
    // By hand: means over just those trials.
    let beside: Vec<_> = campaign.trials.iter().filter_map(|t| Some((t, t.beside?))).collect();
    assert_eq!(beside.len(), 4);
    let weight: f64 = beside.iter().map(|(t, _)| t.weight).sum();
    let mean = |of: &dyn Fn(usize) -> f64| (0..4).map(|k| beside[k].0.weight * of(k)).sum::<f64>() / weight;
    let baselines = campaign.baselines.unwrap();
    let expected = [
        mean(&|k| beside[k].0.minutes),
        mean(&|k| beside[k].1.half_split.minutes),
        mean(&|k| beside[k].1.sequential.minutes),
    ];
    for (got, expected) in baselines.minutes.iter().zip(expected) {
        assert!((got - expected).abs() < 1e-9, "{baselines:?} {expected}");
    }
    // No way of choosing needs fewer tests than the entropy allows.
    assert!(baselines.entropy_bound_tests > 0.0, "{baselines:?}");
    assert!(baselines.tests.iter().all(|tests| *tests >= baselines.entropy_bound_tests), "{baselines:?}");
    assert!(baselines.left_to_engine.iter().all(|share| (0.0..=1.0).contains(share)), "{baselines:?}");
}

#[test]
fn only_trials_with_one_fault_have_baselines_unless_they_are_asked_for() {
    let played = |faults: Faults, baselines: Option<usize>| {
        let campaign = run(Plan { faults, baselines, trials: Some(6), ..PLAN });
        campaign.baselines.map_or(0, |b| b.trials)
    };
    assert_eq!(played(Faults::Single, None), 5);
    assert_eq!(played(Faults::None, None), 0);
    assert_eq!(played(Faults::None, Some(1)), 1);
}

#[test]
fn the_reduced_install_says_how_far_from_the_best_choice_the_rule_is() {
    let campaign = run(PLAN);
    let reduced = campaign.reduced.unwrap();
    assert!(reduced.faults > 5 && reduced.tests > 5, "{reduced:?}");
    for minutes in [reduced.mean_minutes, reduced.rollout_minutes] {
        assert!(minutes >= reduced.optimal_minutes - 1e-9, "{reduced:?}");
    }
    // The target of the design.
    assert!(reduced.rollout_minutes <= 1.02 * reduced.optimal_minutes, "{reduced:?}");
}

#[test]
fn a_test_that_some_trial_asked_for_is_not_called_useless() {
    let campaign = run(PLAN);
    assert!(campaign.never_useful.len() < campaign.offered, "{}", campaign.offered);
    let asked: Vec<_> = campaign.trials.iter().flat_map(|t| &t.taken).collect();
    for never in &campaign.never_useful {
        let same = asked.iter().find(|t| t.test.at == never.at && t.test.probe == never.probe);
        assert!(same.is_none(), "{never:?}");
    }
    // What was asked for is on the list of neither, and was on offer.
    let different = asked.iter().fold(Vec::new(), |mut list, t| {
        if !list.contains(&(&t.test.at, &t.test.probe)) {
            list.push((&t.test.at, &t.test.probe));
        }
        list
    });
    assert_eq!(campaign.offered - campaign.never_useful.len(), different.len());
}
