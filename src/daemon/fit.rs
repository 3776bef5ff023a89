//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::drill::{Advance, LapChordView, LayOut, Model, lay_out, model_room};
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
        let sets = lay_out(stage, &LayOut { chords: &views, pass: 0, seed: 0 });
        let asked = [stage.help.model].into_iter().chain(stage.fade.iter().map(|(_, help)| help.model));
        if let Some(model) = asked.into_iter().find(|model| *model != Model::Off) {
            let without = model_room(model, &sets, &views);
            if !without.is_empty() {
                let places: Vec<String> = without.iter().map(|chord| place(material, &lap, *chord)).collect();
                let name = &stage.name;
                findings.push(format!("stage \"{name}\": no room for a model tone at {}", places.join(", ")));
            }
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
