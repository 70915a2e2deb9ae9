//! Dark diodes between islands: whether what is laid between two islands would make any of them conduct.
//!
//! Islands float against each other. As long as nothing flows between them their potentials can be shifted so that no diode
//! has more than its forward voltage; what is laid between two points shifts their islands until these points are level. If all
//! diodes can still be dark then, they are, and nothing flows. That is a system of differences `u_i - u_j <= w`, which has a
//! solution where no ring of it sums to less than nothing (Bellman and Ford; Cormen et al., Introduction to Algorithms,
//! section 24.4, from memory).

use super::law::{Law, Part, Status};
use super::point::Point;
use super::wiring::Wiring;

/// Volts by which a ring must stay dark: what is nearer to conducting has to be solved.
const MARGIN: f64 = 1e-6;
/// Volts by which rounding may shift an island.
const ROUNDING: f64 = 1e-9;

/// A dark diode between two islands, each named by its lowest node.
#[derive(Clone, Copy, Debug)]
pub(super) struct DarkWay {
    from: u32,
    to: u32,
    /// By how many volts the first island can rise against the second, from where both data are level, before it conducts.
    slack: f64,
}

/// A dark diode between two islands.
pub(super) fn is_dark(part: &Part, status: Status, point: &Point) -> bool {
    matches!(part.law, Law::Diode { .. }) && !part.open && !status.on && !point.islands.joined(part.from, part.to)
}

/// All of them.
pub(super) fn dark_ways(wiring: &Wiring, status: &[Status], point: &Point) -> Vec<DarkWay> {
    let all = wiring.parts.iter().zip(status).filter(|(part, status)| is_dark(part, **status, point));
    all.filter_map(|(part, _)| {
        let Law::Diode { forward, .. } = part.law else { return None };
        let volts = |node: u32| point.volts.get(node as usize).copied();
        let of = |node: u32| point.islands.of.get(node as usize).copied();
        let slack = forward - (volts(part.from)? - volts(part.to)?) - MARGIN;
        Some(DarkWay { from: of(part.from)?, to: of(part.to)?, slack })
    })
    .collect()
}

/// Whether something laid between two nodes of different islands may carry a current through dark diodes.
pub(super) fn may_carry(ways: &[DarkWay], point: &Point, a: u32, b: u32) -> bool {
    if ways.is_empty() {
        return false;
    }
    let of = |node: u32| point.islands.of[node as usize];
    let level = point.volts[b as usize] - point.volts[a as usize];
    let (a, b) = (of(a), of(b));
    let laid = [DarkWay { from: a, to: b, slack: level }, DarkWay { from: b, to: a, slack: -level }];
    let mut islands: Vec<u32> = ways.iter().chain(&laid).flat_map(|way| [way.from, way.to]).collect();
    islands.sort_unstable();
    islands.dedup();
    let place = |island: u32| islands.binary_search(&island).unwrap_or_default();
    let all: Vec<(usize, usize, f64)> =
        ways.iter().chain(&laid).map(|way| (place(way.from), place(way.to), way.slack)).collect();
    let mut shift = vec![0.0_f64; islands.len()];
    for _ in 0..=islands.len() {
        let mut any = false;
        for (from, to, slack) in &all {
            let most = shift[*to] + slack;
            if shift[*from] > most + ROUNDING {
                shift[*from] = most;
                any = true;
            }
        }
        if !any {
            return false;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::{DarkWay, may_carry};
    use crate::network::islands::Islands;
    use crate::network::law::{Law, Part, Status};
    use crate::network::point::Point;
    use std::sync::Arc;

    /// Two islands, nodes 0 and 1 with 12 V between them, nodes 2 and 3 with `volts`.
    fn two(volts: f64) -> Point {
        let source =
            |from, to| Part::new(from, to, Law::Source { emf: 12.0, ohms: 1.0, limit: None, by: None, dead: false });
        let parts = [source(0, 1), source(2, 3)];
        let islands = Islands::new(4, &parts, &[Status::default(); 2], None);
        let mut point = Point { volts: vec![12.0, 0.0, volts, 0.0], islands: Arc::new(islands), ..Point::default() };
        let data = point.islands.data.clone();
        for (pair, datum) in [[0, 1], [2, 3]].into_iter().zip(data) {
            let at = point.volts[datum as usize];
            for node in pair {
                point.volts[node] -= at;
            }
        }
        point
    }

    fn diode(point: &Point, from: u32, to: u32) -> DarkWay {
        let (of, volts) = (&point.islands.of, &point.volts);
        let slack = 0.7 - (volts[from as usize] - volts[to as usize]);
        DarkWay { from: of[from as usize], to: of[to as usize], slack }
    }

    // By hand: with the minus posts level, a diode from 12 V to 5 V conducts, one the other way does not; with the plus posts
    // level neither does one from plus to plus.
    #[test]
    fn a_diode_conducts_where_the_ring_drives_it() {
        let point = two(5.0);
        let (with, against) = (diode(&point, 0, 2), diode(&point, 2, 0));
        assert!(may_carry(&[with], &point, 1, 3));
        assert!(!may_carry(&[against], &point, 1, 3));
        assert!(!may_carry(&[with], &point, 0, 2));
        assert!(!may_carry(&[], &point, 1, 3));
    }

    // 12 V against 11.5 V is less than the 0.7 V that it needs; two in a ring need 1.4 V of 12 V.
    #[test]
    fn forward_volts_add_up() {
        let point = two(11.5);
        assert!(!may_carry(&[diode(&point, 0, 2)], &point, 1, 3));
        assert!(may_carry(&[diode(&point, 0, 2)], &point, 1, 2));
    }
}
