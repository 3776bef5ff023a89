//! Our own letters at any size, and small print.
//!
//! Large text (capitals of [`LEAST_CAP_PX`] pixels and more) is drawn from strokes of our own, so no font licence comes with
//! it. Small print is the 5x8 font that embedded-graphics carries (from the public-domain X11 "misc-fixed"
//! family; the crate is MIT or Apache-2.0), with music signs of our own.

mod raster;
mod shapes;
mod small;

use super::bitmap::{Area, Bitmap};
use raster::Metrics;

/// Below this height of a capital, in pixels, strokes no longer tell letters apart: small print takes over.
pub const LEAST_CAP_PX: i32 = 9;

/// How text stands in its area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// At the left edge.
    Left,
    Middle,
    /// At the right edge.
    Right,
}

/// The letter drawn for a character: itself, a Latin letter without its mark, or `?`.
fn shape_of(character: char) -> shapes::Shape {
    shapes::shape(character)
        .or_else(|| shapes::shape(small::without_mark(character)))
        .or_else(|| shapes::shape('?'))
        .unwrap_or(shapes::Shape {
            width: 0.3,
            weight: 1.0,
            zone: shapes::Zone::Cap,
            strokes: &[],
        })
}

/// Whether large text can show `character` as itself.
pub fn has_glyph(character: char) -> bool {
    shapes::shape(character).is_some()
}

/// Width of large text with capitals of `cap` pixels.
fn large_width(text: &str, metrics: Metrics) -> i32 {
    let mut width = 0;
    for (place, character) in text.chars().enumerate() {
        if place > 0 {
            width += metrics.gap;
        }
        width += metrics.width(&shape_of(character));
    }
    width
}

fn goes_below(text: &str) -> bool {
    text.chars().any(|c| "gjpqy,;".contains(c))
}

/// A size of type: large from strokes, or small print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Type {
    /// Capitals of so many pixels.
    Large(i32),
    /// The 5x8 small print; capitals of 6 pixels.
    Small,
}

impl Type {
    /// Columns that `text` takes.
    pub fn width(self, text: &str) -> i32 {
        match self {
            Type::Large(cap) => large_width(text, Metrics::new(cap)),
            Type::Small => small::width(text),
        }
    }

    /// Rows that `text` takes: the capital's height, and what goes below the line where a letter does.
    pub fn height(self, text: &str) -> i32 {
        match self {
            Type::Large(cap) if goes_below(text) => cap + Metrics::new(cap).descent,
            Type::Large(cap) => cap,
            Type::Small => small::HEIGHT,
        }
    }

    /// Height of a capital.
    pub fn cap(self) -> i32 {
        match self {
            Type::Large(cap) => cap,
            Type::Small => small::CAP,
        }
    }

    /// Rows from one line to the next.
    pub fn line(self) -> i32 {
        match self {
            Type::Large(cap) => cap + Metrics::new(cap).descent + (cap / 6).max(1),
            Type::Small => small::HEIGHT,
        }
    }

    /// Draws `text` with its left upper corner at `x`, `y`.
    pub fn draw(self, bitmap: &mut Bitmap, text: &str, x: i32, y: i32, lit: bool) {
        let area = Area::new(x, y, self.width(text), self.height(text));
        bitmap.keep(text, area, self.cap());
        match self {
            Type::Small => small::draw(bitmap, text, x, y, lit),
            Type::Large(cap) => {
                let metrics = Metrics::new(cap);
                let mut pen_x = x;
                for character in text.chars() {
                    let shape = shape_of(character);
                    raster::draw(&shape, metrics, &mut |dx, dy, columns| {
                        bitmap.fill(Area::new(pen_x + dx, y + dy, columns, 1), lit);
                    });
                    pen_x += metrics.width(&shape) + metrics.gap;
                }
            }
        }
    }
}

/// The largest type, capitals at most `most` pixels, in which `text` fits into `w` by `h` pixels; `None` where not even small
/// print fits.
pub fn fit(text: &str, w: i32, h: i32, most: i32) -> Option<Type> {
    (LEAST_CAP_PX..=most.min(h))
        .rev()
        .map(Type::Large)
        .chain([Type::Small])
        .find(|kind| kind.width(text) <= w && kind.height(text) <= h)
}

/// `text` cut at its end, with … for what is missing, so that it fits into `w` columns; empty where nothing fits.
pub fn shorten(text: &str, kind: Type, w: i32) -> String {
    if kind.width(text) <= w {
        return text.to_string();
    }
    let mut kept: Vec<char> = text.chars().collect();
    while kept.pop().is_some() {
        let short: String = kept.iter().collect::<String>().trim_end().to_string() + "…";
        if !kept.is_empty() && kind.width(&short) <= w {
            return short;
        }
    }
    String::new()
}

/// Draws one line in `area` as large as it fits, capitals at most `most` pixels; what does not even fit in small print is shortened.
/// Returns the type taken.
pub fn draw_fit(
    bitmap: &mut Bitmap,
    text: &str,
    area: Area,
    most: i32,
    align: Align,
    lit: bool,
) -> Type {
    let kind = fit(text, area.w, area.h, most).unwrap_or(Type::Small);
    draw_in(bitmap, text, area, kind, align, lit);
    kind
}

/// Draws one line of a given type in `area`, shortened where it is too long, in the middle of the height.
pub fn draw_in(bitmap: &mut Bitmap, text: &str, area: Area, kind: Type, align: Align, lit: bool) {
    let text = shorten(text, kind, area.w);
    let spare = area.w - kind.width(&text);
    let x = area.x
        + match align {
            Align::Left => 0,
            Align::Middle => spare / 2,
            Align::Right => spare,
        };
    let y = area.y + (area.h - kind.height(&text)).max(0) / 2;
    kind.draw(bitmap, &text, x, y, lit);
}

/// `text` in lines of at most `w` columns, broken between words, and within a word only where it is longer than a line.
pub fn wrap(text: &str, kind: Type, w: i32) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_string()
        } else {
            format!("{line} {word}")
        };
        if kind.width(&longer) <= w {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for character in word.chars() {
            line.push(character);
            if kind.width(&line) > w && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, character.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    const PICTURE_E_FLAT: &str = "
########..##.....
########..##.....
##........##.....
##........##.....
##........######.
##........#######
#######...##...##
#######...##..###
##........##.##..
##........##.##..
##........####...
########..###....
########..##.....
";
    const PICTURE_F_SHARP: &str = "
########.......##.
########...##..##.
##.........##..##.
##.........##.####
##........########
##........####.##.
#######....##..##.
#######....##.####
##........########
##........####.##.
##.........##..##.
##.........##..##.
##.........##.....
";
    const PICTURE_HALF_DIMINISHED: &str = "
......##..#########
.....##...#########
.######.........##.
########........##.
##.##.##.......##..
##.##.##.......##..
####.###......##...
.######.......##...
.#####........##...
##...........##....
.............##....
............##.....
............##.....
";
    const PICTURE_SMALL_SIGNS: &str = "
#.....#.#.
#....#####
###...#.#.
#..#..#.#.
#..#.#####
#.#...#.#.
##........
..........
";
    /// Text as a picture.
    fn picture(text: &str, kind: Type) -> String {
        let mut bitmap = Bitmap::new(kind.width(text) as u32, kind.height(text) as u32);
        kind.draw(&mut bitmap, text, 0, 0, true);
        bitmap.art()
    }

    #[test]
    fn letters_keep_their_shape() {
        let cases = [
            ("E♭", PICTURE_E_FLAT),
            ("F♯", PICTURE_F_SHARP),
            ("ø7", PICTURE_HALF_DIMINISHED),
        ];
        for (text, kept) in cases {
            let drawn = picture(text, Type::Large(13));
            assert_eq!(drawn.trim(), kept.trim(), "{text}:\n{drawn}");
        }
    }

    #[test]
    fn small_print_has_the_signs_of_music() {
        assert_eq!(
            picture("♭♯", Type::Small).trim(),
            PICTURE_SMALL_SIGNS.trim()
        );
    }

    #[test]
    fn letters_of_all_sizes_stay_in_their_box() {
        let text = "ABCDEFGHIJKLMNOPQRSTUVWXYZ♭♯♮𝄫𝄪Δ°ø♩0123456789abcdefghijklmnopqrstuvwxyz+-/().:&?!%*·↑↓→=_";
        for cap in (8..=40).chain((45..=160).step_by(5)) {
            let metrics = Metrics::new(cap);
            for character in text.chars() {
                let shape = shape_of(character);
                let (width, bottom) = (metrics.width(&shape), cap + metrics.descent);
                raster::draw(&shape, metrics, &mut |x, y, columns| {
                    assert!(
                        x >= 0 && x + columns <= width && y >= 0 && y < bottom,
                        "{character} at {cap}: {columns} columns at {x},{y} of {width}x{bottom}"
                    );
                });
            }
        }
    }

    #[test]
    fn text_is_cut_or_broken_only_where_it_must_be() {
        let kind = Type::Small;
        assert_eq!(shorten("thirds", kind, 30), "thirds");
        assert_eq!(shorten("thirds", kind, 29), "thir…");
        assert_eq!(shorten("thirds", kind, 4), "");
        assert_eq!(wrap("play the thirds", kind, 40), ["play the", "thirds"]);
        assert_eq!(wrap("lantern.toml:14", kind, 40), ["lantern.", "toml:14"]);
        assert!(wrap("  ", kind, 40).is_empty());
    }
}
