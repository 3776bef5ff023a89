//! Pages in a terminal: the panel's own pixels where the window has room for them, else a page as large as the window, with a
//! line about the keys below.

use super::super::bitmap::Bitmap;
use super::super::layout::Panel;
use super::super::message::{in_rows, wrap_letters};
use super::super::page::{BreathePage, Large, Page, PracticePage, SetOnPage};
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
    /// Two pixels a character, one over the other: as square as the panel's own.
    HalfBlocks,
    /// Four pixels a character: half as wide, and as high.
    QuarterBlocks,
    /// No pixels: the page in words, one line each time it changes. For windows that are too small, terminals that cannot move
    /// the cursor, and files.
    Words,
}

impl TextMode {
    /// The largest that shows a picture of `width` by `height` pixels and a line below it in a window of `columns` by `rows`.
    pub fn for_window(width: u32, height: u32, (columns, rows): (u16, u16)) -> TextMode {
        let (columns, rows) = (u32::from(columns), u32::from(rows).saturating_sub(1));
        if height.div_ceil(2) > rows || width.div_ceil(2) > columns {
            TextMode::Words
        } else if width <= columns {
            TextMode::HalfBlocks
        } else {
            TextMode::QuarterBlocks
        }
    }
}

/// The panel whose page fills a window: `wanted` where its pixels have room as half blocks, else as many as there are.
fn panel_in(wanted: Panel, window: (u16, u16), has_quarters: bool) -> Panel {
    if TextMode::for_window(wanted.width, wanted.height, window) == TextMode::HalfBlocks {
        return wanted;
    }
    let across = if has_quarters { 2 } else { 1 };
    let width = (u32::from(window.0) * across).min(MOST.0);
    let height = (u32::from(window.1).saturating_sub(1) * 2).min(MOST.1);
    if width < LEAST.0 || height < LEAST.1 {
        return wanted;
    }
    Panel::new(width, height)
}

/// The least pixels that hold a page, and the most that one needs.
const LEAST: (u32, u32) = (96, 32);
const MOST: (u32, u32) = (320, 240);

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

/// Two pixel rows and two columns a character (Unicode's block elements, U+2580 to U+259F).
pub fn quarter_blocks(bitmap: &Bitmap) -> Vec<String> {
    // By the bits upper left, upper right, lower left, lower right, from the Unicode chart of the block.
    const QUARTERS: [char; 16] = [
        ' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█',
    ];
    let (w, h) = (bitmap.width() as i32, bitmap.height() as i32);
    let cell = |x: i32, y: i32| {
        let bits = [(0, 0, 1), (1, 0, 2), (0, 1, 4), (1, 1, 8)];
        let lit = bits.iter().filter(|(dx, dy, _)| bitmap.get(x + dx, y + dy));
        QUARTERS[lit.map(|(_, _, bit)| bit).sum::<usize>()]
    };
    let row = |y| (0..w).step_by(2).map(|x| cell(x, y)).collect();
    (0..h).step_by(2).map(row).collect()
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

fn on_break(page: &BreathePage) -> String {
    let then = page.then.first().map_or("", String::as_str);
    format!("break: {}; then {then}", page.lines.join("; "))
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
        Page::Breathe(page) => on_break(page),
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
    /// Whether its letters have quarter blocks.
    has_quarters: bool,
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
        let mut screen = TerminalScreen::new(out, legend, Box::new(window));
        // The 256 letters of a console's usual font have half blocks only.
        screen.has_quarters = term != "linux";
        screen
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
            has_quarters: true,
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
        let mode = TextMode::for_window(bitmap.width(), bitmap.height(), window);
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
            TextMode::QuarterBlocks => quarter_blocks(bitmap),
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
    fn panel(&mut self, wanted: Panel) -> Panel {
        match (self.window)() {
            Some(window) => panel_in(wanted, window, self.has_quarters),
            None => wanted,
        }
    }

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
