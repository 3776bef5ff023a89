//! What of a drill will not fit a chart: told by `check`, before anyone stands at the amp.

use crate::chart::{Form, Lap};
use crate::drill::{Advance, Every, Names, Stage, check};
use crate::fault::nearest_hint;
use crate::harmony::undeclared_home;
use crate::plan::pass::as_drilled;
use crate::plan::{Loop, Material, Standing, VoiceRoom, said_in_first_pass, unknown_sections};
use crate::speech::Lengths;
use crate::time::UsPerQuarter;
use std::collections::BTreeSet;
use std::sync::Arc;

/// What the voice cannot say in full in a stage's first passes at so many per cent of the chart's tempo, a line a
/// stage.
pub fn unsaid(
    material: &Arc<Material>,
    names: Names,
    tempo_per_cent: f64,
    lengths: &mut Lengths,
) -> Vec<String> {
    let qpm = material.form.tempo_qpm * tempo_per_cent / 100.0;
    let tempo = UsPerQuarter::from_qpm(qpm);
    let mut lines = Vec::new();
    for (index, stage) in material.drill.stages.iter().enumerate() {
        let mut length_ms = |text: &str| lengths.ms(text);
        let all = room_of_stage(material, index, tempo, names, &mut length_ms);
        if all.short + all.none > 0 {
            lines.push(format!(
                "stage \"{}\" at {} bpm: {} of {} chords spoken in the first pass that is played, {} of them shortened",
                stage.name,
                (qpm * 10.0).round() / 10.0,
                all.full + all.short,
                all.full + all.short + all.none,
                all.short
            ));
        }
    }
    lines
}

/// Every text whose length [`unsaid`] may ask for.
pub fn texts(
    material: &Arc<Material>,
    names: Names,
    tempo_per_cent: f64,
    texts: &mut BTreeSet<String>,
) {
    let tempo = UsPerQuarter::from_qpm(material.form.tempo_qpm * tempo_per_cent / 100.0);
    // What is too long has the shorter forms looked at too.
    let mut too_long = |text: &str| {
        if !texts.contains(text) {
            texts.insert(text.to_string());
        }
        None
    };
    for index in 0..material.drill.stages.len() {
        room_of_stage(material, index, tempo, names, &mut too_long);
    }
}

/// What is said of a stage in its first passes over each section.
fn room_of_stage(
    material: &Arc<Material>,
    stage: usize,
    tempo: UsPerQuarter,
    names: Names,
    length_ms: &mut dyn FnMut(&str) -> Option<f64>,
) -> VoiceRoom {
    let mut all = VoiceRoom::default();
    // A section that comes again is practised once.
    let items = 0..material.form.items();
    for item in items.filter(|item| material.home_item(*item) == *item) {
        let said = said_in_first_pass(material, (stage, item), tempo, names, length_ms);
        all.full += said.full;
        all.short += said.short;
        all.none += said.none;
    }
    all
}

/// Findings, a line each; nothing here is a fault.
pub fn findings(material: &Arc<Material>) -> Vec<String> {
    let mut findings: Vec<String> = key_taken(&material.form).into_iter().collect();
    findings.extend(material.chart.unplayed());
    let stages = &material.drill.stages;
    for index in 0..stages.len() {
        findings.extend(goes_round(material, index));
        findings.extend(lacks(material, index));
    }
    findings.extend(without_melody(material));
    findings.extend(by_themselves(stages));
    findings
}

/// What lacks room or a note in a stage over the whole form, a line each.
fn lacks(material: &Arc<Material>, stage: usize) -> Vec<String> {
    let standing = Standing {
        looping: Loop::Form,
        stage,
        ..Standing::first()
    };
    let material = standing.walked(material);
    let lap = standing.lap(&material);
    let views = as_drilled(&lap, &material.contexts);
    let stage = standing.stage_of(&material);
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    let tempo = UsPerQuarter::from_qpm(material.form.tempo_qpm);
    for lack in check(stage, &views, tempo, 0) {
        let (what, place) = (lack.what.to_string(), place(&material, &lap, lack.set));
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
    told.into_iter().map(line).collect()
}

/// What a stage cannot let go round over the tune, and a tempo that it does not come to.
fn goes_round(material: &Arc<Material>, index: usize) -> Vec<String> {
    let stage = &material.drill.stages[index];
    let sections = unknown_sections(material, index).into_iter().map(|name| {
        let known = &material.form.section_names;
        let hint = nearest_hint(&name, known.iter().map(String::as_str));
        format!(
            "stage \"{}\" is over section \"{name}\", which the chart does not have{hint}",
            stage.name
        )
    });
    let short = stage.tempo.and_then(|tempo| {
        let Every::Passes(every) = tempo.every else {
            return None;
        };
        let needed = tempo.steps() * every + 1;
        let ends = stage.advance == Advance::Passes && stage.passes < needed;
        let reached = tempo.per_cent(stage.passes.saturating_sub(1) / every);
        ends.then(|| {
            format!(
                "stage \"{}\" ends at {reached} per cent of the tempo; {needed} passes come to {}",
                stage.name, tempo.to_per_cent
            )
        })
    });
    sections.chain(short).collect()
}

/// The key that was taken where the chart names none.
pub fn key_taken(form: &Form) -> Option<String> {
    let chords: Vec<_> = form.chords.iter().map(|c| c.timed.clone()).collect();
    let key = undeclared_home(&chords)?;
    Some(format!("no key: taken as {key}"))
}

/// Stages that ask for a melody that cannot sound.
fn without_melody(material: &Material) -> Vec<String> {
    let asks = |stage: &&Stage| {
        let mut helps = stage.fade.iter().map(|(_, help)| help);
        stage.help.melody || helps.any(|help| help.melody)
    };
    let line = |stage: &Stage| {
        let why = if material.melody.is_empty() {
            "the chart has none"
        } else if stage.chords_last > 1 {
            "it is silent where chords last longer than written"
        } else {
            return None;
        };
        Some(format!(
            "stage \"{}\" asks for the melody; {why}",
            stage.name
        ))
    };
    let stages = material.drill.stages.iter();
    stages.filter(asks).filter_map(line).collect()
}

/// What the stages that go on by themselves hang on.
fn by_themselves(stages: &[Stage]) -> Vec<String> {
    let told = [
        (
            Advance::Right,
            "holds each chord until its notes were heard",
            "hold each chord until their notes were heard",
            "advance = \"right\"",
            "without a guitar or a microphone the foot goes on",
        ),
        (
            Advance::Ready,
            "goes on once it is secure",
            "go on once they are secure",
            "advance = \"ready\"",
            "without a guitar or a microphone the foot goes on",
        ),
    ];
    let line = |(advance, one, many, key, otherwise)| {
        let by_ear = |stage: &&Stage| stage.advance == advance && never_secure(stage).is_none();
        let count = stages.iter().filter(by_ear).count();
        let what = match count {
            0 => return None,
            1 => format!("1 stage {one}"),
            _ => format!("{count} stages {many}"),
        };
        Some(format!("{what} ({key}); {otherwise}"))
    };
    let never = stages.iter().filter_map(|stage| {
        let (name, why) = (&stage.name, never_secure(stage)?);
        Some(format!("stage \"{name}\" is never told to be secure (advance = \"ready\"): {why}; the foot goes on"))
    });
    told.into_iter().filter_map(line).chain(never).collect()
}

/// Why a stage that is to go on once it is secure never will.
fn never_secure(stage: &Stage) -> Option<&'static str> {
    match stage {
        _ if stage.advance != Advance::Ready => None,
        _ if !stage.pulse => Some("it is out of time"),
        _ if stage.is_open_choice() && stage.places_in(0).is_empty() => {
            Some("it leaves the choice of notes")
        }
        _ if stage.cycle.sing + stage.cycle.play == 0 => Some("it is only listened to"),
        _ => None,
    }
}

fn place(material: &Material, lap: &Lap, chord: usize) -> String {
    let form_bar = lap.bars[lap.chords[chord].bar].form_bar;
    let bar = &material.form.bars[form_bar];
    format!("{} {}", material.form.section_names[bar.section], bar.bar)
}
