//! Pages in a terminal: the panel's own pixels, as large as the window allows, with a line about the keys below.

use super::super::bitmap::Bitmap;
use super::super::message::{in_rows, wrap_letters};
use super::super::page::{Large, Page, PracticePage, SetOnPage};
use super::{Screen, ScreenError};
use crate::fault::printable_lines;
use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::queue;
use crossterm::style::Print;
use crossterm::terminal::{Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen};
use std::io::Write;

/// How pixels become characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TextMode {
    /// Two pixels a character, one over the other.
    HalfBlocks,
    /// Eight pixels a character: half as wide and high.
    Braille,
    /// No pixels: the page in words, one line each time it changes. For terminals that cannot move the cursor and for files.
    Words,
}

impl TextMode {
    /// The largest that shows a picture of `width` by `height` pixels and a line below it in a window of `columns` by `rows`.
    pub fn for_window(width: u32, height: u32, columns: u16, rows: u16) -> TextMode {
        let (columns, rows) = (u32::from(columns), u32::from(rows).saturating_sub(1));
        if width <= columns && height.div_ceil(2) <= rows {
            TextMode::HalfBlocks
        } else if width.div_ceil(2) <= columns && height.div_ceil(4) <= rows {
            TextMode::Braille
        } else {
            TextMode::Words
        }
    }
}

/// Two pixel rows a line.
pub fn half_blocks(bitmap: &Bitmap) -> Vec<String> {
    let (w, h) = (bitmap.width() as i32, bitmap.height() as i32);
    (0..h)
        .step_by(2)
        .map(|y| {
            (0..w)
                .map(|x| match (bitmap.get(x, y), bitmap.get(x, y + 1)) {
                    (false, false) => ' ',
                    (true, false) => '▀',
                    (false, true) => '▄',
                    (true, true) => '█',
                })
                .collect()
        })
        .collect()
}

/// Four pixel rows and two columns a character (Unicode's Braille patterns, U+2800).
pub fn braille(bitmap: &Bitmap) -> Vec<String> {
    // Bits of the dots by column and row, from the Unicode chart of the block.
    const DOTS: [[u32; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];
    let (w, h) = (bitmap.width() as i32, bitmap.height() as i32);
    let cell = |left: i32, top: i32| {
        let mut code = 0x2800;
        for (dx, column) in DOTS.iter().enumerate() {
            for (dy, bit) in column.iter().enumerate() {
                if bitmap.get(left + dx as i32, top + dy as i32) {
                    code |= bit;
                }
            }
        }
        char::from_u32(code).unwrap_or(' ')
    };
    (0..h)
        .step_by(4)
        .map(|y| (0..w).step_by(2).map(|x| cell(x, y)).collect())
        .collect()
}

fn set_in_words(set: &SetOnPage, chord: &str) -> String {
    if set.cells.is_empty() {
        return words_over(&set.words, chord);
    }
    let cells = set.cells.iter().enumerate().map(|(place, cell)| {
        let sounds = if set.current == Some(place) { ">" } else { "" };
        format!("{sounds}{}", words_over(&cell.words, &cell.chord))
    });
    cells.collect::<Vec<_>>().join(" | ")
}

fn words_over(words: &[String], chord: &str) -> String {
    match (words.is_empty(), chord.is_empty()) {
        (true, _) => chord.to_string(),
        (false, true) => words.join(" "),
        (false, false) => format!("{chord}: {}", words.join(" ")),
    }
}

fn practice_in_words(page: &PracticePage) -> String {
    let now = set_in_words(&page.now, &page.chord_now);
    let next = set_in_words(&page.next, &page.chord_next);
    let play = match page.large {
        Large::Now => format!("play {now}, then {next}"),
        Large::Next => format!("next {next}"),
        Large::Both => format!("now {now}, next {next}"),
    };
    let armed = page
        .armed
        .as_ref()
        .map(|armed| format!("; {} {}", armed.what, armed.when))
        .unwrap_or_default();
    let states = page.states.iter().map(|state| format!("; {state}"));
    let places = match page.places.as_str() {
        "" => String::new(),
        places => format!(" {places}"),
    };
    format!(
        "{play} ({} bar {}, {}{places}{armed}{})",
        page.section,
        page.bar,
        page.stage,
        states.collect::<String>()
    )
}

/// A page in words, on one line (a message: a line for each fault); nothing in it that a terminal would obey.
pub fn in_words(page: &Page) -> String {
    printable_lines(&words_of(page))
}

fn words_of(page: &Page) -> String {
    match page {
        Page::Ready {
            title,
            stage,
            section,
            tempo_qpm,
            dotted_qpm,
            notes,
        } => {
            let notes: String = notes.iter().map(|note| format!("; {note}")).collect();
            let dotted = dotted_qpm.map_or(String::new(), |qpm| format!("{qpm} dotted quarters, "));
            format!("ready: {title}, {section}, {stage}, {dotted}{tempo_qpm} bpm{notes}")
        }
        Page::CountIn {
            count,
            first,
            chord,
            ..
        } => format!("count {count}: {}", set_in_words(first, chord)),
        Page::Practice(page) => practice_in_words(page),
        Page::Breathe(page) => format!("break: {}; then {}", page.lines.join("; "), page.then),
        Page::Paused {
            section,
            stage,
            bar,
            ..
        } => format!("paused: {section} bar {bar}, {stage}"),
        Page::Menu {
            items,
            chosen,
            told,
            below,
        } => {
            let item = items.get(*chosen).map_or("", String::as_str);
            let told = (!told.is_empty()).then(|| format!(" ({told})"));
            let below = below.iter().map(|page| practice_in_words(page));
            let below: String = below.map(|words| format!("; {words}")).collect();
            format!("menu: {item}{}{below}", told.unwrap_or_default())
        }
        Page::Message { title, lines } => {
            let mut text = title.clone();
            for line in lines {
                text = text + "\n  " + line;
            }
            text
        }
        Page::Tuning(page) => format!("tuning: {} {}", page.note, page.words()),
        Page::ClockLost {
            source,
            doing,
            below,
        } => format!(
            "clock lost: {source}, {doing}; {}",
            practice_in_words(below)
        ),
    }
}

/// A terminal. The window is left as it was when this is dropped, in a panic too.
pub struct TerminalScreen<W: Write + Send> {
    out: W,
    legend: String,
    /// The window's columns and rows; `None`: no window, words only.
    window: Box<dyn FnMut() -> Option<(u16, u16)> + Send>,
    mode: Option<(TextMode, (u16, u16))>,
    lines: Vec<String>,
}

impl TerminalScreen<std::io::Stdout> {
    /// The terminal of standard output; words only where `term` (the value of `TERM`) is empty or `dumb` or the output is no
    /// terminal. `legend` says what the keys do.
    pub fn of_stdout(term: &str, legend: &str) -> TerminalScreen<std::io::Stdout> {
        let out = std::io::stdout();
        let moves = std::io::IsTerminal::is_terminal(&out) && !matches!(term, "" | "dumb");
        let window = move || moves.then(|| crossterm::terminal::size().unwrap_or((80, 24)));
        TerminalScreen::new(out, legend, Box::new(window))
    }
}

impl<W: Write + Send> TerminalScreen<W> {
    /// Writes to `out`; `window` is asked before each page, so a changed size is followed.
    pub fn new(
        out: W,
        legend: &str,
        window: Box<dyn FnMut() -> Option<(u16, u16)> + Send>,
    ) -> TerminalScreen<W> {
        TerminalScreen {
            out,
            legend: legend.to_string(),
            window,
            mode: None,
            lines: Vec::new(),
        }
    }

    fn write(&mut self, bitmap: &Bitmap, page: &Page) -> std::io::Result<()> {
        let Some(window) = (self.window)() else {
            // Every page in words is a line of its own, so an unchanged one is not repeated.
            let text = in_words(page);
            if self.lines.first() != Some(&text) {
                writeln!(self.out, "{text}\r")?;
                self.lines = vec![text];
            }
            return self.out.flush();
        };
        let mode = TextMode::for_window(bitmap.width(), bitmap.height(), window.0, window.1);
        if self.mode != Some((mode, window)) {
            if self.mode.is_none() {
                queue!(self.out, EnterAlternateScreen, Hide)?;
            }
            queue!(self.out, Clear(ClearType::All))?;
            self.mode = Some((mode, window));
            self.lines.clear();
        }
        let mut lines = match mode {
            TextMode::HalfBlocks => half_blocks(bitmap),
            TextMode::Braille => braille(bitmap),
            TextMode::Words => cut(&in_words(page), window),
        };
        lines.push(self.legend.chars().take(usize::from(window.0)).collect());
        for (row, line) in lines.iter().enumerate() {
            // Only what changed is written: a slow line (ssh, serial) keeps up.
            if self.lines.get(row) != Some(line) {
                queue!(
                    self.out,
                    MoveTo(0, row as u16),
                    Print(line),
                    Clear(ClearType::UntilNewLine)
                )?;
            }
        }
        for row in lines.len()..self.lines.len() {
            queue!(
                self.out,
                MoveTo(0, row as u16),
                Clear(ClearType::CurrentLine)
            )?;
        }
        self.lines = lines;
        self.out.flush()
    }
}

/// Words in lines of the window's width, one row left for the legend.
fn cut(text: &str, (columns, rows): (u16, u16)) -> Vec<String> {
    let lines: Vec<String> = text.lines().map(str::to_string).collect();
    let most = usize::from(rows.saturating_sub(1));
    let mut shown = in_rows(&lines, most, &|line| {
        wrap_letters(line, usize::from(columns))
    });
    shown.truncate(most);
    shown
}

impl<W: Write + Send> Screen for TerminalScreen<W> {
    fn show(&mut self, bitmap: &Bitmap, page: &Page) -> Result<(), ScreenError> {
        self.write(bitmap, page).map_err(|error| {
            let (what, why) = ("the terminal".into(), error.to_string());
            // What a terminal answers that was hung up, a pipe without a reader, and what was closed (termios(3), write(2)).
            match error.raw_os_error() {
                Some(libc::EIO | libc::EPIPE | libc::EBADF) => ScreenError::Ended { what, why },
                _ => ScreenError::Refused { what, why },
            }
        })
    }
}

impl<W: Write + Send> Drop for TerminalScreen<W> {
    fn drop(&mut self) {
        if self.mode.is_some() {
            // Nothing is left to be done about an error here.
            let _ = restore_terminal(&mut self.out);
        }
    }
}

/// Gives the window back as it was before the first page: for a panic hook, before the message is printed.
///
/// # Errors
/// When the terminal is gone.
pub fn restore_terminal(out: &mut impl Write) -> std::io::Result<()> {
    queue!(out, Show, LeaveAlternateScreen)?;
    out.flush()
}

#[cfg(test)]
mod tests;
