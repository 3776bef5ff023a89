//! How sure a name is: the chance that such a note was played, by what the name rests on.
//!
//! A logistic regression over what `Signs` says, fitted by `tests/outside/ear/sureness.py` to 23,000 notes that were told (the ways of
//! playing on the string model and on recorded notes of three guitars; lines of the same with a band 10, 15 and 20 dB under them, known and
//! not). Each of the four instruments left out in turn, it is better on that one than how well the sound repeats was.

use super::found::Signs;

/// What nothing speaks for.
const NOTHING: f32 = -9.825;
/// A period of what repeats ten times less well.
const UNCLEAR: f32 = -1.346;
const LATE: f32 = -0.278;
const SLIGHT: f32 = -0.42;
/// Ten decibels over the player's level.
const ABOVE: f32 = 1.445;
const BAND: f32 = -3.282;
const EXPLAINED: f32 = 11.32;
const ADDED: f32 = 2.416;
const STRUCK: f32 = 2.534;
const SECOND: f32 = 0.247;
const RIVAL: f32 = -1.072;
const ALSO: f32 = -0.853;
/// Named by what its stroke added alone.
const NAMELESS: f32 = 1.637;

/// Named so late, in ms, it was not clear for long.
const LATE_MS: f32 = 100.0;
/// What is said of the stroke counts over so many periods; else as it is usually.
const PERIODS: f32 = 2.0;
const USUAL: Usual = Usual {
    added: 1.0,
    second: 0.3,
    explained: 0.7,
};

struct Usual {
    added: f32,
    second: f32,
    explained: f32,
}

/// The chance that a string's note of such signs was played; `also`: beside another one.
pub(super) fn chance(signs: &Signs, struck: bool, also: bool) -> f32 {
    let stroke = match struck && signs.periods > PERIODS {
        true => Usual {
            added: signs.added.min(1.0),
            second: signs.second.min(1.0),
            explained: signs.explained,
        },
        false => USUAL,
    };
    let nameless = signs.clarity <= 0.0;
    let unclear = match nameless {
        true => -1.0,
        false => (1.0 - signs.clarity).max(1e-3).log10(),
    };
    let one = |is: bool| if is { 1.0 } else { 0.0 };
    let sum = NOTHING
        + UNCLEAR * unclear
        + LATE * one(signs.age_ms > LATE_MS)
        + SLIGHT * one(signs.slight)
        + ABOVE * signs.above_db.clamp(-30.0, 0.0) / 10.0
        + BAND * signs.band.min(1.0)
        + EXPLAINED * stroke.explained
        + ADDED * stroke.added
        + STRUCK * one(struck)
        + SECOND * stroke.second
        + RIVAL * signs.rival.min(1.0)
        + ALSO * one(also)
        + NAMELESS * one(nameless);
    1.0 / (1.0 + (-sum).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A plain stroke.
    const PLAIN: Signs = Signs {
        clarity: 0.97,
        rival: 0.0,
        better: 0.0,
        age_ms: 41.0,
        above_db: 0.0,
        slight: false,
        added: 1.0,
        second: 0.1,
        explained: 0.9,
        periods: 9.0,
        band: 0.0,
    };

    #[test]
    fn what_speaks_against_a_note_makes_it_less_sure() {
        let plain = chance(&PLAIN, true, false);
        assert!(plain > 0.98, "{plain}");
        let against = [
            Signs {
                clarity: 0.85,
                ..PLAIN
            },
            Signs {
                rival: 0.9,
                ..PLAIN
            },
            Signs {
                age_ms: 130.0,
                ..PLAIN
            },
            Signs {
                above_db: -15.0,
                ..PLAIN
            },
            Signs {
                slight: true,
                ..PLAIN
            },
            Signs {
                added: 0.3,
                ..PLAIN
            },
            Signs {
                explained: 0.5,
                ..PLAIN
            },
            Signs { band: 0.8, ..PLAIN },
        ];
        for signs in against {
            assert!(chance(&signs, true, false) < plain, "{signs:?}");
        }
        assert!(chance(&PLAIN, true, true) < plain);
        // What a band leaves: late, unclear, of no clear stroke.
        let left = Signs {
            clarity: 0.85,
            age_ms: 111.0,
            above_db: -8.0,
            slight: true,
            added: 0.5,
            explained: 0.45,
            band: 0.5,
            ..PLAIN
        };
        assert!(chance(&left, true, false) < 0.1);
    }
}
