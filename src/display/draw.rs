//! A page to pixels.

use super::bitmap::{Area, Bitmap, DrawnText};
use super::glyphs::{Align, Type, draw_fit, fit, shorten, wrap};
use super::layout::{Arrangement, Panel, print};
use super::menu;
use super::message::{MARGIN, message_text, title_words};
use super::page::{BreathePage, Page, PracticePage, TuningPage, tempo_parts};
use super::practice;
use super::sheet::Sheet;
use super::words::PageWords;

/// Draws `page` for `panel`, black and white, nothing moving.
pub fn draw(page: &Page, panel: Panel) -> Bitmap {
    draw_from(page, panel, 0)
}

/// As [`draw`], with a [`Page::Message`] scrolled to begin at its line `first` (see [`super::message_lines`]); past the end it
/// stays at the last line.
pub fn draw_from(page: &Page, panel: Panel, first: usize) -> Bitmap {
    let mut bitmap = Bitmap::new(panel.width, panel.height);
    draw_on(&mut bitmap, page, panel, first);
    bitmap
}

/// Every text of the page as [`draw`] sets it: what a reader sees.
pub fn drawn_texts(page: &Page, panel: Panel) -> Vec<DrawnText> {
    let mut bitmap = Bitmap::recording(panel.width, panel.height);
    draw_on(&mut bitmap, page, panel, 0);
    bitmap.into_texts()
}

fn draw_on(bitmap: &mut Bitmap, page: &Page, panel: Panel, first: usize) {
    let whole = Area::new(0, 0, panel.width as i32, panel.height as i32);
    let mut sheet = Sheet {
        bitmap,
        whole,
        print: print(panel),
    };
    match page {
        Page::Ready {
            title,
            stage,
            section,
            tempo_qpm,
            dotted_qpm,
            notes,
        } => {
            let tempo = tempo_parts(*tempo_qpm, *dotted_qpm).join(" ");
            sheet.ready(title, stage, section, &tempo, notes);
        }
        Page::CountIn { .. } => sheet.counting(page),
        Page::Practice(page) => {
            practice::draw(sheet.bitmap, page, panel);
        }
        Page::Breathe(page) => sheet.breathe(page),
        Page::Paused {
            section,
            stage,
            bar,
            tempo_qpm,
            dotted_qpm,
        } => {
            let tempo = tempo_parts(*tempo_qpm, *dotted_qpm).join(" ");
            sheet.paused(section, stage, *bar, &tempo);
        }
        Page::Menu {
            items,
            chosen,
            told,
            below,
        } => menu::draw(sheet.bitmap, panel, items, *chosen, told, below.as_deref()),
        Page::Message { title, lines } => {
            sheet.message(title, &message_text(lines, panel), first);
        }
        Page::Tuning(page) => sheet.tuning(page),
        Page::ClockLost {
            source,
            doing,
            below,
        } => sheet.clock_lost(source, doing, below, panel.arrangement()),
    }
}

/// How much of its sets a practice page lets the player read on `panel`; other pages have none to lose.
pub fn reading(page: &Page, panel: Panel) -> PageWords {
    match page {
        Page::Practice(page) => {
            let mut bitmap = Bitmap::new(panel.width, panel.height);
            practice::draw(&mut bitmap, page, panel)
        }
        _ => PageWords::Whole,
    }
}

fn wrapped(lines: &[String], kind: Type, w: i32) -> Vec<String> {
    lines.iter().flat_map(|line| wrap(line, kind, w)).collect()
}

impl Sheet<'_> {
    fn ready(&mut self, title: &str, stage: &str, section: &str, tempo: &str, notes: &[String]) {
        let (h, line) = (self.whole.h, self.line_h());
        let foot = notes.join(" · ");
        let foot = if foot.is_empty() {
            "press to start"
        } else {
            &foot
        };
        let place = format!("{section}  {tempo}");
        self.strip_at(foot, h - line - 1, Align::Left);
        if self.low() {
            self.headline(title, 0, 13, 12);
            self.print_at(&format!("{stage}  {place}"), 14, Align::Left);
            return;
        }
        let head = h * 3 / 8;
        self.headline(title, 0, head, head * 4 / 5);
        let room = (h - line - 1 - head) / 2;
        self.headline(stage, head, room, room * 3 / 4);
        self.headline(&place, head + room, room, room * 3 / 4);
    }

    fn breathe(&mut self, page: &BreathePage) {
        let (h, line) = (self.whole.h, self.line_h());
        let when = match page.bars_left {
            0 => "then".to_string(),
            1 => "in 1 bar".to_string(),
            bars => format!("in {bars} bars"),
        };
        let w = self.whole.w - 2 * MARGIN;
        let told = page.then.iter().map(|then| format!("{when}: {then}"));
        let told: Vec<String> = told.collect();
        let full = told.first().map_or(when.as_str(), String::as_str);
        let mut strip = wrap(full, self.print, w);
        let needed = wrapped(&page.lines, self.print, w).len() as i32 * line;
        // A second line where the summary leaves it.
        if strip.len() > 2 || self.low() || needed > h - 2 * line - 3 {
            let fitting = told.iter().find(|text| self.print.width(text) <= w);
            let shortest = || shorten(told.last().unwrap_or(&when), self.print, w);
            strip = vec![fitting.cloned().unwrap_or_else(shortest)];
        }
        let strip_h = strip.len() as i32 * line + 1;
        for (place, text) in strip.iter().enumerate() {
            self.strip_at(text, h - strip_h + place as i32 * line, Align::Left);
        }
        if strip.len() > 1 {
            // Two strips overlap by a row, which is inverted twice.
            let row = Area::new(0, h - strip_h + line, self.whole.w, 1);
            self.bitmap.invert(row);
        }
        let room = h - strip_h - 2;
        let kind = (self.print.cap().max(9)..=room / 4)
            .rev()
            .map(Type::Large)
            .find(|kind| wrapped(&page.lines, *kind, w).len() as i32 * kind.line() <= room)
            .filter(|_| !self.low())
            .unwrap_or(self.print);
        let lines = wrapped(&page.lines, kind, w);
        let spare = (room - lines.len() as i32 * kind.line()).max(0) / 2;
        for (place, text) in lines.iter().enumerate() {
            let y = spare + place as i32 * kind.line();
            if y + kind.height(text) <= room {
                kind.draw(self.bitmap, text, MARGIN, y, true);
            }
        }
    }

    /// The note on the left, what it lacks below, and on the right a plumb line: the weight hangs where the pitch is, as
    /// far off the middle as 50 cents reach to the edge.
    fn tuning(&mut self, page: &TuningPage) {
        let (h, line) = (self.whole.h, self.line_h());
        let room = h - line - 3;
        self.strip_at(&page.words(), h - line - 1, Align::Left);
        let left = Area::new(0, 0, self.whole.w / 3, room);
        draw_fit(
            self.bitmap,
            &page.note,
            left.inset(MARGIN, 2),
            room,
            Align::Left,
            true,
        );
        let field = Area::new(self.whole.w / 3, 2, self.whole.w * 2 / 3 - MARGIN, room - 4);
        let middle = field.x + field.w / 2;
        for end in [field.y, field.bottom() - 3] {
            self.bitmap.fill(Area::new(middle, end, 1, 3), true);
        }
        let Some(cents) = page.cents else { return };
        let reach = field.w / 2 - 4;
        let x = middle + cents.clamp(-50, 50) * reach / 50;
        let weight = (field.h / 3).max(4);
        let top = field.y + (field.h - weight) / 2;
        self.bitmap.fill(Area::new(x - 3, top, 7, weight), true);
        self.bitmap
            .fill(Area::new(x, field.y + 4, 1, top - field.y - 4), true);
    }

    fn paused(&mut self, section: &str, stage: &str, bar: u32, tempo: &str) {
        let (h, line) = (self.whole.h, self.line_h());
        let place = format!("{section} bar {bar}");
        self.strip_at("press to go on", h - line - 1, Align::Left);
        let room = h - line - 2;
        if self.low() {
            self.headline(&format!("paused {place}"), 0, room, 13);
            return;
        }
        self.headline("paused", 0, room / 2, room * 2 / 5);
        self.headline(&place, room / 2, room / 4, room / 5);
        // A long stage gives way to the tempo.
        let (y, most) = (room * 3 / 4, room / 5);
        let w = self.whole.w - 2 * MARGIN;
        let both = format!("{stage}  {tempo}");
        let text = match fit(&both, w, room / 4, most) {
            Some(_) => both,
            None => {
                // What has no room in small print goes, rather than its end.
                let small = Type::Small.width(&both) <= w;
                if small { both } else { tempo.to_string() }
            }
        };
        self.headline(&text, y, room / 4, most);
    }

    fn message(&mut self, title: &str, lines: &[String], first: usize) {
        let line = self.line_h();
        let title = title_words(title, self.print, self.whole.w - 2 * MARGIN);
        self.strip_at(&title, 0, Align::Left);
        let top = line + 2;
        let rows = ((self.whole.h - top) / line).max(1) as usize;
        let first = first.min(lines.len().saturating_sub(1));
        let rest = &lines[first.min(lines.len())..];
        let all = rest.len() <= rows;
        let whole = if all { rest.len() } else { rows - 1 };
        for (row, text) in rest.iter().take(whole).enumerate() {
            self.print_at(text, top + row as i32 * line, Align::Left);
        }
        if !all {
            let more = format!("and {} more lines", rest.len() - whole);
            self.print_at(&more, top + whole as i32 * line, Align::Right);
        }
    }

    fn clock_lost(&mut self, source: &str, doing: &str, below: &PracticePage, kind: Arrangement) {
        let line = self.line_h();
        self.strip_at(&format!("clock lost: {source}"), 0, Align::Left);
        let mut top = line + 2;
        if kind != Arrangement::OnlyTheSet {
            self.print_at(doing, top, Align::Left);
            top += line + 1;
        }
        let room = Area::new(0, top, self.whole.w, self.whole.h - top);
        practice::draw_only(self.bitmap, below, room, room.h);
    }
}
