//! What stands small at the head of a sheet.

use crate::display::note_name;
use crate::drill::{Names, Stage};
use crate::fretboard::Neck;
use crate::harmony::{KeyDeclaration, Mode, Pitch};
use crate::plan::Material;

/// The tune, what the stage is for, the instrument where it is no guitar in standard tuning.
pub fn remarks(material: &Material, stage: &Stage, neck: &Neck, names: Names) -> Vec<String> {
    let chart = &material.chart;
    let form: Vec<&str> = chart
        .form
        .iter()
        .map(|index| chart.sections[*index].name.as_str())
        .collect();
    let key = chart.key.map(|key| key_name(key, names));
    let tempo = format!("♩ = {}", chart.tempo_qpm);
    let told = [
        key,
        Some(chart.meter.to_string()),
        Some(tempo),
        Some(chart.feel.word().to_string()),
    ];
    let mut tune: Vec<String> = told.into_iter().flatten().collect();
    tune.push(format!("form {}", form.join(" ")));
    if stage.chords_last > 1 {
        tune.push(format!(
            "each chord lasts {} times as long",
            stage.chords_last
        ));
    }
    let mut all = vec![tune.join("   ")];
    all.extend(stage.goal.clone());
    all.extend(instrument(neck, names));
    all
}

fn key_name(key: KeyDeclaration, names: Names) -> String {
    match key {
        KeyDeclaration::Key(key) => {
            let mode = if key.mode == Mode::Minor {
                "minor"
            } else {
                "major"
            };
            format!("{} {mode}", note_name(key.tonic, names))
        }
        signature @ KeyDeclaration::Signature(_) => signature.to_string(),
    }
}

/// What is not a guitar in standard tuning says so.
fn instrument(neck: &Neck, names: Names) -> Option<String> {
    const SHARPS: [&str; 12] = [
        "C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B",
    ];
    let usual = Neck::default();
    let mut told = Vec::new();
    if neck.tuning != usual.tuning {
        let open = neck.tuning.open_keys().iter().rev();
        let names = open.map(|key| {
            let pitch: Result<Pitch, _> = SHARPS[usize::from(key % 12)].parse();
            pitch
                .map(|pitch| note_name(pitch, names))
                .unwrap_or_default()
        });
        told.push(format!("strings {}", names.collect::<Vec<_>>().join(" ")));
    }
    if neck.capo > 0 {
        told.push(format!(
            "capo at fret {}; frets are counted from it",
            neck.capo
        ));
    }
    if neck.left_handed {
        told.push("necks drawn for the left hand".to_string());
    }
    (!told.is_empty()).then(|| told.join("   "))
}
