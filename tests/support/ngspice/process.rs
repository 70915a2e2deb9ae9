//! The simulator as a process: circuits in, potentials out.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Whether the simulator is installed.
pub(crate) fn is_there() -> bool {
    Command::new("ngspice")
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

/// A circuit to be solved by itself: its elements, and the simulator's options.
pub(super) struct Circuit {
    pub(super) text: String,
    pub(super) options: &'static str,
}

/// Potentials of `n0`, `n1`, ... by number.
pub(super) type Potentials = BTreeMap<usize, f64>;

/// Runs all circuits in one process; what it found of each.
pub(super) fn run(circuits: &[Circuit]) -> Vec<Option<Potentials>> {
    static RUNS: AtomicUsize = AtomicUsize::new(0);
    let run = RUNS.fetch_add(1, Ordering::Relaxed);
    let folder: PathBuf = std::env::temp_dir().join(format!("halfsplit-ngspice-{}-{run}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    // Without that line the simulator gives the end of a short simulation in time for an operating point where all else
    // fails, and that end need not be one: kilovolts from a 24 V battery were seen.
    let mut driver = String::from("* all circuits of one round\n.control\nset numdgt=15\noptran 1 1 1 0 0 0\n");
    for (index, Circuit { text, options }) in circuits.iter().enumerate() {
        let file = folder.join(format!("{index}.cir"));
        let whole = format!("* circuit {index}\n.options {options}\n{text}.end\n");
        std::fs::write(&file, whole).unwrap();
        let _ =
            writeln!(driver, "echo circuit {index}\nsource {}\nop\nprint all\nremcirc\ndestroy all", file.display());
    }
    driver.push_str("quit 0\n.endc\n.end\n");
    let script = folder.join("driver.cir");
    std::fs::write(&script, driver).unwrap();
    let output = Command::new("ngspice").arg("-b").arg(&script).output().expect("ngspice runs");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut found: Vec<Option<Potentials>> = vec![None; circuits.len()];
    let mut now = None;
    for line in said.lines() {
        let line = line.trim();
        if let Some(index) = line.strip_prefix("circuit ") {
            now = index.parse::<usize>().ok();
        }
        let Some((name, value)) = line.split_once(" = ") else {
            continue;
        };
        let node = name.strip_prefix('n').and_then(|n| n.parse().ok());
        if let (Some(now), Some(node), Ok(value)) = (now, node, value.trim().parse::<f64>())
            && let Some(place) = found.get_mut(now)
        {
            place.get_or_insert_default().insert(node, value);
        }
    }
    if std::env::var_os("KEEP_NGSPICE").is_none() {
        let _ = std::fs::remove_dir_all(&folder);
    }
    found
}
