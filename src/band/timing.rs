//! Time feel: nobody plays on the grid. Each part has its place beside the ride, drifts a little with the others and by itself,
//! and scatters a little around that; force rises and falls over phrases.
//!
//! The ride's middle is the grid itself, where a click or a clock that is followed stands; the bass is a little ahead of it, the
//! comping laid back. Never more than [`FARTHEST_MS`] either way. Nothing leaves its bar: a bar is called back and written anew
//! up to its first tick, so what anticipated the first beat would be heard of a bar that is not played any more. There people
//! wait for each other.
//!
//! A drift is a line between values that are drawn every sixth beat, so it is known for each moment without a moment before
//! it. That notes which follow each other drift together is what players do (published tappings have correlated errors, from
//! memory); sizes and places are the house's.

use super::choice;
use super::scene::Scene;
use crate::drill::Drums;
use crate::time::{PPQ, Part, Tick, TimedNote};

/// Salt of the choices made here.
const SALT: u64 = 7;
/// The farthest that anything sounds from its place on the grid, in ms.
pub const FARTHEST_MS: f64 = 20.0;
/// Quarters from one value of the drift to the next.
const DRIFT_QUARTERS: i64 = 6;
/// How far all drift together, how far each part by itself, and the scatter around it, either way, in ms.
const TOGETHER_MS: f64 = 5.0;
const DRIFT_MS: f64 = 1.5;
const SCATTER_MS: f64 = 0.8;
/// Bars of a phrase, over which force rises and falls, and by how much of a velocity.
const PHRASE_BARS: i64 = 8;
const PHRASE_FORCE: f64 = 5.0;
/// How far force drifts either way.
const DRIFT_FORCE: f64 = 4.0;

/// The middle of a part, behind the grid, in ms.
fn place_ms(part: Part) -> Option<f64> {
    match part {
        Part::Bass => Some(-1.0),
        Part::Drums => Some(0.0),
        Part::Comping => Some(5.0),
        Part::Melody | Part::Click | Part::Model => None,
    }
}

/// Moves notes from the grid to where people would play them, and lets their force breathe. Where a click alone keeps the time,
/// all stays on it.
pub(super) fn humanize(scene: &Scene<'_>, notes: &mut [TimedNote]) {
    let score = scene.score;
    let amount = score.feel_amount.clamp(0.0, 1.0);
    if amount == 0.0 || matches!(score.drums, Drums::Click(_)) {
        return;
    }
    let ticks_a_ms = PPQ as f64 * 1000.0 / f64::from(score.tempo.0);
    for note in notes {
        let Some(place_ms) = place_ms(note.part) else {
            continue;
        };
        // What a foot sends to the top must sound as soon as it can; there people wait for each other, too.
        if note.at <= Tick(0) {
            continue;
        }
        let hand = Hand { scene, note };
        // What is struck together comes together: the scatter is the place's, not the key's.
        let scatter = SCATTER_MS * hand.draw(2, note.at.0 as u64);
        let drift = TOGETHER_MS * hand.drift(0, ALL) + DRIFT_MS * hand.drift(0, note.part as u64);
        let late_ms = amount * (place_ms + drift + scatter).clamp(-FARTHEST_MS, FARTHEST_MS);
        let force = DRIFT_FORCE * hand.drift(1, note.part as u64) + hand.phrase();
        let velocity = f64::from(note.velocity) + amount * force;
        let room = hand.since_bar();
        let moved = Tick((late_ms * ticks_a_ms).trunc() as i64);
        let moved = moved.min(note.len - Tick(1)).max(Tick(-room.0));
        note.velocity = velocity.round().clamp(1.0, 127.0) as u8;
        note.at += moved;
        note.len = note.len - moved;
    }
}

/// Who drifts: everybody at once. Parts have their own numbers.
const ALL: u64 = 99;

/// What moves a note.
struct Hand<'a> {
    scene: &'a Scene<'a>,
    note: &'a TimedNote,
}

impl Hand<'_> {
    /// From -1 to 1.
    fn draw(&self, what: u64, at: u64) -> f64 {
        self.draw_of(what, self.note.part as u64, at)
    }

    fn draw_of(&self, what: u64, who: u64, at: u64) -> f64 {
        let score = self.scene.score;
        let places = [SALT, what, who, u64::from(score.pass), at];
        2.0 * choice::fraction(score.seed, &places) - 1.0
    }

    /// A line between draws, from -1 to 1.
    fn drift(&self, what: u64, who: u64) -> f64 {
        let apart = DRIFT_QUARTERS * PPQ;
        let (index, within) = (self.note.at.0 / apart, self.note.at.0 % apart);
        let share = within as f64 / apart as f64;
        let at = |index: i64| self.draw_of(what, who, index as u64);
        at(index) * (1.0 - share) + at(index + 1) * share
    }

    /// How far the note stands from the first tick of its bar.
    fn since_bar(&self) -> Tick {
        let bars = &self.scene.bars;
        let after = bars.partition_point(|bar| bar.start <= self.note.at);
        let start = after.checked_sub(1).map_or(Tick(0), |bar| bars[bar].start);
        self.note.at - start
    }

    /// Up to the middle of the phrase and down again.
    fn phrase(&self) -> f64 {
        let bars = &self.scene.bars;
        let bar = bars.partition_point(|bar| bar.start <= self.note.at) as i64 - 1;
        let share = (bar.max(0) % PHRASE_BARS) as f64 / (PHRASE_BARS - 1) as f64;
        PHRASE_FORCE * ((std::f64::consts::PI * share).sin() - 0.6)
    }
}
