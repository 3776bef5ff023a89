//! Time feel: nobody plays on the grid. Each part has its place beside the ride, drifts a little together with itself, and scatters
//! a little around that; force rises and falls over phrases.
//!
//! The grid is the earliest that anything sounds, so that nothing leaves its bar and nothing comes before a count: the bass is
//! a little behind the grid, the ride a little behind that, the comping laid back. Never more than [`LATEST_MS`].
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
/// The latest that anything sounds after its place on the grid, in ms.
pub const LATEST_MS: f64 = 20.0;
/// Quarters from one value of the drift to the next.
const DRIFT_QUARTERS: i64 = 6;
/// How far the drift goes either way, and the scatter around it, in ms.
const DRIFT_MS: f64 = 4.0;
const SCATTER_MS: f64 = 1.2;
/// Bars of a phrase, over which force rises and falls, and by how much of a velocity.
const PHRASE_BARS: i64 = 8;
const PHRASE_FORCE: f64 = 5.0;
/// How far force drifts either way.
const DRIFT_FORCE: f64 = 4.0;

/// The middle of a part, behind the grid, in ms.
fn place_ms(part: Part) -> Option<f64> {
    match part {
        Part::Bass => Some(6.0),
        Part::Drums => Some(8.0),
        Part::Comping => Some(12.0),
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
        let late_ms = place_ms + DRIFT_MS * hand.drift(0) + scatter;
        let late_ms = amount * late_ms.clamp(0.0, LATEST_MS);
        let force = DRIFT_FORCE * hand.drift(1) + hand.phrase();
        let velocity = f64::from(note.velocity) + amount * force;
        let moved = Tick((late_ms * ticks_a_ms).floor() as i64).min(note.len - Tick(1));
        note.velocity = velocity.round().clamp(1.0, 127.0) as u8;
        note.at += moved;
        note.len = note.len - moved;
    }
}

/// What moves a note.
struct Hand<'a> {
    scene: &'a Scene<'a>,
    note: &'a TimedNote,
}

impl Hand<'_> {
    /// From -1 to 1.
    fn draw(&self, what: u64, at: u64) -> f64 {
        let score = self.scene.score;
        let part = self.note.part as u64;
        let places = [SALT, what, part, u64::from(score.pass), at];
        2.0 * choice::fraction(score.seed, &places) - 1.0
    }

    /// A line between draws, from -1 to 1.
    fn drift(&self, what: u64) -> f64 {
        let apart = DRIFT_QUARTERS * PPQ;
        let (index, within) = (self.note.at.0 / apart, self.note.at.0 % apart);
        let share = within as f64 / apart as f64;
        let at = |index: i64| self.draw(what, index as u64);
        at(index) * (1.0 - share) + at(index + 1) * share
    }

    /// Up to the middle of the phrase and down again.
    fn phrase(&self) -> f64 {
        let bars = &self.scene.bars;
        let bar = bars.partition_point(|bar| bar.start <= self.note.at) as i64 - 1;
        let share = (bar.max(0) % PHRASE_BARS) as f64 / (PHRASE_BARS - 1) as f64;
        PHRASE_FORCE * ((std::f64::consts::PI * share).sin() - 0.6)
    }
}
