//! What a foot board says on a serial line: `1 down` and `1 up`, as in a foot script but without the beat.
//!
//! Each line is ended by a line feed (a carriage return before it may stand there); N is a switch from 1 to 8. `down 1`
//! is understood as well. What is neither is told as such, because a wrong baud rate looks like a dead pedal otherwise.

use super::SWITCHES;

/// The longest line that makes sense, in bytes.
const LONGEST_LINE: usize = 16;
/// How many bytes that stand in no text may come without anything that makes sense: plugging in spoils one or two, and at a
/// wrong rate every edge brings at least one.
const NOISE_BYTES: u32 = 2;
/// How many lines of text: a micro-controller may greet for a while when it begins.
const GREETING_LINES: u32 = 16;

/// What bytes of the line come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoardLine {
    /// A switch (from 1) went down or up.
    Edge(u8, bool),
    /// A line of text that is none of ours.
    Other,
    /// A byte that is in no text, or too much of it for a line.
    Garbage,
}

/// Reads our lines from bytes.
#[derive(Debug, Clone, Default)]
pub struct LineParser {
    line: Vec<u8>,
    /// Something of the line was told as unread already.
    spoilt: bool,
    /// A line has ended: before that there may be the rest of one that began before we listened.
    in_step: bool,
}

impl LineParser {
    /// Takes a byte; gives what it completes.
    pub fn push(&mut self, byte: u8) -> Option<BoardLine> {
        match byte {
            b'\n' => self.end(),
            b'\t' | b'\r' | b' '..=b'~' if self.line.len() < LONGEST_LINE => {
                self.line.push(byte);
                None
            }
            _ => {
                self.line.clear();
                self.spoilt = true;
                Some(BoardLine::Garbage)
            }
        }
    }

    fn end(&mut self) -> Option<BoardLine> {
        let spoilt = std::mem::take(&mut self.spoilt);
        let in_step = std::mem::replace(&mut self.in_step, true);
        let line = std::mem::take(&mut self.line);
        let text = std::str::from_utf8(&line).unwrap_or_default().trim();
        match read_line(text) {
            _ if spoilt || text.is_empty() => None,
            Some((switch, down)) => Some(BoardLine::Edge(switch, down)),
            None => in_step.then_some(BoardLine::Other),
        }
    }
}

fn read_line(text: &str) -> Option<(u8, bool)> {
    let (first, second) = text.split_once(' ')?;
    let (switch, word) = match first {
        "down" | "up" => (second, first),
        _ => (first, second),
    };
    let down = match word {
        "down" => true,
        "up" => false,
        _ => return None,
    };
    let [digit] = switch.as_bytes() else {
        return None;
    };
    let switch = digit.checked_sub(b'0')?;
    (1..=SWITCHES as u8)
        .contains(&switch)
        .then_some((switch, down))
}

/// What something that came on a line made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Made {
    Sense,
    OtherText,
    Garbage,
}

/// Tells noise on a line from a line that never makes sense.
#[derive(Debug, Clone, Default)]
pub struct Noise {
    bytes: u32,
    lines: u32,
}

impl Noise {
    /// Something came.
    pub fn take(&mut self, made: Made) {
        match made {
            Made::Sense => *self = Noise::default(),
            Made::OtherText => self.lines = self.lines.saturating_add(1),
            Made::Garbage => self.bytes = self.bytes.saturating_add(1),
        }
    }

    /// Whether it is more than noise.
    pub fn is_nonsense(&self) -> bool {
        self.bytes > NOISE_BYTES || self.lines > GREETING_LINES
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Edges as `1v` and `1^`, other lines as `-`, garbage as `?`.
    fn lines(bytes: &[u8]) -> String {
        let mut parser = LineParser::default();
        let told = bytes.iter().filter_map(|byte| parser.push(*byte));
        let told = told.map(|line| match line {
            BoardLine::Edge(switch, down) => format!("{switch}{}", if down { 'v' } else { '^' }),
            BoardLine::Other => "-".to_string(),
            BoardLine::Garbage => "?".to_string(),
        });
        told.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn lines_of_the_board_are_read_and_all_else_is_told() {
        let cases: [(&[u8], &str); 13] = [
            (b"1 down\n1 up\n", "1v 1^"),
            (b"8 down\r\n8 up\r\n", "8v 8^"),
            (b"down 1\nup 1\n", "1v 1^"),
            (b"\n\n \r\n", ""),
            (b"\n0 down\n9 down\n12 down\ndown\n", "- - - -"),
            (
                b"\n1 Down\n1 press\n1  down\n1 down 2\n1 1\ndown up\n",
                "- - - - - -",
            ),
            // We came in the middle of a line.
            (b"own\n2 down\n", "2v"),
            (b"own\nown\n", "-"),
            (b"\xff\xfe\x00\n2 down\n", "? ? ? 2v"),
            (b"1 down\n1 \x80up\n2 down\n", "1v ? 2v"),
            (
                b"1 down and a lot more than a line may have\n1 up\n",
                "? ? 1^",
            ),
            // At a wrong rate there may be no end of a line at all.
            (b"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx", "? ?"),
            (b"1 down", ""),
        ];
        for (bytes, told) in cases {
            assert_eq!(lines(bytes), told, "{}", bytes.escape_ascii());
        }
    }

    #[test]
    fn a_few_bytes_are_noise_and_a_few_lines_a_greeting() {
        let greeting = "-".repeat(16);
        for (came, is_nonsense) in [
            ("??", false),
            ("???", true),
            ("??1??", false),
            ("???1", false),
            ("???1???", true),
            ("?-?-", false),
            (greeting.as_str(), false),
            (&format!("{greeting}-"), true),
            (&format!("{greeting}1{greeting}"), false),
        ] {
            let mut noise = Noise::default();
            for what in came.bytes() {
                noise.take(match what {
                    b'1' => Made::Sense,
                    b'-' => Made::OtherText,
                    _ => Made::Garbage,
                });
            }
            assert_eq!(noise.is_nonsense(), is_nonsense, "{came}");
        }
    }

    proptest! {
        #[test]
        fn any_bytes_are_survived(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let mut bytes = bytes;
            bytes.extend(b"\n3 down\n");
            prop_assert!(lines(&bytes).ends_with("3v"));
        }
    }
}
