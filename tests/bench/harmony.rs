//! What the analysis of a chart costs: 1,000 bars in under 50 ms, and in proportion up to 10,000.
//!
//! `cargo bench --bench harmony` prints the times; it fails above the limits.

// It measures time.
#![allow(clippy::disallowed_methods)]

use criterion::{BenchmarkId, Criterion, Throughput};
use std::hint::black_box;
use std::time::{Duration, Instant};
use underfoot::harmony::{Habits, TimedChord, in_context};
use underfoot::time::Tick;

/// Bars and the most that they may take.
const LIMIT: (usize, Duration) = (1_000, Duration::from_millis(50));
/// Ten times the bars may take at most this many times as long: memory that is no longer near costs its share, while
/// anything that grows with the square would take a hundred times.
const LINEAR: f64 = 30.0;

/// A chord each bar.
fn chart(bars: usize) -> Vec<TimedChord> {
    let changes = [
        "Dm7", "G7", "Cmaj7", "A7b9", "Em7b5", "A7alt", "Dm6", "Db7#11", "C6/9", "F#dim7", "Fm6",
        "Bb13",
    ];
    let chord = |at: usize| {
        let symbol: underfoot::harmony::ChordSymbol = changes[at % changes.len()].parse().unwrap();
        TimedChord {
            start: Tick(at as i64 * 3840),
            len: Tick(3840),
            harmony: underfoot::harmony::Harmony::Chord(symbol),
            declared: None,
            hint: None,
        }
    };
    (0..bars).map(chord).collect()
}

/// The shortest of some runs: what the machine can do when nothing else is going on.
fn shortest(chords: &[TimedChord]) -> Duration {
    let run = |_| {
        let begun = Instant::now();
        black_box(in_context(black_box(chords), &Habits::default()));
        begun.elapsed()
    };
    (0..7).map(run).min().unwrap_or_default()
}

fn main() {
    let mut criterion = Criterion::default().sample_size(10).configure_from_args();
    let mut group = criterion.benchmark_group("chords in context");
    for bars in [100, 1_000, 10_000] {
        let chords = chart(bars);
        group.throughput(Throughput::Elements(bars as u64));
        group.bench_with_input(
            BenchmarkId::from_parameter(bars),
            &chords,
            |bencher, chords| {
                bencher.iter(|| in_context(black_box(chords), &Habits::default()));
            },
        );
    }
    group.finish();
    criterion.final_summary();
    let (short, long) = (shortest(&chart(LIMIT.0)), shortest(&chart(10 * LIMIT.0)));
    let ratio = long.as_secs_f64() / short.as_secs_f64();
    println!(
        "{} bars {short:?}, {} bars {long:?}: {ratio:.1} times",
        LIMIT.0,
        10 * LIMIT.0
    );
    assert!(short < LIMIT.1, "{} bars may take {:?}", LIMIT.0, LIMIT.1);
    assert!(
        ratio < LINEAR,
        "ten times the bars may take {LINEAR} times as long"
    );
}
