//! Moments as dates where the player is.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A day, in milliseconds.
pub(in crate::journal) const DAY_MS: f64 = 86_400_000.0;

pub(in crate::journal) fn date_of(at_ms: i64, zone: &TimeZone) -> Date {
    let at = Timestamp::from_millisecond(at_ms).unwrap_or(Timestamp::UNIX_EPOCH);
    at.to_zoned_datetime(zone.clone()).date()
}

/// The date of a moment where the player is.
pub fn day_of(at_ms: i64) -> String {
    date_of(at_ms, &TimeZone::system()).to_string()
}

/// A date as a number, counted on from 1970.
pub(in crate::journal) fn number_of(day: Date) -> i64 {
    i64::from((day - jiff::civil::date(1970, 1, 1)).get_days())
}

/// Dates as numbers, counted on from 1970. Most moments lie on the day of the one before.
pub(in crate::journal) struct Dates<'a> {
    zone: &'a TimeZone,
    /// The day that was met last: its first millisecond, that of the next one, and its number.
    last: (i64, i64, i64),
}

impl Dates<'_> {
    pub(in crate::journal) fn of(zone: &TimeZone) -> Dates<'_> {
        Dates {
            zone,
            last: (0, 0, 0),
        }
    }

    pub(in crate::journal) fn number(&mut self, at_ms: i64) -> i64 {
        let (begins, ends, number) = self.last;
        if (begins..ends).contains(&at_ms) {
            return number;
        }
        let day = date_of(at_ms, self.zone);
        let number = number_of(day);
        let next = day.tomorrow().unwrap_or(day);
        self.last = (begin_ms(day, self.zone), begin_ms(next, self.zone), number);
        number
    }
}

pub(super) fn monday_of(day: Date) -> Date {
    let back = i64::from(day.weekday().to_monday_zero_offset());
    day.checked_sub(jiff::Span::new().days(back)).unwrap_or(day)
}

pub(super) fn begin_ms(day: Date, zone: &TimeZone) -> i64 {
    let begins = day.to_zoned_datetime(zone.clone());
    begins.map_or(i64::MIN, |begins| begins.timestamp().as_millisecond())
}
