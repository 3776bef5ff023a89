//! A small map of the neck, and the beats of a chord with what falls on them.

use super::canvas::{Group, Mark, Style};
use super::model::{SheetChord, SheetModel};
use crate::display::roman;
use crate::fretboard::Neck;
use crate::harmony::Degree;

/// The fewest frets shown: four fingers and a stretch.
const LEAST_FRETS: u8 = 5;
/// Frets with an inlay, common practice, no source; the twelfth has two.
const INLAYS: [u8; 9] = [3, 5, 7, 9, 12, 15, 17, 19, 21];

/// Where a map lies.
#[derive(Debug, Clone, Copy)]
pub struct MapArea {
    pub x: f32,
    pub top: f32,
    pub width: f32,
    /// The distance of the strings.
    pub gap: f32,
}

/// A map while it is drawn.
struct Map<'a> {
    area: MapArea,
    neck: &'a Neck,
    lowest: Option<u8>,
    first: u8,
    count: u8,
    fret_width: f32,
}

impl Map<'_> {
    /// A place as the player sees it: the nut is at the left, for left-handed players at the right.
    fn seen(&self, x: f32) -> f32 {
        if self.neck.left_handed {
            2.0f32.mul_add(self.area.x, self.area.width) - x
        } else {
            x
        }
    }

    /// The nut, or the first fret's line: open strings lie before it.
    fn nut(&self) -> f32 {
        self.area.x + 2.6
    }

    fn middle(&self, fret: u8) -> f32 {
        match fret {
            0 => self.nut() - 1.5,
            fret => self.nut() + (f32::from(fret - self.first) + 0.5) * self.fret_width,
        }
    }

    fn strings(&self) -> u8 {
        self.neck.tuning.open_keys().len() as u8
    }

    fn bottom(&self) -> f32 {
        self.area.top + f32::from(self.strings().saturating_sub(1)) * self.area.gap
    }

    /// The fret that the numeral names.
    fn named(&self) -> Option<u8> {
        self.lowest.filter(|_| self.first > 1)
    }

    fn board(&self, group: &mut Group) {
        let end = self.nut() + f32::from(self.count) * self.fret_width;
        for string in 0..self.strings() {
            let y = self.area.top + f32::from(string) * self.area.gap;
            group.line((self.seen(self.nut()), y), (self.seen(end), y), 0.12, 0.35);
        }
        for fret in 0..=self.count {
            let x = self.seen(self.nut() + f32::from(fret) * self.fret_width);
            let is_nut = fret == 0 && self.first == 1;
            let width = if is_nut { 0.6 } else { 0.12 };
            group.line(
                (x, self.area.top),
                (x, self.bottom()),
                width,
                if is_nut { 0.0 } else { 0.35 },
            );
        }
        for fret in self.first..self.first + self.count {
            // Inlays are the instrument's, whatever the capo.
            let on_neck = fret.saturating_add(self.neck.capo);
            // The numeral stands in the same place.
            if INLAYS.contains(&on_neck) && self.named() != Some(fret) {
                let x = self.seen(self.middle(fret));
                let half = if on_neck == 12 { 0.9 } else { 0.4 };
                let y = self.bottom() + 1.15;
                group.line((x - half, y), (x + half, y), 0.3, 0.5);
            }
        }
    }
}

/// Draws the neck with the places of a chord's notes, and at which fret the lowest lies. Gives how high it is.
pub fn draw(group: &mut Group, model: &SheetModel, chord: &SheetChord, area: MapArea) -> f32 {
    let places = chord
        .notes
        .iter()
        .filter_map(|note| Some((note.neck?, note.degree)));
    let places: Vec<_> = places.collect();
    let fretted = || {
        places
            .iter()
            .map(|(place, _)| place.fret)
            .filter(|fret| *fret > 0)
    };
    let (lowest, highest) = (fretted().min(), fretted().max().unwrap_or(1));
    let first = lowest.filter(|_| highest > LEAST_FRETS).unwrap_or(1);
    let count = (highest - first + 1).max(LEAST_FRETS);
    let map = Map {
        area,
        neck: &model.neck,
        lowest,
        first,
        count,
        fret_width: ((area.width - 3.2) / f32::from(count)).min(area.gap * 3.2),
    };
    map.board(group);
    let root = Degree::new(1, 0);
    let mut drawn = Vec::new();
    for (place, degree) in &places {
        let (x, y) = (
            map.seen(map.middle(place.fret)),
            area.top + f32::from(place.string - 1) * area.gap,
        );
        if drawn.contains(&(place.string, place.fret)) {
            continue;
        }
        drawn.push((place.string, place.fret));
        let radius = area.gap * 0.42;
        group.marks.push(Mark::Disc {
            x,
            y,
            radius,
            ring: *degree == root,
        });
    }
    let style = Style::plain(6.0);
    let below = map.bottom() + 1.6 + style.size * 0.73;
    if let Some(lowest) = map.named() {
        group.centred(&roman(lowest), (map.seen(map.middle(lowest)), below), style);
    }
    below - area.top
}

/// The most beats whose numbers all stand.
const NUMBERED_BEATS: i64 = 9;

/// The beats of a chord as a line, with a mark where a note falls.
pub fn strip(group: &mut Group, chord: &SheetChord, (x, y, width): (f32, f32, f32)) {
    let beat = chord.meter.beat_ticks().0;
    let beats = (chord.len.0 / beat).max(1);
    let early = chord.rhythm.iter().map(|(_, at)| (chord.at - *at).0).max();
    let early = early.unwrap_or(0).max(0) as f32;
    let scale = width / (chord.len.0 as f32 + early);
    let at = |offset: f32| x + (offset + early) * scale;
    group.line((at(0.0), y), (x + width, y), 0.15, 0.35);
    let step = (beats + NUMBERED_BEATS - 1) / NUMBERED_BEATS;
    let bar = i64::from(chord.meter.beats());
    let step = if step > 1 { step.max(bar) } else { 1 };
    let style = Style::plain(5.5).gray(0.2);
    for number in 0..beats {
        let x = at((number * beat) as f32);
        group.line((x, y - 0.7), (x, y + 0.7), 0.15, 0.35);
        if number % step == 0 {
            group.centred(
                &(number + 1).to_string(),
                (x, y + 0.9 + style.size * 0.73),
                style,
            );
        }
    }
    let mut drawn: Vec<i64> = Vec::new();
    for (_, tick) in &chord.rhythm {
        if !drawn.contains(&tick.0) {
            drawn.push(tick.0);
            let x = at((*tick - chord.at).0 as f32);
            group.marks.push(Mark::Shape {
                points: vec![(x - 0.75, y - 2.1), (x + 0.75, y - 2.1), (x, y - 0.4)],
            });
        }
    }
}
