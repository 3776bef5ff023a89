//! A page's pixels: one bit each, in memory.

use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::{DrawTarget, OriginDimensions, Pixel, Size};
use std::convert::Infallible;

/// A rectangle of pixels that are lit or dark.
#[derive(Clone, PartialEq, Eq)]
pub struct Bitmap {
    width: u32,
    height: u32,
    rows: Vec<u8>,
    /// Every text that was drawn, where they are kept.
    texts: Option<Vec<DrawnText>>,
    /// The cell that is drawn just now.
    cell: Option<Area>,
}

/// A text as it stands on a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrawnText {
    pub text: String,
    /// Its box.
    pub area: Area,
    /// Height of a capital in pixels.
    pub cap: i32,
    /// The light box that it stands in, dark on light.
    pub inverted: Option<Area>,
    /// The cell of a group that it stands in: a light box, or parted from its neighbours by dotted lines.
    pub cell: Option<Area>,
}

impl Bitmap {
    /// All dark.
    pub fn new(width: u32, height: u32) -> Bitmap {
        let stride = width.div_ceil(8) as usize;
        Bitmap {
            width,
            height,
            rows: vec![0; stride * height as usize],
            texts: None,
            cell: None,
        }
    }

    /// All dark, keeping every text that will be drawn.
    pub(super) fn recording(width: u32, height: u32) -> Bitmap {
        Bitmap {
            texts: Some(Vec::new()),
            ..Bitmap::new(width, height)
        }
    }

    /// The texts that were drawn, where they were kept.
    pub(super) fn into_texts(self) -> Vec<DrawnText> {
        self.texts.unwrap_or_default()
    }

    /// Keeps a text that was drawn.
    pub(super) fn keep(&mut self, text: &str, area: Area, cap: i32) {
        if let Some(texts) = self.texts.as_mut().filter(|_| !text.is_empty()) {
            texts.push(DrawnText {
                text: text.to_string(),
                area,
                cap,
                inverted: None,
                cell: self.cell,
            });
        }
    }

    /// Draws a cell of a group.
    pub(super) fn in_cell(&mut self, cell: Area, draw: impl FnOnce(&mut Bitmap)) {
        self.cell = Some(cell);
        draw(self);
        self.cell = None;
    }

    /// Pixels across.
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Pixels down.
    pub fn height(&self) -> u32 {
        self.height
    }

    /// The pixels row by row from the top, eight a byte, leftmost in the highest bit; each row starts on a
    /// byte (see [`Bitmap::stride`]).
    pub fn packed(&self) -> &[u8] {
        &self.rows
    }

    /// Bytes a row.
    pub fn stride(&self) -> usize {
        self.width.div_ceil(8) as usize
    }

    /// Whether a pixel is lit; dark outside.
    pub fn get(&self, x: i32, y: i32) -> bool {
        self.place(x, y)
            .is_some_and(|(byte, bit)| self.rows[byte] & bit != 0)
    }

    /// Lights or darkens a pixel; nothing happens outside.
    pub fn set(&mut self, x: i32, y: i32, lit: bool) {
        if let Some((byte, bit)) = self.place(x, y) {
            if lit {
                self.rows[byte] |= bit;
            } else {
                self.rows[byte] &= !bit;
            }
        }
    }

    /// Fills a rectangle, cut at the edges.
    pub fn fill(&mut self, area: Area, lit: bool) {
        for y in area.y..area.bottom() {
            for x in area.x..area.right() {
                self.set(x, y, lit);
            }
        }
    }

    /// Turns lit into dark and dark into lit within a rectangle.
    pub fn invert(&mut self, area: Area) {
        for y in area.y..area.bottom() {
            for x in area.x..area.right() {
                self.set(x, y, !self.get(x, y));
            }
        }
        let texts = self.texts.iter_mut().flatten();
        for text in texts.filter(|text| area.contains_middle(text.area)) {
            text.inverted = match text.inverted {
                None => Some(area),
                Some(_) => None,
            };
        }
    }

    /// How many pixels are lit.
    pub fn lit(&self) -> u32 {
        self.rows.iter().map(|byte| byte.count_ones()).sum()
    }

    /// The pixels as text: `#` lit, `.` dark, one line a row.
    pub fn art(&self) -> String {
        let mut text = String::new();
        for y in 0..self.height as i32 {
            text.extend((0..self.width as i32).map(|x| if self.get(x, y) { '#' } else { '.' }));
            text.push('\n');
        }
        text
    }

    fn place(&self, x: i32, y: i32) -> Option<(usize, u8)> {
        let (x, y) = (u32::try_from(x).ok()?, u32::try_from(y).ok()?);
        (x < self.width && y < self.height).then(|| {
            let byte = y as usize * self.stride() + x as usize / 8;
            (byte, 0x80 >> (x % 8))
        })
    }
}

impl std::fmt::Debug for Bitmap {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{}x{}\n{}", self.width, self.height, self.art())
    }
}

impl OriginDimensions for Bitmap {
    fn size(&self) -> Size {
        Size::new(self.width, self.height)
    }
}

impl DrawTarget for Bitmap {
    type Color = BinaryColor;
    type Error = Infallible;

    fn draw_iter<I>(&mut self, pixels: I) -> Result<(), Infallible>
    where
        I: IntoIterator<Item = Pixel<BinaryColor>>,
    {
        for Pixel(point, color) in pixels {
            self.set(point.x, point.y, color.is_on());
        }
        Ok(())
    }
}

/// A rectangle in pixels; right and bottom edges are outside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Area {
    pub x: i32,
    pub y: i32,
    pub w: i32,
    pub h: i32,
}

impl Area {
    /// A rectangle from its left, top, width, height.
    pub const fn new(x: i32, y: i32, w: i32, h: i32) -> Area {
        Area { x, y, w, h }
    }

    /// The first column right of it.
    pub const fn right(self) -> i32 {
        self.x + self.w
    }

    /// The first row below it.
    pub const fn bottom(self) -> i32 {
        self.y + self.h
    }

    /// Whether the middle of `other` lies in it.
    fn contains_middle(self, other: Area) -> bool {
        let (x, y) = (other.x + other.w / 2, other.y + other.h / 2);
        (self.x..self.right()).contains(&x) && (self.y..self.bottom()).contains(&y)
    }

    /// Smaller by `dx` on the left and right, by `dy` above and below.
    pub const fn inset(self, dx: i32, dy: i32) -> Area {
        Area::new(self.x + dx, self.y + dy, self.w - 2 * dx, self.h - 2 * dy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_outside_are_dark_and_cannot_be_lit() {
        let mut bitmap = Bitmap::new(9, 2);
        for (x, y) in [(-1, 0), (0, -1), (9, 0), (0, 2), (i32::MAX, i32::MIN)] {
            bitmap.set(x, y, true);
            assert!(!bitmap.get(x, y), "{x},{y}");
        }
        assert_eq!(bitmap.lit(), 0);
        bitmap.set(8, 1, true);
        assert_eq!(bitmap.art(), ".........\n........#\n");
        assert_eq!(bitmap.packed(), [0, 0, 0, 0x80]);
    }

    #[test]
    fn inverting_twice_changes_nothing() {
        let mut bitmap = Bitmap::new(5, 3);
        bitmap.fill(Area::new(-1, 1, 3, 9), true);
        let before = bitmap.clone();
        bitmap.invert(Area::new(1, 0, 2, 2));
        assert_eq!(bitmap.art(), ".##..\n#.#..\n##...\n");
        bitmap.invert(Area::new(1, 0, 2, 2));
        assert_eq!(bitmap, before);
    }
}
