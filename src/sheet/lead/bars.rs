//! Measures of a file made into bars of a chart: meter, pickup, split and irregular bars, chords in their cells.

use super::written::{Measure, Sheet};
use crate::chart::{Cell, ChartBar, MelodyNote};
use crate::harmony::Harmony;
use crate::time::{Meter, Tick};
use std::collections::BTreeMap;

/// The most chords of a bar.
const MAX_CHORDS: usize = 32;

/// Bars ready to be put into sections, one for each of the sheet's measures.
#[derive(Debug)]
pub(super) struct Ready {
    pub bars: Vec<ReadyBar>,
    pickup: bool,
}

/// A bar with its melody.
#[derive(Debug, Clone)]
pub(super) struct ReadyBar {
    pub bar: ChartBar,
    pub notes: Vec<MelodyNote>,
}

impl Ready {
    /// Whether the first bar is a pickup. Its chords stand at the end of a whole bar.
    pub(super) fn has_pickup(&self) -> bool {
        self.pickup
    }
}

/// Makes the bars. Measures that are parts of one bar are joined in the sheet itself.
pub(super) fn ready(sheet: &mut Sheet) -> Ready {
    infer_meter(sheet);
    join_parts(sheet);
    let pickup = is_pickup(&mut sheet.measures);
    complete(sheet, pickup);
    let meters = meters(sheet, pickup);
    carry_over(sheet, &meters);
    let mut bars = Vec::with_capacity(sheet.measures.len());
    for (index, meter) in meters.iter().enumerate() {
        let measure = &mut sheet.measures[index];
        let shift = if index == 0 && pickup {
            meter.bar_ticks() - measure.len
        } else {
            Tick(0)
        };
        let chords = std::mem::take(&mut measure.chords);
        let notes = std::mem::take(&mut measure.notes);
        let label = measure.label.clone();
        let (cells, told) = cells(chords, shift, *meter);
        told.into_iter()
            .for_each(|what| sheet.warnings.at(&label, what));
        bars.push(ReadyBar {
            bar: ChartBar {
                meter: *meter,
                key: sheet.measures[index].key,
                cells,
            },
            notes: fit_notes(notes, shift, meter.bar_ticks()),
        });
    }
    Ready { bars, pickup }
}

fn full(measure: &Measure) -> Tick {
    measure.meter.unwrap_or(Meter::COMMON).bar_ticks()
}

/// Gives bars without a time signature the meter of the most usual length.
fn infer_meter(sheet: &mut Sheet) {
    if sheet.measures.iter().all(|one| one.meter.is_some()) {
        return;
    }
    let mut lengths: BTreeMap<Tick, usize> = BTreeMap::new();
    let bare = sheet.measures.iter().filter(|one| one.meter.is_none());
    for measure in bare.filter(|one| one.len.0 > 0) {
        *lengths.entry(measure.len).or_default() += 1;
    }
    let usual = lengths.iter().max_by_key(|(_, count)| **count);
    let meter = usual
        .and_then(|(len, _)| meter_of(*len, Meter::COMMON))
        .unwrap_or(Meter::COMMON);
    let first = sheet.measures.iter().find(|one| one.meter.is_none());
    let label = first.map(|one| one.label.clone()).unwrap_or_default();
    let what = format!("there is no time signature: {meter} by the length of the bars");
    sheet.warnings.at(&label, what);
    for measure in &mut sheet.measures {
        measure.meter.get_or_insert(meter);
    }
}

/// A meter of exactly this length, in the beats of `like` if they serve.
fn meter_of(len: Tick, like: Meter) -> Option<Meter> {
    [like.unit(), 4, 8, 16].into_iter().find_map(|unit| {
        let beat = Meter::new(1, unit).ok()?.beat_ticks().0;
        let beats = (len.0 % beat == 0).then_some(len.0 / beat)?;
        Meter::new(u8::try_from(beats).ok()?, unit).ok()
    })
}

/// Joins two measures that are one bar, such as those around a line break within a bar, where no sign stands
/// between them.
fn join_parts(sheet: &mut Sheet) {
    let mut joined: Vec<Measure> = Vec::with_capacity(sheet.measures.len());
    let mut may_join = false;
    for (index, measure) in sheet.measures.drain(..).enumerate() {
        match joined.last_mut() {
            // The first bar may be a pickup, which is no part of the next.
            Some(before) if may_join && are_parts(before, &measure) => {
                let shift = before.len;
                let moved = measure
                    .chords
                    .into_iter()
                    .map(|(at, one)| (at + shift, one));
                before.chords.extend(moved);
                before
                    .notes
                    .extend(measure.notes.into_iter().map(|note| MelodyNote {
                        at: note.at + shift,
                        ..note
                    }));
                before.len += measure.len;
                before.double_bar = measure.double_bar;
                before.flow = measure.flow;
                may_join = false;
            }
            _ => {
                joined.push(measure);
                may_join = index > 0;
            }
        }
    }
    sheet.measures = joined;
}

fn are_parts(before: &Measure, measure: &Measure) -> bool {
    let whole = full(before);
    let lengths = before.len.0 > 0 && measure.len.0 > 0 && before.len + measure.len == whole;
    // Signs at the start of the first part would be lost too.
    let signs = before.flow != Default::default() || before.double_bar;
    let starts = measure.flow.forward
        || measure.flow.ending.is_some()
        || measure.flow.segno
        || measure.flow.coda
        || measure.mark.is_some();
    lengths && !signs && !starts && before.meter == measure.meter && before.key == measure.key
}

/// Whether the first bar is a pickup: shorter than its meter, or not counted. One with a meter of its own is
/// counted in that of the bar after it.
fn is_pickup(measures: &mut [Measure]) -> bool {
    let [first, second, ..] = measures else {
        return false;
    };
    let counted = !first.implicit && first.len >= full(first);
    if first.len.0 == 0 || first.len > full(first) || counted {
        return false;
    }
    if first.len < full(second) {
        first.meter = second.meter;
    }
    true
}

/// Fills bars that the pickup completes: what goes back to the pickup gets its chords and notes at its end.
fn complete(sheet: &mut Sheet, pickup: bool) {
    if !pickup {
        return;
    }
    let first = sheet.measures[0].clone();
    for measure in sheet.measures.iter_mut().skip(1) {
        if measure.len.0 == 0 || measure.len + first.len != full(measure) {
            continue;
        }
        let flow = &measure.flow;
        if flow.backward.is_some() || flow.da_capo.is_some() {
            let shift = measure.len;
            if !first.chords.is_empty() {
                let what = "is completed with the pickup's chords";
                sheet.warnings.at(&measure.label, what);
            }
            let chords = first.chords.iter().cloned();
            measure
                .chords
                .extend(chords.map(|(at, one)| (at + shift, one)));
            measure
                .notes
                .extend(first.notes.iter().map(|note| MelodyNote {
                    at: note.at + shift,
                    ..*note
                }));
        }
        measure.len = full(measure);
    }
}

/// The meter of each bar. Irregular ones get one of their own; the last one is filled up.
fn meters(sheet: &mut Sheet, pickup: bool) -> Vec<Meter> {
    let count = sheet.measures.len();
    let mut meters = Vec::with_capacity(count);
    for (index, measure) in sheet.measures.iter().enumerate() {
        let usual = measure.meter.unwrap_or(Meter::COMMON);
        let whole = usual.bar_ticks();
        let regular = measure.len.0 == 0 || measure.len == whole || (index == 0 && pickup);
        if regular {
            meters.push(usual);
            continue;
        }
        let quarters = |len: Tick| (len.quarters() * 1000.0).round() / 1000.0;
        let told = format!(
            "has {} quarters where {usual} has {}",
            quarters(measure.len),
            quarters(whole)
        );
        let own = meter_of(measure.len, usual);
        let (meter, done) = match own {
            _ if index + 1 == count && measure.len < whole => (usual, "filled up".to_string()),
            Some(own) => (own, format!("kept as a bar of {own}")),
            None => (usual, format!("taken as a whole bar of {usual}")),
        };
        let label = measure.label.clone();
        sheet.warnings.at(&label, format!("{told}: {done}"));
        meters.push(meter);
    }
    meters
}

/// Moves chords that stand beyond their bar's end (or before its start) to where they belong.
fn carry_over(sheet: &mut Sheet, meters: &[Meter]) {
    let mut moved: Vec<(usize, Tick, Harmony)> = Vec::new();
    for (index, measure) in sheet.measures.iter_mut().enumerate() {
        let len = meters[index].bar_ticks();
        // A pickup's ticks count from its own start.
        let len = if index == 0 && measure.len.0 > 0 {
            len.min(measure.len)
        } else {
            len
        };
        let outside = |at: Tick| at >= len || at.0 < 0;
        for (at, harmony) in measure.chords.iter().filter(|one| outside(one.0)) {
            let place = match (at.0 < 0, index.checked_sub(1)) {
                (true, Some(before)) => (before, *at + meters[before].bar_ticks()),
                (true, None) => (index, Tick(0)),
                (false, _) => (index + 1, *at - len),
            };
            moved.push((place.0, place.1, harmony.clone()));
        }
        measure.chords.retain(|one| !outside(one.0));
    }
    for (index, at, harmony) in moved {
        let fits = meters
            .get(index)
            .is_some_and(|one| (0..one.bar_ticks().0).contains(&at.0));
        match sheet.measures.get_mut(index) {
            Some(measure) if fits && measure.chords.iter().all(|one| one.0 != at) => {
                measure.chords.push((at, harmony));
            }
            _ => {
                let label = sheet.measures.get(index).or(sheet.measures.last());
                let label = label.map(|one| one.label.clone()).unwrap_or_default();
                let what = format!("the chord {harmony} stands outside its bar: left out");
                sheet.warnings.at(&label, what);
            }
        }
    }
}

/// The chords as cells that fill the bar, and what is to be told of them.
fn cells(mut chords: Vec<(Tick, Harmony)>, shift: Tick, meter: Meter) -> (Vec<Cell>, Vec<String>) {
    let mut told = Vec::new();
    chords.iter_mut().for_each(|one| one.0 += shift);
    chords.sort_by_key(|one| one.0);
    chords.dedup();
    if chords.len() > MAX_CHORDS {
        told.push(format!(
            "has {} chords: those after the first {MAX_CHORDS} are left out",
            chords.len()
        ));
        chords.truncate(MAX_CHORDS);
    }
    spread(&mut chords, meter, &mut told);
    let whole = meter.bar_ticks();
    let mut cells = Vec::with_capacity(chords.len() + 1);
    if chords.first().is_none_or(|first| first.0.0 > 0) {
        let len = chords.first().map_or(whole, |first| first.0);
        cells.push(cell(Tick(0), len, None));
    }
    let ends: Vec<Tick> = chords
        .iter()
        .skip(1)
        .map(|one| one.0)
        .chain([whole])
        .collect();
    for ((at, harmony), end) in chords.into_iter().zip(ends) {
        if end > at {
            cells.push(cell(at, end - at, Some(harmony)));
        }
    }
    (cells, told)
}

fn cell(at: Tick, len: Tick, harmony: Option<Harmony>) -> Cell {
    Cell {
        at,
        len,
        harmony,
        hint: None,
        unread: None,
    }
}

/// Shares the time among chords that stand at one place: their places were lost on the way.
fn spread(chords: &mut [(Tick, Harmony)], meter: Meter, told: &mut Vec<String>) {
    let mut first = 0;
    while first < chords.len() {
        let at = chords[first].0;
        let same = chords[first..].iter().take_while(|one| one.0 == at).count();
        let end = chords
            .get(first + same)
            .map_or(meter.bar_ticks(), |one| one.0);
        if same > 1 {
            let names: Vec<String> = chords[first..first + same]
                .iter()
                .map(|one| one.1.to_string())
                .collect();
            told.push(format!(
                "{} stand at one place: they share the time to the next chord",
                names.join(", ")
            ));
            let beat = meter.beat_ticks().0;
            let span = end.0 - at.0;
            // On beats if there is one for each.
            let grid = if span / beat >= same as i64 { beat } else { 1 };
            for (step, one) in chords[first..first + same].iter_mut().enumerate() {
                let exact = span * step as i64 / same as i64;
                one.0 = at + Tick((exact + grid / 2) / grid * grid);
            }
        }
        first += same;
    }
}

/// The notes within their bar, one at a time.
fn fit_notes(notes: Vec<MelodyNote>, shift: Tick, whole: Tick) -> Vec<MelodyNote> {
    let mut fitted: Vec<MelodyNote> = Vec::with_capacity(notes.len());
    for mut note in notes {
        note.at += shift;
        note.len = note.len.min(whole - note.at);
        if note.at.0 < 0 || note.len.0 <= 0 {
            continue;
        }
        if let Some(last) = fitted.last_mut() {
            if last.at >= note.at {
                continue;
            }
            last.len = last.len.min(note.at - last.at);
            // Written as two notes, it is one.
            let same = (last.pitch, last.octave) == (note.pitch, note.octave);
            if last.tied && same && last.at + last.len == note.at {
                last.len += note.len;
                last.tied = note.tied;
                continue;
            }
        }
        fitted.push(note);
    }
    fitted
}
