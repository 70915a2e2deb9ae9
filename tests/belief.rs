//! The posterior on small circuits: against calculations by hand, and against what must hold for any.

mod asleep;
mod borders;
mod doubt;
mod elsewhere;
mod exact;
mod open_line;
mod sets;
mod whole_job;

use crate::support::SHARES;
use halfsplit::belief::{
    Answer, Belief, Evidence, Limits, Noise, Observation, Posterior, Probe, ROUGH_FACTOR, Senses, Verdict,
};
use halfsplit::circuit::{Effect, Element, ElementId, Emf, Netlist, Node, NodeId, Primitive, SetUp};
use halfsplit::index::{Id, IdVec};
use halfsplit::network::{Instrument, Network};
use halfsplit::suspects::{Fault, Severity, SuspectId, Suspects};
use halfsplit::units::{Ohms, Volts};

const NOISE: Noise = Noise {
    floating_sigma: 0.3,
    leaky: 1.0,
    model_floor: 0.05,
    lasting: 0.5,
    shifted: 0.5,
    untouched: 0.5,
    missed: 0.25,
    moved: 0.5,
    span: 30.0,
    unsteady_mistaken: 0.02,
};

/// 12 V, a feed joint, a load of 6 ohm and an earth joint in a ring; nodes plus, feed, earth, minus.
fn ring() -> Netlist {
    let mut netlist = Netlist::default();
    let nodes: Vec<NodeId> = ["plus", "feed", "earth", "minus"]
        .into_iter()
        .map(|name| netlist.nodes.push(Node { name: name.to_owned() }))
        .collect();
    let mut add = |name: &str, from: usize, to: usize, primitive| {
        netlist.elements.push(Element { name: name.to_owned(), from: nodes[from], to: nodes[to], primitive })
    };
    let ohms = |r| Primitive::Resistance { ohms: Ohms::new(r) };
    let emf = Emf::Fixed(Volts::new(12.0));
    add("supply", 0, 3, Primitive::Source { emf, internal: Ohms::new(0.01), limit: None });
    add("feed joint", 0, 1, ohms(0.01));
    add("load", 1, 2, ohms(6.0));
    add("earth joint", 2, 3, ohms(0.01));
    netlist
}

fn faults() -> IdVec<halfsplit::suspects::FaultId, Fault> {
    let soft = Some(Severity { low: Ohms::new(0.1), high: Ohms::new(100.0) });
    let fault = |part: &str, element: usize, severity: Option<Severity>| {
        let id = ElementId::new(element);
        let effect = if severity.is_some() { Effect::Series(id) } else { Effect::Open(vec![id]) };
        let mode = if severity.is_some() { "corroded" } else { "open" };
        let repair = format!("{part} {mode}");
        Fault { part: part.to_owned(), mode: mode.to_owned(), effect, severity, weight: 1.0, repair }
    };
    [fault("feed joint", 1, soft), fault("earth joint", 3, soft), fault("load", 2, None), fault("feed joint", 1, None)]
        .into_iter()
        .collect()
}

fn reading(netlist: &Netlist, red: usize, black: usize, value: f64) -> Observation {
    assert!(red < netlist.nodes.len() && black < netlist.nodes.len());
    Observation {
        stay: 0,
        probe: Probe::Volts {
            instrument: Instrument::Voltmeter(Ohms::new(1e7)),
            red: NodeId::new(red),
            black: NodeId::new(black),
            unsigned: false,
        },
        answer: Answer::Number { value, sigma: 0.02 },
        blunder: 0.02,
        times: 1,
    }
}

fn evidence(netlist: &Netlist, observations: Vec<Observation>) -> Evidence {
    Evidence { stays: vec![SetUp::at_rest(&netlist.controls)], observations, ..Evidence::default() }
}

fn with<T>(test: impl FnOnce(&Netlist, &mut Belief<'_>) -> T) -> T {
    let netlist = ring();
    let network = Network::new(&netlist);
    let suspects = Suspects::singles(faults(), SHARES);
    let senses = Senses::default();
    let mut belief = Belief::new(&network, &suspects, &senses, NOISE);
    test(&netlist, &mut belief)
}

/// Feed at 6 V against minus: 12 V divided by a corroded feed joint and the load halves at 6 ohm (Ohm's law); the other
/// suspects leave 0 V (open feed) or nearly 12 V there.
#[test]
fn corroded_feed_is_told_from_corroded_earth() {
    with(|netlist, belief| {
        let posterior =
            belief.update(&evidence(netlist, vec![reading(netlist, 1, 3, 6.0), reading(netlist, 2, 3, 0.0)]));
        let suspects = belief.suspects();
        let feed = suspects.single("feed joint", "corroded").unwrap();
        let earth = suspects.single("earth joint", "corroded").unwrap();
        assert!(posterior.probability[feed] > 0.95, "{}", posterior.probability[feed]);
        assert!(posterior.ruled_out(earth));
        // Severity: 6 ohm within a few grid steps.
        let grid = &belief.tracks()[feed].points;
        let best = (0..grid.len())
            .max_by(|a, b| posterior.severities[feed][*a].total_cmp(&posterior.severities[feed][*b]))
            .unwrap();
        assert!((grid[best].ohms.get() / 6.0).ln().abs() < 0.2, "{}", grid[best].ohms);
    });
}

/// What stands against a repair: all others as they stand to each other, that one left out, and nothing where it is hardly there.
#[test]
fn rivals_are_all_that_do_without_a_repair() {
    with(|netlist, belief| {
        let posterior = belief.update(&evidence(netlist, vec![reading(netlist, 1, 3, 9.0)]));
        let suspects = belief.suspects();
        let [feed, earth] = ["feed joint", "earth joint"].map(|part| suspects.single(part, "corroded").unwrap());
        let nothing = suspects.list().ids().next().unwrap();
        let named = suspects.list()[feed].group;
        let rivals = belief.rivals(&posterior, &[named], 1e-12).expect("a blunder is possible");
        assert!((rivals.probability.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        assert!(rivals.probability[feed] <= 0.0 && rivals.share(named) <= 0.0);
        let ratio = |p: &Posterior| p.probability[earth] / p.probability[nothing];
        assert!((ratio(&rivals) / ratio(&posterior) - 1.0).abs() < 1e-9);
        assert!(belief.rivals(&posterior, &[named], 0.5).is_none(), "{}", posterior.probability[feed]);
    });
}

#[test]
fn probabilities_sum_to_one() {
    with(|netlist, belief| {
        for value in [0.0, 3.0, 6.0, 9.0, 11.9, 14.0, -5.0] {
            let posterior = belief.update(&evidence(netlist, vec![reading(netlist, 1, 2, value)]));
            let sum: f64 = posterior.probability.iter().sum::<f64>() + posterior.unknown;
            assert!((sum - 1.0).abs() < 1e-9, "{value} V: {sum}");
            let sets: f64 = posterior.sets.iter().map(|(_, p)| p).sum::<f64>() + posterior.unknown;
            assert!((sets - 1.0).abs() < 1e-9, "{value} V: {sets}");
        }
    });
}

#[test]
fn order_of_answers_does_not_matter() {
    let readings = [(1, 3, 6.0), (2, 3, 0.0), (1, 2, 6.1), (0, 1, 5.9)];
    let run = |order: &[usize]| {
        with(|netlist, belief| {
            let list = order.iter().map(|i| {
                let (red, black, value) = readings[*i];
                reading(netlist, red, black, value)
            });
            let list: Vec<Observation> = list.collect();
            for n in 1..=list.len() {
                belief.update(&evidence(netlist, list[..n].to_vec()));
            }
            belief.update(&evidence(netlist, list)).probability
        })
    };
    let first = run(&[0, 1, 2, 3]);
    // How long the black lead stays where it is differs with the order: next to nothing where nothing speaks for a wrong one.
    for order in [[3, 2, 1, 0], [1, 3, 0, 2]] {
        for (a, b) in first.iter().zip(run(&order).iter()) {
            assert!((a - b).abs() < 1e-7, "{a} {b}");
        }
    }
}

#[test]
fn an_answer_taken_back_leaves_no_trace() {
    with(|netlist, belief| {
        let one = evidence(netlist, vec![reading(netlist, 1, 3, 6.0)]);
        let before = belief.update(&one).probability;
        belief.update(&evidence(netlist, vec![reading(netlist, 1, 3, 6.0), reading(netlist, 2, 3, 6.0)]));
        let after = belief.update(&one).probability;
        for (a, b) in before.iter().zip(after.iter()) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
    });
}

/// The likelihood of a soft fault by a fine sum over its severity (2,000 points, the divider computed by Ohm's law) agrees
/// with the engine's integration over cells within 2 %: no posterior moves by more than 0.01.
#[test]
fn severity_is_integrated_not_sampled() {
    with(|netlist, belief| {
        let value = 4.0;
        let posterior = belief.update(&evidence(netlist, vec![reading(netlist, 1, 3, value)]));
        let suspect = belief.suspects().single("feed joint", "corroded").unwrap();
        let sigma = 0.02_f64.hypot(0.05);
        let n = 2000;
        let sum: f64 = (0..n)
            .map(|i| {
                let r = 0.1 * 1000_f64.powf((f64::from(i) + 0.5) / f64::from(n));
                let volts = 12.0 * (6.0 + 0.01) / (6.0 + 0.03 + r);
                let z = (value - volts) / sigma;
                let density = (-0.5 * z * z).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt());
                0.98 * density + 0.02 * 0.75 / 30.0
            })
            .sum::<f64>()
            / f64::from(n);
        let ratio = posterior.log_likelihood[suspect].exp() / sum;
        assert!((ratio - 1.0).abs() < 0.02, "{ratio}");
    });
}

/// One suspect, one reading, hard fault: Bayes' rule by hand. Load open and feed open both leave the load dead; only the
/// feed reading tells them apart, and a blunder of 2 % is all that is left for the other; a quarter of these show nothing, the
/// others anything over 30 V.
#[test]
fn bayes_by_hand_for_two_open_circuits() {
    with(|netlist, belief| {
        let posterior = belief.update(&evidence(netlist, vec![reading(netlist, 1, 3, 12.0)]));
        let suspects = belief.suspects();
        let load = suspects.single("load", "open").unwrap();
        let feed = suspects.single("feed joint", "open").unwrap();
        let sigma = 0.02_f64.hypot(0.05);
        let peak = 1.0 / (sigma * (2.0 * std::f64::consts::PI).sqrt());
        let spoilt = 0.02 * 0.75 / 30.0;
        let by_hand = (0.98 * peak + spoilt) / spoilt;
        let engine = posterior.probability[load] / posterior.probability[feed];
        assert!((engine / by_hand - 1.0).abs() < 1e-3, "{engine} {by_hand}");
    });
}

#[test]
fn readings_that_nothing_explains_are_a_misfit() {
    with(|netlist, belief| {
        let odd = evidence(
            netlist,
            vec![
                reading(netlist, 0, 3, 7.0),
                reading(netlist, 1, 3, 9.5),
                reading(netlist, 2, 3, 4.0),
                reading(netlist, 1, 2, -3.0),
            ],
        );
        let posterior = belief.update(&odd);
        let verdict = belief.verdict(&posterior, &odd, false, &Limits::default(), 7);
        assert!(matches!(verdict, Verdict::Misfit(Some(_))), "{verdict:?}");
    });
}

#[test]
fn one_wrong_reading_makes_no_wrong_verdict() {
    with(|netlist, belief| {
        // Corroded earth of 6 ohm: feed 12, earth 6; the second reading was taken on the wrong metal.
        let doubtful = evidence(netlist, vec![reading(netlist, 1, 3, 12.0), reading(netlist, 2, 3, 12.0)]);
        let posterior = belief.update(&doubtful);
        let verdict = belief.verdict(&posterior, &doubtful, true, &Limits::default(), 7);
        assert!(!matches!(verdict, Verdict::Found(_)), "{verdict:?}");
        let nothing: SuspectId = belief.suspects().list().ids().next().unwrap();
        assert!(posterior.probability[nothing] < 0.9);
    });
}

#[test]
fn the_same_seed_gives_the_same_misfit() {
    with(|netlist, belief| {
        let some = evidence(netlist, vec![reading(netlist, 1, 3, 6.0), reading(netlist, 2, 3, 0.0)]);
        let posterior = belief.update(&some);
        let p = |seed| belief.misfit(&posterior, &some, 1.0, seed).p;
        assert!((p(3) - p(3)).abs() < f64::EPSILON);
        // The readings were computed for this very fault: they fit.
        assert!(p(3) > 0.05 && p(4) > 0.05, "{} {}", p(3), p(4));
    });
}

/// A blunder that lasts spoils all readings of a stay: the joint is found at once only if another stay says so too, or if none
/// can be had.
#[test]
fn a_finding_wants_a_second_stay_where_there_is_one() {
    with(|netlist, belief| {
        let limits = Limits::default();
        // 6 ohm in the feed of 6 ohm: 6 V before it, 6 V behind it.
        let stay = |stay: usize| {
            [(1, 3, 6.0), (2, 3, 0.0), (0, 1, 6.0), (0, 2, 12.0)]
                .map(|(red, black, value)| Observation { stay, ..reading(netlist, red, black, value) })
        };
        let mut evidence = evidence(netlist, stay(0).to_vec());
        let posterior = belief.update(&evidence);
        let group = belief.suspects().list()[belief.suspects().single("feed joint", "corroded").unwrap()].group;
        assert_eq!(belief.verdict(&posterior, &evidence, true, &limits, 1), Verdict::Open);
        assert_eq!(belief.verdict(&posterior, &evidence, false, &limits, 1), Verdict::Found(vec![group]));
        evidence.stays.push(evidence.stays[0].clone());
        evidence.observations.extend(stay(1));
        let posterior = belief.update(&evidence);
        assert_eq!(belief.verdict(&posterior, &evidence, true, &limits, 1), Verdict::Found(vec![group]));
    });
}

/// What each single reading's absence would leave is told roughly from the sums over all of them, and exactly by leaving it out:
/// the odds of every repair agree within what is allowed for, with a reading that fits nothing among them too.
#[test]
fn what_is_left_without_a_reading_is_roughly_known() {
    with(|netlist, belief| {
        let feed = reading(netlist, 1, 3, 6.0);
        for wrong in [6.1, 9.0, 0.0] {
            let all = vec![feed.clone(), reading(netlist, 2, 3, 0.05), reading(netlist, 0, 1, wrong)];
            let evidence = evidence(netlist, all);
            let posterior = belief.update(&evidence);
            let groups: Vec<_> = posterior.groups.iter().map(|(group, _)| *group).collect();
            let mut compared = 0;
            for group in groups {
                let rough = belief.roughly_without(&posterior, &evidence, &[group]);
                for (i, rough) in rough.into_iter().enumerate() {
                    let exact = belief.without(&evidence, &[i]).share(group);
                    let odds = |share: f64| share / (1.0 - share);
                    let ratio = odds(rough.unwrap()) / odds(exact);
                    if (1e-15..0.999).contains(&exact) {
                        assert!((1.0 / ROUGH_FACTOR..ROUGH_FACTOR).contains(&ratio), "{i}: {rough:?} for {exact}");
                        compared += 1;
                    }
                }
            }
            assert!(compared >= 3, "{compared} with {wrong}");
        }
    });
}
