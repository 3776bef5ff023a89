//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::drill::{Advance, LapChordView, check};
use crate::practice::Material;

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
        let mut told: Vec<String> = Vec::new();
        for lack in check(stage, &views, 0) {
            let line = format!(
                "stage \"{}\", {}: {}",
                stage.name,
                place(material, &lap, lack.set),
                lack.what
            );
            // A section that the form plays again lacks the same again.
            if !told.contains(&line) {
                told.push(line);
            }
        }
        findings.append(&mut told);
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
