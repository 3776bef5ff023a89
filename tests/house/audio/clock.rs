//! The player with the band's clock: its notes lie on the master's ticks, whatever the block; and its own clock.

use crate::support::rig::{Rig, append, bar, prepared, start, stop};
use std::ops::Range;
use underfoot::audio::{ClockSource, Command, FollowSettings, Notice};
use underfoot::clock::ClockState;
use underfoot::time::{Frame, Part, Tick};

/// Frames between the master's ticks: 120 quarters a minute.
const TICK: u64 = 1_000;
/// The frame of the master's first tick after its Start.
const FIRST: u64 = 50_000;

fn follow(hold_quarters: u32) -> Command {
    Command::Follow(FollowSettings {
        order: [ClockSource::Jack].into_iter().collect(),
        hold_quarters,
        latency_ms: 0.0,
    })
}

fn bars(from: i64) -> impl Iterator<Item = Box<underfoot::time::Bar>> {
    let beats = |index: i64| -> Vec<(f64, f64, Part, u8)> {
        (0..4)
            .map(|beat| {
                (
                    f64::from(beat),
                    0.5,
                    Part::Bass,
                    40 + (index * 4) as u8 + beat as u8,
                )
            })
            .collect()
    };
    (from..from + 4).map(move |index| bar(index, 133.0, &beats(index)))
}

/// Two bars and a half to a master whose ticks are off by `jitter` frames in turn; ticks in `silent` stay away. Gives
/// `(frame, key)` of the notes that are struck, and the notices.
fn rehearse(block: usize, jitter: u64, silent: Range<u64>) -> (Vec<(u64, u8)>, Vec<Notice>) {
    rehearse_while(block, jitter, silent, |_| {})
}

/// The same, with something to do before each block.
fn rehearse_while(
    block: usize,
    jitter: u64,
    silent: Range<u64>,
    mut meanwhile: impl FnMut(&mut Rig),
) -> (Vec<(u64, u8)>, Vec<Notice>) {
    let mut rig = Rig::new(prepared(false));
    rig.send(follow(16));
    rig.send(Command::Home {
        tick: Tick(0),
        bars: bars(0).collect(),
    });
    // A clock while stopped, then Start between two ticks.
    let mut messages: Vec<(u64, u8)> = (0..48)
        .map(|tick| (FIRST - 48 * TICK + tick * TICK, 0xf8))
        .collect();
    messages.push((FIRST - 300, 0xfa));
    for tick in 0..240u64 {
        let off = [0, jitter, 0, 2 * jitter, jitter][tick as usize % 5];
        if !silent.contains(&tick) {
            messages.push((FIRST + tick * TICK + off, 0xf8));
        }
    }
    messages.push((FIRST + 240 * TICK + 500, 0xfc));
    let mut waiting = messages.into_iter().peekable();
    while rig.at < FIRST + 260 * TICK {
        let end = rig.at + block as u64;
        while let Some((at, byte)) = waiting.next_if(|(at, _)| *at < end) {
            rig.player.midi_in(Frame(at), &[byte]);
        }
        meanwhile(&mut rig);
        rig.block(block);
    }
    let struck = rig
        .tape
        .midi
        .iter()
        .filter(|(_, bytes)| bytes[0] & 0xf0 == 0x90);
    let struck = struck.map(|(at, bytes)| (*at, bytes[1])).collect();
    assert_eq!(rig.starved(), 0, "{block}");
    (struck, rig.notices())
}

#[test]
fn notes_lie_on_the_master_s_ticks() {
    for block in [64, 256, 1_024] {
        let (struck, notices) = rehearse(block, 0, 0..0);
        // Ten quarters, each on the very frame of its tick, and the one that would have begun when Stop came.
        let told: Vec<(u64, u8)> = (0..=10)
            .map(|beat| (FIRST + beat * 24 * TICK, 40 + beat as u8))
            .collect();
        let near = |(at, key): &(u64, u8)| {
            told.iter()
                .any(|(due, note)| note == key && at.abs_diff(*due) <= 1)
        };
        assert!(
            struck.len() == 11 && struck.iter().all(near),
            "{block}: {struck:?}"
        );
        let began = notices.iter().any(|notice| {
            matches!(notice, Notice::ClockBegan { frame, tick: Tick(0), home: true } if frame.0 == FIRST)
        });
        let ended = notices
            .iter()
            .any(|notice| matches!(notice, Notice::Ended { .. }));
        assert!(began && ended, "{block}: {notices:?}");
    }
}

#[test]
fn neither_jitter_nor_the_block_moves_a_note_far() {
    let (struck, _) = rehearse(64, 40, 0..0);
    for (beat, (at, _)) in (0u64..).zip(&struck) {
        // Each tick comes 0 to 80 frames late; 1 ms is 48 frames.
        assert!(
            at.abs_diff(FIRST + beat * 24 * TICK + 32) <= 48,
            "{beat}: {struck:?}"
        );
    }
    // A message inside a sub-block that was made already acts with the next one: 64 frames later at the most.
    for block in [37, 1_024] {
        let other = rehearse(block, 40, 0..0).0;
        let near = |((at, key), (due, note)): (&(u64, u8), &(u64, u8))| {
            key == note && at.abs_diff(*due) <= 64
        };
        assert!(
            other.len() == struck.len() && other.iter().zip(&struck).all(near),
            "{block}: {other:?}"
        );
    }
}

/// How much sooner than the ticks of `midi_in` ours are to sound.
fn ahead(frames: f64) -> Command {
    let ahead = ClockSource::ALL.map(|source| match source {
        ClockSource::Jack => frames,
        _ => 0.0,
    });
    Command::ClockAhead(ahead)
}

#[test]
fn what_the_way_out_takes_is_made_up_for_without_a_jump() {
    // Known before the take: its first note cannot be early, the second one is. Told in the take: little by little.
    for (block, told_at, frames) in [
        (64, 0, 2_000i64),
        (1_024, 0, 2_000),
        (256, FIRST + 30_000, 900),
    ] {
        let mut told = false;
        let (struck, _) = rehearse_while(block, 0, 0..0, |rig| {
            if rig.at >= told_at && !std::mem::replace(&mut told, true) {
                rig.send(ahead(frames as f64));
            }
        });
        let keys: Vec<u8> = struck.iter().map(|(_, key)| *key).collect();
        assert_eq!(keys, (40..=50).collect::<Vec<u8>>(), "{block}: {struck:?}");
        assert!(struck[0].0.abs_diff(FIRST) <= 64, "{struck:?}");
        let due = |beat: u64| (FIRST + beat * 24 * TICK) as i64;
        for (beat, (at, _)) in (0u64..).zip(&struck).skip(6) {
            let off = *at as i64 - (due(beat) - frames);
            assert!(off.abs() <= 10, "{block}: {beat} is off by {off}");
        }
        for pair in struck.windows(2) {
            let most = if told_at == 0 { 2_000 } else { 250 };
            assert!(
                (pair[1].0 - pair[0].0).abs_diff(24 * TICK) <= most,
                "{struck:?}"
            );
        }
    }
}

#[test]
fn the_server_s_transport_is_a_clock_too() {
    use underfoot::clock::transport::{SongPlace, TransportCycle};
    let mut rig = Rig::new(prepared(false));
    rig.send(Command::Follow(FollowSettings {
        order: [ClockSource::Transport].into_iter().collect(),
        hold_quarters: 16,
        latency_ms: 0.0,
    }));
    rig.send(Command::Home {
        tick: Tick(0),
        bars: bars(0).collect(),
    });
    let block = 1_024u64;
    rig.block(block as usize);
    assert!(rig.player.follows_transport());
    while rig.at < 300_000 {
        let since = rig.at as i64 - FIRST as i64;
        // From the first whole cycle on it rolls at 120; for one cycle bars and beats are missing.
        let place = SongPlace {
            quarters: since as f64 / 24_000.0,
            qpm: 120.0,
        };
        let rolls = since >= 0 && rig.at < 250_000;
        let song = (rig.at / block != 100).then_some(place);
        let cycle = TransportCycle { rolls, song };
        rig.player.transport(Frame(rig.at), block as u32, cycle);
        rig.block(block as usize);
    }
    let struck = rig.tape.midi.iter();
    let struck: Vec<(u64, u8)> = struck
        .filter(|(_, bytes)| bytes[0] & 0xf0 == 0x90)
        .map(|(at, bytes)| (*at, bytes[1]))
        .collect();
    // It began to roll inside the first sixteenth, so the song goes on with the second: the core would send its bars.
    let began = rig.notices().into_iter().find_map(|notice| match notice {
        Notice::ClockBegan { frame, tick, home } => Some((frame.0, tick, home)),
        _ => None,
    });
    let Some((frame, tick, home)) = began else {
        panic!("no beginning: {struck:?}");
    };
    assert!(!home && tick == Tick(240), "{tick:?}");
    assert!(frame.abs_diff(FIRST + 6 * TICK) <= 1, "{frame}");
}

#[test]
fn a_cable_pulled_for_three_seconds_changes_no_note() {
    let (whole, _) = rehearse(256, 0, 0..0);
    let (struck, notices) = rehearse(256, 0, 50..194);
    let keys = |struck: &[(u64, u8)]| struck.iter().map(|(_, key)| *key).collect::<Vec<_>>();
    assert_eq!(keys(&struck), keys(&whole));
    for ((at, _), (due, _)) in struck.iter().zip(&whole) {
        assert!(at.abs_diff(*due) <= 96, "{struck:?}");
    }
    let holding = notices.iter().find_map(|notice| match notice {
        Notice::Clock {
            frame,
            state: ClockState::Holding,
            ..
        } => Some(frame.0),
        _ => None,
    });
    // Told within two beats of the last tick.
    let told = holding.expect("the silence is told");
    assert!(told < FIRST + (49 + 48) * TICK, "{told}");
}

#[test]
fn a_foot_starts_to_a_master_that_never_does() {
    let mut rig = Rig::new(prepared(false));
    rig.send(follow(16));
    for tick in 0..200u64 {
        rig.player.midi_in(Frame(tick * TICK + 100), &[0xf8]);
        if tick == 50 {
            // 5 ms after a tick: that tick is meant.
            rig.send(start(50 * TICK + 340, 0));
            rig.send(append(bars(0)));
        }
        rig.until((tick + 1) * TICK, 250);
    }
    let struck = rig
        .tape
        .midi
        .iter()
        .filter(|(_, bytes)| bytes[0] & 0xf0 == 0x90);
    let struck: Vec<u64> = struck.map(|(at, _)| *at).collect();
    assert_eq!(struck[0], 50 * TICK + 340);
    for (beat, at) in (1u64..).zip(&struck[1..6]) {
        assert!(
            at.abs_diff((50 + 24 * beat) * TICK + 100) <= 2,
            "{struck:?}"
        );
    }
}

#[test]
fn our_own_ticks_are_on_their_frames() {
    for block in [64, 1_024] {
        let mut rig = Rig::new(prepared(false));
        rig.send(Command::Lead(true));
        // A count-in of a bar, two bars at 133, a jump that goes on at the third.
        rig.send(start(1_000, -3_840));
        rig.send(append([bar(-1, 133.0, &[])]));
        rig.send(append(bars(0)));
        rig.until(300_000, block);
        rig.send(stop(310_000));
        rig.until(320_000, block);
        let of = |status: u8| -> Vec<u64> {
            let messages = rig.tape.midi.iter().filter(|(_, bytes)| bytes[0] == status);
            messages.map(|(at, _)| *at).collect()
        };
        // By arithmetic: 48,000 * 60 / 133 / 24 frames a tick.
        let step = 48_000.0 * 60.0 / 133.0 / 24.0;
        let ticks = of(0xf8);
        assert_eq!(
            ticks.len(),
            ((310_000.0 - 1_000.0) / step) as usize + 1,
            "{block}"
        );
        for (number, at) in ticks.iter().enumerate() {
            let due = 1_000.0 + number as f64 * step;
            assert!(
                (*at as f64 - due).abs() <= 1.0,
                "{block}: tick {number}: {at}, due {due}"
            );
        }
        // Start comes with the first full bar, before its tick.
        assert_eq!(of(0xfa), [ticks[96]], "{block}");
        assert_eq!(of(0xfc), [310_000], "{block}");
    }
}
