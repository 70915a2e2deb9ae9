//! The clock, read in this one place.

use crate::job::record::Moment;
use std::time::{SystemTime, UNIX_EPOCH};

/// Now, as the machine's clock says.
pub(super) fn now() -> Moment {
    let seconds = match SystemTime::now().duration_since(UNIX_EPOCH) {
        Ok(since) => i64::try_from(since.as_secs()).unwrap_or(i64::MAX),
        Err(before) => i64::try_from(before.duration().as_secs()).map_or(i64::MIN, |s| -s),
    };
    Moment::from_seconds(seconds)
}
