//! The fonts that ship with the program: letters of DejaVu Sans Condensed, notes of Bravura (SMuFL).

use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};
use std::borrow::Cow;

/// A font of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Face {
    Plain,
    Bold,
    /// Signs of music, named by their code points in SMuFL.
    Music,
}

/// A step of an outline, in ems, y upwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stroke {
    Move(f32, f32),
    Line(f32, f32),
    Quad(f32, f32, f32, f32),
    Cubic(f32, f32, f32, f32, f32, f32),
    Close,
}

/// A rectangle in millimetres (of a glyph: in ems), y downwards.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rect {
    pub left: f32,
    pub top: f32,
    pub right: f32,
    pub bottom: f32,
}

impl Rect {
    /// Nothing, to which others can be added.
    pub const EMPTY: Rect = Rect {
        left: f32::MAX,
        top: f32::MAX,
        right: f32::MIN,
        bottom: f32::MIN,
    };

    /// The least rectangle around both.
    #[must_use]
    pub fn with(self, other: Rect) -> Rect {
        Rect {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// How much two overlap, the smaller of width and height; 0 where they do not.
    pub fn overlap(&self, other: &Rect) -> f32 {
        let w = self.right.min(other.right) - self.left.max(other.left);
        let h = self.bottom.min(other.bottom) - self.top.max(other.top);
        w.min(h).max(0.0)
    }
}

const PLAIN: &[u8] = include_bytes!("fonts/DejaVuSansCondensed.ttf");
const BOLD: &[u8] = include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf");
const MUSIC: &[u8] = include_bytes!("fonts/Bravura.otf");

impl Face {
    /// The whole file.
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Face::Plain => PLAIN,
            Face::Bold => BOLD,
            Face::Music => MUSIC,
        }
    }

    fn font(self) -> FontRef<'static> {
        // The files are built in, and a test reads each.
        FontRef::new(self.bytes()).expect("a font that is built in")
    }

    /// The glyph of a character; that of the question mark where the font has none.
    pub fn glyph(self, sign: char) -> u32 {
        let map = self.font().charmap();
        let found = map.map(sign).or_else(|| map.map('?'));
        found.unwrap_or(GlyphId::NOTDEF).to_u32()
    }

    /// How far a character moves on, in ems.
    pub fn advance(self, sign: char) -> f32 {
        let font = self.font();
        let metrics = font.glyph_metrics(Size::unscaled(), LocationRef::default());
        let units = metrics.advance_width(GlyphId::new(self.glyph(sign)));
        units.unwrap_or(0.0) / self.units_per_em()
    }

    fn units_per_em(self) -> f32 {
        let font = self.font();
        f32::from(
            font.metrics(Size::unscaled(), LocationRef::default())
                .units_per_em,
        )
    }

    /// The outline of a character.
    pub fn outline(self, sign: char) -> Vec<Stroke> {
        let font = self.font();
        let mut pen = Pen {
            scale: 1.0 / self.units_per_em(),
            strokes: Vec::new(),
        };
        let settings = DrawSettings::unhinted(Size::unscaled(), LocationRef::default());
        if let Some(glyph) = font.outline_glyphs().get(GlyphId::new(self.glyph(sign))) {
            // An outline that cannot be read draws nothing.
            let _ = glyph.draw(settings, &mut pen);
        }
        pen.strokes
    }

    /// The box of a character's ink around its origin, y downwards; of points that steer a curve, too.
    pub fn ink(self, sign: char) -> Rect {
        let mut ink = Rect::EMPTY;
        let mut point = |x: f32, y: f32| {
            ink = ink.with(Rect {
                left: x,
                top: -y,
                right: x,
                bottom: -y,
            });
        };
        for stroke in self.outline(sign) {
            match stroke {
                Stroke::Move(x, y) | Stroke::Line(x, y) => point(x, y),
                Stroke::Quad(a, b, x, y) => {
                    point(a, b);
                    point(x, y);
                }
                Stroke::Cubic(a, b, c, d, x, y) => {
                    point(a, b);
                    point(c, d);
                    point(x, y);
                }
                Stroke::Close => {}
            }
        }
        ink
    }

    /// The width of a text, in ems.
    pub fn width(self, text: &str) -> f32 {
        written(text).chars().map(|sign| self.advance(sign)).sum()
    }

    /// The ink of a text around the start of its baseline, in ems.
    pub fn text_ink(self, text: &str) -> Rect {
        let (mut x, mut ink) = (0.0, Rect::EMPTY);
        for sign in written(text).chars() {
            let one = self.ink(sign);
            if one.left <= one.right {
                ink = ink.with(Rect {
                    left: one.left + x,
                    right: one.right + x,
                    ..one
                });
            }
            x += self.advance(sign);
        }
        if ink.left > ink.right {
            Rect::default()
        } else {
            ink
        }
    }
}

/// A text in characters that the fonts have: double signs are two single ones.
pub fn written(text: &str) -> Cow<'_, str> {
    if text.contains(['𝄫', '𝄪']) {
        return text.replace('𝄫', "♭♭").replace('𝄪', "♯♯").into();
    }
    text.into()
}

struct Pen {
    scale: f32,
    strokes: Vec<Stroke>,
}

impl OutlinePen for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        let s = self.scale;
        self.strokes.push(Stroke::Move(x * s, y * s));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        let s = self.scale;
        self.strokes.push(Stroke::Line(x * s, y * s));
    }
    fn quad_to(&mut self, a: f32, b: f32, x: f32, y: f32) {
        let s = self.scale;
        self.strokes.push(Stroke::Quad(a * s, b * s, x * s, y * s));
    }
    fn curve_to(&mut self, a: f32, b: f32, c: f32, d: f32, x: f32, y: f32) {
        let s = self.scale;
        let cubic = Stroke::Cubic(a * s, b * s, c * s, d * s, x * s, y * s);
        self.strokes.push(cubic);
    }
    fn close(&mut self) {
        self.strokes.push(Stroke::Close);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_have_what_sheets_are_written_with() {
        for face in [Face::Plain, Face::Bold] {
            for sign in "AZaz09♭♯♮øΔ°éüß?·–()/+".chars() {
                assert!(face.font().charmap().map(sign).is_some(), "{sign}");
                assert!(face.advance(sign) > 0.0);
            }
        }
        // SMuFL 1.4: an em is four staff spaces, a black notehead is one high, a staff's clef stands on its line.
        let head = Face::Music.ink('\u{e0a4}');
        assert!((head.bottom - head.top - 0.25).abs() < 0.01, "{head:?}");
        let sharp = Face::Music.ink('\u{e262}');
        assert!(sharp.bottom - sharp.top > 0.6, "{sharp:?}");
    }

    #[test]
    fn a_wide_text_is_wider_and_a_blank_one_has_no_ink() {
        assert!(Face::Plain.width("mm") > Face::Plain.width("ii"));
        assert_eq!(Face::Plain.text_ink("  "), Rect::default());
        assert_eq!(written("A𝄫 F𝄪"), "A♭♭ F♯♯");
    }
}
