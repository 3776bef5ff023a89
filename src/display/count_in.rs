//! The count before the first bar: the count that sounds in a light box, what is to be played first, all that is counted.

use super::bitmap::Area;
use super::glyphs::{Align, LEAST_CAP_PX, draw_fit, draw_in};
use super::message::MARGIN;
use super::neck;
use super::page::{Page, SetOnPage};
use super::set::{draw_large, drawn_cap};
use super::sheet::Sheet;

impl Sheet<'_> {
    /// The whole page.
    pub(super) fn counting(&mut self, page: &Page) {
        let Page::CountIn {
            count,
            counts,
            at,
            task,
            first,
            chord,
            section,
            stage,
            ..
        } = page
        else {
            return;
        };
        self.count_in(*count, first, chord, &[section, stage]);
        self.counts(counts, *at, task);
    }

    fn count_in(&mut self, count: u32, first: &SetOnPage, chord: &str, below: &[&String]) {
        // What is counted stands on the last line.
        let line = self.line_h() + 1;
        let lines = if self.low() { line } else { 2 * line };
        let h = self.whole.h - lines;
        let box_w = (h * 7 / 8).min(self.whole.w / 3);
        let left = Area::new(0, 0, box_w, h);
        draw_fit(
            self.bitmap,
            &count.to_string(),
            left.inset(3, h / 8),
            h,
            Align::Middle,
            true,
        );
        self.bitmap.invert(left);
        let right = Area::new(box_w + 6, 0, self.whole.w - box_w - 6, h);
        if !first.cells.is_empty() {
            draw_large(self.bitmap, first, right, right.h);
        } else if first.words.is_empty() {
            draw_fit(self.bitmap, chord, right, h / 2, Align::Middle, true);
        } else {
            let (right, neck) = match &first.neck {
                Some(_) if self.whole.w >= 200 => neck::share(first, right),
                _ => (right, None),
            };
            if let (Some(area), Some(picture)) = (neck, &first.neck) {
                neck::draw(self.bitmap, picture, area);
            }
            let h = right.h;
            let chord_h = (h / 3).max(9);
            let upper = Area::new(right.x, 0, right.w, h - chord_h - 2);
            let lower = Area::new(right.x, h - chord_h, right.w, chord_h);
            draw_large(self.bitmap, first, upper, upper.h);
            // What is to be played has the largest letters.
            let most = drawn_cap(first, upper, upper.h).max(LEAST_CAP_PX);
            draw_fit(
                self.bitmap,
                chord,
                lower,
                most.min(chord_h * 4 / 5),
                Align::Middle,
                true,
            );
        }
        if !self.low() {
            let [section, stage] = below else { return };
            let both = format!("{section}  {stage}");
            let fits = self.print.width(&both) <= self.whole.w - 2 * MARGIN;
            let text = if fits { &both } else { *section };
            self.print_at(text, self.whole.h - 2 * line + 1, Align::Left);
        }
    }

    /// What is counted, the count that sounds inverted, and what to do then. Of two bars the first one gives way, once it is over,
    /// to what is to be done.
    fn counts(&mut self, counts: &[String], at: usize, task: &[String]) {
        let half = counts.len() / 2;
        let full = task.join(" ");
        let needed = self.columns_of(counts) + self.print.width(&full) + 1;
        let over = match needed > self.whole.w && at >= half {
            true => half,
            false => 0,
        };
        let (counts, at) = (&counts[over..], at.wrapping_sub(over));
        // What has no room beside the counts stands alone in the end: the count itself is in the light box.
        let is_crowded = self.columns_of(counts) + self.print.width(&full) + 1 > self.whole.w;
        let has_room = self.print.width(&full) < self.whole.w - MARGIN;
        let counts = match is_crowded && has_room && 2 * at >= counts.len() {
            true => &[],
            false => counts,
        };
        let (line, gap) = (self.line_h(), self.print.width(" "));
        let y = self.whole.h - line;
        let mut x = MARGIN;
        for (place, count) in counts.iter().enumerate() {
            let w = self.print.width(count);
            self.print.draw(self.bitmap, count, x, y, true);
            if place == at {
                self.bitmap.invert(Area::new(x - 1, y - 1, w + 2, line + 1));
            }
            x += w + gap;
        }
        let right = Area::new(x, y, self.whole.w - 1 - x, line);
        let shorter = (1..=task.len()).rev().map(|count| task[..count].join(" "));
        let mut fitting = shorter.filter(|text| self.print.width(text) <= right.w);
        let told = fitting.next().unwrap_or_default();
        draw_in(self.bitmap, &told, right, self.print, Align::Right, true);
    }

    /// Columns of all counts and of the gaps behind them.
    fn columns_of(&self, counts: &[String]) -> i32 {
        let gap = self.print.width(" ");
        let each = counts.iter().map(|count| self.print.width(count) + gap);
        MARGIN + each.sum::<i32>()
    }
}
