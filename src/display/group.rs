//! A group of short chords: a cell each, the sounding one inverted.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, LEAST_CAP_PX, Type, draw_in, fit};
use super::page::{PageCell, SetOnPage};
use super::words::{Flow, PageWords, draw_flow, draw_words, flow, with_arrows};

/// Empty rows between two rows of cells, where each has at least so many.
const BETWEEN_PX: i32 = 2;
const BETWEEN_FROM_PX: i32 = 11;
/// Least rows of a cell that shows its chord below its words.
const LEAST_WITH_CHORD_PX: i32 = 18;

/// Cells laid out in equal columns.
struct CellGrid<'set> {
    cells: &'set [PageCell],
    columns: i32,
    /// Empty columns at both sides of each cell.
    margin: i32,
    area: Area,
}

/// One cell laid out: its words, and its chord where there is room for that below them.
struct LaidCells {
    words: Vec<String>,
    flow: Flow,
    chord: Option<Type>,
}

impl<'set> CellGrid<'set> {
    /// The row or rows in which all cells stand whole, with the larger letters; `None`: they do not.
    fn of(cells: &'set [PageCell], area: Area) -> Option<CellGrid<'set>> {
        let count = cells.len() as i32;
        let grid = |columns: i32, margin: i32| CellGrid {
            cells,
            columns,
            margin,
            area,
        };
        // Cells stand apart as far as they can.
        let spaced = |columns: i32| {
            let margins = [area.w / columns.max(1) / 14, 2, 1]
                .into_iter()
                .filter(|margin| *margin > 0);
            let fitting = margins
                .map(|margin| grid(columns, margin))
                .find(|grid| grid.rating().is_some());
            fitting.unwrap_or_else(|| grid(columns, 1))
        };
        let one = spaced(count);
        let two = spaced((count + 1) / 2);
        match (one.rating(), two.rating()) {
            (None, None) => None,
            (one_rating, two_rating) if two_rating > one_rating => Some(two),
            _ => Some(one),
        }
    }

    /// The least capital of its words, then whether all chords are told; `None` where something does not fit.
    fn rating(&self) -> Option<(i32, bool)> {
        let laid: Option<Vec<LaidCells>> = (0..self.cells.len())
            .map(|place| self.laid(place, i32::MAX))
            .collect();
        let laid = laid?;
        let size =
            |laid: &LaidCells| 2 * laid.flow.kind.cap() - i32::from(laid.flow.line_count() > 1);
        let least = laid.iter().map(size).min()?;
        Some((least, laid.iter().all(|laid| laid.chord.is_some())))
    }

    fn whole(&self, place: usize) -> Area {
        let rows = (self.cells.len() as i32 + self.columns - 1) / self.columns;
        let spared = match self.area.h / rows.max(1) {
            BETWEEN_FROM_PX.. => BETWEEN_PX,
            _ => 0,
        };
        let between = spared * (rows - 1).max(0);
        let (w, h) = (
            self.area.w / self.columns,
            (self.area.h - between) / rows.max(1),
        );
        let (column, row) = (place as i32 % self.columns, place as i32 / self.columns);
        // What is left over by an odd height lies between the rows.
        let top = self.area.y + row * (self.area.h - h) / (rows - 1).max(1);
        Area::new(self.area.x + column * w, top, w - 1, h)
    }

    fn room(&self, place: usize) -> Area {
        let whole = self.whole(place);
        whole.inset(self.margin, if whole.h >= 17 { 1 } else { 0 })
    }

    /// A cell in letters of at most this capital.
    fn laid(&self, place: usize, most: i32) -> Option<LaidCells> {
        let (cell, room) = (&self.cells[place], self.room(place));
        let told = with_arrows(&cell.words, &cell.marks);
        let (words, chord) = match (told.is_empty(), cell.chord.is_empty()) {
            (true, true) => (Vec::new(), None),
            (true, false) => (vec![cell.chord.clone()], None),
            (false, true) => (told, None),
            (false, false) => (told, Some(cell.chord.as_str())),
        };
        let below = chord_rows(room);
        let with_chord = || {
            let chord = chord.filter(|_| room.h >= LEAST_WITH_CHORD_PX)?;
            let kind = fit(chord, room.w, below, below * 6 / 7)?;
            let upper = room.h - below - 1;
            Some((flow(&words, room.w, upper, upper.min(most))?, kind))
        };
        if let Some((flow, kind)) = with_chord() {
            let chord = Some(kind);
            return Some(LaidCells { words, flow, chord });
        }
        let flow = flow(&words, room.w, room.h, room.h.min(most))?;
        let chord = None;
        Some(LaidCells { words, flow, chord })
    }

    fn draw(&self, bitmap: &mut Bitmap, current: Option<usize>) {
        // Letters of about one size: what differs much in size seems to differ in weight.
        let places = 0..self.cells.len();
        let largest = places
            .clone()
            .filter_map(|place| self.laid(place, i32::MAX));
        let largest: Vec<LaidCells> = largest.filter(|laid| !laid.words.is_empty()).collect();
        let least = largest.iter().map(|laid| laid.flow.kind.cap()).min();
        let least = least.map(|cap| match cap {
            LEAST_CAP_PX.. => cap * 5 / 4,
            _ => cap,
        });
        let chord_type = largest.iter().filter_map(|laid| laid.chord);
        let chord_type = chord_type.min_by_key(|kind| kind.cap());
        let laid = places.map(|place| self.laid(place, least.unwrap_or(i32::MAX)));
        for (place, (cell, laid)) in self.cells.iter().zip(laid).enumerate() {
            let Some(laid) = laid else {
                continue;
            };
            let room = self.room(place);
            let (mut upper, below) = (room, chord_rows(room));
            if let (Some(_), Some(kind)) = (laid.chord, chord_type) {
                upper.h -= below + 1;
                let lower = Area::new(room.x, room.bottom() - below, room.w, below);
                draw_in(bitmap, &cell.chord, lower, kind, Align::Middle, true);
            }
            draw_flow(bitmap, &laid.words, &laid.flow, upper, Align::Middle);
            // Where the stage gives nothing away a bare white box would be a mere flash.
            if current == Some(place) && !laid.words.is_empty() {
                bitmap.invert(self.whole(place));
            }
        }
    }
}

fn chord_rows(room: Area) -> i32 {
    (room.h * 2 / 7).max(8)
}

/// Whether all cells fit into `area`.
pub(super) fn fits(set: &SetOnPage, area: Area) -> bool {
    CellGrid::of(&set.cells, area).is_some() || shared(set, area).is_some()
}

/// Draws the cells of `set`. Where not all fit: once the words that all have in common; else fewer cells, those from
/// the sounding one on.
pub(super) fn draw_cells(bitmap: &mut Bitmap, set: &SetOnPage, area: Area) -> PageWords {
    if let Some(grid) = CellGrid::of(&set.cells, area) {
        grid.draw(bitmap, set.current);
        return PageWords::Whole;
    }
    if let Some((words, chords)) = shared(set, area) {
        draw_words(bitmap, &set.cells[0].words, words, words.h, Align::Middle);
        draw_chords(bitmap, set, chords);
        return PageWords::Whole;
    }
    let first = set.current.filter(|at| *at < set.cells.len()).unwrap_or(0);
    let left = &set.cells[first..];
    let current = set.current.map(|_| 0);
    for count in (1..=left.len()).rev() {
        if let Some(grid) = CellGrid::of(&left[..count], area) {
            grid.draw(bitmap, current);
            // What has been played need not be read any more.
            return if count == left.len() {
                PageWords::Whole
            } else {
                PageWords::FewerChords
            };
        }
    }
    let Some(cell) = left.first() else {
        return PageWords::Whole;
    };
    let words = with_arrows(&cell.words, &cell.marks);
    PageWords::of(draw_words(bitmap, &words, area, area.h, Align::Middle))
}

/// Where the words that all cells have in common and the row of their chords stand, if they do.
fn shared(set: &SetOnPage, area: Area) -> Option<(Area, Area)> {
    let first = set.cells.first()?;
    let same = |cell: &PageCell| cell.words == first.words && cell.marks == first.marks;
    if set.cells.len() < 2 || first.words.is_empty() || !set.cells.iter().all(same) {
        return None;
    }
    let below = if area.h >= LEAST_WITH_CHORD_PX + 6 {
        9
    } else {
        0
    };
    [below, 0].into_iter().find_map(|below| {
        let words = Area::new(area.x, area.y, area.w, area.h - below);
        let chords = Area::new(area.x, words.bottom(), area.w, below);
        flow(&first.words, words.w, words.h, words.h).map(|_| (words, chords))
    })
}

fn draw_chords(bitmap: &mut Bitmap, set: &SetOnPage, area: Area) {
    let w = area.w / set.cells.len() as i32;
    for (place, cell) in set.cells.iter().enumerate().filter(|_| area.h > 0) {
        let whole = Area::new(area.x + place as i32 * w, area.y, w - 1, area.h);
        if Type::Small.width(&cell.chord) <= whole.w && !cell.chord.is_empty() {
            draw_in(bitmap, &cell.chord, whole, Type::Small, Align::Middle, true);
            if set.current == Some(place) {
                bitmap.invert(whole);
            }
        }
    }
}
