//! The two rows with chords, small sets, section, stage and distance.

use super::super::bitmap::{Area, Bitmap};
use super::super::glyphs::{Align, Type, draw_in, fit};
use super::super::group::needs_chord;
use super::super::layout::{Row, SlotPlaces};
use super::super::page::{Large, PracticePage, SetOnPage};
use super::super::set::{cap_of, draw_row, fits, least_columns};
use super::super::words::PageWords;
use super::order::{after, first};
use super::status;

/// Where a small set has a row of its own, rows it may take from the empty space beside it.
const STRETCHED_PX: i32 = 28;
/// Rows of a line of small print above or below a group that takes the place of a chord in its corner.
const LINE_PX: i32 = 9;
/// Rows of a group to come below another one.
const LOWER_GROUP_PX: i32 = 22;

/// Columns between the large set and what to do beside it that a long line may take.
const TASK_OVERHANG_PX: i32 = 10;

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
    /// Capitals of the large set: a chord has no larger ones.
    most_cap: i32,
    after: Option<SetOnPage>,
}

/// Whether the group that is large takes the corner of the upper chord, and that of the lower one: its cells bring their
/// chords with them.
fn corners_taken(page: &PracticePage, places: &SlotPlaces) -> (bool, bool) {
    let is_group = !first(page).cells.is_empty() && places.now.set == places.now.chord;
    let upper_free = chord(&page.now, &page.chord_now).is_empty();
    (
        is_group && upper_free,
        is_group && page.large == Large::Next,
    )
}

/// Lines of what to do above a group that takes the corner of the upper chord: two where one does not hold a change.
fn upper_lines(page: &PracticePage, places: &SlotPlaces) -> i32 {
    let is_change = !page.then.is_empty() && page.armed.is_none();
    let w = places.now.set.w - 2;
    1 + i32::from(is_change && !status::holds_task(page, places.print, w, 1))
}

/// Rows that the group to come takes at the bottom.
fn lower_group(page: &PracticePage, places: &SlotPlaces) -> Option<i32> {
    let after = after(page)?;
    let needs_chords = after.cells.iter().any(needs_chord);
    let is_two = !first(page).cells.is_empty() || needs_chords;
    let is_low = places.next.chord.h < LOWER_GROUP_PX;
    (is_two && is_low && !after.cells.is_empty() && places.now.set == places.now.chord)
        .then_some(LOWER_GROUP_PX)
}

/// Whether what comes after is needed already and has no room in its row.
pub(super) fn goes_on(page: &PracticePage, places: &SlotPlaces) -> bool {
    let after = after(page);
    let Some(after) = after.filter(|_| page.large == Large::Both) else {
        return false;
    };
    let desk = RowSheet::of(page, places, i32::MAX);
    let lower = desk.lower(desk.distance_beside()).rest.inset(1, 0);
    !fits(&after, desk.stretched(&after, lower))
}

/// Where the large set stands: a group may be larger.
pub(super) fn big(page: &PracticePage, places: &SlotPlaces) -> Area {
    let (upper, lower) = corners_taken(page, places);
    let mut big = places.big;
    if upper {
        let lines = upper_lines(page, places);
        let top = places.now.chord.y + lines * places.print.line() + 1;
        big.h += big.y - top;
        big.y = top;
    }
    let bottom = match lower_group(page, places) {
        Some(rows) => places.next.chord.bottom() - rows - 1,
        None if lower && places.status.is_none() => places.next.chord.bottom() - LINE_PX,
        None => big.bottom(),
    };
    big.h += bottom - big.bottom();
    big
}

/// Draws the rows beside a large set with capitals of `large_cap`; what of the small set can be read.
pub(super) fn draw(
    bitmap: &mut Bitmap,
    page: &PracticePage,
    places: &SlotPlaces,
    large_cap: i32,
) -> PageWords {
    RowSheet::of(page, places, large_cap).draw(bitmap)
}

impl<'page> RowSheet<'page> {
    fn of(page: &'page PracticePage, places: &'page SlotPlaces, most_cap: i32) -> RowSheet<'page> {
        RowSheet {
            page,
            places,
            shared: places.now.set == places.now.chord,
            gap: 4 + places.now.cap / 6 - 2,
            most_cap,
            after: after(page),
        }
    }

    fn draw(&self, bitmap: &mut Bitmap) -> PageWords {
        let (page, places) = (self.page, self.places);
        let next_is_first = page.large == Large::Next;
        let distance = distance_text(page.beats_to_change);
        let beside = self.distance_beside();
        let (upper, lower) = (self.upper(), self.lower(beside));
        let (now, next) = (
            chord(&page.now, &page.chord_now),
            chord(&page.next, &page.chord_next),
        );
        draw_chord(bitmap, &now, &upper, !next_is_first);
        draw_chord(bitmap, &next, &lower, next_is_first);
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
        let (mut upper, mut lower) = (upper.rest.inset(1, 0), lower.rest.inset(1, 0));
        let (upper_taken, lower_taken) = corners_taken(page, places);
        if upper_taken {
            upper.h = upper_lines(page, places) * places.print.line();
        }
        let reading = match &self.after {
            // Before it is needed a set that has no room there need not stand there.
            Some(after) if !fits(after, self.stretched(after, lower)) => PageWords::Whole,
            Some(after) => {
                let area = self.stretched(after, lower);
                let cap = places.next.cap.max(area.h * 2 / 3) - 1;
                draw_row(bitmap, after, area, cap, Align::Left)
            }
            None => PageWords::Whole,
        };
        if self.after.is_none() && self.shared {
            if lower_taken {
                lower = Area::new(lower.x, lower.bottom() - LINE_PX + 1, lower.w, LINE_PX - 1);
            }
            let told = std::mem::take(&mut moved);
            status::draw_lower(bitmap, page, lower, told, places.print);
        }
        self.draw_status(bitmap, upper, moved);
        reading
    }

    /// What to do, section, bar, stage and tempo; the distance where it has no other place.
    fn draw_status(&self, bitmap: &mut Bitmap, upper: Area, distance: &str) {
        let (page, places) = (self.page, self.places);
        let Some(line) = places.status else {
            return status::draw_block(bitmap, page, upper, distance);
        };
        let lines = self.task_area(upper).map(|area| {
            let most = area.h / places.print.line();
            let lines = status::task_lines(page, places.print, area.w, most as usize);
            status::draw_rows(bitmap, &lines, area, places.print, Align::Right);
            lines
        });
        let told = lines.is_some_and(|lines| !lines.is_empty());
        status::draw_line(bitmap, page, line, places.print, told);
    }

    /// Where what to do has lines of its own: beside the upper chord, or below it where the set to come leaves that; from the
    /// top where no chord stands there and two lines do not hold it.
    fn task_area(&self, upper: Area) -> Option<Area> {
        if self.shared {
            return Some(upper);
        }
        let (set, print) = (self.places.now.set, self.places.print);
        // Long lines begin in the empty columns beside the large set.
        let (x, w) = (set.x - TASK_OVERHANG_PX, set.w + TASK_OVERHANG_PX);
        let below = Area::new(x, set.y - 1, w, 2 * print.line());
        let after = self.after.as_ref();
        let after = after.map(|after| self.stretched(after, self.places.next.set));
        if after.is_some_and(|after| after.y < below.bottom()) {
            return None;
        }
        let top_is_free = chord(&self.page.now, &self.page.chord_now).is_empty();
        match top_is_free && !status::holds_task(self.page, print, w, 2) {
            true => Some(Area::new(x, 0, w, below.bottom())),
            false => Some(below),
        }
    }

    /// Columns for the distance beside the chord to come; 0 where it must make room for the set, or has room below.
    fn distance_beside(&self) -> i32 {
        let columns = self.distance_columns() + self.gap;
        if self.places.distance.is_some() {
            return 0;
        }
        let Some(after) = &self.after else {
            return if self.places.status.is_some() {
                columns
            } else {
                0
            };
        };
        if self.places.status.is_some() {
            return columns;
        }
        let (with, without) = (self.lower(columns).rest, self.lower(0).rest);
        let enough = fits(after, with.inset(1, 0))
            && cap_of(after, with.inset(1, 0)) == cap_of(after, without.inset(1, 0));
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
        let needed = match self.places.status {
            None => status::block_columns(page) + 2,
            Some(_) => 0,
        };
        self.laid(&chord(&page.now, &page.chord_now), row, Align::Left, needed)
    }

    fn lower(&self, beside: i32) -> LaidRow {
        let (page, row) = (self.page, self.places.next);
        let needed = self
            .after
            .as_ref()
            .map_or(0, |after| self.columns_of(after, row));
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
        let cap = row.cap.min(self.most_cap);
        let usual = widest.min(row.cap * 5);
        let spared = if self.shared {
            widest - needed - self.gap
        } else {
            widest
        };
        // A very long symbol may take more of its row rather than lose its end.
        let kind = fit(chord, usual.min(spared), corner.h - 2, cap)
            .or_else(|| fit(chord, usual, corner.h - 2, 0))
            .or_else(|| fit(chord, widest, corner.h - 2, cap))
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
        // Where there is no chord there is nothing to stand apart from.
        let gap = if wide > 0 { self.gap } else { 0 };
        let rest = match (self.shared, align) {
            (false, _) => set,
            (true, Align::Left) => {
                let x = tab.right() + gap;
                Area::new(x, set.y, set.right() - x, set.h)
            }
            (true, _) => Area::new(set.x, set.y, tab.x - set.x - gap, set.h),
        };
        LaidRow { tab, kind, rest }
    }

    /// A small set takes the empty space beside it where it needs that.
    fn stretched(&self, set: &SetOnPage, area: Area) -> Area {
        let (x, w, bottom) = (area.x, area.w, self.places.next.chord.bottom());
        if let Some(h) = lower_group(self.page, self.places) {
            return Area::new(x, bottom - h, w, h);
        }
        if self.shared || fits(set, area) {
            return area;
        }
        let h = STRETCHED_PX.max(area.h);
        match set.cells.is_empty() {
            // The cells of a group bring their chords with them: the row of the chord is free.
            false => Area::new(x, bottom - h, w, h),
            true => Area::new(x, area.bottom() - h, w, h),
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
