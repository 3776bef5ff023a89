//! Directions and sounds: jumps, signs, rehearsal marks, tempo, silence.

use super::reader::{PartReader, passes};
use super::words::{WordsSaid, said};
use super::xml::{child, children, number, text};
use crate::chart::Feel;
use crate::sheet::lead::{Act, short};
use roxmltree::Node;

/// What a direction has said, in words and in its sound: one and the same thing said twice.
#[derive(Debug, Default)]
pub(super) struct DirectionTold {
    da_capo: Option<Act>,
    dal_segno: Option<Act>,
}

/// Reads a direction.
pub(super) fn read(reader: &mut PartReader<'_>, element: Node<'_, '_>) {
    let mut told = DirectionTold::default();
    let place = reader.place(element);
    let types = children(element).filter(|one| one.tag_name().name() == "direction-type");
    for one in types.flat_map(children) {
        match one.tag_name().name() {
            "words" => match said(text(one)) {
                WordsSaid::DaCapo(act) => told.da_capo = Some(act),
                WordsSaid::DalSegno(act) => told.dal_segno = Some(act),
                WordsSaid::ToCoda => reader.bar.flow.to_coda = Some(Act::default()),
                WordsSaid::Fine => reader.bar.flow.fine = Some(Act::default()),
                WordsSaid::Silence => reader.silence(place),
                WordsSaid::Feel(feel) => {
                    reader.sheet.feel.get_or_insert(feel);
                }
                WordsSaid::Coda => reader.bar.flow.coda = true,
                WordsSaid::Segno => segno(reader),
                WordsSaid::Nothing => {}
            },
            "segno" => segno(reader),
            "coda" => reader.bar.flow.coda = true,
            "rehearsal" => mark(reader, text(one)),
            "metronome" => metronome(reader, one),
            _ => {}
        }
    }
    if let Some(one) = child(element, "sound") {
        sound(reader, one, &mut told);
    }
    keep(reader, told);
}

/// Reads a sound: the same signs as attributes.
pub(super) fn sound(reader: &mut PartReader<'_>, node: Node<'_, '_>, told: &mut DirectionTold) {
    let only = node.attribute("time-only").map(passes).unwrap_or_default();
    let act = || Act {
        only: only.clone(),
        ..Act::default()
    };
    let yes = |name: &str| node.attribute(name) == Some("yes");
    let named = |name: &str| node.attribute(name).is_some();
    if yes("dacapo") {
        told.da_capo.get_or_insert_with(act).only = only.clone();
    }
    if named("dalsegno") {
        told.dal_segno.get_or_insert_with(act).only = only.clone();
    }
    if named("tocoda") {
        reader.bar.flow.to_coda = Some(act());
    }
    if named("fine") {
        reader.bar.flow.fine = Some(act());
    }
    if named("coda") {
        reader.bar.flow.coda = true;
    }
    if named("segno") {
        segno(reader);
    }
    if yes("forward-repeat") {
        reader.bar.flow.forward = true;
    }
    if let Some(swing) = child(node, "swing") {
        let feel = if child(swing, "straight").is_some() {
            Feel::Straight
        } else {
            Feel::Swing
        };
        reader.sheet.feel.get_or_insert(feel);
    }
    let tempo = node
        .attribute("tempo")
        .and_then(|tempo| tempo.trim().parse().ok());
    if let Some(tempo) = tempo {
        set_tempo(reader, tempo);
    }
    // A sound of its own, outside a direction.
    if node
        .parent()
        .is_some_and(|parent| parent.tag_name().name() != "direction")
    {
        keep(reader, std::mem::take(told));
    }
}

fn keep(reader: &mut PartReader<'_>, told: DirectionTold) {
    let flow = &mut reader.bar.flow;
    flow.da_capo = told.da_capo.or(flow.da_capo.take());
    flow.dal_segno = told.dal_segno.or(flow.dal_segno.take());
}

/// A segno after the last note of a bar is the next bar's.
fn segno(reader: &mut PartReader<'_>) {
    match reader.at_end() {
        true => reader.next.segno = true,
        false => reader.bar.flow.segno = true,
    }
}

/// A rehearsal mark; one after the last note of a bar is the next bar's.
fn mark(reader: &mut PartReader<'_>, name: &str) {
    let name = short(name);
    if name.is_empty() {
        return;
    }
    match reader.at_end() {
        true => reader.next.mark = Some(name),
        false => reader.bar.mark = Some(name),
    }
}

/// A metronome mark: quarters a minute.
fn metronome(reader: &mut PartReader<'_>, node: Node<'_, '_>) {
    let unit = match child(node, "beat-unit").map(text) {
        Some("whole") => 4.0,
        Some("half") => 2.0,
        Some("quarter") => 1.0,
        Some("eighth") => 0.5,
        Some("16th") => 0.25,
        _ => return,
    };
    let dots = children(node)
        .filter(|one| one.tag_name().name() == "beat-unit-dot")
        .count();
    let dotted = 2.0 - 0.5_f64.powi(dots.min(4) as i32);
    if let Some(beats) = child(node, "per-minute").and_then(number) {
        set_tempo(reader, beats * unit * dotted);
    }
}

/// The first tempo is the chart's; a change is told.
fn set_tempo(reader: &mut PartReader<'_>, qpm: f64) {
    if !(qpm.is_finite() && qpm > 0.0) {
        return;
    }
    match reader.sheet.tempo_qpm {
        None => reader.sheet.tempo_qpm = Some(qpm),
        Some(before) if (before - qpm).abs() > 1.0 => {
            reader.warn(format!(
                "the tempo changes to {qpm}: left out, a chart has one"
            ));
        }
        Some(_) => {}
    }
}
