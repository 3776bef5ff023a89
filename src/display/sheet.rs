//! A page of running text while it is drawn.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Align, Type, draw_fit, draw_in};
use super::message::MARGIN;

/// A sheet of running text.
pub(super) struct Sheet<'bitmap> {
    pub bitmap: &'bitmap mut Bitmap,
    pub whole: Area,
    pub print: Type,
}

impl Sheet<'_> {
    /// Rows of a line.
    pub fn line_h(&self) -> i32 {
        self.print.line()
    }

    /// Whether there is no room for more than a headline and one line.
    pub fn low(&self) -> bool {
        self.whole.h < 48
    }

    /// A line of print at `y`.
    pub fn print_at(&mut self, text: &str, y: i32, align: Align) {
        let area = Area::new(self.whole.x, y, self.whole.w, self.line_h());
        draw_in(
            self.bitmap,
            text,
            area.inset(MARGIN, 0),
            self.print,
            align,
            true,
        );
    }

    /// A line of print at `y`, inverted.
    pub fn strip_at(&mut self, text: &str, y: i32, align: Align) {
        let area = Area::new(self.whole.x, y, self.whole.w, self.line_h() + 1);
        draw_in(
            self.bitmap,
            text,
            area.inset(MARGIN, 0),
            self.print,
            align,
            true,
        );
        self.bitmap.invert(area);
    }

    /// A line in letters as large as they fit, capitals at most `most` rows.
    pub fn headline(&mut self, text: &str, y: i32, h: i32, most: i32) {
        let area = Area::new(self.whole.x, y, self.whole.w, h);
        draw_fit(
            self.bitmap,
            text,
            area.inset(MARGIN, 0),
            most,
            Align::Left,
            true,
        );
    }
}
