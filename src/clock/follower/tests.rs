//! What a song does at the master's word.

use super::*;
use proptest::prelude::*;

/// The ticks that sound: `(ms, tick)`, and the messages `ms what`, separated by commas; `24x20.8` is 24 ticks so many
/// ms apart.
fn song(script: &str, hold: u32) -> Vec<(f64, i64)> {
    let (mut follower, mut out) = (Follower::new(hold), Vec::new());
    let due = |follower: &mut Follower, until_s: f64, out: &mut Vec<(f64, i64)>| {
        while follower.next_tick().is_some_and(|at| at <= until_s) {
            out.extend(
                follower
                    .take_tick()
                    .map(|it| ((it.at_s * 1e4).round() / 10.0, it.tick)),
            );
        }
    };
    let mut at_ms = 0.0;
    for word in script.split_whitespace() {
        let (times, gap, message) = match word.split_once('x') {
            Some((times, gap)) => (
                times.parse().unwrap(),
                gap.parse().unwrap(),
                Some(ClockMessage::Tick),
            ),
            None => match word.split_once(':').unwrap_or((word, "")) {
                ("wait", ms) => (1, ms.parse().unwrap(), None),
                ("start", _) => (1, 0.0, Some(ClockMessage::Start)),
                ("continue", _) => (1, 0.0, Some(ClockMessage::Continue)),
                ("stop", _) => (1, 0.0, Some(ClockMessage::Stop)),
                ("position", at) => (1, 0.0, Some(ClockMessage::Position(at.parse().unwrap()))),
                other => panic!("{other:?}"),
            },
        };
        for _ in 0..times {
            at_ms += gap;
            due(&mut follower, (at_ms / 1000.0f64).next_down(), &mut out);
            if let Some(message) = message {
                follower.message(at_ms / 1000.0, message);
            }
            due(&mut follower, at_ms / 1000.0, &mut out);
        }
    }
    due(&mut follower, f64::INFINITY, &mut out);
    out
}

#[test]
fn start_arms_and_the_next_tick_is_the_beat() {
    // MIDI 1.0 Detailed Specification 4.2: Start and Continue; the first clock after them is the first beat.
    for wait in [1.0, 20.0, 500.0] {
        for before in ["", "48x20 "] {
            let out = song(&format!("{before}start wait:{wait} 1x0 3x20"), 0);
            let first = if before.is_empty() {
                wait
            } else {
                960.0 + wait
            };
            assert_eq!(out[0], (first, 0), "{before}{wait}");
            assert_eq!(
                out.iter().map(|(_, tick)| *tick).collect::<Vec<_>>(),
                [0, 1, 2, 3],
                "{before}{wait}"
            );
        }
    }
}

/// What it is, its script, beats held, then the first tick, the last one and how many.
type Saying = (&'static str, &'static str, u32, Option<(i64, i64, usize)>);

const SAYINGS: [Saying; 13] = [
    ("a clock that never starts", "96x20", 4, None),
    ("started", "start 96x20", 0, Some((0, 95, 96))),
    (
        "clocks while stopped",
        "40x20 start 48x20 wait:1 stop 40x20",
        4,
        Some((0, 47, 48)),
    ),
    (
        "stop stops at once",
        "start 48x20 wait:1 stop wait:500",
        4,
        Some((0, 47, 48)),
    ),
    (
        "continue goes on where it stopped",
        "start 48x20 wait:1 stop 9x20 continue 48x20",
        0,
        Some((0, 95, 96)),
    ),
    (
        "start in the middle begins again",
        "start 48x20 wait:1 start 24x20",
        0,
        Some((0, 23, 72)),
    ),
    (
        "continue in the middle changes nothing",
        "start 48x20 continue 48x20",
        0,
        Some((0, 95, 96)),
    ),
    (
        "a position in the middle changes nothing",
        "start 48x20 position:256 48x20",
        0,
        Some((0, 95, 96)),
    ),
    (
        "position to bar 17 of 4/4",
        "24x20 position:256 continue 24x20",
        0,
        Some((1536, 1559, 24)),
    ),
    (
        "position, then start",
        "position:256 start 24x20",
        0,
        Some((0, 23, 24)),
    ),
    ("held for two beats", "start 48x20", 2, Some((0, 95, 96))),
    (
        "gone for longer than held",
        "start 48x20 wait:3000 24x20",
        2,
        Some((0, 95, 96)),
    ),
    (
        "and continued",
        "start 48x20 wait:3000 continue 24x20",
        2,
        Some((0, 167, 168)),
    ),
];

#[test]
fn what_the_master_says_is_done() {
    for (what, script, hold, told) in SAYINGS {
        let out = song(script, hold);
        let got = out
            .first()
            .zip(out.last())
            .map(|(first, last)| (first.1, last.1, out.len()));
        assert_eq!(got, told, "{what}: {script}");
        assert!(out.windows(2).all(|pair| pair[0].0 <= pair[1].0), "{what}");
    }
}

#[test]
fn a_master_that_never_starts_is_met_by_foot() {
    let mut follower = Follower::new(1);
    for tick in 0..48 {
        follower.message(f64::from(tick) * 0.02, ClockMessage::Tick);
    }
    // 7 ms after a tick: that tick is meant.
    assert_eq!(
        follower.begin_here(0.947, 0),
        Some(Change::Begins { tick: 0 })
    );
    let ticks: Vec<PlayedTick> = std::iter::from_fn(|| follower.take_tick()).collect();
    assert_eq!(ticks[0].tick, 1);
    // It lies where the master has it, within a few ticks.
    assert!((ticks[4].at_s - 1.04).abs() < 0.000_1, "{:?}", ticks[4]);
    assert_eq!(Follower::new(1).begin_here(1.0, 0), None);
}

#[test]
fn silence_is_told_within_two_beats() {
    for period_ms in [8.4, 20.8, 62.5, 120.0] {
        let mut follower = Follower::new(8);
        follower.message(0.0, ClockMessage::Start);
        let at = |tick: i32| f64::from(tick) * period_ms / 1000.0;
        for tick in 0..48 {
            while follower.next_tick().is_some_and(|next| next < at(tick)) {
                follower.take_tick();
            }
            follower.message(at(tick), ClockMessage::Tick);
        }
        assert_eq!(follower.state(at(47)), ClockState::Locked, "{period_ms}");
        assert_eq!(
            follower.state(at(47 + 3)),
            ClockState::Locked,
            "{period_ms}"
        );
        let two_beats = at(47 + 48).max(at(47) + 0.26);
        assert_eq!(
            follower.state(two_beats),
            ClockState::Holding,
            "{period_ms}"
        );
    }
}

proptest! {
    #[test]
    fn whatever_comes_ticks_go_on_in_order(
        steps in prop::collection::vec((0u32..400_000, 0u8..12, 0u16..20_000), 0..400),
        hold in 0u32..20,
    ) {
        let (mut follower, mut at_us, mut last) = (Follower::new(hold), 0u64, f64::NEG_INFINITY);
        for (gap, kind, position) in steps {
            at_us += u64::from(gap) / if kind > 4 { 16 } else { 1 };
            let at_s = at_us as f64 / 1e6;
            let message = match kind {
                0 => ClockMessage::Start,
                1 => ClockMessage::Stop,
                2 => ClockMessage::Continue,
                3 => ClockMessage::Position(position),
                _ => ClockMessage::Tick,
            };
            let mut count = 0;
            while let Some(next) = follower.next_tick().filter(|next| *next < at_s) {
                let played = follower.take_tick().expect("it was told");
                prop_assert!(played.at_s == next && next >= last && next.is_finite());
                last = next;
                count += 1;
                prop_assert!(count < 100_000);
            }
            follower.message(at_s, message);
        }
    }
}

#[test]
fn who_comes_back_with_another_phase_is_met_at_the_nearest_tick() {
    // Ticks of 20 ms stay away for about a second; then a master with some other phase goes on.
    for wait in 1_000..1_020 {
        let out = song(&format!("start 96x20 wait:{wait} 192x20"), 16);
        for pair in out.windows(2) {
            let (step, next) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            // No jump: a third of a tick at the most, while the new line is rough.
            assert!(
                next == 1 && (13.0..27.0).contains(&step),
                "{wait}: {pair:?}"
            );
        }
        // All told: 288 ticks came, and about as many as fit into the silence were played.
        let last = out.last().map_or(0, |(_, tick)| *tick);
        let fitting = 95 + (f64::from(wait) / 20.0).round() as i64 + 192;
        let held = 16 * 24;
        assert!(
            (last - held - fitting).abs() <= 1,
            "{wait}: {last} {fitting}"
        );
    }
}
