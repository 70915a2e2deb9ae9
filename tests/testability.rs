//! Campaigns on a small install: what is counted, and that the same seed gives the same figures.

mod baselines;
mod further;

use halfsplit::belief::Verdict;
use halfsplit::bench::{Change, Difference, Draws, Hidden, MockUp, Uses};
use halfsplit::circuit::{Circuit, Edit, PossibleFault, SetUp};
use halfsplit::document::Source;
use halfsplit::install::{Install, load};
use halfsplit::job::{AtHand, Taken};
use halfsplit::knowledge::Knowledge;
use halfsplit::testability::{Campaign, Faults, Mark, Plan, campaign};

/// A lamp on a switch, fused: few enough faults to visit all.
const SMALL: &str = include_str!("cli/small.yaml");

const PLAN: Plan = Plan {
    faults: Faults::Single,
    noise: false,
    tolerance_scale: 1.0,
    at_hand: AtHand::USUAL,
    trials: Some(12),
    baselines: Some(0),
    seed: 3,
    threads: 2,
};

fn small() -> Install {
    load(&Source::new("small.yaml", SMALL), &Knowledge::built_in()).unwrap().0
}

fn run(plan: Plan) -> Campaign {
    campaign(&small(), plan).unwrap_or_else(|trouble| panic!("{trouble:?}"))
}

/// Every trial has exactly one mark (word table of the engine's design: the shares sum to 1).
#[track_caller]
fn sums_to_one(campaign: &Campaign) {
    let sum: f64 = campaign.figures.shares.iter().sum();
    assert!((sum - 1.0).abs() < 1e-9, "{:?}", campaign.figures);
}

#[test]
fn a_campaign_does_not_hang_on_its_threads() {
    let (one, two) = (run(Plan { threads: 1, ..PLAN }), run(PLAN));
    assert_eq!(one.trials, two.trials);
    assert_eq!(one.figures, two.figures);
    assert_eq!(one.trials.len(), 12);
    sums_to_one(&one);
}

#[test]
fn exact_readings_of_a_small_install_never_mislead() {
    let campaign = run(PLAN);
    // Exact readings leave no room for a wrong culprit: the target of the design is none at all.
    let wrong: Vec<_> = campaign.trials.iter().filter(|t| t.mark == Mark::WrongConfident).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let figures = &campaign.figures;
    assert!(figures.share(Mark::Right) > 0.5, "{figures:?}");
    assert!(figures.isolated[0] <= figures.isolated[1] && figures.isolated[1] <= figures.isolated[2], "{figures:?}");
    assert!(figures.detected > 0.5 && figures.detected < 1.0, "{figures:?}");
    assert!(figures.minutes.0 <= figures.minutes.2 && figures.minutes_proven > figures.minutes.0, "{figures:?}");
    for trial in &campaign.trials {
        assert_eq!(trial.hidden.len(), 1);
        // The complaint is the first thing that is known.
        assert!(trial.taken.first().is_some_and(|t| t.complaint), "{trial:?}");
    }
}

#[test]
fn noise_and_two_faults_are_drawn_from_the_seed() {
    for faults in [Faults::Single, Faults::Pair] {
        let plan = Plan { faults, noise: true, trials: Some(3), ..PLAN };
        let (first, again, other) = (run(plan), run(plan), run(Plan { seed: 4, ..plan }));
        assert_eq!(first.trials, again.trials);
        assert_ne!(first.trials, other.trials);
        let count = if faults == Faults::Pair { 2 } else { 1 };
        assert!(first.trials.iter().all(|t| t.hidden.len() == count));
        sums_to_one(&first);
    }
}

#[test]
fn a_mistaken_complaint_hides_nothing() {
    let campaign = run(Plan { faults: Faults::None, trials: Some(3), ..PLAN });
    assert!(campaign.trials.iter().all(|t| t.hidden.is_empty() && t.mark != Mark::Misfit), "{:?}", campaign.figures);
    sums_to_one(&campaign);
}

/// A mistaken complaint about a healthy install: the target of the design is 'no fault found' in 98 % of the trials, in at most
/// eight tests.
#[test]
fn a_mistaken_complaint_ends_with_no_fault_found() {
    let plan = Plan { faults: Faults::None, trials: Some(6), ..PLAN };
    let campaign = run(plan);
    assert_eq!(campaign.trials.len(), 6);
    assert!((campaign.figures.no_fault - 1.0).abs() < 1e-9, "{:#?}", campaign.trials);
    assert!((campaign.figures.share(Mark::Right) - 1.0).abs() < 1e-9, "{:?}", campaign.figures);
    assert!(campaign.figures.tests.1 <= 8, "{:?}", campaign.figures);
    for trial in &campaign.trials {
        // What is complained of is tried again before anything is measured.
        let [complaint, again, ..] = &trial.taken[..] else { panic!("{trial:?}") };
        assert!(complaint.complaint && !again.complaint, "{trial:?}");
        assert_eq!(complaint.test, again.test);
    }
}

#[test]
fn a_mistake_of_wiring_is_complained_of_as_what_never_worked() {
    for noise in [false, true] {
        let campaign = run(Plan { faults: Faults::Wiring, noise, trials: Some(4), ..PLAN });
        let history = &campaign.system.install.knowledge.complaints.history;
        for trial in &campaign.trials {
            // `knowledge/complaints.yaml`: of mistakes, 'never since it was fitted' is said most often.
            let said = trial.complaint.history.map(|word| history.words[word].key.as_str());
            assert_eq!(said, Some("never"), "{trial:?}");
            assert!(trial.hidden.iter().all(|hid| campaign.system.possible[hid.fault].mistake), "{trial:?}");
            assert_eq!(trial.named.len(), trial.repairs.len());
        }
        sums_to_one(&campaign);
    }
}

#[test]
fn a_complaint_with_two_causes_stands_until_both_are_repaired() {
    let campaign = run(Plan { trials: Some(1), ..PLAN });
    let (install, circuit) = (&campaign.system.install, &campaign.system.circuit);
    let possible: Vec<PossibleFault> = campaign.system.possible.iter().cloned().collect();
    let at = |part: &str, mode: &str| possible.iter().position(|f| f.part_id == part && f.mode == mode).unwrap();
    let (fuse, lamp) = (at("F1", "blown"), at("lamp", "burnt-out"));
    let both = Hidden { faults: vec![(fuse, None), (lamp, None)], ..Hidden::nothing() };
    let uses = Uses::new(circuit, install);
    let mock_up = |hidden: &Hidden| MockUp::new(&circuit.netlist, hidden.edits(&possible), Draws::none());
    let was = uses.complaint(circuit, install, || mock_up(&both)).unwrap();
    let still = |hidden: &Hidden| uses.still(circuit, install, &was, [mock_up(hidden), mock_up(&Hidden::nothing())]);
    // By hand: fuse and lamp are in series, so that either alone keeps the lamp dark.
    assert_eq!(still(&both), Some(was.clone()));
    let one = both.without(&possible, |group| group == possible[fuse].repair_group);
    assert_eq!(one.faults, [(lamp, None)]);
    assert_eq!(still(&one), Some(was.clone()));
    let none = one.without(&possible, |group| group == possible[lamp].repair_group);
    assert_eq!(still(&none), None);
}

#[test]
fn after_the_repair_of_one_of_two_faults_the_job_goes_on() {
    let campaign = run(Plan { faults: Faults::Pair, trials: Some(8), ..PLAN });
    let mut second = 0;
    for trial in &campaign.trials {
        // Word table of the engine's design: minutes to the proven repair end when the complaint is cured.
        assert_eq!(trial.cured, trial.minutes_proven.is_some(), "{trial:?}");
        assert!(trial.second.is_none() || trial.named_by_verdict(), "{trial:?}");
        assert!(trial.cured || trial.second.is_some() || !trial.named_by_verdict(), "{trial:?}");
        second += usize::from(trial.second.is_some());
        if let Some(next) = &trial.second {
            // It begins with a complaint of its own, or with the same one tried again.
            let complained = |t: &Taken| trial.taken.iter().any(|c| c.complaint && c.test.probe == t.test.probe);
            let again = |t: &Taken| next.complaint == trial.complaint && complained(t);
            assert!(next.taken.first().is_some_and(|t| t.complaint || again(t)), "{trial:?}");
        }
    }
    assert!(second > 0, "{:?}", campaign.figures);
    let cured = campaign.trials.iter().filter(|t| t.cured).count() as f64 / campaign.trials.len() as f64;
    assert!((campaign.figures.cured - cured).abs() < 1e-12, "{:?}", campaign.figures);
}

#[test]
fn what_was_announced_is_held_against_what_was_true() {
    let campaign = run(Plan { noise: true, trials: Some(8), ..PLAN });
    let figures = &campaign.figures;
    for trial in &campaign.trials {
        // What leads is known after the complaint and after each test; once more where mistakes were asked in.
        assert!(trial.steps.len() == trial.tests() + 1 || trial.steps.len() == trial.tests() + 2, "{trial:?}");
        assert!(trial.steps.windows(2).all(|two| two[0].minutes <= two[1].minutes), "{trial:?}");
        assert!((trial.steps.last().unwrap().minutes - trial.minutes).abs() < 1e-9, "{trial:?}");
    }
    // By hand: the verdicts that name something whose leader held 99.9 % and more.
    let ends = || campaign.trials.iter().filter(|t| t.named_by_verdict()).map(|t| *t.steps.last().unwrap());
    let sure: Vec<_> = ends().filter(|step| step.announced > 0.999).collect();
    let bin = figures.calibration.iter().find(|bin| bin.from == 0.0).unwrap();
    assert_eq!(bin.trials, sure.len());
    let right = sure.iter().filter(|step| step.right).count() as f64 / sure.len() as f64;
    assert!((bin.right - right).abs() < 1e-12 && bin.announced > 0.999, "{bin:?}");
    assert_eq!(figures.calibration.iter().map(|bin| bin.trials).sum::<usize>(), ends().count());
    // Whoever wants to be surer waits longer, and not everyone gets there.
    assert!(figures.curve.windows(2).all(|two| two[0].at < two[1].at && two[0].reached >= two[1].reached));
    let first = |t: &halfsplit::testability::Trial| t.steps.iter().find(|step| step.announced >= 0.9).copied();
    let passed: Vec<_> = campaign.trials.iter().filter_map(first).collect();
    let wrong = passed.iter().filter(|step| !step.right).count() as f64 / passed.len() as f64;
    assert!((figures.curve[0].wrong - wrong).abs() < 1e-12, "{:?}", figures.curve[0]);
}

#[test]
fn a_system_that_differs_from_its_description_is_no_fault_of_the_catalogue() {
    let plan = Plan { faults: Faults::Altered, trials: Some(8), ..PLAN };
    let (campaign, again) = (run(plan), run(plan));
    assert_eq!(campaign.trials, again.trials);
    sums_to_one(&campaign);
    for trial in &campaign.trials {
        assert!(trial.hidden.is_empty() && trial.changes.len() == 1, "{trial:?}");
        // The rule of `mark`: that the readings do not fit is right, and so is any repair of a part that it is at.
        let there = |word: &String| {
            let possible = campaign.system.possible.iter();
            possible.filter(|f| trial.changes[0].parts.contains(&f.part)).any(|f| f.repair_group == *word)
        };
        let named = trial.repairs.iter().any(|words| words.iter().any(there));
        match &trial.verdict {
            Verdict::Misfit(_) => assert_eq!(trial.mark, Mark::Right, "{trial:?}"),
            Verdict::Found(_) | Verdict::Ambiguous(_) => {
                assert_eq!(trial.mark == Mark::Right, named, "{trial:?}");
                assert_eq!(trial.mark == Mark::WrongConfident, !named, "{trial:?}");
            }
            Verdict::NoFault => assert_eq!(trial.mark, Mark::Misfit, "{trial:?}"),
            Verdict::Open | Verdict::Cured => assert_eq!(trial.mark, Mark::Undecided, "{trial:?}"),
        }
    }
}

#[test]
fn what_differs_from_the_description_is_what_was_drawn() {
    let install = small();
    let circuit = Circuit::expand(&install).unwrap();
    let mut rng = fastrand::Rng::with_seed(5);
    let on = SetUp::at_rest(&circuit.netlist.controls).with(circuit.netlist.controls.ids().next().unwrap(), 1);
    let lamp = install.parts.enumerate().find(|(_, part)| part.id == "lamp").unwrap().0;
    let filament = circuit.elements_of[lamp][0].element;
    let amps = |edits: &[Edit]| {
        let mut mock_up = MockUp::new(&circuit.netlist, edits.to_vec(), Draws::none());
        mock_up.enter(&on).unwrap();
        mock_up.amps(filament).unwrap()
    };
    let mut seen = [0; 4];
    for change in (0..200).filter_map(|_| Change::draw(&circuit, &install, &mut rng)) {
        match change.what {
            Difference::OtherLoad(factor) => {
                seen[0] += 1;
                assert!((0.4..=2.5).contains(&factor), "{change:?}");
                // Ohm's law: the 55 W lamp has about 2.6 ohms, wires and joints some 0.1, which do not change.
                let ratio = amps(&[]) / amps(&change.edits);
                assert!((ratio / factor - 1.0).abs() < 0.1, "{ratio} {change:?}");
            }
            Difference::AddedWire(a, b, ohms) => {
                seen[1] += 1;
                assert!(a != b && (0.01..=0.05).contains(&ohms.get()), "{change:?}");
                assert!(!change.parts.is_empty(), "{change:?}");
            }
            Difference::AddedLoad(_, ohms) => {
                seen[2] += 1;
                // P = U^2 / R at 12 V: 5 to 60 W.
                assert!((5.0..=60.0).contains(&(144.0 / ohms.get())), "{change:?}");
            }
            Difference::LeftOut => {
                seen[3] += 1;
                let series = ["F1", "lamp", "K1", "S1"].contains(&install.parts[change.parts[0]].id.as_str());
                // By hand: fuse, switch, relay and lamp all stand in the way of the lamp's current.
                assert!(!series || amps(&change.edits).abs() < 1e-3, "{change:?}");
            }
        }
    }
    assert!(seen.iter().all(|count| *count > 10), "{seen:?}");
}
