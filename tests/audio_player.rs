//! The player from outside: what comes out when, whatever the block size.

mod support;

use proptest::prelude::*;
use std::collections::HashMap;
use support::*;
use underfoot::audio::{Command, Notice};
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
    let begun = |bar: u32, start: i64, frame: u64| Notice::BarStarted {
        bar,
        epoch: 0,
        start: Tick(start),
        frame: Frame(frame),
    };
    let starved = Notice::Starved {
        frame: Frame(bar_1 + 115_200),
    };
    assert_eq!(
        rig.notices(),
        [begun(0, 0, 1_001), begun(1, 3840, bar_1), starved]
    );
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
