//! What commands do to a take in progress: replaced bars, late bars, gaps, ends, levels, panic.

use crate::support::rig::*;
use underfoot::audio::{Command, Level, Notice};
use underfoot::time::{Bar, Frame, Part, Tick};

/// One bass note a beat, each half a beat long: 24,000 frames apart at 120.
fn beats(index: i64, qpm: f64, key: u8) -> Box<Bar> {
    let notes = [0.0, 1.0, 2.0, 3.0].map(|beat| (beat, 0.5, Part::Bass, key));
    bar(index, qpm, &notes)
}

/// The note-ons as (frame, key).
fn struck(rig: &Rig) -> Vec<(u64, u8)> {
    let on = |(frame, [status, key, _]): &(u64, [u8; 3])| {
        (status & 0xF0 == 0x90).then_some((*frame, *key))
    };
    rig.tape.midi.iter().filter_map(on).collect()
}

fn let_go(rig: &Rig) -> Vec<(u64, u8)> {
    let off = |(frame, [status, key, _]): &(u64, [u8; 3])| {
        (status & 0xF0 == 0x80).then_some((*frame, *key))
    };
    rig.tape.midi.iter().filter_map(off).collect()
}

fn playing(bars: impl IntoIterator<Item = Box<Bar>>) -> Rig {
    let mut rig = Rig::new(prepared(false));
    rig.send(start(0, 0));
    rig.send(append(bars));
    rig
}

#[test]
fn a_bar_in_progress_is_replaced_from_a_tick_and_sounding_notes_keep_their_end() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 120.0, 41)]);
    // While the second note sounds, everything from beat 2.25 on is written anew.
    rig.until(30_000, 64);
    rig.send(replace(
        960 * 2 + 240,
        [beats(0, 120.0, 50), beats(1, 120.0, 51)],
    ));
    rig.until(190_000, 64);
    let expected = [
        (0, 40),
        (24_000, 40),
        (48_000, 40), // beat 2 lies before the cut
        (72_000, 50), // beat 3 comes from the new bar
        (96_000, 51),
        (120_000, 51),
        (144_000, 51),
        (168_000, 51),
    ];
    assert_eq!(struck(&rig), expected);
    assert!(let_go(&rig).contains(&(60_000, 40)));
}

#[test]
fn a_bar_that_is_replaced_too_late_doubles_no_note() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 120.0, 41)]);
    // Beat 2 was to be the first of the new notes, but it has sounded when they come, some milliseconds late.
    rig.until(48_320, 64);
    rig.send(replace(
        960 * 2 - 48,
        [beats(0, 120.0, 40), beats(1, 120.0, 51)],
    ));
    rig.until(100_000, 64);
    let expected = [
        (0, 40),
        (24_000, 40),
        (48_000, 40),
        (72_000, 40),
        (96_000, 51),
    ];
    assert_eq!(struck(&rig), expected);
}

#[test]
fn a_replaced_bar_changes_the_tempo_at_its_start_without_a_jump() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 120.0, 41)]);
    rig.until(50_000, 64);
    rig.send(replace(3840, [beats(1, 240.0, 42)]));
    rig.until(150_000, 64);
    let tail = [(96_000, 42), (108_000, 42), (120_000, 42), (132_000, 42)];
    assert_eq!(struck(&rig)[4..], tail);
}

#[test]
fn a_bar_whose_end_is_called_back_is_silent_until_the_next() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 120.0, 41)]);
    rig.until(30_000, 64);
    rig.send(replace(960 * 2, [beats(1, 120.0, 51)]));
    rig.until(100_000, 64);
    assert_eq!(struck(&rig), [(0, 40), (24_000, 40), (96_000, 51)]);
}

#[test]
fn a_late_bar_of_another_tempo_does_not_move_the_phase() {
    let mut rig = playing([beats(0, 120.0, 40)]);
    // A beat and a half into the missing bar, which runs at 60: half a beat is left, 24,000 frames.
    rig.until(132_032, 64);
    rig.send(append([beats(1, 60.0, 41)]));
    rig.until(210_000, 64);
    let tail = &struck(&rig)[4..];
    assert_eq!(tail.len(), 2);
    for ((at, _), expected) in tail.iter().zip([156_000u64, 204_000]) {
        // The tempo changes on the sub-block in which the bar came, to the tick.
        assert!(at.abs_diff(expected) <= 64, "{at}");
    }
}

#[test]
fn the_synth_sounds_within_half_a_sub_block_of_the_frame() {
    for sixteenth in 0..16 {
        let quarters = 1.0 + f64::from(sixteenth) / 960.0;
        let mut settings = prepared(true);
        settings.band.reverb = false;
        let mut rig = Rig::new(settings);
        rig.send(start(10_000, 0));
        rig.send(append([bar(0, 133.0, &[(quarters, 1.0, Part::Drums, 37)])]));
        rig.until(60_000, 64);
        let (frame, _) = struck(&rig)[0];
        let heard = rig
            .left
            .iter()
            .position(|sample| *sample != 0.0)
            .expect("a sound") as u64;
        // The sample itself may begin with a few zeros.
        assert!(
            heard + 32 >= frame && heard <= frame + 32 + 16,
            "{frame} {heard}"
        );
    }
}

#[test]
fn a_bar_marked_last_lets_everything_go_at_its_end() {
    let mut held = bar(0, 120.0, &[(3.0, 9.0, Part::Comping, 60)]);
    held.last = true;
    let mut rig = playing([held, beats(1, 120.0, 41)]);
    rig.until(150_000, 64);
    assert_eq!(struck(&rig), [(72_000, 60)]);
    assert_eq!(let_go(&rig), [(96_000, 60)]);
    assert!(rig.notices().contains(&Notice::Ended {
        frame: Frame(96_000)
    }));
}

#[test]
fn a_late_bar_is_played_from_now_and_time_went_on() {
    let mut rig = playing([beats(0, 120.0, 40)]);
    // Half a beat and a few frames into the missing bar.
    rig.until(96_000 + 12_032, 64);
    assert_eq!(rig.starved(), 1);
    rig.send(append([beats(1, 120.0, 41), beats(2, 120.0, 42)]));
    rig.until(200_000, 64);
    let tail = [(120_000, 41), (144_000, 41), (168_000, 41), (192_000, 42)];
    assert_eq!(struck(&rig)[4..], tail);
    let counters = rig.end.counters();
    assert_eq!(
        counters
            .dropped_notes
            .load(std::sync::atomic::Ordering::Relaxed),
        1
    );
}

#[test]
fn a_first_bar_that_comes_late_counts_from_the_start_all_the_same() {
    let mut rig = Rig::new(prepared(false));
    rig.send(start(0, 0));
    rig.until(30_016, 64);
    rig.send(append([beats(0, 90.0, 40)]));
    rig.until(100_000, 64);
    assert_eq!(struck(&rig), [(32_000, 40), (64_000, 40), (96_000, 40)]);
}

#[test]
fn a_note_up_to_30_ms_late_still_sounds() {
    for (late_ms, sounds) in [(5, true), (29, true), (32, false)] {
        let mut rig = playing([beats(0, 120.0, 40)]);
        rig.until(96_000 + late_ms * 48, 48);
        rig.send(append([beats(1, 120.0, 41)]));
        rig.until(110_000, 48);
        assert_eq!(struck(&rig).len(), 4 + usize::from(sounds), "{late_ms} ms");
    }
}

#[test]
fn a_gap_in_the_clock_ends_notes_and_moves_time() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 60.0, 41), beats(2, 120.0, 42)]);
    rig.until(50_000, 64);
    // The clock jumps from the middle of the third note over the change of tempo at 96,000.
    rig.at = 100_000;
    rig.until(200_000, 64);
    let expected = [
        (0, 40),
        (24_000, 40),
        (48_000, 40),
        (144_000, 41),
        (192_000, 41),
    ];
    assert_eq!(struck(&rig), expected);
    assert_eq!(let_go(&rig)[2], (100_000, 40));
    let gaps = &rig.end.counters().gaps;
    assert_eq!(gaps.load(std::sync::atomic::Ordering::Relaxed), 1);
}

#[test]
fn a_gap_inside_one_sub_block_is_followed_too() {
    let mut rig = playing([beats(0, 120.0, 40)]);
    rig.until(23_950, 37);
    rig.at += 7;
    rig.until(50_000, 37);
    assert_eq!(struck(&rig), [(0, 40), (24_000, 40), (48_000, 40)]);
}

#[test]
fn a_stop_lets_everything_go_on_its_frame() {
    let mut rig = playing([bar(
        0,
        120.0,
        &[(0.0, 4.0, Part::Comping, 60), (0.0, 4.0, Part::Bass, 36)],
    )]);
    rig.send(stop(30_001));
    rig.until(96_000, 256);
    let mut gone = let_go(&rig);
    gone.sort_unstable();
    assert_eq!(gone, [(30_001, 36), (30_001, 60)]);
    let ended = Notice::Ended {
        frame: Frame(30_001),
    };
    assert_eq!(rig.notices().last(), Some(&ended));
}

#[test]
fn late_starts_and_stops_act_at_once_and_are_counted() {
    let mut rig = Rig::new(prepared(false));
    rig.until(6_400, 64);
    rig.send(start(6_000, 0));
    rig.send(append([beats(0, 120.0, 40)]));
    rig.until(32_000, 64);
    rig.send(stop(31_000));
    rig.until(64_000, 64);
    assert_eq!(struck(&rig), [(6_400, 40), (30_400, 40)]);
    assert_eq!(let_go(&rig).last(), Some(&(32_000, 40)));
    let counters = rig.end.counters();
    assert_eq!(
        counters
            .late_commands
            .load(std::sync::atomic::Ordering::Relaxed),
        2
    );
}

#[test]
fn a_start_during_a_take_ends_the_old_one_on_the_frame() {
    let mut rig = playing([beats(0, 120.0, 40), beats(1, 120.0, 40)]);
    rig.until(20_000, 64);
    rig.send(start(25_001, -3840));
    rig.send(append([beats(-1, 120.0, 50), beats(0, 120.0, 51)]));
    rig.until(50_000, 64);
    assert_eq!(
        struck(&rig),
        [(0, 40), (24_000, 40), (25_001, 50), (49_001, 50)]
    );
    assert_eq!(let_go(&rig)[1], (25_001, 40));
}

#[test]
fn a_struck_key_is_let_go_before_it_is_struck_again() {
    let line = [
        (0.0, 8.0, Part::Drums, 42),
        (1.0, 0.5, Part::Click, 42),
        (2.0, 0.5, Part::Drums, 42),
    ];
    let mut rig = playing([bar(0, 120.0, &line)]);
    rig.until(96_000, 64);
    assert_eq!(struck(&rig), [(0, 42), (24_000, 42), (48_000, 42)]);
    assert_eq!(let_go(&rig), [(24_000, 42), (36_000, 42), (60_000, 42)]);
}

#[test]
fn panic_is_silence_at_once_tails_too() {
    let mut rig = Rig::new(prepared(true));
    rig.send(start(0, 0));
    rig.send(append([band_bar(0, 120.0)]));
    rig.until(60_032, 64);
    let loud = |samples: &[f32]| samples.iter().any(|s| s.abs() > 0.0);
    assert!(loud(&rig.left[59_000..]));
    rig.send(Command::Panic);
    rig.until(90_000, 64);
    for bus in [&rig.left, &rig.right, &rig.cue] {
        assert!(!loud(&bus[60_096..]));
    }
    assert!(rig.notices().contains(&Notice::Ended {
        frame: Frame(60_032)
    }));
    for channel in [0, 1, 2, 9] {
        assert!(rig.tape.midi.contains(&(60_032, [0xB0 | channel, 123, 0])));
    }
    // And it can be played on.
    rig.send(start(90_500, 0));
    rig.send(append([band_bar(0, 120.0)]));
    rig.until(120_000, 64);
    assert!(loud(&rig.left[92_000..]));
}

#[test]
fn levels_glide_and_silence_is_silent() {
    let mut rig = Rig::new(prepared(true));
    rig.send(start(0, 0));
    rig.send(append((0..4).map(|index| band_bar(index, 120.0))));
    rig.until(100_032, 64);
    rig.send(Command::Level {
        at: Frame(0),
        level: Level::Master,
        db: -90.0,
    });
    rig.until(150_000, 64);
    assert!(rig.left[101_100..].iter().all(|s| *s == 0.0));
    assert!(rig.cue[101_100..].iter().any(|s| *s != 0.0));
    rig.send(Command::Level {
        at: Frame(0),
        level: Level::Cue,
        db: -90.0,
    });
    rig.until(300_000, 64);
    assert!(rig.cue[152_000..].iter().all(|s| *s == 0.0));
}

#[test]
fn part_levels_are_heard_in_decibels() {
    let energy = |db: f32, part: Part, line: (f64, f64, Part, u8)| {
        let mut settings = prepared(true);
        // Far below the limiter.
        settings.levels = vec![
            (Level::Part(part), db),
            (Level::Master, -20.0),
            (Level::Cue, -20.0),
        ];
        settings.band.reverb = false;
        let mut rig = Rig::new(settings);
        rig.send(start(4_800, 0));
        rig.send(append([bar(0, 120.0, &[line])]));
        rig.until(60_000, 64);
        let sum: f64 = rig
            .left
            .iter()
            .chain(&rig.cue)
            .map(|s| f64::from(*s).powi(2))
            .sum();
        10.0 * sum.log10()
    };
    for part in Part::ALL {
        let line = (0.0, 2.0, part, if part.channel() == 9 { 76 } else { 55 });
        let (loud, soft) = (energy(0.0, part, line), energy(-12.0, part, line));
        assert!((loud - soft - 12.0).abs() < 0.3, "{part:?} {loud} {soft}");
        assert!(energy(-90.0, part, line) < -90.0, "{part:?}");
    }
}

#[test]
fn nothing_is_louder_than_the_ceiling() {
    // -2 dBFS, the house's limit for every output.
    let mut settings = prepared(true);
    settings.levels = vec![(Level::Master, 6.0), (Level::Cue, 6.0)];
    settings.cue_to_outputs = true;
    let chord: Vec<_> = (40..72).map(|key| (0.0, 4.0, Part::Comping, key)).collect();
    let tones: Vec<_> = (60..80).map(|key| (0.5, 3.0, Part::Model, key)).collect();
    let mut rig = Rig::new(settings);
    rig.send(start(0, 0));
    rig.send(append([bar(0, 120.0, &[chord, tones].concat())]));
    rig.until(96_000, 256);
    for bus in [&rig.left, &rig.right, &rig.cue] {
        let peak = bus.iter().fold(0f32, |peak, s| peak.max(s.abs()));
        assert!(peak <= 0.7944 && peak > 0.75, "{peak}");
    }
}

#[test]
fn without_a_soundfont_click_and_model_tones_sound() {
    let mut rig = Rig::new(prepared(false));
    rig.send(start(4_800, 0));
    rig.send(append([bar(
        0,
        120.0,
        &[(0.0, 1.0, Part::Click, 76), (1.0, 1.0, Part::Model, 60)],
    )]));
    rig.until(60_000, 64);
    assert!(rig.left[4_802..5_000].iter().any(|s| s.abs() > 0.01));
    assert!(rig.cue[..28_800].iter().all(|s| *s == 0.0));
    assert!(rig.cue[28_900..].iter().any(|s| s.abs() > 0.01));
}

#[test]
fn a_full_queue_hands_the_command_back() {
    let mut rig = Rig::new(prepared(false));
    let mut sent = 0;
    while rig.end.send(append([beats(0, 120.0, 40)])).is_ok() {
        sent += 1;
    }
    assert!(sent >= 64);
    let back = rig.end.send(append([beats(7, 120.0, 40)]));
    let Err(Command::Replace { bars, from, .. }) = back else {
        panic!("not handed back");
    };
    assert_eq!((bars.len(), from), (1, Tick(i64::MAX)));
    assert_eq!(rig.end.refused(), 2);
    rig.until(20_000, 64);
    rig.end.collect_garbage();
    assert_eq!(rig.end.boxes_out(), 8);
}

#[test]
fn a_count_in_grows_to_the_first_bar() {
    let clicks: Vec<_> = (0..4)
        .map(|beat| (f64::from(beat), 0.25, Part::Click, 76))
        .collect();
    let mut settings = prepared(false);
    settings.levels = vec![(Level::Master, -20.0)];
    let mut rig = Rig::new(settings);
    rig.send(append([bar(-1, 120.0, &clicks), bar(0, 120.0, &clicks)]));
    rig.send(start(4_800, -4 * 960));
    rig.until(4_800 + 8 * 24_000, 64);
    let peak = |beat: usize| {
        let from = 4_800 + beat * 24_000;
        let beat = rig.left[from..from + 6_000].iter();
        beat.fold(0f32, |peak, sample| peak.max(sample.abs()))
    };
    let peaks: Vec<f32> = (0..8).map(peak).collect();
    // -12 dB first, a straight line up, then as it is.
    for (beat, share) in [0.25, 0.44, 0.63, 0.81, 1.0, 1.0, 1.0, 1.0]
        .iter()
        .enumerate()
    {
        let got = peaks[beat] / peaks[7];
        assert!((got - share).abs() < 0.02, "beat {beat}: {got}");
    }
}

#[test]
fn what_rings_on_does_not_jump_when_a_count_begins_softly() {
    let mut rig = Rig::new(prepared(true));
    let chord: Vec<_> = [53, 57, 60, 64]
        .map(|key| (0.0, 4.0, Part::Comping, key))
        .to_vec();
    rig.send(append([bar(0, 60.0, &chord)]));
    rig.send(start(4_800, 0));
    let again = 4_800 + 48_000;
    rig.until(again - 9_600, 64);
    rig.send(start(again, -4 * 960));
    rig.send(append([bar(-1, 60.0, &[])]));
    rig.until(again + 9_600, 64);
    let level = |from: u64| {
        let stretch = &rig.left[from as usize..from as usize + 480];
        stretch
            .iter()
            .map(|sample| sample * sample)
            .sum::<f32>()
            .sqrt()
    };
    // Before and after: the old take fades over longer than this, a step of 12 dB would leave a quarter.
    let (before, after) = (level(again - 480), level(again));
    assert!(before > 0.0 && after > 0.6 * before, "{before} {after}");
}
