//! Drills: any text gives faults, or stages that can be laid out over chords, pass after pass.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;
use underfoot::chart::{Chart, Form, Lap};
use underfoot::drill::{Drill, LapChordView, LayOut, check, lay_out};
use underfoot::fault::Source;
use underfoot::harmony::{ChordInContext, Habits, in_context};
use underfoot::time::UsPerQuarter;

/// 240 quarters a minute: where notes are crowded.
const TEMPO: UsPerQuarter = UsPerQuarter(250_000);

const CHART: &str = "title = 'x'\nkey = 'G minor'\n[[section]]\nname = 'A'\n\
    bars = ['Gm6', 'Am7b5 D7b9', 'N.C.', 'Cm7 F7 Bbmaj7 /']\n";

static TUNE: LazyLock<(Lap, Vec<ChordInContext>)> = LazyLock::new(|| {
    let source = Source {
        name: "-",
        text: CHART,
    };
    let form = Form::unroll(&Chart::read(&source).expect("a chart without fault"));
    let contexts = in_context(&form.timed_chords(), &Habits::default());
    let bars: Vec<usize> = (0..form.bars.len()).collect();
    (form.lap(&bars), contexts)
});

fuzz_target!(|text: &str| {
    let Ok(drill) = Drill::read(&Source { name: "-", text }) else {
        return;
    };
    let (lap, contexts) = &*TUNE;
    let view = |chord: &underfoot::chart::LapChord| LapChordView {
        start: chord.start,
        len: chord.len,
        meter: lap.bars[chord.bar].meter,
        context: &contexts[chord.form_chord],
    };
    let chords: Vec<LapChordView<'_>> = lap.chords.iter().map(view).collect();
    for stage in &drill.stages {
        let lacks = check(stage, &chords, TEMPO, 1);
        assert!(lacks.iter().all(|lack| lack.set < chords.len()));
        for pass in [0, 1, 7, u32::MAX] {
            stage.help_in(pass.min(1000));
            let sets = lay_out(
                stage,
                &LayOut {
                    chords: &chords,
                    pass,
                    seed: 1,
                    tempo: TEMPO,
                    range: underfoot::drill::KeyRange::GUITAR,
                },
            );
            assert_eq!(sets.len(), chords.len());
        }
    }
});
