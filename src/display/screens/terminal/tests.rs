use super::super::super::draw::draw;
use super::*;
use std::sync::{Arc, Mutex};

#[test]
fn pixels_become_characters() {
    let mut bitmap = Bitmap::new(4, 4);
    for (x, y) in [(0, 0), (1, 0), (1, 1), (2, 1), (3, 3)] {
        bitmap.set(x, y, true);
    }
    assert_eq!(half_blocks(&bitmap), ["▀█▄ ", "   ▄"]);
    assert_eq!(quarter_blocks(&bitmap), ["▜▖", " ▗"]);
}

#[test]
fn pages_are_told_in_words() {
    use super::super::super::page::PageCell;
    let cell = |chord: &str, word: &str| PageCell {
        chord: chord.into(),
        words: vec![word.into()],
        ..PageCell::default()
    };
    let set = SetOnPage {
        words: vec!["G".into(), "B♭".into()],
        ..SetOnPage::default()
    };
    let group = SetOnPage {
        cells: vec![cell("Gm7", "G"), cell("C7", "C"), cell("", "F")],
        current: Some(1),
        ..SetOnPage::default()
    };
    let cases = [
        (set.clone(), "Gm7", "Gm7: G B♭"),
        (set, "", "G B♭"),
        (SetOnPage::default(), "Gm7", "Gm7"),
        (group, "Gm7", "Gm7: G | >C7: C | F"),
    ];
    for (set, chord, words) in cases {
        assert_eq!(set_in_words(&set, chord), words);
    }
}

#[test]
fn a_panic_gives_the_window_back() {
    let wire = Wire::default();
    let out = wire.clone();
    let outcome = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        let mut screen = TerminalScreen::new(out, "", Box::new(|| Some((80, 24))));
        screen.show(&Bitmap::new(128, 64), &menu(0)).unwrap();
        std::panic::resume_unwind(Box::new("a fault while the page stood"));
    }));
    assert!(outcome.is_err());
    assert!(wire.0.lock().unwrap().ends_with(b"\x1b[?25h\x1b[?1049l"));
}

#[test]
fn the_window_decides_the_size_and_the_mode() {
    use TextMode::{HalfBlocks, QuarterBlocks, Words};
    let cases = [
        // The panel that is asked for, the window, quarter blocks; what is drawn, and how.
        ((128, 64), (128, 33), true, (128, 64), HalfBlocks),
        ((128, 64), (128, 32), true, (256, 62), QuarterBlocks),
        ((128, 64), (80, 24), true, (160, 46), QuarterBlocks),
        ((320, 240), (80, 24), true, (160, 46), QuarterBlocks),
        ((320, 240), (80, 25), false, (320, 240), Words),
        ((320, 240), (132, 43), false, (132, 84), HalfBlocks),
        ((128, 32), (140, 24), true, (128, 32), HalfBlocks),
        ((320, 240), (240, 200), true, (320, 240), QuarterBlocks),
        ((128, 64), (47, 24), true, (128, 64), Words),
        ((128, 64), (0, 0), true, (128, 64), Words),
    ];
    for ((w, h), window, has_quarters, drawn, mode) in cases {
        let panel = panel_in(Panel::new(w, h), window, has_quarters);
        assert_eq!((panel.width, panel.height), drawn, "{w}x{h} in {window:?}");
        let found = TextMode::for_window(panel.width, panel.height, window);
        assert_eq!(found, mode, "{w}x{h} in {window:?}");
    }
}

#[derive(Clone, Default)]
struct Wire(Arc<Mutex<Vec<u8>>>);

impl Write for Wire {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn menu(chosen: usize) -> Page {
    Page::Menu {
        items: vec!["go on".into(), "next section".into()],
        chosen,
        told: String::new(),
        below: None,
    }
}

fn sent(window: Option<(u16, u16)>, pages: &[Page]) -> Vec<String> {
    let wire = Wire::default();
    let mut screen = TerminalScreen::new(wire.clone(), "space press", Box::new(move || window));
    let mut parts = Vec::new();
    let take = || String::from_utf8(std::mem::take(&mut *wire.0.lock().unwrap())).unwrap();
    for page in pages {
        let panel = screen.panel(Panel::new(128, 64));
        screen.show(&draw(page, panel), page).unwrap();
        parts.push(take());
    }
    drop(screen);
    parts.push(take());
    parts
}

#[test]
fn a_dumb_terminal_gets_words_and_no_control_codes() {
    let parts = sent(None, &[menu(0), menu(0), menu(1)]);
    assert_eq!(parts, ["menu: go on\r\n", "", "menu: next section\r\n", ""]);
}

#[test]
fn the_window_is_given_back_and_unchanged_lines_are_not_sent_again() {
    let parts = sent(Some((80, 24)), &[menu(0), menu(0)]);
    assert!(parts[0].starts_with("\u{1b}[?1049h"), "{:?}", parts[0]);
    assert!(parts[0].contains("space press"));
    // A page in a window of 80 by 24 is a picture, not a line of words.
    let rows: Vec<&str> = parts[0]
        .split('\u{1b}')
        .filter(|row| row.contains('█'))
        .collect();
    assert!(rows.len() > 8, "{:?}", parts[0]);
    assert_eq!(parts[1], "");
    assert_eq!(parts[2], "\u{1b}[?25h\u{1b}[?1049l");
}

/// What the system answers to a write (errno(3)), and whether a terminal may take a page again after it.
#[test]
fn a_terminal_that_was_hung_up_is_gone_for_good() {
    struct Refusing(i32);
    impl Write for Refusing {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::Error::from_raw_os_error(self.0))
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let page = Page::Menu {
        items: vec!["a".into()],
        chosen: 0,
        told: String::new(),
        below: None,
    };
    let bitmap = Bitmap::new(8, 8);
    for (errno, ended) in [
        (libc::EIO, true),
        (libc::EPIPE, true),
        (libc::EBADF, true),
        (libc::ENOSPC, false),
        (libc::EAGAIN, false),
    ] {
        for window in [None, Some((80, 24))] {
            let mut screen = TerminalScreen::new(Refusing(errno), "", Box::new(move || window));
            let told = screen.show(&bitmap, &page).expect_err("an error");
            let is_ended = matches!(told, ScreenError::Ended { .. });
            assert_eq!(is_ended, ended, "{errno} {told}");
        }
    }
}
