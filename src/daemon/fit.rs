//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::drill::{Advance, LapChordView, LayOut, lay_out, model_room};
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
    for stage in &material.drill.stages {
        // Rotations and orders repeat; more passes than these show nothing new.
        let mut without: Vec<usize> = Vec::new();
        for pass in 0..stage.passes.clamp(1, 16) {
            let sets = lay_out(
                stage,
                &LayOut {
                    chords: &views,
                    pass,
                    seed: 0,
                },
            );
            without.extend(model_room(stage.help_in(pass).model, &sets, &views));
        }
        without.sort_unstable();
        without.dedup();
        if !without.is_empty() {
            let places: Vec<String> = without
                .iter()
                .map(|chord| place(material, &lap, *chord))
                .collect();
            findings.push(format!(
                "stage \"{}\": no room for a model tone at {}",
                stage.name,
                places.join(", ")
            ));
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
