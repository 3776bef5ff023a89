//! What is thought of a skill, in a line for players.

use super::estimate::{AUTOMATIC, Estimate, LEAST_DAYS};

/// From so many notes on a share says something.
pub(in crate::journal) const SAYS: u32 = 8;
/// What was forgotten by so much is due.
pub(in crate::journal) const DUE: f64 = 0.05;

/// A number of things.
pub(in crate::journal) fn counted(number: u32, one: &str, many: &str) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {many}"),
    }
}

pub(in crate::journal) fn days(number: u32) -> String {
    counted(number, "day", "days")
}

pub(in crate::journal) fn per_cent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

/// How long ago it was played, by midnights.
pub(in crate::journal) fn not_played_for(nights: u32) -> String {
    match nights {
        0 => "not played for some hours".to_string(),
        _ => format!("not played for {}", days(nights)),
    }
}

/// Why a skill is to be practised: `lost` was forgotten since it was played last, so many nights ago.
pub(in crate::journal) fn why(estimate: &Estimate, lost: f64, nights: u32) -> String {
    let right = || format!("about {} right", per_cent(estimate.right));
    match () {
        _ if lost >= DUE => not_played_for(nights),
        _ if estimate.trials < SAYS => {
            format!("only {} so far", counted(estimate.trials, "note", "notes"))
        }
        _ if estimate.right < AUTOMATIC => right(),
        _ if estimate.days < LEAST_DAYS => format!("goes well, on {} so far", days(estimate.days)),
        _ => format!("{}, not sure yet", right()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_told_in_a_line() {
        // Right, notes, days; forgotten, nights.
        let cases = [
            ((0.6, 40, 5), (0.2, 9), "not played for 9 days"),
            ((0.6, 40, 5), (0.05, 1), "not played for 1 day"),
            ((0.6, 40, 5), (0.05, 0), "not played for some hours"),
            ((0.6, 1, 1), (0.0, 0), "only 1 note so far"),
            ((0.6, 7, 1), (0.0, 0), "only 7 notes so far"),
            ((0.604, 8, 1), (0.0, 0), "about 60 % right"),
            ((0.95, 40, 1), (0.0, 0), "goes well, on 1 day so far"),
            ((0.95, 40, 2), (0.0, 0), "goes well, on 2 days so far"),
            ((0.95, 40, 3), (0.0, 0), "about 95 % right, not sure yet"),
        ];
        for ((right, trials, days), (lost, nights), expected) in cases {
            let estimate = Estimate {
                right,
                between: (right - 0.1, right + 0.05),
                surely: right - 0.1,
                trials,
                days,
                last_day: 0.0,
            };
            assert_eq!(why(&estimate, lost, nights), expected);
        }
    }
}
