//! What of a job file is whole: all lines with their newline. The rest was cut off by a crash or a full disk.

/// The start of every job file.
const START: &str = "- {job: ";

/// What a crash left behind the last whole record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Torn {
    /// Bytes of the file that are whole.
    pub whole: usize,
    /// What stands behind them, as far as it can be shown.
    pub rest: String,
}

/// How many bytes of a job file are whole lines; with what is torn behind them, if anything is. `None`: this is no job file, and
/// nothing of it may be cut off.
///
/// A line without its newline is torn. So is a last line of zero bytes, which a file system leaves where the size of a file
/// reached the disk before its text did; nothing was said to be kept before both had.
pub fn whole_lines(bytes: &[u8]) -> Option<Result<usize, Torn>> {
    let mut whole = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |last| last + 1);
    // Nothing but zeros and line ends follows the first zero: never written. Else it is a damaged file, and said to be.
    if let Some(zero) = bytes.iter().position(|b| *b == 0) {
        let line = bytes.iter().take(zero).rposition(|b| *b == b'\n').map_or(0, |last| last + 1);
        let lost = bytes.iter().skip(zero).all(|b| matches!(b, 0 | b'\n'));
        if lost {
            whole = whole.min(line);
        }
    }
    let start = START.as_bytes();
    let known = bytes.len().min(start.len());
    let is_ours = bytes.get(..known) == start.get(..known) || bytes.iter().all(|b| *b == 0);
    if !is_ours {
        return None;
    }
    match bytes.get(whole..) {
        None | Some([]) => Some(Ok(whole)),
        Some(rest) => Some(Err(Torn { whole, rest: String::from_utf8_lossy(rest).into_owned() })),
    }
}

#[cfg(test)]
mod tests {
    use super::{Torn, whole_lines};

    #[track_caller]
    fn torn(bytes: &[u8], whole: usize) {
        let found = whole_lines(bytes);
        assert!(matches!(&found, Some(Err(Torn { whole: w, .. })) if *w == whole), "{found:?}");
    }

    #[test]
    fn a_line_without_its_end_is_torn() {
        torn(b"- {job: 1, at: 2", 0);
        torn(b"- {job: 1}\n- {undo: 1", 11);
        torn(b"- {job: 1}\n- {undo: 1}", 11);
        torn(b"- {job: 1}\n\0\0\0\0", 11);
        torn(b"- {job: 1}\n- {un\0\0\0\n", 11);
        torn(b"\0\0\0", 0);
        torn(b"- {jo", 0);
        assert_eq!(whole_lines(b"- {job: 1}\n"), Some(Ok(11)));
        assert_eq!(whole_lines(b""), Some(Ok(0)));
    }

    /// Cutting the torn end off must never touch a file of another sort.
    #[test]
    fn a_file_of_another_sort_is_left_alone() {
        assert_eq!(whole_lines(b"install: x"), None);
        assert_eq!(whole_lines(b"- {look: F1}\n"), None);
        assert_eq!(whole_lines(b"hello\0"), None);
    }

    /// Zeros with text behind them are damage in the middle, which is an error of the file, not a torn end.
    #[test]
    fn zeros_in_the_middle_are_not_cut_off() {
        assert_eq!(whole_lines(b"- {job: 1}\n\0\0\n- {undo: 1}\n"), Some(Ok(26)));
    }
}
