//! Every chord that is written, one after the other: the lines that programs read start from these.

use super::{Chart, ChartBar, Form, Hint, Unread};
use crate::harmony::{Harmony, KeyDeclaration};
use crate::time::{Meter, Tick};
use std::collections::HashMap;

/// A chord as written at one place. A `/` lengthens it; a symbol written again is another one.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenChord {
    /// Counts the lines from 0.
    pub index: usize,
    /// The section: an index into `Chart::sections`; the first of the form for the pickup.
    pub section: usize,
    /// The bar in the section, from 1; the bars of the endings are numbered on; the pickup is 0.
    pub bar: u32,
    /// The bar in the form, from 1 (the pickup is 0); `None` where the chart is listed as written.
    pub bar_in_form: Option<u32>,
    /// The meter of the bar it starts in.
    pub meter: Meter,
    /// The beat it starts on, from 1, in denominator notes of its bar.
    pub beat: f64,
    /// Its length in denominator notes of the bar it starts in.
    pub beats: f64,
    /// Where it starts, from the first full bar listed; the pickup is negative.
    pub at: Tick,
    /// How long it lasts.
    pub len: Tick,
    /// The chord, or silence.
    pub harmony: Harmony,
    /// The key declared here.
    pub declared: Option<KeyDeclaration>,
    /// A teacher's word for it.
    pub hint: Option<Hint>,
    /// The symbol that could not be read and stands for silence.
    pub unread: Option<Box<Unread>>,
    /// The chord of the form that this one is where it is first played (index into `Form::chords`); `None`
    /// in the pickup and where the form never plays it.
    pub form_chord: Option<usize>,
    /// Index into the pickup's chords, for the pickup.
    pub pickup_chord: Option<usize>,
}

impl WrittenChord {
    /// The symbol as written; `N.C.` for silence.
    pub fn symbol(&self) -> &str {
        match (&self.harmony, &self.unread) {
            (_, Some(unread)) => &unread.text,
            (Harmony::Chord(symbol), None) => &symbol.text,
            (Harmony::Silence, None) => "N.C.",
        }
    }
}

/// The chords as the form plays them, the pickup first.
pub fn form_lines(chart: &Chart, form: &Form) -> Vec<WrittenChord> {
    let mut lister = Lister::new(chart, form);
    lister.list_pickup(Some(0));
    for (index, bar) in form.bars.iter().enumerate() {
        let Some(written) = chart.sections[bar.section].bar(bar.bar) else {
            continue;
        };
        lister.list(&Listed {
            bar: written,
            section: bar.section,
            number: bar.bar,
            bar_in_form: Some(index as u32 + 1),
            form_start: Some(bar.start),
            follows: true,
        });
    }
    lister.lines
}

/// The chords as the file has them: the pickup, then each section once, its bars and all its endings. A `/`
/// that goes on with a chord not listed just before it (an ending's, say) gets a line of its own.
pub fn written_lines(chart: &Chart, form: &Form) -> Vec<WrittenChord> {
    let first_places = first_places(form);
    let mut lister = Lister::new(chart, form);
    lister.list_pickup(None);
    // Which bar of the form comes next after the one listed last.
    let mut next = Some(0);
    for (section_index, section) in chart.sections.iter().enumerate() {
        let endings = section.endings.iter().flat_map(|ending| &ending.bars);
        for (number, bar) in (1..).zip(section.bars.iter().chain(endings)) {
            let place = first_places.get(&(section_index, number)).copied();
            lister.list(&Listed {
                bar,
                section: section_index,
                number,
                bar_in_form: None,
                form_start: place.map(|here| form.bars[here].start),
                follows: place.is_none() || next.is_none() || place == next,
            });
            next = place.map(|here| here + 1);
        }
    }
    lister.lines
}

/// Where each bar of each section is first played.
fn first_places(form: &Form) -> HashMap<(usize, u32), usize> {
    let mut places = HashMap::new();
    for (index, bar) in form.bars.iter().enumerate() {
        places.entry((bar.section, bar.bar)).or_insert(index);
    }
    places
}

/// A bar about to be listed.
struct Listed<'c> {
    bar: &'c ChartBar,
    section: usize,
    number: u32,
    bar_in_form: Option<u32>,
    /// Where the form plays it (first); `None` if it never does.
    form_start: Option<Tick>,
    /// Whether it follows the bar listed before it.
    follows: bool,
}

/// Collects the lines.
struct Lister<'c> {
    chart: &'c Chart,
    form: &'c Form,
    at: Tick,
    lines: Vec<WrittenChord>,
}

impl<'c> Lister<'c> {
    fn new(chart: &'c Chart, form: &'c Form) -> Lister<'c> {
        Lister {
            chart,
            form,
            at: Tick(0),
            lines: Vec::new(),
        }
    }

    fn list_pickup(&mut self, bar_in_form: Option<u32>) {
        let Some(bar) = &self.chart.pickup else {
            return;
        };
        self.at = Tick(-bar.meter.bar_ticks().0);
        let listed = Listed {
            bar,
            section: self.chart.form.first().copied().unwrap_or(0),
            number: 0,
            bar_in_form,
            form_start: None,
            follows: true,
        };
        self.list(&listed);
        for (index, line) in self.lines.iter_mut().enumerate() {
            line.pickup_chord = Some(index);
        }
    }

    fn list(&mut self, listed: &Listed<'_>) {
        let beat_ticks = listed.bar.meter.beat_ticks();
        for cell in &listed.bar.cells {
            let form_chord = listed
                .form_start
                .and_then(|start| self.form.chord_at(start + cell.at));
            let gone_on_with = form_chord.map(|index| &self.form.chords[index].timed.harmony);
            let harmony = match (&cell.harmony, self.lines.last_mut()) {
                (Some(harmony), _) => harmony.clone(),
                (None, Some(last)) if listed.follows => {
                    last.len += cell.len;
                    last.beats = last.len.0 as f64 / last.meter.beat_ticks().0 as f64;
                    continue;
                }
                (None, _) if listed.number > 0 => gone_on_with.cloned().unwrap_or(Harmony::Silence),
                // Slashes before the pickup's first chord: nothing sounds yet.
                (None, _) => continue,
            };
            self.lines.push(WrittenChord {
                index: self.lines.len(),
                section: listed.section,
                bar: listed.number,
                bar_in_form: listed.bar_in_form,
                meter: listed.bar.meter,
                beat: cell.at.0 as f64 / beat_ticks.0 as f64 + 1.0,
                beats: cell.len.0 as f64 / beat_ticks.0 as f64,
                at: self.at + cell.at,
                len: cell.len,
                harmony,
                declared: listed.bar.key,
                hint: cell.hint.clone(),
                unread: cell.unread.clone(),
                form_chord,
                pickup_chord: None,
            });
        }
        self.at += listed.bar.meter.bar_ticks();
    }
}
