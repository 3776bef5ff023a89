//! The two rows with chords, small sets, section, stage and distance.

use super::super::bitmap::{Area, Bitmap};
use super::super::glyphs::{Align, Type, draw_in, fit};
use super::super::layout::{Row, SlotPlaces};
use super::super::page::{Large, PracticePage, SetOnPage};
use super::super::set::{draw_row, fits, least_columns};
use super::super::words::PageWords;
use super::status;

/// Where a small set has a row of its own, rows it may take from the empty space beside it.
const STRETCHED_PX: i32 = 28;

/// One of the two rows while it is laid out.
struct LaidRow {
    tab: Area,
    kind: Type,
    /// What the chord leaves.
    rest: Area,
}

/// What has to stand in a row, and where.
struct RowSheet<'page> {
    page: &'page PracticePage,
    places: &'page SlotPlaces,
    /// Whether chord and small set share a row.
    shared: bool,
    gap: i32,
}

/// Draws the rows; what of the small set can be read.
pub(super) fn draw(bitmap: &mut Bitmap, page: &PracticePage, places: &SlotPlaces) -> PageWords {
    let desk = RowSheet {
        page,
        places,
        shared: places.now.set == places.now.chord,
        gap: 4 + places.now.cap / 6 - 2,
    };
    desk.draw(bitmap)
}

impl RowSheet<'_> {
    fn draw(&self, bitmap: &mut Bitmap) -> PageWords {
        let (page, places) = (self.page, self.places);
        let (large_now, large_next) = (page.large == Large::Now, page.large == Large::Next);
        let distance = distance_text(page.beats_to_change);
        let beside = self.distance_beside();
        let (upper, lower) = (self.upper(), self.lower(beside));
        draw_chord(
            bitmap,
            &chord(&page.now, &page.chord_now),
            &upper,
            large_now,
        );
        draw_chord(
            bitmap,
            &chord(&page.next, &page.chord_next),
            &lower,
            large_next,
        );
        let mut moved = "";
        if let Some(at) = places.distance {
            draw_in(bitmap, &distance, at, places.count, Align::Right, true);
        } else if beside > 0 {
            let x = lower.rest.right() + self.gap;
            let at = Area::new(x, lower.rest.y, self.distance_columns(), lower.rest.h);
            draw_in(bitmap, &distance, at, places.count, Align::Right, true);
        } else {
            moved = &distance;
        }
        // Off the very edge, where a bezel may hide a column.
        let (upper, lower) = (upper.rest.inset(1, 0), lower.rest.inset(1, 0));
        let reading = if large_next {
            let align = if self.shared {
                Align::Right
            } else {
                Align::Left
            };
            let area = self.stretched(&page.now, upper, false);
            draw_row(bitmap, &page.now, area, places.now.cap - 1, align)
        } else if large_now {
            let area = self.stretched(&page.next, lower, true);
            draw_row(bitmap, &page.next, area, places.next.cap - 1, Align::Left)
        } else {
            PageWords::Whole
        };
        match places.status {
            Some(area) => status::draw_line(bitmap, page, area, places.print),
            None if large_next => status::draw_block(bitmap, page, lower, Align::Left, moved),
            None => status::draw_block(bitmap, page, upper, Align::Right, moved),
        }
        reading
    }

    /// Columns for the distance beside the chord to come; 0 where it must make room for the set or what is armed.
    fn distance_beside(&self) -> i32 {
        let columns = self.distance_columns() + self.gap;
        if self.places.distance.is_some() {
            return 0;
        }
        if self.places.status.is_some() {
            return columns;
        }
        let page = self.page;
        let with = self.lower(columns);
        let enough = match page.large {
            Large::Now => fits(&page.next, with.rest.inset(1, 0)),
            Large::Next => {
                let needed = status::needed_columns(page);
                needed <= with.rest.w - 2
            }
            Large::Both => true,
        };
        if enough { columns } else { 0 }
    }

    /// As wide for all distances of as many digits: nothing moves from beat to beat.
    fn distance_columns(&self) -> i32 {
        let widest = match self.page.beats_to_change {
            ..10 => "4 beats",
            _ => "44 beats",
        };
        self.places.count.width(widest)
    }

    fn upper(&self) -> LaidRow {
        let (page, row) = (self.page, self.places.now);
        let needed = match page.large {
            Large::Next => self.columns_of(&page.now, row),
            _ if self.places.status.is_none() => status::armed_columns(page) + 2,
            _ => 0,
        };
        self.laid(&chord(&page.now, &page.chord_now), row, Align::Left, needed)
    }

    fn lower(&self, beside: i32) -> LaidRow {
        let (page, row) = (self.page, self.places.next);
        let needed = match page.large {
            Large::Now => self.columns_of(&page.next, row),
            _ if self.places.status.is_none() => status::armed_columns(page) + 2,
            _ => 0,
        };
        let align = if self.shared {
            Align::Right
        } else {
            Align::Left
        };
        let chord = chord(&page.next, &page.chord_next);
        let mut laid = self.laid(&chord, row, align, needed + beside);
        if beside > 0 {
            laid.rest.w -= beside;
        }
        laid
    }

    fn columns_of(&self, set: &SetOnPage, row: Row) -> i32 {
        if set.cells.is_empty() {
            least_columns(set, row.set.h) + 2
        } else {
            0
        }
    }

    /// The chord in its corner, as large as the rest of its row allows.
    fn laid(&self, chord: &str, row: Row, align: Align, needed: i32) -> LaidRow {
        let corner = row.chord;
        let widest = corner.w - 6;
        let usual = widest.min(row.cap * 5);
        let spared = if self.shared {
            widest - needed - self.gap
        } else {
            widest
        };
        // A very long symbol may take more of its row rather than lose its end.
        let kind = fit(chord, usual.min(spared), corner.h - 2, row.cap)
            .or_else(|| fit(chord, usual, corner.h - 2, 0))
            .or_else(|| fit(chord, widest, corner.h - 2, row.cap))
            .unwrap_or(Type::Small);
        let wide = match chord {
            "" => 0,
            chord => kind.width(chord).min(widest) + 6,
        };
        let x = match align {
            Align::Left => corner.x,
            _ => corner.right() - wide,
        };
        let tab = Area::new(x, corner.y, wide, corner.h);
        let set = row.set;
        let rest = match (self.shared, align) {
            (false, _) => set,
            (true, Align::Left) => {
                let x = tab.right() + self.gap;
                Area::new(x, set.y, set.right() - x, set.h)
            }
            (true, _) => Area::new(set.x, set.y, tab.x - set.x - self.gap, set.h),
        };
        LaidRow { tab, kind, rest }
    }

    /// A small set with a row of its own takes the empty space beside it where it needs that.
    fn stretched(&self, set: &SetOnPage, area: Area, upwards: bool) -> Area {
        if self.shared || fits(set, area) {
            return area;
        }
        let h = STRETCHED_PX.max(area.h);
        let (x, y, w) = (area.x, area.y, area.w);
        match (upwards, set.cells.is_empty()) {
            // The cells of a group bring their chords with them: the row of the chord is free.
            (true, false) => Area::new(x, self.places.next.chord.bottom() - h, w, h),
            (false, false) => Area::new(x, self.places.now.chord.y, w, h),
            (true, true) => Area::new(x, area.bottom() - h, w, h),
            (false, true) => Area::new(x, y, w, h),
        }
    }
}

/// The chord for the corner of a set: the cells of a group bring their chords with them.
fn chord(set: &SetOnPage, chord: &str) -> String {
    match set.cells.is_empty() {
        true => chord.to_string(),
        false => String::new(),
    }
}

fn distance_text(beats: u32) -> String {
    if beats == 0 {
        String::new()
    } else {
        match beats {
            1 => "1 beat".to_string(),
            beats => format!("{beats} beats"),
        }
    }
}

/// A chord in its corner; inverted where the large set is its own.
fn draw_chord(bitmap: &mut Bitmap, chord: &str, laid: &LaidRow, inverted: bool) {
    if chord.is_empty() {
        return;
    }
    let within = laid.tab.inset(3, 1);
    draw_in(bitmap, chord, within, laid.kind, Align::Middle, true);
    if inverted {
        bitmap.invert(laid.tab);
    }
}
