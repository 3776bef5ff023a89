use super::super::pitch::Look;
use super::super::setup::Instrument;
use super::*;

const HOP: usize = 64;

fn notes(instrument: Instrument) -> Notes {
    let setup = Setup {
        rate: 48_000,
        instrument,
        a4_hz: 440.0,
    };
    Notes::new(setup, HOP)
}

/// Looks at `hz` for `hops` hops, the first of which is a stroke if `struck`; the readings.
fn play(
    notes: &mut Notes,
    hops: u64,
    struck: bool,
    (hz, power_db): (f32, f32),
    look: Look,
) -> Vec<Option<f32>> {
    let mut readings = Vec::new();
    let from = notes.last_onset + 200_000;
    for hop in 0..hops {
        let at = from + hop * HOP as u64;
        let hop = Hop {
            at,
            pitch: Look { hz, ..look },
            power_db,
            risen_db: if struck && hop == 0 { 9.0 } else { 0.0 },
            band_open: false,
            began: at,
        };
        notes.step(&hop, &mut |_, _| Added::default(), &mut |found| {
            if let Found::Reading(reading) = found {
                readings.push(reading.hz);
            }
        });
    }
    readings
}

fn clear(clarity: f32) -> Look {
    Look {
        clarity,
        ..Look::default()
    }
}

#[test]
fn what_is_softer_than_a_note_is_told_only_as_the_note_that_goes_on() {
    // Hz, dB, told; after an A of 440 Hz at -20 dB.
    for (hz, power_db, told) in [
        (440.0, -30.0, true),
        (440.0, -55.0, true),
        (452.0, -55.0, true),
        (440.0, -75.0, false),
        (330.0, -30.0, true),
        (330.0, -45.0, true),
        (330.0, -50.0, false),
        (220.0, -50.0, false),
        (880.0, -50.0, false),
    ] {
        let mut notes = notes(Instrument::Guitar);
        play(&mut notes, 100, true, (440.0, -20.0), clear(0.99));
        assert!(notes.sounding.is_some() && notes.pending.is_none());
        let after = play(&mut notes, 5, false, (hz, power_db), clear(0.99));
        assert_eq!(after[4].is_some(), told, "{hz} Hz, {power_db} dB");
    }
}

#[test]
fn a_doubtful_look_waits_a_hop_more_unless_the_note_is_low() {
    // Hz, clarity, the first hop that is told.
    for (hz, clarity, first) in [
        (110.0, 0.95, 1),
        (110.0, 0.85, 1),
        (220.0, 0.95, 1),
        (220.0, 0.85, 2),
        (660.0, 0.85, 2),
    ] {
        let mut notes = notes(Instrument::Guitar);
        let told = play(&mut notes, 6, true, (hz, -20.0), clear(clarity));
        let got = told.iter().position(Option::is_some);
        assert_eq!(got, Some(first), "{hz} Hz, {clarity}");
    }
}

#[test]
fn a_pitch_that_repeats_well_is_held_before_it_has_a_name() {
    // Instrument, hops, clarity, whether it is held.
    for (instrument, hops, clarity, held) in [
        (Instrument::Guitar, 8, 0.98, true),
        (Instrument::Bass, 8, 0.98, true),
        (Instrument::Guitar, 5, 0.98, false),
        (Instrument::Guitar, 8, 0.96, false),
        (Instrument::Voice, 8, 0.98, false),
    ] {
        let mut notes = notes(instrument);
        play(&mut notes, hops, true, (220.0, -20.0), clear(clarity));
        assert!(notes.sounding.is_none());
        let wanted = if held { 220.0 } else { 0.0 };
        assert_eq!(notes.held_hz(), wanted, "{instrument:?} {hops} {clarity}");
    }
}
