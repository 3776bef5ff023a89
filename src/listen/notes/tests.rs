use super::super::pitch::Look;
use super::super::setup::Instrument;
use super::*;

const HOP: usize = 64;

fn notes(instrument: Instrument) -> Notes {
    let setup = Setup {
        rate: 48_000,
        instrument,
        a4_hz: 440.0,
        lowest_hz: 0.0,
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
            out_of_silence: notes.is_out_of_silence(power_db),
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

/// The names of what was struck at 220 Hz, was clear for so long and then not, where its stroke added such a note.
fn names_of_short(clarity: f32, clear_ms: f32, multiple: f32, added: Added) -> Vec<u8> {
    let mut notes = notes(Instrument::Guitar);
    let mut names = Vec::new();
    let ms = |at: u64| at as f32 / 48.0;
    for hop in 0..150 {
        let at = 100_000 + hop * HOP as u64;
        let since_ms = ms(hop * HOP as u64);
        let is_clear = (40.0..40.0 + clear_ms).contains(&since_ms);
        let hop = Hop {
            at,
            pitch: Look {
                hz: 220.0,
                clarity: if is_clear { clarity } else { 0.4 },
                multiple,
                ..Look::default()
            },
            power_db: -20.0,
            risen_db: if hop == 0 { 9.0 } else { 0.0 },
            band_open: false,
            out_of_silence: false,
            began: at,
        };
        notes.step(&hop, &mut |_, _| added, &mut |found| {
            if let Found::Named(heard) = found {
                names.push(heard.midi);
            }
        });
    }
    names
}

#[test]
fn a_short_note_that_is_over_is_named_by_its_pitch_and_what_was_added() {
    // How well it repeats, for how long in ms, how much better at a multiple, how heavy in what was added, how much that explains.
    for (clarity, clear_ms, multiple, asked, explained, named) in [
        (0.85, 50.0, 0.0, 1.0, 0.55, true),
        (0.85, 35.0, 0.0, 1.0, 0.55, true),
        (0.85, 20.0, 0.0, 1.0, 0.55, false),
        (0.78, 50.0, 0.0, 1.0, 0.55, false),
        (0.85, 50.0, 0.2, 1.0, 0.55, false),
        (0.85, 50.0, 0.0, 0.7, 0.55, false),
        (0.85, 50.0, 0.0, 1.0, 0.4, false),
    ] {
        let added = Added {
            hz: 220.0,
            asked,
            explained,
            periods: 9.0,
            ..Added::default()
        };
        let told = names_of_short(clarity, clear_ms, multiple, added);
        let wanted = if named { vec![57] } else { vec![] };
        assert_eq!(
            told, wanted,
            "{clarity} {clear_ms} {multiple} {asked} {explained}"
        );
    }
}

#[test]
fn what_comes_out_of_silence_has_begun() {
    // Instrument, dB before, dB now; the player's notes are at -20 dB.
    for (instrument, before_db, now_db, begun) in [
        (Instrument::Guitar, -90.0, -45.0, true),
        (Instrument::Bass, -90.0, -45.0, true),
        (Instrument::Guitar, -60.0, -45.0, true),
        (Instrument::Guitar, -55.0, -45.0, false),
        (Instrument::Guitar, -90.0, -50.0, false),
        (Instrument::Voice, -90.0, -45.0, false),
    ] {
        let mut notes = notes(instrument);
        notes.player_db = -20.0;
        play(&mut notes, 40, false, (0.0, before_db), clear(0.0));
        let out = notes.is_out_of_silence(now_db);
        assert_eq!(out, begun, "{instrument:?} {before_db} {now_db}");
    }
}
