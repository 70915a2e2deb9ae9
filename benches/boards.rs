//! Makes install files of any size: boards of six ways, each with its feed fuse, earth and control cable.

use std::fmt::Write;

/// An install with `ways` relay ways on boards of six.
pub(crate) fn install(ways: usize) -> String {
    let boards = ways.div_ceil(6);
    let mut text = String::from(
        "install: generated board\nnominal: 12 V\nkind: trailer\nplaces:\n  tractor: {access: 2 min}\n  cab: {access: 1 min}\n",
    );
    for b in 1..=boards {
        let _ = writeln!(text, "  box{b}: {{access: 1 min, open: 2 min}}");
    }
    text.push_str("supplies:\n  battery: {is: lead-acid battery, place: tractor}\nearths:\n");
    for b in 1..=boards {
        let _ = writeln!(text, "  frame{b}: {{to: battery.-, by: 10 mm² 3 m, place: box{b}}}");
    }
    text.push_str("controls:\n");
    for w in 1..=ways {
        let _ = writeln!(text, "  S{w}: {{is: switch, place: cab}}");
    }
    text.push_str("boards:\n");
    for b in 1..=boards {
        let _ = writeln!(text, "  B{b}:\n    place: box{b}\n    live: bus{b}\n    earth: frame{b}\n    ways:");
        for w in 1..=6.min(ways - (b - 1) * 6) {
            let _ = writeln!(text, "      {w}: {{fuse: 15 A}}");
        }
    }
    text.push_str("runs:\n  feed: battery.+ | 25 mm² 1 m | *main\n  control: main | blade fuse F0 10 A | 1.5 mm² 3 m | *cab live\n");
    for b in 1..=boards {
        let _ = writeln!(text, "  feed{b}: main | 16 mm² 3 m | blade fuse FB{b} 40 A | 10 mm² 2 m | *bus{b}");
    }
    for w in 1..=ways {
        let (b, k) = ((w - 1) / 6 + 1, (w - 1) % 6 + 1);
        let load =
            if w % 2 == 0 { format!("filament lamp 55 W \"lamp {w}\"") } else { format!("motor 60 W \"pump {w}\"") };
        let _ = writeln!(text, "  way{w}: B{b}.{k} | 2.5 mm² 5 m | {load} | 2.5 mm² 2 m | frame{b}");
        let _ = writeln!(text, "  on{w}: cab live | S{w} | 0.75 mm² 6 m | B{b}.{k}.coil");
    }
    text
}
