//! A staff and a tablature, drawn.

use super::canvas::{Group, Mark, Style};
use super::fonts::{Face, Rect};
use super::model::{Clef, SheetNote};
use crate::fretboard::NeckPlace;

/// Signs of SMuFL 1.4 by name, as Bravura has them.
pub mod signs {
    /// The treble clef.
    pub const TREBLE: char = '\u{e050}';
    /// The treble clef an octave down.
    pub const TREBLE_DOWN: char = '\u{e052}';
    /// The bass clef an octave down.
    pub const BASS_DOWN: char = '\u{e064}';
    /// The clef of a tablature of six lines, and of four.
    pub const TAB_6: char = '\u{e06d}';
    /// The clef of a tablature of four lines.
    pub const TAB_4: char = '\u{e06e}';
    /// Heads of notes.
    pub const WHOLE: char = '\u{e0a2}';
    /// The head of a half note.
    pub const HALF: char = '\u{e0a3}';
    /// The head of all shorter notes.
    pub const BLACK: char = '\u{e0a4}';
    /// A dot behind a note.
    pub const DOT: char = '\u{e1e7}';
    /// A flag of a stem that goes up.
    pub const FLAG_8_UP: char = '\u{e240}';
    /// A flag of a stem that goes down.
    pub const FLAG_8_DOWN: char = '\u{e241}';
    /// Two flags of a stem that goes up.
    pub const FLAG_16_UP: char = '\u{e242}';
    /// Two flags of a stem that goes down.
    pub const FLAG_16_DOWN: char = '\u{e243}';
    /// The digit 0 of a meter; the others follow.
    pub const TIME_0: u32 = 0xe080;
    /// A rest of a whole note.
    pub const REST_WHOLE: char = '\u{e4e3}';
    /// A rest of a half note.
    pub const REST_HALF: char = '\u{e4e4}';
    /// A rest of a quarter.
    pub const REST_QUARTER: char = '\u{e4e5}';
    /// A rest of an eighth.
    pub const REST_8: char = '\u{e4e6}';
    /// A rest of a sixteenth.
    pub const REST_16: char = '\u{e4e7}';
    /// The flat.
    pub const FLAT: char = '\u{e260}';
    /// The natural.
    pub const NATURAL: char = '\u{e261}';
    /// The sharp.
    pub const SHARP: char = '\u{e262}';
    /// Two sharps in one.
    pub const DOUBLE_SHARP: char = '\u{e263}';
    /// Two flats in one.
    pub const DOUBLE_FLAT: char = '\u{e264}';
}

/// Widths of lines in staff spaces, as Bravura's metadata gives them (`engravingDefaults`).
pub const STAFF_LINE: f32 = 0.13;
/// A ledger line.
pub const LEDGER_LINE: f32 = 0.16;
/// A stem.
pub const STEM: f32 = 0.12;
/// How thick a beam is.
pub const BEAM: f32 = 0.5;
/// A bar line.
pub const THIN_BAR: f32 = 0.16;
/// The last bar line.
pub const THICK_BAR: f32 = 0.5;

/// Staff lines are a little lighter than notes.
pub const LINE_GRAY: f32 = 0.25;

/// Signs of an accidental, from left to right.
pub fn accidental_signs(alter: i8) -> Vec<char> {
    let (one, two) = match alter {
        0 => return vec![signs::NATURAL],
        ..0 => (signs::FLAT, signs::DOUBLE_FLAT),
        _ => (signs::SHARP, signs::DOUBLE_SHARP),
    };
    let count = usize::from(alter.unsigned_abs());
    let mut all = vec![two; count / 2];
    all.extend(std::iter::repeat_n(one, count % 2));
    all
}

/// The width of signs side by side, in staff spaces.
pub fn signs_width(all: &[char]) -> f32 {
    all.iter()
        .map(|sign| Face::Music.advance(*sign) * 4.0 + 0.1)
        .sum()
}

/// A staff of five lines.
#[derive(Debug, Clone, Copy)]
pub struct Staff {
    pub x: f32,
    pub top: f32,
    pub width: f32,
    /// The distance of its lines.
    pub space: f32,
    pub clef: Clef,
}

impl Staff {
    /// Its lines.
    pub fn lines(&self, group: &mut Group) {
        for line in 0..5 {
            let y = self.top + line as f32 * self.space;
            let to = (self.x + self.width, y);
            group.line((self.x, y), to, STAFF_LINE * self.space, LINE_GRAY);
        }
    }

    /// Its clef; gives the place after it.
    pub fn draw_clef(&self, group: &mut Group) -> f32 {
        let (sign, line) = match self.clef {
            Clef::Treble => (signs::TREBLE, 6),
            Clef::TrebleOctaveDown => (signs::TREBLE_DOWN, 6),
            Clef::BassOctaveDown => (signs::BASS_DOWN, 2),
        };
        let x = self.x + 0.5 * self.space;
        group.sign(sign, (x, self.y(line)), self.space);
        x + 3.0 * self.space
    }

    /// A signature from `x` on; `alter` is flat, natural or sharp. Gives the place after it.
    pub fn signature(&self, group: &mut Group, fifths: i8, natural: bool, x: f32) -> f32 {
        let sign = match (natural, fifths) {
            (true, _) => signs::NATURAL,
            (_, ..0) => signs::FLAT,
            _ => signs::SHARP,
        };
        let step = (Face::Music.advance(sign) * 4.0 + 0.1) * self.space;
        let places = self.clef.signature(fifths);
        for (index, at) in places.iter().enumerate() {
            group.sign(sign, (x + index as f32 * step, self.y(*at)), self.space);
        }
        x + places.len() as f32 * step
            + if places.is_empty() {
                0.0
            } else {
                0.5 * self.space
            }
    }

    /// The height of half spaces below the top line.
    pub fn y(&self, half_spaces: i32) -> f32 {
        self.top + half_spaces as f32 * self.space / 2.0
    }

    /// Where a note stands: half spaces below the top line.
    pub fn place(&self, note: &SheetNote) -> i32 {
        self.clef.half_spaces(note.step())
    }

    /// A note's head with its left edge at `x`, its ledger lines, and its accidental before it.
    pub fn head(
        &self,
        group: &mut Group,
        note: &SheetNote,
        (x, head): (f32, char),
        accidental: bool,
    ) {
        let at = self.place(note);
        let width = Face::Music.advance(head) * 4.0 * self.space;
        let over = 0.35 * self.space;
        let above = (1..).map(|line| -2 * line).take_while(|line| *line >= at);
        let below = (5..).map(|line| 2 * line).take_while(|line| *line <= at);
        for line in above.chain(below) {
            let y = self.y(line);
            let (from, to) = ((x - over, y), (x + width + over, y));
            group.line(from, to, LEDGER_LINE * self.space, LINE_GRAY);
        }
        if accidental {
            let all = accidental_signs(note.pitch.alter);
            let mut left = x - (signs_width(&all) + 0.2) * self.space;
            for sign in all {
                group.sign(sign, (left, self.y(at)), self.space);
                left += (Face::Music.advance(sign) * 4.0 + 0.1) * self.space;
            }
        }
        group.sign(head, (x, self.y(at)), self.space);
    }
}

/// A tablature.
#[derive(Debug, Clone, Copy)]
pub struct Tab {
    pub x: f32,
    pub top: f32,
    pub width: f32,
    /// The distance of its lines.
    pub gap: f32,
    pub strings: u8,
}

impl Tab {
    /// Its lines, a string each.
    pub fn lines(&self, group: &mut Group) {
        for string in 1..=self.strings {
            let y = self.y(string);
            group.line((self.x, y), (self.x + self.width, y), 0.12, LINE_GRAY);
        }
    }

    /// How high it is.
    pub fn height(&self) -> f32 {
        self.gap * f32::from(self.strings.saturating_sub(1))
    }

    fn y(&self, string: u8) -> f32 {
        self.top + self.gap * f32::from(string - 1)
    }

    /// The clef, where there is one for so many strings.
    pub fn clef(&self, group: &mut Group) {
        let sign = match self.strings {
            4 => signs::TAB_4,
            6 => signs::TAB_6,
            _ => return,
        };
        // The sign is made for lines one and a half spaces apart.
        let middle = self.top + self.height() / 2.0;
        group.sign(sign, (self.x + 0.8, middle), self.gap / 1.5);
    }

    /// A fret around `x`.
    pub fn fret(&self, group: &mut Group, place: NeckPlace, x: f32) {
        let text = place.fret.to_string();
        let style = self.style();
        let (width, y) = (style.width(&text), self.y(place.string));
        let half = self.gap * 0.46;
        group.marks.push(Mark::Blank(Rect {
            left: x - width / 2.0 - 0.2,
            top: y - half,
            right: x + width / 2.0 + 0.2,
            bottom: y + half,
        }));
        // Figures of the font are 0.73 em high.
        group.centred(&text, (x, y + style.size * 0.365), style);
    }

    /// How frets are written.
    pub fn style(&self) -> Style {
        Style {
            size: self.gap * 1.2,
            bold: true,
            gray: 0.0,
        }
    }
}
