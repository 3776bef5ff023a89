//! A group of short chords: a cell each, the sounding one inverted.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, LEAST_CAP_PX, Type, draw_in, fit};
use super::page::{PageCell, SetOnPage};
use super::words::{Flow, PageWords, draw_flow, draw_words, flow, with_arrows};

/// Empty rows between two rows of cells, where each has at least so many.
const BETWEEN_PX: i32 = 2;
const BETWEEN_FROM_PX: i32 = 11;
/// Least rows of a cell that shows its chord below its words.
const LEAST_WITH_CHORD_PX: i32 = 16;

/// Cells laid out in equal columns.
struct CellGrid<'set> {
    cells: &'set [PageCell],
    columns: i32,
    /// Empty columns at both sides of each cell.
    margin: i32,
    area: Area,
    /// Whether each has its chord below its words.
    with_chords: bool,
    /// Columns of the first of two cells that need more and less room than each other; else all are as wide.
    first_w: Option<i32>,
}

/// Degrees mean nothing without their chord; notes do.
pub(super) fn needs_chord(cell: &PageCell) -> bool {
    !cell.chord.is_empty() && cell.words.iter().any(|word| word.chars().count() > 3)
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
        let grid = |columns: i32, margin: i32, with_chords: bool| CellGrid {
            cells,
            columns,
            margin,
            area,
            with_chords,
            first_w: None,
        };
        // Cells stand apart as far as they can.
        let spaced = |columns: i32, with_chords: bool| {
            let margins = [(area.w / columns.max(1) / 14).max(1), 2, 1, 0].into_iter();
            let mut grids = margins.map(|margin| grid(columns, margin, with_chords));
            grids.find(|grid| grid.rating().is_some())
        };
        let count = cells.len() as i32;
        let best = |with_chords: bool| {
            let grids = [
                spaced(count, with_chords),
                spaced((count + 1) / 2, with_chords),
            ];
            let rated = grids.into_iter().flatten().rev();
            rated.max_by_key(CellGrid::rating)
        };
        let even = best(true).or_else(|| best(false).filter(|_| !cells.iter().any(needs_chord)));
        even.or_else(|| CellGrid::of_two(cells, area))
    }

    /// Two cells of which one needs more than half of the row.
    fn of_two(cells: &'set [PageCell], area: Area) -> Option<CellGrid<'set>> {
        let split = |first_w: i32| CellGrid {
            cells,
            columns: 2,
            margin: 0,
            area,
            with_chords: true,
            first_w: Some(first_w),
        };
        let splits = (area.w / 4..area.w * 3 / 4).step_by(2).map(split);
        splits
            .filter(|grid| cells.len() == 2 && grid.rating().is_some())
            .max_by_key(CellGrid::rating)
    }

    /// The least capital of its words; `None` where something does not fit.
    fn rating(&self) -> Option<i32> {
        let laid = (0..self.cells.len()).map(|place| self.laid(place, i32::MAX));
        let laid: Option<Vec<LaidCells>> = laid.collect();
        let size =
            |laid: &LaidCells| 2 * laid.flow.kind.cap() - i32::from(laid.flow.line_count() > 1);
        laid?.iter().map(size).min()
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
        if let Some(first_w) = self.first_w {
            let Area { x, y, w, .. } = self.area;
            return match place {
                0 => Area::new(x, y, first_w - 1, h),
                _ => Area::new(x + first_w, y, w - first_w - 1, h),
            };
        }
        let (column, row) = (place as i32 % self.columns, place as i32 / self.columns);
        // What is left over by an odd height lies between the rows.
        let top = self.area.y + row * (self.area.h - h) / (rows - 1).max(1);
        Area::new(self.area.x + column * w, top, w - 1, h)
    }

    fn room(&self, place: usize) -> Area {
        let whole = self.whole(place);
        whole.inset(self.margin, if whole.h >= 26 { 1 } else { 0 })
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
            let upper = room.h - below;
            let flow = flow(&words, room.w, upper, upper.min(most))?;
            // In the letters of the notes a chord would be read as one of them.
            let most = match needs_chord(cell) {
                true => (below * 6 / 7).min(flow.kind.cap()),
                false => (below * 6 / 7).min(flow.kind.cap() * 3 / 4),
            };
            let kind = fit(chord, room.w, below, most)?;
            let differs = needs_chord(cell) || flow.kind.cap() * 3 >= kind.cap() * 4;
            differs.then_some((flow, kind))
        };
        if self.with_chords && chord.is_some() {
            let (flow, kind) = with_chord()?;
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
        let laid = places.map(|place| {
            let even = least.and_then(|least| self.laid(place, least));
            even.or_else(|| self.laid(place, i32::MAX))
        });
        let laid: Vec<Option<LaidCells>> = laid.collect();
        let chord_type = laid.iter().flatten().filter_map(|laid| laid.chord);
        let chord_type = chord_type.min_by_key(|kind| kind.cap());
        for (place, (cell, laid)) in self.cells.iter().zip(laid).enumerate() {
            let Some(laid) = laid else {
                continue;
            };
            let room = self.room(place);
            let (mut upper, below) = (room, chord_rows(room));
            let whole = self.whole(place);
            bitmap.in_cell(whole, |bitmap| {
                if let (Some(_), Some(kind)) = (laid.chord, chord_type) {
                    upper.h -= below;
                    let lower = Area::new(room.x, room.bottom() - below, room.w, below);
                    draw_in(bitmap, &cell.chord, lower, kind, Align::Middle, true);
                }
                draw_flow(bitmap, &laid.words, &laid.flow, upper, Align::Middle);
            });
            // Where the stage gives nothing away a bare white box would be a mere flash.
            if current == Some(place) && !laid.words.is_empty() {
                bitmap.invert(whole);
            }
        }
        self.draw_lines(bitmap, current);
    }

    /// A dotted line between two cells of a row, where no light box parts them.
    fn draw_lines(&self, bitmap: &mut Bitmap, current: Option<usize>) {
        for place in (0..self.cells.len()).filter(|place| *place as i32 % self.columns > 0) {
            let whole = self.whole(place);
            if [Some(place), Some(place - 1)].contains(&current) {
                continue;
            }
            for y in (whole.y + 1..whole.bottom() - 1).step_by(2) {
                bitmap.set(whole.x - 1, y, true);
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
        let told = with_arrows(&set.cells[0].words, &set.cells[0].marks);
        draw_words(bitmap, &told, words, words.h, Align::Middle);
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
    let grid = CellGrid {
        cells: &left[..1],
        columns: 1,
        margin: 1,
        area,
        with_chords: false,
        first_w: None,
    };
    if grid.rating().is_some() {
        grid.draw(bitmap, current);
        return PageWords::FewerChords;
    }
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
    let most = if needs_chord(first) { 1 } else { 2 };
    let told = with_arrows(&first.words, &first.marks);
    let wide = area.w / set.cells.len() as i32 - 1;
    let too_long = |cell: &PageCell| Type::Small.width(&cell.chord) > wide;
    if needs_chord(first) && set.cells.iter().any(too_long) {
        return None;
    }
    [8, 0].into_iter().take(most).find_map(|below| {
        let words = Area::new(area.x, area.y, area.w, area.h - below);
        let chords = Area::new(area.x, words.bottom(), area.w, below);
        flow(&told, words.w, words.h, words.h).map(|_| (words, chords))
    })
}

fn draw_chords(bitmap: &mut Bitmap, set: &SetOnPage, area: Area) {
    let w = area.w / set.cells.len() as i32;
    for (place, cell) in set.cells.iter().enumerate().filter(|_| area.h > 0) {
        let whole = Area::new(area.x + place as i32 * w, area.y, w - 1, area.h);
        if Type::Small.width(&cell.chord) <= whole.w && !cell.chord.is_empty() {
            bitmap.in_cell(whole, |bitmap| {
                draw_in(bitmap, &cell.chord, whole, Type::Small, Align::Middle, true);
            });
            if set.current == Some(place) {
                bitmap.invert(whole);
            }
        }
    }
}
