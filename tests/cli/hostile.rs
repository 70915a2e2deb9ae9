//! Hostile files through the whole program: a located error, exit 2, nothing that steers a terminal. Time and room are
//! bounded loosely here, for other work shares the machine; release figures stand in the commit that added this.

use super::program::run;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Issue 2 asks for under a second in the release profile; this is the development profile on a shared machine.
const LONGEST: Duration = Duration::from_secs(10);

fn install_with(rest: &str) -> Vec<u8> {
    let head = "install: x\nnominal: 12 V\nsupplies:\n  battery: {is: lead-acid battery}\n";
    format!("{head}{rest}").into_bytes()
}

fn lines(n: usize, line: impl Fn(usize) -> String) -> String {
    (0..n).map(|i| line(i) + "\n").collect()
}

/// What, and the file.
fn files() -> Vec<(&'static str, Vec<u8>)> {
    let megabytes = |n: usize, piece: &str| piece.repeat((n << 20) / piece.len()).into_bytes();
    let bomb = lines(11, |i| format!("a{}: &a{} [{}]", i + 1, i + 1, vec![format!("*a{i}"); 9].join(",")));
    let noise = (0..1_u32 << 20).map(|i| (i.wrapping_mul(2_654_435_761) >> 13).to_le_bytes()[0]);
    vec![
        ("16 MB of open brackets", megabytes(16, "[")),
        ("deep", lines(5_000, |i| " ".repeat(i) + "a:").into_bytes()),
        ("alias bomb", format!("a0: &a0 [x]\n{bomb}").into_bytes()),
        ("cyclic", b"a: &a\n  b: *a\n".to_vec()),
        ("noise", noise.collect()),
        ("noughts", vec![0; 1 << 20]),
        ("too large", vec![b'a'; (16 << 20) + 1]),
        ("16 MB of one word", megabytes(16, "a")),
        ("16 MB of keys", lines(1_400_000, |i| format!("k{i}: v")).into_bytes()),
        ("16 MB of items", megabytes(16, "- a\n")),
        ("16 MB of quotes", megabytes(16, "\"")),
        (
            "16 MB of runs",
            install_with(&("runs:\n".to_owned() + &lines(4_000, |i| format!("  r{i}: {}", "b | ".repeat(1_000))))),
        ),
        ("unknown names", install_with(&("runs:\n".to_owned() + &lines(40_000, |i| format!("  r{i}: x{i} | y{i}"))))),
        (
            "unknown kinds",
            install_with(&("parts:\n".to_owned() + &lines(20_000, |i| format!("  p{i}: {{is: moter{i}}}")))),
        ),
        ("escape codes", install_with("parts:\n  \"K\\e[2J\": {is: relay}\n")),
        ("raw escape codes", install_with("parts:\n  K\u{1b}[2J: {is: relay}\n")),
        ("turned text", install_with("parts:\n  \"K\\u202e\\u0007\": {is: rely}\n")),
        ("not finite", install_with("runs:\n  a: battery.+ | lamp .nan W \"a\" | battery.-\n")),
        ("too big a number", install_with("runs:\n  a: battery.+ | lamp 1e999 W \"a\" | battery.-\n")),
        ("negative", install_with("runs:\n  a: battery.+ | lamp -5 W \"a\" | battery.-\n")),
        ("without unit", install_with("runs:\n  a: battery.+ | lamp 5 \"a\" | battery.-\n")),
        ("joined to itself", install_with("runs:\n  a: battery.+ | battery.+\n")),
        ("given twice", install_with("parts:\n  K1: {is: relay}\n  K1: {is: relay}\n")),
        ("nothing", Vec::new()),
        ("sixteen bit text", b"\xff\xfei\0n\0".to_vec()),
    ]
}

/// `file:line:column:` at the start of a line.
fn is_located(line: &str, file: &Path) -> bool {
    let rest = line.strip_prefix(&*file.to_string_lossy()).and_then(|r| r.strip_prefix(':'));
    let mut numbers = rest.unwrap_or_default().splitn(3, ':');
    let mut number = || numbers.next().and_then(|n| n.parse::<usize>().ok()).is_some_and(|n| n > 0);
    number() && number()
}

#[test]
fn hostile_files_get_a_located_error() {
    let folder: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join("hostile");
    std::fs::create_dir_all(&folder).unwrap();
    for (what, bytes) in files() {
        let file = folder.join(format!("{what}.yaml"));
        std::fs::write(&file, bytes).unwrap();
        let start = Instant::now();
        let ran = run(&["check", file.to_str().unwrap()]);
        let took = start.elapsed();
        std::fs::remove_file(&file).unwrap();
        let shown: String = ran.stderr.chars().take(500).collect();
        assert_eq!(ran.code, Some(2), "{what}: {shown}");
        assert_eq!(ran.stdout, "", "{what}");
        assert!(ran.stderr.lines().any(|line| is_located(line, &file)), "{what}: {shown}");
        assert!(!ran.stderr.chars().any(|c| c.is_control() && c != '\n'), "{what}: {shown:?}");
        assert!(ran.stderr.len() < 200_000, "{what}: {} bytes", ran.stderr.len());
        assert!(took < LONGEST, "{what}: {took:?}");
    }
}

/// The same door for a recorded job: it too is a stranger's file.
#[test]
fn hostile_answers_get_a_located_error() {
    let folder: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join("hostile-answers");
    std::fs::create_dir_all(&folder).unwrap();
    let reading = "  - {red: pump.plus, black: frame, reads: 12 V}\n";
    let head = "complaint: {what: [pump], how: dead}\nreadings:\n";
    for (what, text) in [
        ("many readings", head.to_owned() + &reading.repeat(20_000)),
        ("brackets", "[".repeat(1 << 20)),
        ("nothing", String::new()),
        ("endless", format!("{head}  - {{red: pump.+, black: frame, reads: .inf V}}\n")),
        ("wrong unit", format!("{head}  - {{red: pump.+, black: frame, reads: 5 A}}\n")),
    ] {
        let file = folder.join(format!("{what}.yaml"));
        std::fs::write(&file, text).unwrap();
        let start = Instant::now();
        let ran = run(&["diagnose", super::program::GOOD, "--answers", file.to_str().unwrap()]);
        let took = start.elapsed();
        std::fs::remove_file(&file).unwrap();
        let shown: String = ran.stderr.chars().take(500).collect();
        assert_eq!(ran.code, Some(2), "{what}: {shown}");
        assert!(ran.stderr.lines().any(|line| is_located(line, &file)), "{what}: {shown}");
        assert!(took < LONGEST, "{what}: {took:?}");
    }
}
