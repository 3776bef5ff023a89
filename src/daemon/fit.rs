//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::drill::{Advance, LapChordView, Names, check};
use crate::practice::{Material, Said, said_in_first_pass};
use crate::speech::Speaker;
use crate::time::UsPerQuarter;
use std::sync::Arc;

/// What the voice cannot say in full in a stage's first passes at the chart's tempo, a line a stage.
pub fn unsaid(material: &Arc<Material>, names: Names, speaker: &mut Speaker) -> Vec<String> {
    let form = &material.form;
    let tempo = UsPerQuarter::from_qpm(form.tempo_qpm);
    let mut lines = Vec::new();
    for (index, stage) in material.drill.stages.iter().enumerate() {
        let mut all = Said::default();
        // A section that comes again is practised once.
        let items = (0..form.items()).filter(|item| material.home_item(*item) == *item);
        for item in items {
            let mut length_ms = |text: &str| speaker.length_ms(text);
            let said = said_in_first_pass(material, (index, item), tempo, names, &mut length_ms);
            all.full += said.full;
            all.short += said.short;
            all.none += said.none;
        }
        if all.short + all.none > 0 {
            lines.push(format!(
                "stage \"{}\" at {}: of the first pass the voice says {} chords in full, {} shortened, {} not",
                stage.name, form.tempo_qpm, all.full, all.short, all.none
            ));
        }
    }
    lines
}

/// Findings, a line each; nothing here is a fault.
pub fn findings(material: &Material) -> Vec<String> {
    let form = &material.form;
    let lap = form.lap(&(0..form.bars.len()).collect::<Vec<_>>());
    let view = |chord: &crate::chart::LapChord| LapChordView {
        start: chord.start,
        len: chord.len,
        meter: lap.bars[chord.bar].meter,
        context: &material.contexts[chord.form_chord],
    };
    let views: Vec<_> = lap.chords.iter().map(view).collect();
    let mut findings = material.chart.unplayed();
    let stages = &material.drill.stages;
    for stage in stages {
        let mut told: Vec<(String, Vec<String>)> = Vec::new();
        for lack in check(stage, &views, 0) {
            let (what, place) = (lack.what.to_string(), place(material, &lap, lack.set));
            match told.iter_mut().find(|(other, _)| *other == what) {
                // A section that the form plays again lacks the same again.
                Some((_, places)) if places.contains(&place) => {}
                Some((_, places)) => places.push(place),
                None => told.push((what, vec![place])),
            }
        }
        let line = |(what, places): (String, Vec<String>)| {
            format!("stage \"{}\": {what} in {}", stage.name, places.join(", "))
        };
        findings.extend(told.into_iter().map(line));
    }
    let judged = stages
        .iter()
        .filter(|stage| matches!(stage.advance, Advance::Right | Advance::Ready));
    match judged.count() {
        0 => {}
        count => findings.push(format!(
            "{} on when what was played was right (advance = \"right\" or \"ready\"); what is played is \
             not judged yet, so the foot decides there",
            if count == 1 {
                "1 stage goes".to_string()
            } else {
                format!("{count} stages go")
            }
        )),
    }
    findings
}

fn place(material: &Material, lap: &crate::chart::Lap, chord: usize) -> String {
    let form_bar = lap.bars[lap.chords[chord].bar].form_bar;
    let bar = &material.form.bars[form_bar];
    format!("{} {}", material.form.section_names[bar.section], bar.bar)
}
