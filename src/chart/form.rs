//! The form unrolled: every bar and chord in the order of playing.

use super::route::{Leg, Route, Stop, last_stops, stops};
use super::{Cell, Chart, ChartBar, Feel, Section};
use crate::harmony::{Harmony, KeyDeclaration, TimedChord};
use crate::time::{Meter, Tick};

/// A chart's form, written out once through, endings chosen by pass. Tick 0 is the first full bar; the
/// pickup, where there is one, stands before it in `pickup` with negative ticks.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    pub title: String,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// How it is played.
    pub feel: Feel,
    /// The bars in order, without the pickup.
    pub bars: Vec<FormBar>,
    /// The chords in order, without the pickup's. A chord that goes on over a bar line is one chord.
    pub chords: Vec<FormChord>,
    /// The pickup bar and its chords, if there is one.
    pub pickup: Option<(FormBar, Vec<FormChord>)>,
    /// Names of the sections, in the order of the file.
    pub section_names: Vec<String>,
    /// The way through the bars: those of the chorus are the first ones.
    pub route: Route,
}

/// A bar of the unrolled form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FormBar {
    pub start: Tick,
    pub meter: Meter,
    /// The key declared here.
    pub key: Option<KeyDeclaration>,
    /// Index of its section.
    pub section: usize,
    /// Which item of the form it belongs to, from 0: AABA has items 0 to 3.
    pub item: usize,
    /// Its number in the section, from 1; the bars of the endings are numbered on, in the order of the file;
    /// the pickup is 0.
    pub bar: u32,
}

/// A chord of the unrolled form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormChord {
    /// The chord with its place in the form.
    pub timed: TimedChord,
    /// Index into `Form::bars` of the bar it starts in (0 for the pickup's).
    pub form_bar: usize,
    /// The beat it starts on, from 1, in denominator notes of its bar's meter.
    pub beat: f64,
    /// Its length in denominator notes of its bar's meter.
    pub beats: f64,
    /// A teacher's note to the player.
    pub note: Option<String>,
}

impl Section {
    /// The bar of the given number, from 1: `bars`, then the bars of all endings numbered on.
    pub fn bar(&self, number: u32) -> Option<&ChartBar> {
        let mut index = (number as usize).checked_sub(1)?;
        if let Some(bar) = self.bars.get(index) {
            return Some(bar);
        }
        index -= self.bars.len();
        for ending in &self.endings {
            match ending.bars.get(index) {
                Some(bar) => return Some(bar),
                None => index -= ending.bars.len(),
            }
        }
        None
    }

    /// The ending that the bar of the given number belongs to; `None` for the bars before the endings.
    pub fn ending_of(&self, number: u32) -> Option<usize> {
        let mut reached = self.bars.len();
        if number as usize <= reached {
            return None;
        }
        self.endings.iter().position(|ending| {
            reached += ending.bars.len();
            number as usize <= reached
        })
    }

    /// The bars of one pass with their numbers in the section: `bars`, then the ending of that pass, or of
    /// the last ending given if none names it.
    pub fn pass(&self, pass: u32) -> impl Iterator<Item = (u32, &ChartBar)> {
        let mut before = self.bars.len();
        let ending = self
            .endings
            .iter()
            .position(|ending| ending.pass == pass)
            .or(self.endings.len().checked_sub(1));
        let end: &[ChartBar] = match ending {
            Some(index) => {
                before += self.endings[..index]
                    .iter()
                    .map(|one| one.bars.len())
                    .sum::<usize>();
                &self.endings[index].bars
            }
            None => &[],
        };
        let body = self.bars.iter().zip(1..);
        let end = end.iter().zip(before as u32 + 1..);
        body.chain(end).map(|(bar, number)| (number, bar))
    }
}

impl Form {
    /// How many bars the form of a chart plays, without the pickup and what comes only once.
    pub fn count_bars(chart: &Chart) -> usize {
        let stops = stops(&chart.form, chart.sections.len());
        let bars = |stop: &Stop| chart.sections[stop.section].pass(stop.pass).count();
        stops.iter().map(bars).sum()
    }

    /// Writes the form of a chart out: every section in its pass, with the ending of that pass. Chords that
    /// go on over bar lines become one chord; a `/` at the start of the form goes on with the pickup's last
    /// chord.
    pub fn unroll(chart: &Chart) -> Form {
        let mut form = Form {
            title: chart.title.clone(),
            tempo_qpm: chart.tempo_qpm,
            feel: chart.feel,
            bars: Vec::new(),
            chords: Vec::new(),
            pickup: None,
            section_names: chart.sections.iter().map(|one| one.name.clone()).collect(),
            route: Route::default(),
        };
        let mut sounding = None;
        if let Some(bar) = &chart.pickup {
            let pickup = unroll_pickup(chart, bar);
            sounding = pickup.1.last().map(|chord| chord.timed.harmony.clone());
            form.pickup = Some(pickup);
        }
        let sections = chart.sections.len();
        let chorus = stops(&chart.form, sections);
        let intro = stops(&chart.intro, sections);
        let played: Vec<Vec<usize>> = chorus
            .iter()
            .map(|stop| form.push_stop(chart, stop, sounding.take()))
            .collect();
        form.route.chorus = legs(chart, &chorus, &played);
        let bars: Vec<Vec<usize>> = intro
            .iter()
            .map(|stop| form.push_stop(chart, stop, Some(Harmony::Silence)))
            .collect();
        form.route.intro = legs(chart, &intro, &bars);
        form.push_last_time(chart, &chorus, &played);
        let route = &mut form.route;
        // Where a chorus is not all that is played, the last time is one of its own, too.
        if chart.last_time.is_none() && !(route.intro.is_empty() && route.chorus.len() == 1) {
            route.last.clone_from(&route.chorus);
        }
        // Grown by doubling, and kept from now on.
        form.bars.shrink_to_fit();
        form.chords.shrink_to_fit();
        form
    }

    /// The last time round: the bars of the chorus as long as it is that, its own from there on.
    fn push_last_time(&mut self, chart: &Chart, chorus: &[Stop], played: &[Vec<usize>]) {
        let last = last_stops(chart);
        let mut same = true;
        let mut bars: Vec<Vec<usize>> = Vec::new();
        for (index, stop) in last.iter().enumerate() {
            let like = chorus.get(index);
            same &= like.is_some_and(|like| (like.section, like.pass) == (stop.section, stop.pass));
            let mut own = match same {
                true => played[index].clone(),
                false => {
                    let before = bars.iter().flatten().last();
                    let sounding = before.and_then(|bar| self.sounding_after(*bar));
                    self.push_stop(chart, stop, sounding)
                }
            };
            own.truncate(stop.bars.unwrap_or(own.len()));
            bars.push(own);
        }
        self.route.last = legs(chart, &last, &bars);
    }

    /// What sounds at the end of a bar.
    fn sounding_after(&self, bar: usize) -> Option<Harmony> {
        let end = self.bars.get(bar)?.end();
        let chord = self.chord_at(Tick(end.0 - 1))?;
        Some(self.chords[chord].timed.harmony.clone())
    }

    /// Appends the bars of a section's pass; gives them as indices. `before` is what a `/` at its start goes on with, where
    /// that is not the chord of the bar that stands before.
    fn push_stop(&mut self, chart: &Chart, stop: &Stop, before: Option<Harmony>) -> Vec<usize> {
        let item = self.items();
        let mut start = self.bars.last().map_or(Tick(0), FormBar::end);
        let first = self.bars.len();
        let mut before = before;
        for (number, bar) in chart.sections[stop.section].pass(stop.pass) {
            self.bars.push(FormBar {
                start,
                meter: bar.meter,
                key: bar.key,
                section: stop.section,
                item,
                bar: number,
            });
            self.push_chords(bar, start, before.take());
            start += bar.meter.bar_ticks();
        }
        (first..self.bars.len()).collect()
    }

    /// Adds the chords of the last bar pushed; `before` is what a `/` at the form's start goes on with.
    fn push_chords(&mut self, bar: &ChartBar, start: Tick, before: Option<Harmony>) {
        let form_bar = self.bars.len() - 1;
        for cell in &bar.cells {
            let anew = before.clone().filter(|_| cell.at == Tick(0));
            match (&cell.harmony, self.chords.last_mut()) {
                (Some(harmony), _) => {
                    let chord = form_chord(bar, cell, start, harmony.clone(), form_bar);
                    self.chords.push(chord);
                }
                (None, Some(last)) if anew.is_none() => {
                    last.timed.len += cell.len;
                    let beat = self.bars[last.form_bar].meter.beat_ticks();
                    last.beats = last.timed.len.0 as f64 / beat.0 as f64;
                }
                (None, _) => {
                    let harmony = before.clone().unwrap_or(Harmony::Silence);
                    self.chords
                        .push(form_chord(bar, cell, start, harmony, form_bar));
                }
            }
        }
    }

    /// How many items the form has: AABA has 4.
    pub fn items(&self) -> usize {
        self.bars.last().map_or(0, |bar| bar.item + 1)
    }

    /// The bars of an item of the form, as indices; empty beyond the last item.
    pub fn item_bars(&self, item: usize) -> Vec<usize> {
        let first = self.bars.partition_point(|bar| bar.item < item);
        let end = self.bars.partition_point(|bar| bar.item <= item);
        (first..end).collect()
    }

    /// The section that an item of the form plays; `None` beyond the last item.
    pub fn section_of(&self, item: usize) -> Option<usize> {
        let first = self.bars.partition_point(|bar| bar.item < item);
        self.bars
            .get(first)
            .filter(|bar| bar.item == item)
            .map(|bar| bar.section)
    }

    /// The first item that plays a section; `None` if the form never does.
    pub fn first_item_of(&self, section: usize) -> Option<usize> {
        self.bars
            .iter()
            .find(|bar| bar.section == section)
            .map(|bar| bar.item)
    }

    /// The next item of the form, around its end, that plays another section than `item` does; `None` if
    /// there is only one section in the form or no such item.
    pub fn next_other_section(&self, item: usize) -> Option<usize> {
        self.other_section(item, |step, count| (item + step) % count)
    }

    /// The item before, around the form's start, that plays another section than `item` does; `None` as in
    /// [`Form::next_other_section`].
    pub fn previous_other_section(&self, item: usize) -> Option<usize> {
        self.other_section(item, |step, count| (item + count - step) % count)
    }

    fn other_section(&self, item: usize, at: impl Fn(usize, usize) -> usize) -> Option<usize> {
        let here = self.section_of(item)?;
        let count = self.items();
        (1..count).map(|step| at(step, count)).find(|other| {
            self.section_of(*other)
                .is_some_and(|section| section != here)
        })
    }

    /// The chord that sounds at `tick` of the form, as an index; `None` outside the form.
    pub fn chord_at(&self, tick: Tick) -> Option<usize> {
        let after = self
            .chords
            .partition_point(|chord| chord.timed.start <= tick);
        let index = after.checked_sub(1)?;
        let timed = &self.chords[index].timed;
        (tick < timed.start + timed.len).then_some(index)
    }

    /// The chords as the harmonic analysis takes them, the pickup's not among them.
    pub fn timed_chords(&self) -> Vec<TimedChord> {
        self.chords
            .iter()
            .map(|chord| chord.timed.clone())
            .collect()
    }
}

impl FormBar {
    /// Where it ends.
    pub fn end(&self) -> Tick {
        self.start + self.meter.bar_ticks()
    }
}

/// Sections one after the other as legs: a vamp is one of its own.
fn legs(chart: &Chart, stops: &[Stop], bars: &[Vec<usize>]) -> Vec<Leg> {
    let mut legs: Vec<Leg> = Vec::new();
    for (stop, bars) in stops.iter().zip(bars) {
        let vamp = chart.sections[stop.section].vamp;
        match legs.last_mut().filter(|leg| !leg.vamp && !vamp) {
            Some(leg) => leg.bars.extend(bars),
            None => legs.push(Leg {
                bars: bars.clone(),
                vamp,
            }),
        }
    }
    legs
}

/// The pickup with negative ticks, ending at 0. Slashes before its first chord are silence.
fn unroll_pickup(chart: &Chart, bar: &ChartBar) -> (FormBar, Vec<FormChord>) {
    let start = Tick(-bar.meter.bar_ticks().0);
    let form_bar = FormBar {
        start,
        meter: bar.meter,
        key: bar.key,
        section: chart.form.first().copied().unwrap_or(0),
        item: 0,
        bar: 0,
    };
    let chords = bar
        .cells
        .iter()
        .filter_map(|cell| {
            let harmony = cell.harmony.clone()?;
            Some(form_chord(bar, cell, start, harmony, 0))
        })
        .collect();
    (form_bar, chords)
}

fn form_chord(
    bar: &ChartBar,
    cell: &Cell,
    bar_start: Tick,
    harmony: Harmony,
    form_bar: usize,
) -> FormChord {
    let beat_ticks = bar.meter.beat_ticks().0 as f64;
    let hint = cell.hint.as_ref();
    FormChord {
        timed: TimedChord {
            start: bar_start + cell.at,
            len: cell.len,
            harmony,
            declared: bar.key,
            hint: hint.and_then(|hint| hint.scale),
        },
        form_bar,
        beat: cell.at.0 as f64 / beat_ticks + 1.0,
        beats: cell.len.0 as f64 / beat_ticks,
        note: hint.and_then(|hint| hint.note.clone()),
    }
}
