//! The player from outside: what comes out when, whatever the block size.

use crate::support::rig::*;
use proptest::prelude::*;
use std::collections::HashMap;
use underfoot::audio::{Band, Command, LateBand, Notice};
use underfoot::time::{Frame, Part, Tick};

/// A take of four bars with a change of tempo, a stop and another take, in blocks of these sizes in turn.
fn two_takes(blocks: &[usize]) -> Rig {
    let mut rig = Rig::new(prepared(true));
    rig.send(start(1_000, 0));
    rig.send(append([
        band_bar(0, 140.0),
        band_bar(1, 140.0),
        band_bar(2, 97.3),
    ]));
    rig.send(stop(230_011));
    let mut sizes = blocks.iter().copied().cycle();
    let mut go = |rig: &mut Rig, frame: u64| {
        while rig.at < frame {
            let size = sizes.next().unwrap_or(64);
            rig.block(size.min((frame - rig.at) as usize));
        }
    };
    go(&mut rig, 240_000);
    rig.send(start(250_123, -960));
    rig.send(append([band_bar(0, 200.0)]));
    go(&mut rig, 340_000);
    rig
}

#[test]
fn the_block_size_changes_nothing() {
    let reference = two_takes(&[64]);
    assert!(reference.tape.midi.len() > 80);
    assert!(reference.left.iter().any(|s| s.abs() > 0.05));
    assert!(reference.cue.iter().any(|s| s.abs() > 0.01));
    for blocks in [
        &[37][..],
        &[256],
        &[1024],
        &[8192],
        &[1, 300, 64, 5, 0, 1024],
    ] {
        let other = two_takes(blocks);
        assert_eq!(reference.tape.midi, other.tape.midi, "{blocks:?}");
        assert!(reference.left == other.left, "left at {blocks:?}");
        assert!(reference.right == other.right, "right at {blocks:?}");
        assert!(reference.cue == other.cue, "cue at {blocks:?}");
    }
}

#[test]
fn a_take_sounds_the_same_whatever_came_before() {
    let fresh = {
        let mut rig = Rig::new(prepared(true));
        rig.until(50_000, 256);
        rig.send(start(60_000, 0));
        rig.send(append([band_bar(0, 120.0), band_bar(1, 120.0)]));
        rig.until(200_000, 256);
        rig.left[60_000..].to_vec()
    };
    let later = {
        let mut rig = Rig::new(prepared(true));
        rig.send(start(3_333, 0));
        rig.send(append([band_bar(5, 180.0)]));
        rig.until(40_000, 100);
        rig.send(stop(41_000));
        rig.until(600_000, 100);
        rig.send(start(610_007, 0));
        rig.send(append([band_bar(0, 120.0), band_bar(1, 120.0)]));
        rig.until(750_007, 100);
        rig.left[610_007..].to_vec()
    };
    assert!(fresh[4_000..] == later[4_000..]);
}

#[test]
fn a_band_that_comes_late_joins_in_and_later_takes_sound_as_if_it_had_been_there() {
    let bars = || append([0, 1, 2, 3].map(|index| band_bar(index, 120.0)));
    let loudest = |sound: &[f32]| {
        sound
            .iter()
            .fold(0.0, |most: f32, sample| most.max(sample.abs()))
    };
    // What sounds without a band, click and reference notes, and what with one.
    let take = |with_band: bool| {
        let mut rig = Rig::new(prepared(with_band));
        rig.send(start(1_000, 0));
        rig.send(bars());
        rig.until(190_000, 256);
        rig
    };
    let (without, with) = (take(false), take(true));
    let mut late = Rig::new(prepared(false));
    late.send(start(1_000, 0));
    late.send(bars());
    late.until(97_000, 256);
    assert!(!late.end.has_band());
    let font = prepared(true).font.expect("a font");
    late.end.join(
        LateBand::new(font, Band::default(), RATE).expect("samples"),
        RATE,
    );
    late.until(190_000, 256);
    // The first press is heard before the band is there: the click stands on its frame.
    assert!(
        late.left[..97_000] == without.left[..97_000]
            && late.cue[..97_000] == without.cue[..97_000]
    );
    assert!(loudest(&late.left[..20_000]) > 0.01);
    assert_eq!(late.tape.midi, with.tape.midi);
    // From the next beat on the band is as loud as it would have been.
    let (there, wanted) = (
        loudest(&late.left[150_000..]),
        loudest(&with.left[150_000..]),
    );
    assert!((there / wanted - 1.0).abs() < 0.3, "{there} for {wanted}");
    let again = |mut rig: Rig| {
        rig.send(stop(190_500));
        rig.until(800_000, 256);
        rig.send(start(810_000, 0));
        rig.send(bars());
        rig.until(900_000, 256);
        rig.left[814_000..].to_vec()
    };
    assert!(again(late) == again(with));
}

#[test]
fn notes_sound_on_their_frames() {
    // By arithmetic: at 120 a quarter has 24,000 frames, at 100 28,800, at 48,000 frames a second.
    let mut rig = Rig::new(prepared(false));
    let line = [(0.0, 0.5, Part::Bass, 40), (1.5, 0.5, Part::Comping, 60)];
    rig.send(start(1_001, 0));
    rig.send(append([bar(0, 120.0, &line), bar(1, 100.0, &line)]));
    rig.until(300_000, 128);
    let bar_1 = 1_001 + 96_000;
    let expected = [
        (1_001, [0x91, 40, 100]),
        (1_001 + 12_000, [0x81, 40, 0]),
        (1_001 + 36_000, [0x90, 60, 100]),
        (1_001 + 48_000, [0x80, 60, 0]),
        (bar_1, [0x91, 40, 100]),
        (bar_1 + 14_400, [0x81, 40, 0]),
        (bar_1 + 43_200, [0x90, 60, 100]),
        (bar_1 + 57_600, [0x80, 60, 0]),
    ];
    assert_eq!(rig.tape.midi, expected);
    let begun = |start: i64, frame: u64| Notice::BarStarted {
        epoch: 0,
        start: Tick(start),
        frame: Frame(frame),
    };
    assert_eq!(rig.notices(), [begun(0, 1_001), begun(3840, bar_1)]);
    assert_eq!(rig.starved(), 1);
}

#[test]
fn a_stop_takes_back_a_start_that_waits() {
    // The start is asked for first, for a later frame; whether anything is struck.
    for (starts, stops, plays) in [
        (1_001, 1_000, false),
        (1_000, 1_000, false),
        (1_000, 1_001, true),
    ] {
        let mut rig = Rig::new(prepared(false));
        let begin = rig.at;
        let _ = rig
            .end
            .send(append([band_bar(0, 280.0), band_bar(1, 280.0)]));
        let _ = rig.end.send(start(begin + starts, 0));
        let _ = rig.end.send(stop(begin + stops));
        rig.until(rig.at + 20_000, 64);
        assert_eq!(!rig.tape.midi.is_empty(), plays, "{starts} {stops}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is sent when: every note-off follows its note-on, none is struck twice without one, nothing
    /// is left hanging after the end, and everything handed over comes back.
    #[test]
    fn no_note_is_left_hanging(
        moves in proptest::collection::vec((0u64..60_000, 0usize..8, 0i64..6, any::<u16>()), 1..24),
        block in 1usize..700,
        panic in any::<bool>(),
    ) {
        let mut rig = Rig::new(prepared(false));
        for (wait, what, index, salt) in moves {
            let salt = u64::from(salt);
            let command = match what {
                0 | 1 => start(rig.at + salt % 2_000, 0),
                2 => stop(rig.at + salt % 2_000),
                3 => replace(index * 3840 + salt as i64 % 3840, [band_bar(index, 200.0), band_bar(index + 1, 90.0)]),
                4 => Command::Panic,
                _ => append([band_bar(index, 280.0), band_bar(index + 1, 280.0)]),
            };
            let _ = rig.end.send(command);
            rig.until(rig.at + wait, block);
        }
        rig.send(if panic { Command::Panic } else { stop(rig.at) });
        rig.until(rig.at + 5_000, block);

        let mut sounding: HashMap<(u8, u8), bool> = HashMap::new();
        let mut last = 0;
        for (frame, [status, key, _]) in &rig.tape.midi {
            prop_assert!(*frame >= last);
            last = *frame;
            let held = sounding.entry((status & 0x0F, *key)).or_default();
            match status & 0xF0 {
                0x90 => prop_assert!(!std::mem::replace(held, true), "struck twice"),
                0x80 => prop_assert!(std::mem::replace(held, false), "let go twice"),
                _ => {}
            }
        }
        prop_assert!(sounding.values().all(|held| !held));
        rig.send(Command::Panic);
        rig.until(rig.at + 200, block);
        rig.end.collect_garbage();
        prop_assert_eq!(rig.end.boxes_out(), 0);
    }
}

/// A sink that fails once, in the middle of a take.
#[derive(Default)]
struct Failing {
    tape: Tape,
    failed: bool,
}

impl underfoot::audio::MidiSink for Failing {
    fn event(&mut self, offset_frames: u32, bytes: [u8; 3]) {
        if self.tape.midi.len() == 3 && !self.failed {
            self.failed = true;
            panic!("a fault in the callback (expected in this test)");
        }
        self.tape.event(offset_frames, bytes);
    }
}

#[test]
fn a_panic_in_the_callback_is_silence_and_a_flag() {
    let mut rig = Rig::new(prepared(false));
    rig.send(start(0, 0));
    rig.send(append([band_bar(0, 120.0), band_bar(1, 120.0)]));
    let mut sink = Failing::default();
    let mut block = [[1.0f32; 512]; 3];
    for index in 0..40 {
        let [left, right, cue] = &mut block;
        let out = underfoot::audio::Outputs { left, right, cue };
        rig.player.render(Frame(index * 512), out, &mut sink);
    }
    assert!(sink.failed && block.iter().flatten().all(|sample| *sample == 0.0));
    assert!(rig.player.is_poisoned());
    // The take is lost, not ended: it goes on with another player.
    let is_ended = |notice: &Notice| matches!(notice, Notice::Ended { .. });
    assert!(!rig.notices().iter().any(is_ended));
    // What sounded was let go.
    let count = |kind: u8| {
        sink.tape
            .midi
            .iter()
            .filter(|(_, bytes)| bytes[0] & 0xF0 == kind)
            .count()
    };
    assert!(count(0x80) >= count(0x90));
}

#[test]
fn rates_that_no_card_has_are_refused() {
    for (rate, good) in [
        (0, false),
        (7_999, false),
        (8_000, true),
        (44_100, true),
        (1_000_000, false),
    ] {
        let settings = underfoot::audio::Prepared {
            rate,
            ..prepared(false)
        };
        assert_eq!(
            underfoot::audio::Player::new(settings).is_ok(),
            good,
            "{rate}"
        );
    }
}

#[test]
fn the_band_is_tuned_to_a4() {
    // The fundamental of the bass's A (key 45, 110 Hz at A4 = 440), found by the strongest of close candidates.
    for a4_hz in [440.0, 415.0, 432.0, 445.0] {
        let mut settings = prepared(true);
        settings.band.a4_hz = a4_hz;
        settings.band.reverb = false;
        let mut rig = Rig::new(settings);
        rig.send(start(0, 0));
        rig.send(append([bar(0, 60.0, &[(0.0, 4.0, Part::Bass, 45)])]));
        rig.until(80_000, 256);
        let sound = &rig.left[14_000..80_000];
        let power = |hz: f64| {
            let (mut re, mut im) = (0.0f64, 0.0f64);
            for (n, sample) in sound.iter().enumerate() {
                let turn = std::f64::consts::TAU * hz * n as f64 / f64::from(RATE);
                re += f64::from(*sample) * turn.cos();
                im += f64::from(*sample) * turn.sin();
            }
            re * re + im * im
        };
        let candidates = (-30..=30)
            .map(|step| 4 * step)
            .map(|cents| (cents, 110.0 * 2f64.powf(f64::from(cents) / 1200.0)));
        let best = candidates
            .map(|(cents, hz)| (cents, power(hz)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let wanted = 1200.0 * (a4_hz / 440.0f64).log2();
        let (cents, _) = best.expect("a candidate");
        // The font's own sample is within a few cents of its key.
        assert!(
            (f64::from(cents) - wanted).abs() < 8.0,
            "A4 = {a4_hz}: {cents} cents, not {wanted:.1}"
        );
    }
}

#[test]
fn the_file_says_what_was_played() {
    use midly::{MetaMessage, MidiMessage, Smf, TrackEventKind};
    let rig = two_takes(&[256]);
    let mut recorder =
        underfoot::audio::smf::SmfRecorder::new(RATE, &underfoot::audio::Band::default());
    rig.tape
        .played
        .iter()
        .for_each(|what| recorder.record(*what));
    let bytes = recorder.finish();
    let smf = Smf::parse(&bytes).expect("a Standard MIDI File");
    // Seconds of each tick by the file's own tempo map.
    let mut map = vec![(0u64, 0.0f64, 500_000.0f64)];
    let mut at = 0u64;
    for event in &smf.tracks[0] {
        at += u64::from(event.delta.as_int());
        if let TrackEventKind::Meta(MetaMessage::Tempo(us)) = event.kind {
            let (tick, seconds, tempo) = map[map.len() - 1];
            map.push((
                at,
                seconds + (at - tick) as f64 * tempo / 960e6,
                f64::from(us.as_int()),
            ));
        }
    }
    let seconds = |tick: u64| {
        let (from, start, tempo) = map
            .iter()
            .rev()
            .find(|(from, ..)| *from <= tick)
            .expect("a tempo");
        start + (tick - from) as f64 * tempo / 960e6
    };
    let mut struck: Vec<(f64, u8)> = Vec::new();
    for track in &smf.tracks[1..] {
        let mut at = 0u64;
        for event in track {
            at += u64::from(event.delta.as_int());
            if let TrackEventKind::Midi {
                message: MidiMessage::NoteOn { key, .. },
                ..
            } = event.kind
            {
                struck.push((seconds(at), key.as_int()));
            }
        }
    }
    let on = |(frame, [status, key, _]): &(u64, [u8; 3])| {
        (status & 0xF0 == 0x90).then(|| ((*frame - 1_000) as f64 / f64::from(RATE), *key))
    };
    let mut heard: Vec<(f64, u8)> = rig.tape.midi.iter().filter_map(on).collect();
    for notes in [&mut struck, &mut heard] {
        notes.sort_by(|a, b| a.1.cmp(&b.1).then(a.0.total_cmp(&b.0)));
    }
    assert_eq!(struck.len(), heard.len());
    for (file, live) in struck.iter().zip(&heard) {
        // The pause between takes is rounded to a tick (0.6 ms here) in the file.
        assert!(
            file.1 == live.1 && (file.0 - live.0).abs() < 0.001,
            "{file:?} {live:?}"
        );
    }
}

#[test]
fn a_brush_is_a_brush_where_the_font_has_them() {
    let struck = |key: u8| {
        let mut settings = prepared(true);
        settings.band.reverb = false;
        let mut rig = Rig::new(settings);
        rig.send(append([bar(0, 120.0, &[(0.0, 0.25, Part::Drums, key)])]));
        rig.send(start(0, 0));
        rig.until(24_000, 256);
        rig.left
    };
    use underfoot::band::keys;
    let (snare, tap, sweep) = (
        struck(keys::SNARE),
        struck(keys::BRUSH_TAP),
        struck(keys::BRUSH_SWEEP),
    );
    // Cosine of the angle between two sounds: 1 is the same sound, however loud.
    let dot =
        |a: &[f32], b: &[f32]| -> f64 { a.iter().zip(b).map(|(a, b)| f64::from(a * b)).sum() };
    let like = |a: &[f32], b: &[f32]| dot(a, b) / (dot(a, a) * dot(b, b)).sqrt();
    for (name, one, other) in [
        ("tap, snare", &tap, &snare),
        ("sweep, snare", &sweep, &snare),
        ("tap, sweep", &tap, &sweep),
    ] {
        assert!(
            dot(one, one) > 0.0 && dot(other, other) > 0.0,
            "{name}: silence"
        );
        assert!(like(one, other).abs() < 0.7, "{name}: {}", like(one, other));
    }
    assert!(like(&snare, &struck(keys::SNARE)) > 0.99);
}
