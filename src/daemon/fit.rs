//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::drill::{Advance, LapChordView, model_room};
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
    let mut findings = Vec::new();
    for stage in &material.drill.stages {
        for lack in model_room(stage, &views, 0) {
            let place = place(material, &lap, lack.set);
            findings.push(format!("stage \"{}\", {place}: {}", stage.name, lack.what));
        }
        if matches!(stage.advance, Advance::Right | Advance::Ready) {
            findings.push(format!(
                "stage \"{}\": the box does not judge yet; it goes on by foot",
                stage.name
            ));
        }
    }
    findings
}

fn place(material: &Material, lap: &crate::chart::Lap, chord: usize) -> String {
    let form_bar = lap.bars[lap.chords[chord].bar].form_bar;
    let bar = &material.form.bars[form_bar];
    format!("{} {}", material.form.section_names[bar.section], bar.bar)
}
