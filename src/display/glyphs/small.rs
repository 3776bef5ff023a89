//! Small print: 5x8 pixels a letter, with music signs of our own.

use super::super::bitmap::Bitmap;
use embedded_graphics::mono_font::{MonoTextStyle, iso_8859_1::FONT_5X8};
use embedded_graphics::pixelcolor::BinaryColor;
use embedded_graphics::prelude::{Drawable, Point};
use embedded_graphics::text::{Baseline, Text};

/// Rows of a line.
pub(super) const HEIGHT: i32 = 8;
/// Rows of a capital.
pub(super) const CAP: i32 = 6;
const COLUMNS: i32 = 5;

/// A sign as seven rows of five columns, from the top.
#[rustfmt::skip]
fn sign(character: char) -> Option<[&'static str; 7]> {
    Some(match character {
        '♭' => ["#....", "#....", "###..", "#..#.", "#..#.", "#.#..", "##..."],
        '♯' => [".#.#.", "#####", ".#.#.", ".#.#.", "#####", ".#.#.", "....."],
        '♮' => ["#....", "#.#..", "###..", "#.#..", "###..", "..#..", "....."],
        '𝄪' => [".....", "#...#", ".#.#.", "..#..", ".#.#.", "#...#", "....."],
        '𝄫' => ["#.#..", "#.#..", "#.##.", "##.##", "#.#.#", "####.", "....."],
        'Δ' | '△' => ["..#..", "..#..", ".#.#.", ".#.#.", "#...#", "#####", "....."],
        'ø' => [".....", "...#.", ".##..", "#.##.", "##.#.", ".##..", "#...."],
        '°' => [".##..", "#..#.", "#..#.", ".##..", ".....", ".....", "....."],
        '♩' => ["...#.", "...#.", "...#.", "...#.", ".###.", ".###.", "....."],
        '…' => [".....", ".....", ".....", ".....", ".....", "#.#.#", "....."],
        '→' => [".....", "..#..", "...#.", "#####", "...#.", "..#..", "....."],
        '↑' => ["..#..", ".###.", "#.#.#", "..#..", "..#..", "..#..", "....."],
        '↓' => ["..#..", "..#..", "..#..", "#.#.#", ".###.", "..#..", "....."],
        _ => return None,
    })
}

/// A Latin letter without its mark; other characters as they are.
pub(super) fn without_mark(character: char) -> char {
    match character {
        'À'..='Å' | 'Ā' | 'Ă' | 'Ą' => 'A',
        'à'..='å' | 'ā' | 'ă' | 'ą' => 'a',
        'Ç' | 'Ć' | 'Č' => 'C',
        'ç' | 'ć' | 'č' => 'c',
        'È'..='Ë' | 'Ę' | 'Ě' => 'E',
        'è'..='ë' | 'ę' | 'ě' => 'e',
        'Ì'..='Ï' => 'I',
        'ì'..='ï' => 'i',
        'Ñ' | 'Ń' | 'Ň' => 'N',
        'ñ' | 'ń' | 'ň' => 'n',
        'Ò'..='Ö' | 'Ø' | 'Ő' => 'O',
        'ò'..='ö' | 'ő' => 'o',
        'Ù'..='Ü' | 'Ů' | 'Ű' => 'U',
        'ù'..='ü' | 'ů' | 'ű' => 'u',
        'Ý' => 'Y',
        'ý' | 'ÿ' => 'y',
        'Ł' => 'L',
        'ł' => 'l',
        'Ř' => 'R',
        'ř' => 'r',
        'Š' | 'Ś' => 'S',
        'š' | 'ś' | 'ß' => 's',
        'Ž' | 'Ź' | 'Ż' => 'Z',
        'ž' | 'ź' | 'ż' => 'z',
        '“' | '”' => '"',
        '‘' => '\'',
        '—' => '-',
        other => other,
    }
}

pub(super) fn width(text: &str) -> i32 {
    text.chars().count() as i32 * COLUMNS
}

pub(super) fn draw(bitmap: &mut Bitmap, text: &str, x: i32, y: i32, lit: bool) {
    let style = MonoTextStyle::new(&FONT_5X8, BinaryColor::from(lit));
    for (place, character) in text.chars().enumerate() {
        let left = x + place as i32 * COLUMNS;
        if let Some(rows) = sign(character) {
            for (dy, row) in rows.iter().enumerate() {
                for (dx, mark) in row.bytes().enumerate() {
                    if mark == b'#' {
                        bitmap.set(left + dx as i32, y + dy as i32, lit);
                    }
                }
            }
            continue;
        }
        let known = match character {
            ' '..='~' | '\u{a0}'..='ÿ' => character,
            '’' => '\'',
            '–' | '−' => '-',
            other => match without_mark(other) {
                plain @ ' '..='~' => plain,
                _ => '?',
            },
        };
        let mut bytes = [0; 4];
        let one = known.encode_utf8(&mut bytes);
        let drawn =
            Text::with_baseline(one, Point::new(left, y), style, Baseline::Top).draw(bitmap);
        // A bitmap cannot fail.
        let Ok(_) = drawn;
    }
}
