//! Games of suspects and tests: the rules that choose a test, against exact answers.

mod at_hand;
mod bridged;
mod clamp;
mod games;
mod near_copies;
mod ohms;
mod taken_out;

use games::{brute, game};
use halfsplit::choice::{Rule, Table, Ways};
use halfsplit::index::Id;
use halfsplit::suspects::GroupId;

/// More than any game here has.
const STATES: usize = 1_000_000;

fn group(number: usize) -> GroupId {
    GroupId::new(number)
}

/// A game in which each suspect has its own repair and each test always costs the same.
fn plain(weights: &[f64], tests: &[(&[u16], f64)]) -> Table {
    let suspects: Vec<(GroupId, f64)> = weights.iter().enumerate().map(|(i, w)| (group(i), *w)).collect();
    let minutes = tests.iter().map(|(_, minutes)| *minutes).collect();
    let ways = Ways { minutes: vec![minutes], after: vec![vec![0; tests.len()]] };
    Table::new(&suspects, tests.iter().map(|(row, _)| row.to_vec()).collect(), ways).unwrap()
}

#[track_caller]
fn near(got: f64, expected: f64) {
    assert!((got - expected).abs() < 1e-9, "{got} {expected}");
}

#[test]
fn a_game_of_three_suspects_by_hand() {
    // One test takes the likeliest apart from the two others (1 minute), one those two (2 minutes), one all three (4 minutes).
    let table = plain(&[0.5, 0.3, 0.2], &[(&[0, 1, 1], 1.0), (&[0, 0, 1], 2.0), (&[0, 1, 2], 4.0)]);
    // 1 + 0.5 * 2 = 2; beginning with the second: 2 + 0.8 * 1 = 2.8.
    near(table.optimum(STATES).unwrap(), 2.0);
    // Bits per minute at the beginning: 1 / 1, h(0.2) / 2 = 0.36, 1.485 / 4 = 0.37.
    assert_eq!(table.ranked(table.all(), 0), [0, 2, 1]);
    near(table.expected(Rule::Rate), 2.0);
    near(table.expected(Rule::Rollout(3)), 2.0);
    assert_eq!(table.most_outcomes(), 3);
}

#[test]
fn what_no_test_tells_apart_ends_the_game() {
    // Suspects 1 and 2 show the same; 3 and 4 do too, but have one repair.
    let suspects = [(0, 0.4), (1, 0.3), (2, 0.1), (2, 0.2)].map(|(g, w)| (group(g), w));
    let ways = Ways { minutes: vec![vec![1.0, 5.0]], after: vec![vec![0, 0]] };
    let table = Table::new(&suspects, vec![vec![0, 0, 1, 1], vec![0, 0, 1, 2]], ways).unwrap();
    near(table.optimum(STATES).unwrap(), 1.0);
    near(table.expected(Rule::Rate), 1.0);
    assert_eq!(table.groups(), 3);
}

#[test]
fn going_on_where_one_stands_is_cheaper() {
    // Two places, A and B. From outside each costs 3 minutes to reach, a test there 1. Two tests at A part four equal suspects;
    // so do one at A and one at B: 1 + 3 + 1 = 5, and 4 + 4 = 8.
    let near_a = [4.0, 4.0, 4.0];
    let ways = Ways {
        minutes: vec![near_a.to_vec(), vec![1.0, 1.0, 4.0], vec![4.0, 4.0, 1.0]],
        after: vec![vec![1, 1, 2]; 3],
    };
    let suspects = [0, 1, 2, 3].map(|g| (group(g), 0.25));
    let rows = vec![vec![0, 0, 1, 1], vec![0, 1, 0, 1], vec![0, 1, 1, 0]];
    let table = Table::new(&suspects, rows.clone(), ways.clone()).unwrap();
    near(table.optimum(STATES).unwrap(), 5.0);
    near(table.expected(Rule::Rate), 5.0);
    assert_eq!(table.first(Rule::Rate), Some(0));
    let apart = vec![rows[0].clone(), vec![0; 4], rows[2].clone()];
    near(Table::new(&suspects, apart, ways).unwrap().optimum(STATES).unwrap(), 8.0);
}

#[test]
fn two_tests_that_tell_only_together_are_both_taken() {
    // Repairs 0 and 1 as the exclusive or of two tests: neither tells anything about the repair by itself.
    let suspects = [0, 1, 1, 0].map(|g| (group(g), 0.25));
    let ways = Ways { minutes: vec![vec![1.0, 1.0]], after: vec![vec![0, 0]] };
    let table = Table::new(&suspects, vec![vec![0, 0, 1, 1], vec![0, 1, 0, 1]], ways).unwrap();
    near(table.bits(table.all(), 0), 0.0);
    near(table.optimum(STATES).unwrap(), 2.0);
    near(table.expected(Rule::Rate), 2.0);
}

#[test]
fn a_game_that_does_not_fit_together_is_none() {
    let suspects = [(group(0), 1.0)];
    let ways = |minutes: Vec<f64>, after: Vec<usize>| Ways { minutes: vec![minutes], after: vec![after] };
    assert!(Table::new(&suspects, vec![vec![0]], ways(vec![1.0], vec![0])).is_some());
    assert!(Table::new(&suspects, vec![vec![0, 1]], ways(vec![1.0], vec![0])).is_none());
    assert!(Table::new(&suspects, vec![vec![0]], ways(vec![1.0], vec![1])).is_none());
    assert!(Table::new(&[], vec![vec![]], ways(vec![1.0], vec![0])).is_none());
    assert!(Table::new(&suspects, vec![vec![0]], Ways::default()).is_none());
}

#[test]
fn too_large_a_game_has_no_exact_answer() {
    assert_eq!(game(1, 11, 14).table().optimum(10), None);
}

#[test]
fn the_exact_answer_is_that_of_trying_everything() {
    for seed in 0..60 {
        let game = game(seed, 5, 5);
        let table = game.table();
        let least = table.optimum(STATES).unwrap();
        near(least, brute(&game, &(0..5).collect::<Vec<_>>(), 0));
        // No rule is better than the best, and looking further is never worse than not looking.
        let (rate, rollout) = (table.expected(Rule::Rate), table.expected(Rule::Rollout(5)));
        assert!(least <= rollout + 1e-9 && rollout <= rate + 1e-9, "{seed}: {least} {rollout} {rate}");
    }
}

/// Mean and worst of the minutes under a rule over the least minutes, in 200 random games of 11 faults and 14 tests.
fn over_the_least(rule: Rule) -> (f64, f64) {
    let games = (0..200).map(|seed| game(seed, 11, 14).table());
    let ratios: Vec<f64> = games.map(|table| table.expected(rule) / table.optimum(STATES).unwrap()).collect();
    (ratios.iter().sum::<f64>() / 200.0, ratios.into_iter().fold(0.0, f64::max))
}

/// The target of the design: a mean of at most 1.02 times the exact optimum. Measured: 1.0106 with rollout, the worst game
/// 1.16; 1.079 and 1.43 by rate alone.
#[test]
fn games_played_to_their_end_are_within_two_percent_of_the_optimum() {
    let (rate, rollout) = (over_the_least(Rule::Rate), over_the_least(Rule::ROLLOUT));
    println!("minutes over the least, mean and worst: by rate {rate:?}, rollout {rollout:?}");
    assert!(rollout.0 <= 1.02, "{rollout:?}");
    assert!(rate.0 > rollout.0 && rate.1 > rollout.1, "{rate:?} {rollout:?}");
}
