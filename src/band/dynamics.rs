//! How loud a pass is: whatever the feel, the tempo and the density of its rhythm, each part is as loud as every other pass of
//! it, so that nobody's hand has to go to the amplifier between a ballad and a fast blues.
//!
//! Notes have no loudness, but strokes have energy, and that can be added up: a MIDI velocity is heard as the square of an
//! amplitude (General MIDI 1, the recommended curve: 40 log10), a stroke dies away, and a meter looks at stretches of 400 ms and
//! leaves out those in which little happens (ITU-R BS.1770). What comes of that is compared with the phrase by which a
//! SoundFont's parts were metered, and made up for by a little more or less force in every stroke.

use super::fills;
use super::scene::Scene;
use crate::chart::Feel;
use crate::drill::BandStyle;
use crate::time::{PPQ, Part, Tick, TimedNote, UsPerQuarter};

/// What the energy is added up in, in seconds.
const STEP_S: f64 = 0.05;
/// Steps of a stretch that is metered, and from one to the next: 400 ms, overlapping by three quarters.
const STRETCH: usize = 8;
const HOP: usize = 2;
/// Stretches so much quieter than the mean are left out, in dB.
const GATE_DB: f64 = -10.0;
/// More than that is not made up for, in dB.
const MOST_DB: f64 = 8.0;
/// How long a stroke that was let go is still heard, in seconds.
const RELEASE_S: f64 = 0.1;

/// A stroke: when, for how long, in seconds, with which energy.
type Stroke = (f64, f64, f64);

/// How the strokes of a part die away, and by what phrase it was metered.
struct Dying {
    /// The time in which a stroke falls to 1/e of its energy, in seconds.
    fall_s: f64,
    /// Velocity, notes at a time, seconds from stroke to stroke.
    phrase: (u8, usize, f64),
}

fn dying(part: Part) -> Option<Dying> {
    let (fall_s, phrase) = match part {
        Part::Comping => (1.0, (66, 4, 1.0)),
        Part::Bass => (0.5, (78, 1, 0.5)),
        Part::Drums => (0.25, (70, 1, 0.5)),
        _ => return None,
    };
    Some(Dying { fall_s, phrase })
}

/// How loud a drum is beside the ride, in dB, at the same velocity: as it is mixed.
fn beside_the_ride_db(key: u8) -> f64 {
    use super::kit::{
        BRUSH_SWEEP, BRUSH_TAP, CLOSED_HI_HAT, CRASH, HIGH_TOM, KICK, LOW_TOM, PEDAL_HI_HAT,
        SIDE_STICK, SNARE,
    };
    match key {
        KICK => -0.7,
        SIDE_STICK => -2.4,
        SNARE | BRUSH_TAP | BRUSH_SWEEP => 3.2,
        CLOSED_HI_HAT => 2.7,
        PEDAL_HI_HAT => -3.2,
        CRASH => 2.0,
        HIGH_TOM | LOW_TOM => 1.0,
        _ => 0.0,
    }
}

/// How loud a part is to be beside the phrase by which it was metered, in dB.
fn wanted_db(scene: &Scene<'_>, part: Part) -> f64 {
    let score = scene.score;
    // The arc over the choruses is heard as force, too.
    let arc = match score.band {
        BandStyle::Free => 1.2 * (fills::intensity(scene) - 0.5),
        BandStyle::Plain | BandStyle::Steady => 0.0,
    };
    arc + match (part, score.feel) {
        // Brushes whisper.
        (Part::Drums, Feel::Ballad) => -1.1,
        (Part::Drums, Feel::Bossa) => 3.7,
        (Part::Drums, _) => 3.1,
        (Part::Bass, _) => 1.2,
        _ => 0.6,
    }
}

/// Makes every part as loud as it is to be.
pub(super) fn level(scene: &Scene<'_>, notes: &mut [TimedNote]) {
    for part in [Part::Comping, Part::Bass, Part::Drums] {
        let Some(dying) = dying(part) else { continue };
        let of_part = notes.iter().filter(|note| note.part == part);
        let tempo = scene.score.tempo;
        let strokes: Vec<Stroke> = of_part.map(|note| stroke(note, tempo)).collect();
        let Some(sounds_db) = loudness_db(&strokes, dying.fall_s) else {
            continue;
        };
        let Some(phrase_db) = loudness_db(&phrase(&dying), dying.fall_s) else {
            continue;
        };
        let missing = wanted_db(scene, part) + phrase_db - sounds_db;
        let factor = 10f64.powf(missing.clamp(-MOST_DB, MOST_DB) / 40.0);
        for note in notes.iter_mut().filter(|note| note.part == part) {
            let velocity = f64::from(note.velocity) * factor;
            note.velocity = velocity.round().clamp(1.0, 127.0) as u8;
        }
    }
}

fn stroke(note: &TimedNote, tempo: UsPerQuarter) -> Stroke {
    let seconds = |ticks: Tick| ticks.0 as f64 / PPQ as f64 * f64::from(tempo.0) / 1e6;
    let mix = if note.part == Part::Drums {
        10f64.powf(beside_the_ride_db(note.key) / 10.0)
    } else {
        1.0
    };
    // A drum rings by itself, however short it is written.
    let len = match note.part {
        Part::Drums => 2.0,
        _ => seconds(note.len),
    };
    (seconds(note.at), len, mix * energy(note.velocity))
}

/// The square of an amplitude that is the square of the velocity.
fn energy(velocity: u8) -> f64 {
    (f64::from(velocity) / 127.0).powi(4)
}

/// The phrase by which a part was metered.
fn phrase(dying: &Dying) -> Vec<Stroke> {
    let (velocity, notes, apart_s) = dying.phrase;
    let stroke = |i: usize| (i as f64 * apart_s, apart_s, notes as f64 * energy(velocity));
    (0..8).map(stroke).collect()
}

/// The gated mean of the energy; `None`: nothing sounds.
fn loudness_db(strokes: &[Stroke], fall_s: f64) -> Option<f64> {
    let end = strokes.iter().map(|(at, ..)| *at).fold(0.0, f64::max);
    let mut steps = vec![0.0; (end / STEP_S) as usize + STRETCH];
    let keep = (-STEP_S / fall_s).exp();
    for (at, len, energy) in strokes {
        let first = (at / STEP_S) as usize;
        let held = ((len + RELEASE_S) / STEP_S) as usize;
        let mut left = *energy;
        for step in steps.iter_mut().skip(first).take(held + 1) {
            *step += left;
            left *= keep;
        }
    }
    let stretches: Vec<f64> = steps
        .windows(STRETCH)
        .step_by(HOP)
        .map(|stretch| stretch.iter().sum::<f64>() / STRETCH as f64)
        .filter(|mean| *mean > 0.0)
        .collect();
    let mean = |stretches: &[f64]| stretches.iter().sum::<f64>() / stretches.len() as f64;
    if stretches.is_empty() {
        return None;
    }
    let gate = mean(&stretches) * 10f64.powf(GATE_DB / 10.0);
    let loud: Vec<f64> = stretches.into_iter().filter(|one| *one >= gate).collect();
    Some(10.0 * mean(&loud).log10())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_the_strokes_are_three_decibels_more_and_rests_count_little() {
        let row = |count: usize, apart: f64| -> Vec<Stroke> {
            (0..count).map(|i| (i as f64 * apart, 0.2, 1.0)).collect()
        };
        let slow = loudness_db(&row(64, 0.2), 0.1).unwrap();
        let quick = loudness_db(&row(128, 0.1), 0.1).unwrap();
        assert!((quick - slow - 3.0).abs() < 0.5, "{slow} {quick}");
        let mut with_rest = row(16, 0.25);
        with_rest.extend(
            row(16, 0.25)
                .into_iter()
                .map(|(at, len, e)| (at + 20.0, len, e)),
        );
        let whole = loudness_db(&row(32, 0.25), 0.1).unwrap();
        assert!((loudness_db(&with_rest, 0.1).unwrap() - whole).abs() < 0.6);
        assert_eq!(loudness_db(&[], 0.1), None);
    }
}
