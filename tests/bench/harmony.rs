//! What the analysis of a chart costs: 1,000 bars in under 50 ms, and in proportion up to 10,000; so does the list of the
//! distinct chords that a stage out of time holds.
//!
//! `cargo bench --bench harmony` prints the times; it fails above the limits.

// It measures time.
#![allow(clippy::disallowed_methods)]

use criterion::{BenchmarkId, Criterion, Throughput};
use std::hint::black_box;
use std::sync::Arc;
use std::time::Duration;
use underfoot::chart::Chart;
use underfoot::drill::Drill;
use underfoot::fault::Source;
use underfoot::harmony::{Habits, TimedChord, in_context};
use underfoot::plan::standing::distinct_chords;
use underfoot::plan::{Loop, Material, Standing};
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

/// A chart with another chord in each bar, and where a stage out of time stands that goes through all of it.
fn held(bars: usize) -> (Arc<Material>, Standing) {
    let roots = [
        "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ];
    let kinds = [
        "", "m", "7", "m7", "maj7", "6", "m6", "m7b5", "dim7", "7sus4", "aug", "7b9", "mMaj7", "9",
        "13", "m9", "maj9", "7#11", "7alt", "7#5", "m11", "6/9", "sus4", "7#9", "11", "m13",
        "maj13", "add9", "dim", "7b5",
    ];
    let symbol = |at: usize| {
        let (root, rest) = (at % 12, at / 12);
        let (kind, rest) = (rest % kinds.len(), rest / kinds.len());
        // A slash over each other root, then with an added note.
        let bass = roots[(root + 1 + rest % 11) % 12];
        let added = ["", "(add13)", "(no5)"][rest / 11 % 3];
        format!("\"{}{}{added}/{bass}\"", roots[root], kinds[kind])
    };
    let all: Vec<String> = (0..bars).map(symbol).collect();
    let text = format!(
        "title = \"x\"\n[[section]]\nname = \"A\"\nbars = [{}]\n",
        all.join(", ")
    );
    let source = Source {
        name: "chart",
        text: &text,
    };
    let chart = Chart::read(&source).unwrap_or_else(|faults| panic!("{faults}"));
    let material = Material::new(chart, Drill::just_play(), Habits::default());
    let standing = Standing {
        looping: Loop::Form,
        ..Standing::first()
    };
    (Arc::new(material), standing)
}

/// The shortest of some runs, in this thread's own time: what the machine can do when nothing else is going on.
fn shortest<T>(work: impl Fn() -> T) -> Duration {
    let run = |_| {
        let begun = own_time();
        black_box(work());
        own_time().saturating_sub(begun)
    };
    (0..7).map(run).min().unwrap_or_default()
}

/// What this thread has had of the processor.
fn own_time() -> Duration {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(
        time.tv_sec.unsigned_abs(),
        time.tv_nsec.unsigned_abs() as u32,
    )
}

/// How many times as long ten times the bars take.
fn growth(name: &str, short: Duration, long: Duration) -> f64 {
    let ratio = long.as_secs_f64() / short.as_secs_f64();
    let bars = LIMIT.0;
    println!(
        "{name}: {bars} bars {short:?}, {} bars {long:?}: {ratio:.1} times",
        10 * bars
    );
    ratio
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
    let analysis = |bars: usize| {
        let chords = chart(bars);
        shortest(|| in_context(black_box(&chords), &Habits::default()))
    };
    let distinct = |bars: usize| {
        let (material, standing) = held(bars);
        let lap = standing.lap(&material);
        let stage = standing.stage_of(&material);
        assert_eq!(distinct_chords(stage, &material, &lap).len(), bars);
        shortest(|| distinct_chords(stage, &material, black_box(&lap)))
    };
    let (short, long) = (analysis(LIMIT.0), analysis(10 * LIMIT.0));
    let in_proportion = [
        growth("chords in context", short, long),
        growth("distinct chords", distinct(LIMIT.0), distinct(10 * LIMIT.0)),
    ];
    assert!(short < LIMIT.1, "{} bars may take {:?}", LIMIT.0, LIMIT.1);
    assert!(
        in_proportion.iter().all(|ratio| *ratio < LINEAR),
        "ten times the bars may take {LINEAR} times as long"
    );
}
