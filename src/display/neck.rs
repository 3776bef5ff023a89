//! The neck on the page: where the notes of a set lie.
//!
//! Seen as in tablature: strings across, the first at the top, the nut at the left (for left-handed players at the
//! right). A disc is a note, a ring a root. A roman numeral says at which fret the lowest note lies, as guitarists
//! write positions: digits are for beats alone.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_in};
use super::page::{NeckDot, NeckOnPage, SetOnPage};

/// The fewest frets shown: four fingers and a stretch.
const LEAST_FRETS: u8 = 5;
/// Narrower than this a fret is no longer told from its neighbour.
const NARROWEST_FRET_PX: i32 = 7;
/// Wider than this times the strings' distance a fret looks out of shape.
const WIDEST_FRET: i32 = 3;
/// From this height on, the numeral stands below the neck; on a lower one beside it.
const NUMERAL_BELOW_FROM_PX: i32 = 46;
/// Frets with an inlay, common practice, no source; the twelfth has two.
const INLAYS: [u8; 9] = [3, 5, 7, 9, 12, 15, 17, 19, 21];

/// A fret as guitarists write it: `VII`; `open` for 0.
pub fn roman(fret: u8) -> String {
    const SIGNS: [(u8, &str); 9] = [
        (100, "C"),
        (90, "XC"),
        (50, "L"),
        (40, "XL"),
        (10, "X"),
        (9, "IX"),
        (5, "V"),
        (4, "IV"),
        (1, "I"),
    ];
    if fret == 0 {
        return "open".to_string();
    }
    let mut left = fret;
    let mut text = String::new();
    for (value, sign) in SIGNS {
        while left >= value {
            text.push_str(sign);
            left -= value;
        }
    }
    text
}

/// A place in words, a line each: the string, the fret.
pub(super) fn told(dot: &NeckDot) -> [String; 2] {
    let fret = match dot.fret {
        0 => "open".to_string(),
        fret => format!("fret {}", roman(fret)),
    };
    [format!("string {}", dot.string), fret]
}

/// How an area is shared between the words of a set and their neck: one or two words stand beside it, more above
/// it. The whole area where the set has no neck.
pub(super) fn share(set: &SetOnPage, area: Area) -> (Area, Option<Area>) {
    if set.neck.is_none() || set.words.is_empty() {
        return (area, None);
    }
    if set.words.len() <= 2 {
        let (gap, w) = (area.w / 24, area.w * 4 / 9);
        let words = Area::new(area.x, area.y, area.w - w - gap, area.h);
        let neck = Area::new(area.right() - w, area.y, w, area.h);
        (words, Some(neck))
    } else {
        let h = (area.h * 3 / 8).max(18);
        let words = Area::new(area.x, area.y, area.w, area.h - h - 2);
        let neck = Area::new(area.x, area.bottom() - h, area.w, h);
        (words, Some(neck))
    }
}

/// The frets that are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct NeckWindow {
    first: u8,
    count: u8,
    /// The fret that the numeral names.
    lowest: Option<u8>,
}

impl NeckWindow {
    /// From the nut where all notes lie on its first frets, else from the lowest note.
    fn of(neck: &NeckOnPage) -> NeckWindow {
        let fretted = || {
            neck.dots
                .iter()
                .map(|dot| dot.fret)
                .filter(|fret| *fret > 0)
        };
        let (lowest, highest) = (fretted().min(), fretted().max().unwrap_or(1));
        let first = match lowest {
            Some(lowest) if highest > LEAST_FRETS => lowest,
            _ => 1,
        };
        let count = (highest - first + 1).max(LEAST_FRETS);
        // At the body's end the window is moved back on the neck.
        let last = neck.frets.max(highest);
        NeckWindow {
            first: first.min((last + 1).saturating_sub(count)).max(1),
            count: count.min(last.max(1)),
            lowest,
        }
    }
}

/// Where everything lies, measured for a right-handed player.
#[derive(Debug, Clone, Copy)]
struct NeckGrid {
    area: Area,
    left_handed: bool,
    window: NeckWindow,
    strings: i32,
    /// Distance of the strings.
    pitch: i32,
    top: i32,
    /// The left edge of the first fret.
    nut: i32,
    /// Width of a fret.
    fret: i32,
    /// Radius of a dot.
    radius: i32,
    numeral: Type,
    numeral_below: bool,
}

impl NeckGrid {
    /// `None`: too many frets or strings for the area.
    fn of(neck: &NeckOnPage, area: Area) -> Option<NeckGrid> {
        let window = NeckWindow::of(neck);
        let strings = i32::from(neck.strings.max(1));
        let numeral_below = area.h >= NUMERAL_BELOW_FROM_PX;
        let numeral = if area.h >= 80 {
            Type::Large(12)
        } else {
            Type::Small
        };
        let below = if numeral_below { numeral.cap() + 5 } else { 0 };
        // A dot reaches over the outer strings by its radius, which is less than half of the pitch.
        let room = area.h - below;
        let pitch = (3..=14)
            .rev()
            .find(|pitch| pitch * (strings - 1) + 1 + 2 * radius(*pitch) <= room)?;
        let radius = radius(pitch);
        let beside = if numeral_below {
            0
        } else {
            numeral.width("XVIII") + 2
        };
        // Open strings stand before the nut.
        let before = beside + 2 * radius + if radius > 1 { 4 } else { 8 };
        let count = i32::from(window.count);
        // On a low neck the strings lie so close that a dot must be told by its width.
        let widest = if radius > 1 {
            WIDEST_FRET
        } else {
            2 * WIDEST_FRET
        };
        let fret = ((area.w - before - 3) / count).min(pitch * widest);
        let high = pitch * (strings - 1);
        let spare_h = room - high - 1 - 2 * radius;
        let spare_w = area.w - before - 3 - fret * count;
        (fret >= NARROWEST_FRET_PX).then_some(NeckGrid {
            area,
            left_handed: neck.left_handed,
            window,
            strings,
            pitch,
            top: area.y + radius + spare_h / 2,
            nut: area.x + before + spare_w / 2,
            fret,
            radius,
            numeral,
            numeral_below,
        })
    }

    /// A column as the player sees it.
    fn seen(&self, x: i32) -> i32 {
        if self.left_handed {
            self.area.x + self.area.right() - 1 - x
        } else {
            x
        }
    }

    fn bottom(&self) -> i32 {
        self.top + self.pitch * (self.strings - 1)
    }

    /// The right end of the last fret.
    fn end(&self) -> i32 {
        self.nut + self.fret * i32::from(self.window.count)
    }

    /// The middle of a fret; of an open string, before the nut.
    fn middle(&self, fret: u8) -> i32 {
        if fret == 0 {
            return self.nut - self.radius - if self.radius > 1 { 3 } else { 6 };
        }
        self.nut + self.fret * (i32::from(fret) - i32::from(self.window.first)) + self.fret / 2
    }

    fn string(&self, string: u8) -> i32 {
        self.top + self.pitch * (i32::from(string) - 1)
    }

    fn upright(&self, bitmap: &mut Bitmap, x: i32) {
        for y in self.top..=self.bottom() {
            bitmap.set(self.seen(x), y, true);
        }
    }
}

/// An odd dot as high as the strings are apart: its radius.
fn radius(pitch: i32) -> i32 {
    ((pitch - 1) / 2).min(5)
}

/// Draws the neck in `area`; nothing where it does not fit.
pub(super) fn draw(bitmap: &mut Bitmap, neck: &NeckOnPage, area: Area) {
    let Some(grid) = NeckGrid::of(neck, area).filter(|_| !neck.dots.is_empty()) else {
        return;
    };
    draw_board(bitmap, &grid);
    if grid.numeral_below {
        draw_inlays(bitmap, &grid, neck.capo);
    }
    draw_numeral(bitmap, &grid);
    for dot in neck.dots.iter().filter(|dot| dot.string <= neck.strings) {
        draw_dot(bitmap, &grid, dot);
    }
}

fn draw_board(bitmap: &mut Bitmap, grid: &NeckGrid) {
    let from_nut = grid.window.first == 1;
    // Where the neck goes on, the strings run past the last line.
    let from = if from_nut { grid.nut } else { grid.nut - 2 };
    for string in 0..grid.strings {
        // Strings that lie close are dotted: lines would swallow the dots.
        for x in (from..=grid.end() + 2).step_by(if grid.radius > 1 { 1 } else { 2 }) {
            bitmap.set(grid.seen(x), grid.top + string * grid.pitch, true);
        }
    }
    for fret in 0..=i32::from(grid.window.count) {
        grid.upright(bitmap, grid.nut + fret * grid.fret);
    }
    if from_nut {
        (1..=2).for_each(|thick| grid.upright(bitmap, grid.nut - thick));
    }
}

/// Marks below the neck where the instrument has inlays, whatever the capo.
fn draw_inlays(bitmap: &mut Bitmap, grid: &NeckGrid, capo: u8) {
    let y = grid.bottom() + grid.radius + 2;
    for fret in grid.window.first..grid.window.first + grid.window.count {
        let on_neck = fret.saturating_add(capo);
        let middle = grid.middle(fret);
        let marks: &[i32] = match on_neck {
            12 => &[-2, 2],
            fret if INLAYS.contains(&fret) => &[0],
            _ => &[],
        };
        for mark in marks {
            for dx in 0..2 {
                bitmap.set(grid.seen(middle + mark + dx), y, true);
            }
        }
    }
}

fn draw_numeral(bitmap: &mut Bitmap, grid: &NeckGrid) {
    // Below, it names the fret it stands under; beside, the first one shown, which the nut makes plain.
    let named = match grid.window {
        window if grid.numeral_below => window.lowest,
        window => Some(window.first).filter(|first| *first > 1),
    };
    let Some(named) = named else {
        return;
    };
    let text = roman(named);
    let w = grid.numeral.width(&text);
    let (left, y) = if grid.numeral_below {
        let middle = grid.seen(grid.middle(named));
        let most = grid.area.right() - w;
        let left = (middle - w / 2).min(most).max(grid.area.x);
        (left, grid.bottom() + grid.radius + 5)
    } else {
        // On a low neck it stands at the nut's side, as positions are written beside a diagram.
        let edge = grid.nut - 2 * grid.radius - 8;
        let left = if grid.left_handed {
            grid.seen(edge) + 1
        } else {
            edge - w
        };
        (left, grid.area.y + (grid.area.h - 7) / 2)
    };
    let row = Area::new(left, y, w, grid.numeral.line());
    draw_in(bitmap, &text, row, grid.numeral, Align::Left, true);
}

/// A disc, or a ring for a root; dark around it, so that it stands off the lines.
fn draw_dot(bitmap: &mut Bitmap, grid: &NeckGrid, dot: &NeckDot) {
    let (x, y) = (grid.seen(grid.middle(dot.fret)), grid.string(dot.string));
    let r = grid.radius;
    if r <= 1 {
        let bar = Area::new(x - 3, y - 1, 7, 3);
        bitmap.fill(bar.inset(-2, -1), false);
        bitmap.fill(bar, true);
        bitmap.fill(bar.inset(1, 1), !dot.root);
        return;
    }
    disc(bitmap, x, y, r + 1, false);
    disc(bitmap, x, y, r, true);
    if dot.root {
        let hole = if r >= 3 { r - 2 } else { r - 1 };
        disc(bitmap, x, y, hole, false);
    }
}

fn disc(bitmap: &mut Bitmap, x: i32, y: i32, radius: i32, lit: bool) {
    let within = radius * radius + (radius / 2).max(radius.min(1));
    for dy in -radius..=radius {
        for dx in -radius..=radius {
            if dx * dx + dy * dy <= within {
                bitmap.set(x + dx, y + dy, lit);
            }
        }
    }
}

#[cfg(test)]
mod tests;
