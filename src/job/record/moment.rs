//! A moment, as it stands in a job file: universal time to the second.

use std::fmt;

/// Seconds since the start of 1970 in universal time, leap seconds left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment(i64);

const DAY: i64 = 86_400;
/// Years beyond which four digits do not hold: 0000-01-01 and the end of 9999.
const FIRST: i64 = -62_167_219_200;
const LAST: i64 = 253_402_300_799;

impl Moment {
    /// The moment this many seconds after the start of 1970; what four digits of a year cannot hold is drawn in.
    pub fn from_seconds(seconds: i64) -> Self {
        Self(seconds.clamp(FIRST, LAST))
    }

    /// Seconds since the start of 1970.
    pub fn seconds(self) -> i64 {
        self.0
    }

    /// The date alone: `2026-11-25`.
    pub fn date(self) -> String {
        let (year, month, day) = civil(self.0.div_euclid(DAY));
        format!("{year:04}-{month:02}-{day:02}")
    }

    /// Reads `2026-11-25T22:38:05Z`.
    pub fn parse(text: &str) -> Option<Self> {
        let (date, time) = text.strip_suffix('Z')?.split_once('T')?;
        let [year, month, day] = fields(date, '-', [4, 2, 2])?;
        let [hour, minute, second] = fields(time, ':', [2, 2, 2])?;
        if !(1..=12).contains(&month) || !(1..=31).contains(&day) || hour > 23 || minute > 59 || second > 59 {
            return None;
        }
        let days = days(year, month, day);
        // The 31st of a month of 30 days is none.
        let real = civil(days) == (year, month, day);
        real.then(|| Self(days * DAY + hour * 3600 + minute * 60 + second))
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let time = self.0.rem_euclid(DAY);
        let (hour, minute, second) = (time / 3600, time / 60 % 60, time % 60);
        write!(f, "{}T{hour:02}:{minute:02}:{second:02}Z", self.date())
    }
}

/// Three numbers with this many digits each.
fn fields(text: &str, between: char, digits: [usize; 3]) -> Option<[i64; 3]> {
    let pieces: Vec<&str> = text.split(between).collect();
    let pieces: [&str; 3] = pieces.try_into().ok()?;
    let mut found = [0; 3];
    for ((piece, digits), found) in pieces.iter().zip(digits).zip(&mut found) {
        if piece.len() != digits || !piece.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        *found = piece.parse().ok()?;
    }
    Some(found)
}

/// Year, month and day of a day counted from 1970-01-01, in the Gregorian calendar. The year is taken from March on, so that
/// the leap day is its last; 400 years are 146,097 days (H. Hinnant, 'chrono-compatible low-level date algorithms').
fn civil(day: i64) -> (i64, i64, i64) {
    let day = day + 719_468;
    let era = day.div_euclid(146_097);
    let of_era = day.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    (year_of_era + era * 400 + i64::from(month <= 2), month, day)
}

/// The inverse of [`civil`].
fn days(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let of_year = (153 * (if month > 2 { month - 3 } else { month + 9 }) + 2) / 5 + day - 1;
    let of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + of_year;
    era * 146_097 + of_era - 719_468
}

#[cfg(test)]
mod tests {
    use super::Moment;

    #[track_caller]
    fn is(seconds: i64, text: &str) {
        assert_eq!(Moment::from_seconds(seconds).to_string(), text);
        assert_eq!(Moment::parse(text).map(Moment::seconds), Some(seconds), "{text}");
    }

    /// Seconds from `date -u -d TEXT +%s` (GNU coreutils).
    #[test]
    fn moments_are_those_of_the_calendar() {
        is(0, "1970-01-01T00:00:00Z");
        is(951_827_696, "2000-02-29T12:34:56Z");
        is(1_795_646_285, "2026-11-25T22:38:05Z");
        is(4_107_542_399, "2100-02-28T23:59:59Z");
        is(4_107_542_400, "2100-03-01T00:00:00Z");
        is(-1, "1969-12-31T23:59:59Z");
    }

    #[test]
    fn what_is_no_moment_is_refused() {
        for text in ["", "2026-11-25", "2026-02-30T00:00:00Z", "2026-11-25T24:00:00Z", "26-11-25T00:00:00Z"] {
            assert_eq!(Moment::parse(text), None, "{text}");
        }
        assert_eq!(Moment::from_seconds(i64::MAX).to_string(), "9999-12-31T23:59:59Z");
        assert_eq!(Moment::from_seconds(i64::MIN).to_string(), "0000-01-01T00:00:00Z");
    }
}
