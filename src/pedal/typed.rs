//! What a terminal sends when keys are pressed, as keys. Pure: bytes in, keys out.
//!
//! # Why not read by a library?
//!
//! A terminal may vanish at any moment, and a reader that takes the end of its input for "nothing yet" asks again for
//! ever. Here the adapter sees each read, and this makes keys of what came: letters in UTF-8, the control sequences of
//! ECMA-48 (5th edition, section 5.4) for the arrows, and those of terminals that tell releases
//! (`CSI code ; modifiers : kind u`).

use arrayvec::ArrayVec;
use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What asks a terminal whether it can tell releases. One that can answers; others pass it over.
pub const ASK_RELEASES: &str = "\x1b[?u";
/// Longer sequences than this are nobody's keys.
const LONGEST: usize = 32;
const ESCAPE: u8 = 0x1b;

/// What was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// A key.
    Key(KeyEvent),
    /// The terminal can tell releases.
    TellsReleases,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Within {
    Text,
    /// After an escape: the key, or the start of a sequence.
    Escape,
    /// After `ESC [`.
    Sequence,
    /// After `ESC O`.
    Single,
}

/// Makes keys of bytes; a sequence may come in pieces.
#[derive(Debug, Clone)]
pub struct TypedReader {
    within: Within,
    bytes: ArrayVec<u8, LONGEST>,
}

impl Default for TypedReader {
    fn default() -> TypedReader {
        TypedReader {
            within: Within::Text,
            bytes: ArrayVec::new(),
        }
    }
}

impl TypedReader {
    /// Takes a byte; gives what is whole with it.
    pub fn byte(&mut self, byte: u8) -> Option<Typed> {
        match self.within {
            Within::Text => self.text(byte),
            Within::Escape => match byte {
                b'[' => self.enter(Within::Sequence),
                b'O' => self.enter(Within::Single),
                // The first one was the key.
                ESCAPE => Some(key(KeyCode::Esc)),
                // With the Alt key held.
                _ => {
                    self.enter(Within::Text);
                    self.text(byte)
                }
            },
            Within::Single => {
                self.enter(Within::Text);
                arrow(byte).map(key)
            }
            Within::Sequence => self.sequence(byte),
        }
    }

    /// Whether what came last may be the key Escape alone, or the start of more.
    pub fn is_waiting(&self) -> bool {
        self.within == Within::Escape
    }

    /// Nothing followed: an escape was the key.
    pub fn settle(&mut self) -> Option<Typed> {
        let was_key = self.is_waiting();
        was_key.then(|| {
            self.enter(Within::Text);
            key(KeyCode::Esc)
        })
    }

    fn enter(&mut self, within: Within) -> Option<Typed> {
        self.within = within;
        self.bytes.clear();
        None
    }

    fn text(&mut self, byte: u8) -> Option<Typed> {
        if byte == ESCAPE {
            return self.enter(Within::Escape);
        }
        if byte.is_ascii() {
            self.bytes.clear();
            return letter(byte);
        }
        // A byte that begins a letter leaves behind what was not whole.
        if byte >= 0xc0 || self.bytes.len() >= 4 {
            self.bytes.clear();
        }
        self.bytes.push(byte);
        let whole = std::str::from_utf8(&self.bytes).ok()?.chars().next()?;
        self.bytes.clear();
        Some(key(KeyCode::Char(whole)))
    }

    fn sequence(&mut self, byte: u8) -> Option<Typed> {
        match byte {
            // Parameters and what stands between them and the end.
            0x20..=0x3f => {
                if self.bytes.try_push(byte).is_err() {
                    self.enter(Within::Text);
                }
                None
            }
            0x40..=0x7e => {
                let parameters = std::mem::take(&mut self.bytes);
                self.enter(Within::Text);
                ended(std::str::from_utf8(&parameters).unwrap_or(""), byte)
            }
            // No sequence at all.
            _ => {
                self.enter(Within::Text);
                self.text(byte)
            }
        }
    }
}

fn key(code: KeyCode) -> Typed {
    Typed::Key(KeyEvent::new(code, KeyModifiers::NONE))
}

/// A byte below 128: a letter, or one with the Control key held.
fn letter(byte: u8) -> Option<Typed> {
    match byte {
        0x01..=0x1a => Some(Typed::Key(KeyEvent::new(
            KeyCode::Char(char::from(byte + b'a' - 1)),
            KeyModifiers::CONTROL,
        ))),
        0x20..=0x7e => Some(key(KeyCode::Char(char::from(byte)))),
        _ => None,
    }
}

fn arrow(end: u8) -> Option<KeyCode> {
    match end {
        b'A' => Some(KeyCode::Up),
        b'B' => Some(KeyCode::Down),
        _ => None,
    }
}

/// A sequence of these parameters, ended by this byte.
fn ended(parameters: &str, end: u8) -> Option<Typed> {
    if end == b'u' && parameters.starts_with('?') {
        return Some(Typed::TellsReleases);
    }
    let mut fields = parameters.split(';');
    let first = fields.next().unwrap_or("");
    let code = match end {
        b'u' => code(first.split(':').next()?.parse().ok()?)?,
        _ => arrow(end)?,
    };
    let mut how = fields.next().unwrap_or("").split(':');
    let modifiers: u32 = how.next().and_then(|text| text.parse().ok()).unwrap_or(1);
    let kind = match how.next() {
        Some("2") => KeyEventKind::Repeat,
        Some("3") => KeyEventKind::Release,
        _ => KeyEventKind::Press,
    };
    let modifiers = match modifiers.saturating_sub(1) & 4 != 0 {
        true => KeyModifiers::CONTROL,
        false => KeyModifiers::NONE,
    };
    Some(Typed::Key(KeyEvent::new_with_kind(code, modifiers, kind)))
}

fn code(number: u32) -> Option<KeyCode> {
    match number {
        27 => Some(KeyCode::Esc),
        _ => char::from_u32(number).map(KeyCode::Char),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Keys as words: `C-c` with Control, `1^` a release, `1r` a repeat.
    fn told(bytes: &[u8]) -> String {
        let mut reader = TypedReader::default();
        let mut typed: Vec<Typed> = bytes.iter().filter_map(|byte| reader.byte(*byte)).collect();
        typed.extend(reader.settle());
        let word = |typed: &Typed| {
            let Typed::Key(event) = typed else {
                return "tells-releases".to_string();
            };
            let control = match event.modifiers.contains(KeyModifiers::CONTROL) {
                true => "C-",
                false => "",
            };
            let kind = match event.kind {
                KeyEventKind::Press => "",
                KeyEventKind::Repeat => "r",
                KeyEventKind::Release => "^",
            };
            let name = match event.code {
                KeyCode::Char(letter) => letter.to_string(),
                other => format!("{other:?}"),
            };
            format!("{control}{name}{kind}")
        };
        let words: Vec<String> = typed.iter().map(word).collect();
        words.join(" ")
    }

    #[test]
    fn bytes_are_keys() {
        let cases: &[(&[u8], &str)] = &[
            (b"12q", "1 2 q"),
            (b"\x03", "C-c"),
            (b"\x1b", "Esc"),
            (b"\x1b\x1b", "Esc Esc"),
            (b"\x1b1", "1"),
            (b"\x1b[A\x1b[B", "Up Down"),
            (b"\x1bOA\x1bOB", "Up Down"),
            (b"\x1b[1;1:3A", "Up^"),
            (b"\x1b[49u\x1b[49;1:2u\x1b[49;1:3u", "1 1r 1^"),
            (b"\x1b[99;5u", "C-c"),
            (b"\x1b[27;1:1u", "Esc"),
            (b"\x1b[?0u\x1b[?62;22c", "tells-releases"),
            ("\u{fc}1".as_bytes(), "\u{fc} 1"),
            // What is no key is none, and what follows counts.
            (b"\x1b[200~1\x1b[Z2\x00", "1 2"),
            (b"\xff\xfe1", "1"),
            (b"\x1b[\x033", "C-c 3"),
            (b"\x1b[1111111111111111111111111111111111111", "1 1 1 1"),
        ];
        for (bytes, keys) in cases {
            assert_eq!(told(bytes), *keys, "{bytes:?}");
        }
    }

    proptest! {
        #[test]
        fn whatever_came_before_keys_are_read_again(noise in proptest::collection::vec(any::<u8>(), 0..80)) {
            // The longest thing that can be open is a sequence; a letter ends it, one more is itself.
            let bytes: Vec<u8> = noise.into_iter().chain(*b"~12").collect();
            prop_assert!(told(&bytes).ends_with("1 2"));
        }
    }
}
