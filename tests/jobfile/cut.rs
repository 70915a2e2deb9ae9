//! A job file cut off at every byte, as a crash or a full disk leaves it.

use super::script::{SMALL, course, folder, lines_of, path, sitting};
use halfsplit::job::record::{Course, whole_lines};

const SAMPLE: &str = "tests/jobfile/lamp.job.yaml";

/// What a whole prefix of the sample comes to: the sample's own lines up to there, each read alone.
fn courses(bytes: &[u8]) -> Vec<(usize, Option<Course>)> {
    let ends = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(at, _)| at + 1);
    std::iter::once(0).chain(ends).map(|end| (end, course(&bytes[..end]))).collect()
}

#[test]
fn cut_at_any_byte_all_whole_records_are_used_and_no_other() {
    let bytes = std::fs::read(path(SAMPLE)).unwrap();
    let all = lines_of(&bytes);
    let courses = courses(&bytes);
    assert!(all.len() > 15 && courses.len() == all.len() + 1);
    for cut in 0..=bytes.len() {
        let part = &bytes[..cut];
        let (whole, torn) = match whole_lines(part).expect("a cut job file is one still") {
            Ok(whole) => (whole, false),
            Err(torn) => (torn.whole, true),
        };
        assert_eq!(torn, whole < cut, "cut at {cut}");
        let (end, expected) = courses.iter().rfind(|(end, _)| *end <= cut).unwrap();
        assert_eq!(whole, *end, "cut at {cut}");
        assert_eq!(lines_of(part), all[..lines_of(&bytes[..whole]).len()], "cut at {cut}");
        assert_eq!(&course(part), expected, "cut at {cut}");
    }
}

/// A file system may leave zeros where the size of a file reached the disk before its text.
#[test]
fn zeros_behind_the_last_record_are_torn_off_too() {
    let bytes = std::fs::read(path(SAMPLE)).unwrap();
    for zeros in [1, 100, 5_000] {
        let mut longer = bytes.clone();
        longer.resize(bytes.len() + zeros, 0);
        assert_eq!(course(&longer), course(&bytes));
    }
}

/// The program says what was torn off, cuts it off, and goes on behind the last whole record.
#[test]
fn the_program_goes_on_behind_the_last_whole_record() {
    let bytes = std::fs::read(path(SAMPLE)).unwrap();
    let folder = folder("cut");
    let lines: Vec<usize> = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(at, _)| at + 1).collect();
    // In the middle of each of the last records, one byte before the end of a line, and in the very first line.
    let inside = lines.windows(2).rev().take(6).map(|w| usize::midpoint(w[0], w[1]));
    let cuts: Vec<usize> = inside.chain([lines[lines.len() - 3] - 1, 5, lines[0] - 1]).collect();
    for cut in cuts {
        let job = folder.join(format!("{cut}.yaml"));
        std::fs::write(&job, &bytes[..cut]).unwrap();
        let none: [&str; 0] = [];
        let ran = sitting(SMALL, &job, &none);
        assert!(ran.stderr.contains("torn off"), "{ran}");
        assert!(matches!(ran.code, Some(0 | 1)), "{ran}");
        let whole = lines.iter().rev().find(|end| **end <= cut).copied().unwrap_or(0);
        let after = std::fs::read(&job).unwrap_or_default();
        assert!(after.starts_with(&bytes[..whole]), "{cut}: {ran}");
        assert!(after.is_empty() || after.ends_with(b"\n"), "{cut}");
        // What stands there now is a job file without a torn end.
        assert!(after.is_empty() || whole_lines(&after).unwrap().is_ok(), "{cut}");
        course(&after);
        let again = sitting(SMALL, &job, &none);
        assert!(!again.stderr.contains("torn off"), "{again}");
    }
}
