use super::edits::drawn;
use crate::support::random::{Dice, board, fault, set_up};
use halfsplit::circuit::Edit;
use halfsplit::network::Network;
#[test]
fn debug_one() {
    let Ok(seed) = std::env::var("SEED") else {
        return;
    };
    let (a, b) = seed.split_once('.').unwrap();
    let mut dice = Dice::new(a.parse::<u64>().unwrap() + 1000);
    let ways = 2 + dice.below(12);
    let c = board(&mut dice, ways);
    let n = Network::new(&c.netlist);
    for k in 0..8 {
        let set_up = set_up(&mut dice, &c);
        let faults = 1 + dice.below(5);
        let edits: Vec<Edit> = (0..faults).map(|_| fault(&mut dice, &c)).collect();
        let x = n.enter(&edits, &n.fresh(), &set_up).unwrap();
        if k != b.parse::<usize>().unwrap() {
            continue;
        }
        let d = drawn(&c.netlist, &edits);
        let m = Network::new(&d);
        let y = m.enter(&[], &m.fresh(), &set_up).unwrap();
        println!("{edits:?} {} {}", x.len(), y.len());
        for (id, e) in c.netlist.elements.enumerate() {
            let k = halfsplit::index::Id::position(id);
            let (p, q) = (x[0].state.drop(id).get(), y[0].state.drop(id).get());
            let mark = if (p - q).abs() > 1e-9 { "<<<<" } else { "" };
            println!(
                "{k} {} {}-{} {:.6} V {:.6} A {:?} | {:e} {mark}",
                e.name,
                c.netlist.nodes[e.from].name,
                c.netlist.nodes[e.to].name,
                p,
                x[0].state.current(id).get(),
                x[0].state.state(id),
                p - q
            );
        }
        println!("{:?} {:?}", n.counts(), m.counts());
    }
}
