//! From a chart and a stage to what a sheet says: the lines of `targets`, with bars, places and names.

mod bars;
mod choice;
mod remarks;

use self::bars::bars;
use self::choice::{choices, one_way};
use self::remarks::remarks;
use super::targets::{Asked, NoStage, Row, rows, stage_index};
use crate::chart::Chart;
use crate::drill::{Drill, Names, Place, TargetNote};
use crate::engrave::{SheetChord, SheetModel, SheetNote};
use crate::fault::nearest_hint;
use crate::fretboard::NeckPlace;
use crate::harmony::Harmony;
use crate::plan::Material;
use crate::time::{Tick, UsPerQuarter};

/// What is to be printed.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// A section, or "form"; `None`: each section once, of a chorus the form.
    pub over: Option<String>,
    /// A whole chorus, written out.
    pub is_chorus: bool,
    pub names: Names,
}

/// Why there is nothing to print.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoSheet {
    #[error(transparent)]
    Stage(#[from] NoStage),
    /// A section that the chart does not have.
    #[error("the chart has no section \"{asked}\"{hint}; its sections: {sections}, or \"form\"")]
    Section {
        asked: String,
        hint: String,
        sections: String,
    },
}

/// What a sheet says.
///
/// # Errors
/// When the drill has no such stage, or the chart no such section.
pub fn model(
    material: &Material,
    drill: &Drill,
    mut asked: Asked,
    wanted: &Wanted,
) -> Result<SheetModel, NoSheet> {
    let chart = &material.chart;
    let only = section(chart, wanted.over.as_deref())?;
    asked.form = match wanted.over.as_deref() {
        Some(over) => over == "form",
        None => wanted.is_chorus,
    };
    let stage = &drill.stages[stage_index(drill, asked.stage.as_deref())?];
    let mut rows = rows(material, Some(drill), &asked)?;
    let is_free = stage.is_open_choice() && !wanted.is_chorus;
    if stage.is_open_choice() {
        let tempo = UsPerQuarter::from_qpm(material.form.tempo_qpm);
        match wanted.is_chorus {
            true => one_way(&mut rows, stage, &asked, tempo),
            false => choices(&mut rows, stage, &asked, tempo),
        }
    }
    rows.retain(|row| only.is_none_or(|only| row.chord.section == only && row.chord.bar > 0));
    let times = i64::from(stage.chords_last);
    let chords = rows.iter().map(|row| chord(chart, row, times, is_free));
    Ok(SheetModel {
        title: chart.title.clone(),
        subtitle: format!("{}: {}", drill.title, stage.name),
        remarks: remarks(material, stage, &asked.neck, wanted.names),
        names: wanted.names,
        neck: asked.neck.clone(),
        tempo_qpm: chart.tempo_qpm,
        bars: bars(material, asked.form, only, times),
        chords: chords.collect(),
    })
}

/// The section that is asked for; `None`: all.
fn section(chart: &Chart, over: Option<&str>) -> Result<Option<usize>, NoSheet> {
    let Some(asked) = over.filter(|over| *over != "form") else {
        return Ok(None);
    };
    let names = || chart.sections.iter().map(|section| section.name.as_str());
    let found = names().position(|name| name == asked);
    found.map(Some).ok_or_else(|| NoSheet::Section {
        asked: asked.to_string(),
        hint: nearest_hint(asked, names()),
        sections: names().collect::<Vec<_>>().join(", "),
    })
}

fn chord(chart: &Chart, row: &Row, times: i64, is_free: bool) -> SheetChord {
    let written = &row.chord;
    let section = &chart.sections[written.section].name;
    let symbol = match &written.harmony {
        Harmony::Chord(symbol) => symbol.pretty(),
        Harmony::Silence => "N.C.".to_string(),
    };
    let notes = row.set.notes.iter().zip(&row.neck);
    let rhythm: Vec<(Place, Tick)> = match is_free {
        true => row.set.rhythm.clone(),
        false => row
            .set
            .notes
            .iter()
            .map(|note| (note.place.clone(), note.at))
            .collect(),
    };
    SheetChord {
        at: Tick(written.at.0 * times),
        len: Tick(written.len.0 * times),
        meter: written.meter,
        symbol,
        harmony: written.harmony.clone(),
        scale: row.context.scale.map(|scale| scale.to_string()),
        place: match written.bar {
            0 => "pickup".to_string(),
            bar => format!("{section} {bar}"),
        },
        notes: notes
            .map(|(note, neck)| self::note(row, note, *neck))
            .collect(),
        is_free,
        rhythm,
    }
}

fn note(row: &Row, note: &TargetNote, neck: Option<NeckPlace>) -> SheetNote {
    SheetNote {
        pitch: note.pitch,
        octave: SheetNote::octave_of(note.pitch, note.midi),
        degree: note.degree,
        at: note.at,
        len: note.len,
        neck,
        is_certain: row.context.is_certain_of(note.pitch),
    }
}
