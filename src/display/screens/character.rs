//! Displays of letters: the kernel's `/dev/lcd`, or a serial line that takes the control sequences of ECMA-48.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)] // An adapter: it opens and writes a device.

use super::super::bitmap::Bitmap;
use super::super::light::Light;
use super::super::message::{in_rows, wrap_letters};
use super::super::page::{BreathePage, Large, Page, PracticePage, SetOnPage};
use super::{Screen, ScreenError};
use std::io::Write;
use std::path::PathBuf;
use std::time::Duration;

/// How a display of letters is spoken to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LcdWire {
    /// The kernel's character device (Linux admin guide, "auxdisplay"; codes of charlcd.c from memory). It has room
    /// for signs of our own.
    Kernel,
    /// ECMA-48 over a serial line of so many bits a second; plain letters.
    Serial(u32),
}

/// A display of letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lcd {
    pub device: PathBuf,
    /// How it is spoken to.
    pub wire: LcdWire,
    /// Letters across, 8 to 40.
    pub columns: usize,
    /// Lines, 1 to 4.
    pub rows: usize,
}

/// Signs of our own: the sign, its code on the display, eight rows of five dots, the leftmost in bit 4.
const SIGNS: [(char, u8, [u8; 8]); 5] = [
    ('♭', 1, [0x10, 0x10, 0x16, 0x19, 0x11, 0x12, 0x1c, 0x00]),
    ('♯', 2, [0x0a, 0x0b, 0x1e, 0x0a, 0x0b, 0x1e, 0x0a, 0x00]),
    ('ø', 3, [0x01, 0x0e, 0x13, 0x15, 0x19, 0x0e, 0x10, 0x00]),
    ('°', 4, [0x0e, 0x0a, 0x0e, 0x00, 0x00, 0x00, 0x00, 0x00]),
    ('Δ', 5, [0x04, 0x04, 0x0a, 0x0a, 0x11, 0x1f, 0x00, 0x00]),
];

/// A page in letters: exactly `rows` lines of exactly `columns` signs.
pub fn letters(page: &Page, columns: usize, rows: usize) -> Vec<String> {
    let mut lines = lines_of(page, columns, rows);
    if rows == 1 {
        lines = vec![lines.into_iter().take(2).collect::<Vec<_>>().join(" ")];
    }
    lines.resize(rows, String::new());
    lines
        .into_iter()
        .map(|line| {
            // The display would obey them.
            let shown = line.chars().map(|c| if c.is_control() { '?' } else { c });
            let cut: String = shown.take(columns).collect();
            let spare = columns - cut.chars().count();
            cut + &" ".repeat(spare)
        })
        .collect()
}

fn lines_of(page: &Page, columns: usize, rows: usize) -> Vec<String> {
    match page {
        Page::Ready {
            title,
            stage,
            section,
            tempo_qpm,
            notes,
            ..
        } => {
            let told = ends(stage, &tempo_qpm.to_string(), columns);
            let lines = [title.clone(), told, section.clone()];
            lines.into_iter().chain(notes.iter().cloned()).collect()
        }
        Page::CountIn {
            count,
            first,
            chord,
            section,
            stage,
            ..
        } => vec![
            ends(&words(first), &count.to_string(), columns),
            chord.clone(),
            section.clone(),
            stage.clone(),
        ],
        Page::Practice(page) => practice(page, columns),
        Page::Breathe(page) => on_break(page, columns),
        Page::Paused {
            section,
            stage,
            bar,
            ..
        } => vec![format!("paused, bar {bar}"), section.clone(), stage.clone()],
        Page::Menu {
            items,
            chosen,
            told,
            below,
        } => menu(items, *chosen, told, below.as_deref(), columns),
        Page::Message { title, lines } => {
            let most = rows.saturating_sub(1).max(1);
            let shown = in_rows(lines, most, &|line| wrap_letters(line, columns));
            std::iter::once(title.clone()).chain(shown).collect()
        }
        Page::Tuning(page) => vec![page.note.clone(), page.words()],
        Page::ClockLost { source, below, .. } => {
            let mut lines = vec![format!("no clock {source}")];
            lines.extend(practice(below, columns));
            lines
        }
    }
}

/// The chosen entry, what was done, what to play, and where there is room for more the next entries.
fn menu(
    items: &[String],
    chosen: usize,
    told: &str,
    below: Option<&PracticePage>,
    columns: usize,
) -> Vec<String> {
    let item = items.get(chosen).map_or("", String::as_str);
    let told = (!told.is_empty()).then(|| told.to_string());
    let below = below.map_or(Vec::new(), |page| practice(page, columns));
    let next = items.iter().skip(chosen + 1).map(|item| format!(" {item}"));
    let first = std::iter::once(format!(">{item}"));
    first.chain(told).chain(below).chain(next).collect()
}

/// How long the break lasts, what comes then (a display of letters scrolls nothing: the fullest that it holds), what was.
fn on_break(page: &BreathePage, columns: usize) -> Vec<String> {
    let fitting = page
        .then
        .iter()
        .find(|then| then.chars().count() <= columns);
    let then = fitting.or(page.then.last()).cloned().unwrap_or_default();
    let mut lines = vec![format!("break {}", page.bars_left), then];
    lines.extend(page.lines.iter().cloned());
    lines
}

/// What to play next above; chords, or what is armed or wrong, below.
fn practice(page: &PracticePage, columns: usize) -> Vec<String> {
    let (now, next) = (words(&page.now), words(&page.next));
    let play = match page.large {
        Large::Now => now,
        Large::Next => next,
        Large::Both => format!("{now}|{next}"),
    };
    let play = match (play.is_empty(), page.large) {
        (true, Large::Next) => page.chord_next.clone(),
        (true, _) => page.chord_now.clone(),
        _ => play,
    };
    let chords = ends(&page.chord_now, &page.chord_next, columns);
    let told = match (&page.armed, page.states.first()) {
        (Some(armed), _) => armed.what.clone(),
        (None, Some(state)) => state.clone(),
        _ => chords.clone(),
    };
    let mut lines = vec![
        ends(&play, &page.beats_to_change.to_string(), columns),
        told,
    ];
    if lines[1] != chords {
        lines.push(chords);
    }
    lines.push(ends(
        &page.section,
        &format!("{}/{}", page.bar, page.bars),
        columns,
    ));
    lines.push(ends(&page.stage, &page.places, columns));
    lines
}

/// A text at each end; where there is no room for both, the first with what there is.
fn ends(left: &str, right: &str, columns: usize) -> String {
    let used = left.chars().count() + right.chars().count();
    let gap = columns.saturating_sub(used).max(1);
    if used >= columns && left.chars().count() > columns.saturating_sub(1 + right.chars().count()) {
        return left.to_string();
    }
    format!("{left}{}{right}", " ".repeat(gap))
}

fn words(set: &SetOnPage) -> String {
    if set.cells.is_empty() {
        return set.words.join(" ");
    }
    let cells = set.cells.iter().map(|cell| {
        if cell.words.is_empty() {
            cell.chord.clone()
        } else {
            cell.words.join(" ")
        }
    });
    cells.collect::<Vec<_>>().join("|")
}

/// The bytes that make `old` into `new`; without an old one the display is set up first.
fn bytes(wire: LcdWire, old: Option<&[String]>, new: &[String]) -> Vec<u8> {
    let mut bytes = Vec::new();
    if old.is_none() {
        if wire == LcdWire::Kernel {
            // Set up anew, display on, neither cursor nor blinking.
            bytes.extend(b"\x1b[LI\x1b[LD\x1b[Lc\x1b[Lb\x1b[L+");
            for (_, code, rows) in SIGNS {
                let dots: String = rows.iter().map(|row| format!("{row:02x}")).collect();
                bytes.extend(format!("\x1b[LG{code}{dots};").as_bytes());
            }
        }
        bytes.extend(b"\x1b[2J");
    }
    for (row, line) in new.iter().enumerate() {
        let before: Vec<char> = old.and_then(|old| old.get(row)).map_or_else(
            || vec![' '; line.chars().count()],
            |line| line.chars().collect(),
        );
        let now: Vec<char> = line.chars().collect();
        let differs = |column: &usize| before.get(*column) != now.get(*column);
        let Some(from) = (0..now.len()).find(differs) else {
            continue;
        };
        let to = (0..now.len())
            .rev()
            .find(differs)
            .map_or(now.len(), |last| last + 1);
        let place = match wire {
            LcdWire::Kernel => format!("\x1b[Lx{from}y{row};"),
            // CUP, 8.3.21 of ECMA-48, counts from one.
            LcdWire::Serial(_) => format!("\x1b[{};{}H", row + 1, from + 1),
        };
        bytes.extend(place.as_bytes());
        bytes.extend(now[from..to].iter().map(|sign| code(*sign, wire)));
    }
    bytes
}

/// A sign's byte: ours where the display has it, else the nearest plain letter.
fn code(sign: char, wire: LcdWire) -> u8 {
    let own = SIGNS.iter().find(|(known, ..)| *known == sign);
    if let (LcdWire::Kernel, Some((_, code, _))) = (wire, own) {
        return *code;
    }
    match sign {
        ' '..='~' => sign as u8,
        '♭' | '𝄫' => b'b',
        '♯' => b'#',
        '𝄪' => b'x',
        'ø' => b'0',
        '°' => b'o',
        'Δ' => b'^',
        'è' | 'é' => b'e',
        _ => b'?',
    }
}

/// A display of letters as a screen.
pub struct CharacterScreen {
    lcd: Lcd,
    out: Box<dyn Write + Send>,
    shown: Option<Vec<String>>,
}

impl CharacterScreen {
    /// Opens the device.
    ///
    /// # Errors
    /// [`ScreenError::Absent`] when it is not there.
    pub fn open(lcd: &Lcd) -> Result<CharacterScreen, ScreenError> {
        let absent = |why: String| ScreenError::Absent {
            what: lcd.device.display().to_string(),
            why,
        };
        let out: Box<dyn Write + Send> = match lcd.wire {
            LcdWire::Kernel => {
                let opened = std::fs::OpenOptions::new().write(true).open(&lcd.device);
                Box::new(opened.map_err(|error| absent(error.to_string()))?)
            }
            LcdWire::Serial(baud) => open_serial(lcd, baud).map_err(absent)?,
        };
        Ok(CharacterScreen::on(lcd.clone(), out))
    }

    /// On anything that takes bytes.
    pub fn on(lcd: Lcd, out: Box<dyn Write + Send>) -> CharacterScreen {
        CharacterScreen {
            lcd,
            out,
            shown: None,
        }
    }
}

#[cfg(feature = "serial")]
fn open_serial(lcd: &Lcd, baud: u32) -> Result<Box<dyn Write + Send>, String> {
    let path = lcd.device.display().to_string();
    let port = serialport::new(path, baud)
        .timeout(Duration::from_millis(500))
        .open()
        .map_err(|error| error.to_string())?;
    Ok(Box::new(port))
}

#[cfg(not(feature = "serial"))]
fn open_serial(_: &Lcd, _: u32) -> Result<Box<dyn Write + Send>, String> {
    Err("this underfoot was built without serial lines".to_string())
}

impl Screen for CharacterScreen {
    fn show(&mut self, _: &Bitmap, page: &Page) -> Result<(), ScreenError> {
        let new = letters(page, self.lcd.columns, self.lcd.rows);
        let bytes = bytes(self.lcd.wire, self.shown.as_deref(), &new);
        self.shown = None;
        self.out
            .write_all(&bytes)
            .and_then(|()| self.out.flush())
            .map_err(|error| ScreenError::Refused {
                what: self.lcd.device.display().to_string(),
                why: error.to_string(),
            })?;
        self.shown = Some(new);
        Ok(())
    }

    fn light(&mut self, light: Light) -> Result<(), ScreenError> {
        if self.lcd.wire != LcdWire::Kernel {
            return Ok(());
        }
        let backlight: &[u8] = if light == Light::Full {
            b"\x1b[L+"
        } else {
            b"\x1b[L-"
        };
        // A display without a backlight passes it over.
        let _ = self.out.write_all(backlight);
        Ok(())
    }

    fn check_every(&self) -> Option<Duration> {
        None
    }
}

#[cfg(test)]
mod tests;
