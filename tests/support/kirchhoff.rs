//! Kirchhoff's current law, re-checked with the public answers alone.

use halfsplit::circuit::{Edit, ElementId, Netlist, NodeId};
use halfsplit::index::Id;
use halfsplit::network::Operating;

/// Whether the currents add up at every node, `edits` (those of the set-up among them) in force.
pub(crate) fn check(netlist: &Netlist, edits: &[Edit], state: &Operating<'_>) -> Result<(), String> {
    let mut sum = vec![0.0; netlist.nodes.len()];
    let mut size = vec![1e-12_f64; netlist.nodes.len()];
    let mut ends: Vec<_> = netlist.elements.iter().map(|e| (e.from, e.to)).collect();
    for edit in edits {
        match edit {
            Edit::Move { element, from_end, to } => {
                let place = &mut ends[element.position()];
                *(if *from_end { &mut place.0 } else { &mut place.1 }) = *to;
            }
            Edit::Bridge(a, b, ohms) => {
                let amps = state.voltage(*a, *b).unwrap().get() / ohms.get().max(1e-7);
                for (node, sign) in [(a, -1.0), (b, 1.0)] {
                    sum[node.position()] += sign * amps;
                    // Voltages are told to 1e-16 of themselves: a stiff bridge sees that as a current.
                    size[node.position()] += amps.abs();
                }
            }
            Edit::Open(_) | Edit::Replace(..) | Edit::Series(..) | Edit::Stuck(..) => {}
        }
    }
    for (index, (from, to)) in ends.into_iter().enumerate() {
        let amps = state.current(ElementId::new(index)).get();
        for (node, sign) in [(from, -1.0), (to, 1.0)] {
            sum[node.position()] += sign * amps;
            size[node.position()] += amps.abs();
        }
    }
    for (node, (sum, size)) in sum.iter().zip(&size).enumerate() {
        // 24 V over a tenth of a milliohm is told to some 1e-10 A.
        if sum.abs() > 1e-7 * size + 1e-8 {
            let name = &netlist.nodes[NodeId::new(node)].name;
            return Err(format!("{sum} A are left over of {size} A at `{name}`"));
        }
    }
    Ok(())
}
