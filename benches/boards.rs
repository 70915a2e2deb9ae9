//! Makes install files of any size: boards of up to six relay ways, as they are built into vehicles.
//!
//! What is shared is what makes finding faults hard. Four boards hang on one feed and its main fuse; each board has its own fuse.
//! The ways of a board share its earth at the board; their loads earth in pairs at points that share one frame, and each frame
//! serves the boards of a feed. The switches reach their coils through one seven-core cable a board, whose first core feeds
//! them all. Figures are common practice: 15 A ways, 55 W lamps, 60 W motors, 18 W valves.

use std::fmt::Write;

/// Ways of a board.
const WAYS: usize = 6;
/// Boards on one feed and one frame.
const BOARDS: usize = 4;
/// Colours of the cores that lead to the coils.
const CORES: [&str; WAYS] = ["brown", "blue", "white", "green", "yellow", "black"];

/// An install with this many circuits: relay ways, each with its switch and its load.
pub fn install(circuits: usize) -> String {
    let mut text = String::new();
    // Writing to a string does not fail.
    let _ = write(&mut text, circuits);
    text
}

fn write(text: &mut String, circuits: usize) -> std::fmt::Result {
    let boards = circuits.div_ceil(WAYS);
    let feeds = boards.div_ceil(BOARDS);
    let ways_of = |board: usize| WAYS.min(circuits - (board - 1) * WAYS);
    let feed_of = |board: usize| (board - 1) / BOARDS + 1;
    writeln!(text, "install: Generated boards\nnominal: 12 V\nkind: trailer\nplaces:")?;
    writeln!(text, "  front: {{access: 2 min, open: 1 min}}\n  cab: {{access: 1 min}}")?;
    for board in 1..=boards {
        writeln!(text, "  box{board}: {{access: 1 min, open: 2 min}}\n  bay{board}: {{access: 4 min}}")?;
    }
    writeln!(text, "supplies:\n  battery: {{is: lead-acid battery, place: front}}\nearths:")?;
    for feed in 1..=feeds {
        writeln!(text, "  frame {feed}: {{to: battery.-, by: 25 mm² 3 m, place: front}}")?;
    }
    for board in 1..=boards {
        let frame = feed_of(board);
        writeln!(text, "  lug {board}: {{to: frame {frame}, by: bolted frame, place: box{board}}}")?;
        for pair in 1..=ways_of(board).div_ceil(2) {
            writeln!(text, "  stud {board}-{pair}: {{to: frame {frame}, by: bolted frame, place: bay{board}}}")?;
        }
    }
    writeln!(text, "controls:")?;
    for circuit in 1..=circuits {
        writeln!(text, "  S{circuit}: {{is: switch, place: cab}}")?;
    }
    writeln!(text, "cables:")?;
    for board in 1..=boards {
        let cores = CORES[..ways_of(board)].join(", ");
        let ends = format!("size: 1 mm², length: 7 m, from: cab, to: box{board}");
        writeln!(text, "  control {board}: {{cores: [red, {cores}], {ends}}}")?;
    }
    writeln!(text, "boards:")?;
    for board in 1..=boards {
        let earth = format!("earth: {{to: lug {board}, by: 1.5 mm² 0.4 m}}");
        writeln!(text, "  B{board}:\n    place: box{board}\n    live: bus {board}\n    {earth}\n    ways:")?;
        for way in 1..=ways_of(board) {
            writeln!(text, "      {way}: {{fuse: 15 A}}")?;
        }
    }
    writeln!(text, "runs:")?;
    for feed in 1..=feeds {
        let fuse = format!("blade fuse M{feed} 80 A at front");
        writeln!(text, "  main {feed}: battery.+ | 25 mm² 0.5 m | {fuse} | 25 mm² 4 m | *main {feed}")?;
    }
    for board in 1..=boards {
        let fuse = format!("blade fuse F{board} 40 A at box{board}");
        writeln!(text, "  feed {board}: main {} | {fuse} | 10 mm² 2 m | *bus {board}", feed_of(board))?;
        let fuse = format!("blade fuse C{board} 3 A at box{board}");
        writeln!(text, "  control feed {board}: bus {board} | {fuse} | control {board}.red | *live {board}")?;
    }
    for circuit in 1..=circuits {
        let (board, way) = ((circuit - 1) / WAYS + 1, (circuit - 1) % WAYS + 1);
        let (size, load) = match circuit % 3 {
            1 => ("2.5 mm²", format!("filament lamp 55 W \"lamp {circuit}\"")),
            2 => ("2.5 mm²", format!("motor 60 W \"pump {circuit}\"")),
            _ => ("1.5 mm²", format!("solenoid 18 W \"valve {circuit}\"")),
        };
        let stud = format!("stud {board}-{}", way.div_ceil(2));
        writeln!(text, "  way {circuit}: B{board}.{way} | {size} 5 m | {load} at bay{board} | {size} 1 m | {stud}")?;
        let core = CORES[way - 1];
        writeln!(text, "  on {circuit}: live {board} | S{circuit} | control {board}.{core} | B{board}.{way}.coil")?;
    }
    Ok(())
}
