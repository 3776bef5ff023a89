//! The order of playing folded back into sections, endings and a form.
//!
//! Bars that are always played one after the other are a block. A block becomes a section; endings that always
//! follow the same block become endings of its section. Whatever the signs were, the form plays exactly the
//! order found.

use super::bars::{Ready, ReadyBar};
use super::blocks::{Block, blocks, sequence};
use super::merge::merge;
use super::parts::{Parts, SectionPart, parts};
use super::road::Road;
use super::warnings::{ImportError, short};
use super::written::{Measure, Sheet};
use crate::chart::{Chart, ChartBar, Ending, Feel, Melody, MelodyNote, Section};
use crate::fault::is_obeyed;
use crate::harmony::{HabitChoices, Harmony, Key, KeyDeclaration, Mode};
use crate::time::Meter;
use std::collections::HashSet;

/// The most sections of a chart, and of a form.
const MAX_SECTIONS: usize = 200;
const MAX_FORM: usize = 500;

/// Makes the chart of a sheet, its bars and its order of playing.
pub(super) fn fold(
    sheet: &mut Sheet,
    ready: Ready,
    mut road: Road,
    fallback: &str,
) -> Result<Chart, ImportError> {
    let label = |bar: usize| sheet.measures[bar].label.clone();
    road.tell(&mut sheet.warnings, label);
    let has_pickup = ready.has_pickup();
    let mut bars = ready.bars;
    let pickup = has_pickup.then(|| bars[0].clone());
    let played = road.order.iter().copied();
    let order: Vec<usize> = played.filter(|bar| !(has_pickup && *bar == 0)).collect();
    if order.is_empty() {
        let rule = "its jumps play nothing but a pickup";
        return Err(ImportError(rule.to_string()));
    }
    let told = bars[order[0]].bar.key;
    let key = home_key(sheet, &bars, &order);
    settle_keys(&mut bars, key, told);
    let (blocks, sequence) = sectioned(&sheet.measures, &bars, &mut road, &order);
    let parts = parts(&blocks, &sequence, &road.brackets);
    let names = names(&sheet.measures, &parts, &blocks);
    refuse_too_many(&parts)?;
    let chord_pickup = pickup.as_ref().filter(|one| has_chord(&one.bar));
    if chord_pickup.is_none() {
        begin_with_silence(&mut bars[order[0]].bar);
    }
    let first = bars[order[0]].bar.meter;
    let meter = pickup.as_ref().map_or(first, |one| one.bar.meter);
    let named = parts.sections.iter().zip(names);
    let sections = named.map(|(part, name)| section(part, name, &blocks, &bars));
    let melodies = parts
        .sections
        .iter()
        .map(|part| melody_of(part, &blocks, &bars));
    let melody = Melody {
        pickup: pickup.as_ref().map_or(Vec::new(), |one| one.notes.clone()),
        sections: melodies.collect(),
    };
    let pickup = chord_pickup.map(|one| ChartBar {
        key,
        ..one.bar.clone()
    });
    let tempo_qpm = tempo(sheet);
    Ok(Chart {
        title: title(sheet, fallback),
        key,
        meter,
        tempo_qpm,
        feel: sheet.feel.unwrap_or_else(|| usual_feel(meter)),
        habits: HabitChoices::default(),
        form: parts.form,
        intro: Vec::new(),
        last_time: None,
        pickup,
        sections: sections.collect(),
        melody: (!melody.is_empty()).then_some(melody),
    })
}

/// The blocks, and the order in which they are played; one that stands there again is the first one.
fn sectioned(
    measures: &[Measure],
    bars: &[ReadyBar],
    road: &mut Road,
    order: &[usize],
) -> (Vec<Block>, Vec<usize>) {
    let mut blocks = blocks(measures, &road.brackets, order);
    let mut sequence = sequence(&blocks, order);
    merge(
        measures,
        bars,
        &mut blocks,
        &mut road.brackets,
        &mut sequence,
    );
    (blocks, sequence)
}

fn refuse_too_many(parts: &Parts) -> Result<(), ImportError> {
    if parts.sections.len() > MAX_SECTIONS || parts.form.len() > MAX_FORM {
        let rule = format!(
            "its repeats and jumps make {} sections, played {} times: a chart has at most {MAX_SECTIONS}, played \
             {MAX_FORM} times",
            parts.sections.len(),
            parts.form.len()
        );
        return Err(ImportError(rule));
    }
    Ok(())
}

/// Where nothing sounds before it, a first bar that goes on with the chord before begins with silence.
fn begin_with_silence(bar: &mut ChartBar) {
    if let Some(cell) = bar.cells.first_mut().filter(|cell| cell.harmony.is_none()) {
        cell.harmony = Some(Harmony::Silence);
    }
}

/// A text on one line, without what a terminal would obey.
fn shown(text: &str) -> String {
    let shown = text.replace(is_obeyed, " ");
    shown.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn title(sheet: &Sheet, fallback: &str) -> String {
    let own = sheet.title.as_deref().map(str::trim);
    let found = own.filter(|title| !title.is_empty()).unwrap_or(fallback);
    let clean = shown(found);
    match clean.is_empty() {
        true => "Untitled".to_string(),
        false => short(&clean),
    }
}

fn tempo(sheet: &mut Sheet) -> f64 {
    let Some(told) = sheet.tempo_qpm else {
        return 120.0;
    };
    let tempo = told.clamp(30.0, 300.0);
    if tempo != told {
        let what =
            format!("the tempo {told} lies outside 30 to 300 quarters a minute: {tempo} is taken");
        sheet.warnings.whole(what);
    }
    (tempo * 1000.0).round() / 1000.0
}

/// Where the file does not say: three beats are a waltz, compound meters are even.
fn usual_feel(meter: Meter) -> Feel {
    match (meter.is_compound(), meter.beats(), meter.unit()) {
        (true, _, _) => Feel::Straight,
        (false, 3, 4) => Feel::Waltz,
        _ => Feel::Swing,
    }
}

fn has_chord(bar: &ChartBar) -> bool {
    bar.cells.iter().any(|cell| cell.harmony.is_some())
}

/// The key at the start. Many programs write "major" whatever the key is: where the tune ends on the minor chord
/// of the same signature, only the signature is taken.
fn home_key(sheet: &mut Sheet, bars: &[ReadyBar], order: &[usize]) -> Option<KeyDeclaration> {
    let first = bars[order[0]].bar.key;
    let key = first.or_else(|| sheet.measures.iter().find_map(|one| one.key))?;
    let KeyDeclaration::Key(
        declared @ Key {
            mode: Mode::Major, ..
        },
    ) = key
    else {
        return Some(key);
    };
    let cells = order
        .iter()
        .rev()
        .flat_map(|bar| bars[*bar].bar.cells.iter().rev());
    let last = cells
        .filter_map(|cell| match &cell.harmony {
            Some(Harmony::Chord(chord)) => Some(chord),
            _ => None,
        })
        .next()?;
    if last.root == declared.relative().tonic && last.has_degree(3, -1) {
        let what = format!(
            "the file says {declared}, but the last chord is {last}: the mode is left open"
        );
        sheet.warnings.whole(what);
        return Some(KeyDeclaration::Signature(declared.fifths()));
    }
    Some(key)
}

/// Bars before any key signature are in the first key; where the mode was left open at home, it is everywhere.
fn settle_keys(bars: &mut [ReadyBar], home: Option<KeyDeclaration>, told: Option<KeyDeclaration>) {
    for bar in bars.iter_mut() {
        let key = &mut bar.bar.key;
        if key.is_none() || *key == told {
            *key = home;
        }
    }
}

fn section(part: &SectionPart, name: String, blocks: &[Block], bars: &[ReadyBar]) -> Section {
    let of = |block: usize| -> Vec<ChartBar> {
        let bars = blocks[block].bars.iter().map(|bar| bars[*bar].bar.clone());
        bars.collect()
    };
    Section {
        name,
        bars: of(part.body),
        endings: part
            .endings
            .iter()
            .map(|(pass, block)| Ending {
                pass: *pass,
                bars: of(*block),
            })
            .collect(),
        vamp: false,
    }
}

fn melody_of(part: &SectionPart, blocks: &[Block], bars: &[ReadyBar]) -> Vec<Vec<MelodyNote>> {
    let all = [part.body]
        .into_iter()
        .chain(part.endings.iter().map(|one| one.1));
    let notes: Vec<Vec<MelodyNote>> = all
        .flat_map(|block| &blocks[block].bars)
        .map(|bar| bars[*bar].notes.clone())
        .collect();
    match notes.iter().all(Vec::is_empty) {
        true => Vec::new(),
        false => notes,
    }
}

/// Names: rehearsal marks where there are, else letters; the parts of a marked section are counted.
fn names(measures: &[Measure], parts: &Parts, blocks: &[Block]) -> Vec<String> {
    let first_of = |part: &SectionPart| blocks[part.body].bars[0];
    let mark = |part: &SectionPart| {
        let bar = first_of(part);
        let own = measures[bar]
            .mark
            .as_deref()
            .map(|mark| short(&shown(mark)));
        let own = own.filter(|mark| !mark.is_empty());
        let coda = measures[bar].flow.coda && bar > 0;
        own.or(coda.then(|| "Coda".to_string()))
    };
    let marks: HashSet<String> = parts.sections.iter().filter_map(mark).collect();
    let letters = (1..)
        .flat_map(|times: usize| ('A'..='Z').map(move |letter| letter.to_string().repeat(times)));
    let mut letters = letters.filter(|letter| !marks.contains(letter));
    let mut used: HashSet<String> = HashSet::new();
    let mut names = Vec::with_capacity(parts.sections.len());
    for part in &parts.sections {
        let base = mark(part).unwrap_or_else(|| letters.next().unwrap_or_default());
        let mut name = base.clone();
        let mut count = 2;
        while !used.insert(name.clone()) {
            name = format!("{base} {count}");
            count += 1;
        }
        names.push(name);
    }
    names
}
