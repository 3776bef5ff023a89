//! Every page at every size, as pictures; how far the letters are read; that every chord name fits.
//!
//! `UNDERFOOT_BLESS=1 cargo test --test house display::every_page` writes the pictures anew; look at them before keeping them.

use super::samples::{all, named};
use proptest::prelude::*;
use std::path::PathBuf;
use underfoot::display::glyphs::{Align, Type, draw_fit, fit, has_glyph};
use underfoot::display::screens::{PngScreen, Screen, ScreenError, png_bytes};
use underfoot::display::{
    Area, ArmedLine, Arrangement, Bitmap, Large, MORE, Page, PageCell, Panel, SetOnPage, draw,
    draw_from, message_lines, message_rows, message_text,
};

const SIZES: [(u32, u32); 4] = [(128, 64), (128, 32), (256, 64), (320, 240)];

fn fixture(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fixtures/pages")
        .join(name)
}

fn blessing() -> bool {
    std::env::var_os("UNDERFOOT_BLESS").is_some()
}

/// Compares pixels, not files: another version of the encoder may pack them otherwise.
fn read_png(bytes: &[u8]) -> Bitmap {
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .unwrap();
    let (width, height) = (reader.info().width, reader.info().height);
    let mut data = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut data).unwrap();
    let mut bitmap = Bitmap::new(width, height);
    let stride = width.div_ceil(8) as usize;
    for y in 0..height as usize {
        for x in 0..width as usize {
            let lit = data[y * stride + x / 8] & (0x80 >> (x % 8)) != 0;
            bitmap.set(x as i32, y as i32, lit);
        }
    }
    bitmap
}

#[track_caller]
fn check(name: &str, bitmap: &Bitmap, scale: u32) {
    let path = fixture(name);
    let bytes = png_bytes(bitmap, scale);
    if blessing() {
        std::fs::write(&path, &bytes).unwrap();
        return;
    }
    let golden = read_png(&std::fs::read(&path).unwrap_or_else(|_| panic!("{name} is missing")));
    let drawn = read_png(&bytes);
    assert!(golden == drawn, "{name} differs; drawn:\n{}", bitmap.art());
}

#[test]
fn every_page_looks_as_it_was_kept() {
    for (width, height) in SIZES {
        for (name, page) in all() {
            let bitmap = draw(&page, Panel::new(width, height));
            check(&format!("{width}x{height}-{name}.png"), &bitmap, 1);
        }
    }
}

#[test]
fn the_smallest_panel_shows_only_what_to_play_next() {
    // 0.96": 24.4 mm across the corners.
    let panel = Panel {
        panel_mm: Some(24.4),
        ..Panel::new(128, 64)
    };
    let names = [
        "one",
        "now",
        "next",
        "both",
        "many",
        "marks",
        "symbol",
        "group",
        "armed",
        "states",
        "clock-lost",
    ];
    for name in names {
        check(&format!("small-{name}.png"), &draw(&named(name), panel), 1);
    }
}

#[test]
fn the_sheet_shows_them_side_by_side() {
    let below = 8 + 72 * all().len().div_ceil(4) as i32;
    let height = below + 4 * 72 + 2 * 248;
    let mut sheet = Bitmap::new(552, height as u32);
    for y in 0..height {
        for x in 0..552 {
            sheet.set(x, y, (x + y) % 2 == 0);
        }
    }
    let mut paste = |name: &str, (w, h): (u32, u32), left: i32, top: i32| {
        let bitmap = draw(&named(name), Panel::new(w, h));
        for y in 0..h as i32 {
            for x in 0..w as i32 {
                sheet.set(left + x, top + y, bitmap.get(x, y));
            }
        }
    };
    for (place, (name, _)) in all().into_iter().enumerate() {
        let (column, row) = (place as i32 % 4, place as i32 / 4);
        paste(name, (128, 64), 8 + column * 136, 8 + row * 72);
    }
    let wide = [
        "next",
        "many",
        "neck-one",
        "neck-two",
        "neck-left",
        "neck-high",
        "neck-three",
        "neck-open",
    ];
    for (place, name) in wide.into_iter().enumerate() {
        let (column, row) = (place as i32 % 2, place as i32 / 2);
        paste(name, (256, 64), 8 + column * 272, below + row * 72);
    }
    paste("next", (320, 240), 8, below + 4 * 72);
    paste("neck-two", (320, 240), 8, below + 4 * 72 + 248);
    for (place, name) in ["now", "armed", "both", "count-in", "group", "message"]
        .into_iter()
        .enumerate()
    {
        paste(name, (128, 32), 372, below + 4 * 72 + place as i32 * 41);
    }
    check("sheet.png", &sheet, 2);
}

#[test]
fn letters_are_read_from_where_the_player_stands() {
    // Height of a character = distance / 200: 16 to 22 minutes of arc, ISO 9241-3 as taught in the FAA's human factors
    // web training (hf.faa.gov). Diagonals are the trade sizes of the panels.
    let cases = [
        // inches, pixels, arrangement, least metres for a single large note
        (0.96, (128, 64), Arrangement::OnlyTheSet, 1.5),
        (1.3, (128, 64), Arrangement::OnlyTheSet, 2.0),
        (2.42, (128, 64), Arrangement::Corners, 2.0),
        (2.8, (320, 240), Arrangement::Tall, 3.0),
    ];
    for (inches, (width, height), arrangement, least_m) in cases {
        let panel = Panel {
            panel_mm: Some(inches * 25.4),
            ..Panel::new(width, height)
        };
        assert_eq!(panel.arrangement(), arrangement, "{inches}\"");
        let cap_px = tallest_run(&draw(&named("one"), panel));
        let cap_mm = cap_px as f32 * panel.pitch_mm().unwrap();
        let metres = panel.read_from_m(cap_px).unwrap();
        for name in ["now", "next", "many", "both"] {
            let px = tallest_run(&draw(&named(name), panel));
            let (mm, m) = (
                px as f32 * panel.pitch_mm().unwrap(),
                panel.read_from_m(px).unwrap(),
            );
            println!("{inches}\" {name}: {px} px = {mm:.1} mm, read from {m:.1} m");
        }
        println!(
            "{inches}\" {width}x{height}: one note {cap_px} px = {cap_mm:.1} mm, read from {metres:.1} m"
        );
        assert!(metres >= least_m, "{inches}\": {metres} m");
    }
}

/// The longest upright run of lit pixels: the stem of the largest letter (pages of the test have one at least).
fn tallest_run(bitmap: &Bitmap) -> i32 {
    (0..bitmap.width() as i32)
        .flat_map(|x| {
            let mut run = 0;
            (0..bitmap.height() as i32).map(move |y| {
                run = if bitmap.get(x, y) { run + 1 } else { 0 };
                run
            })
        })
        .max()
        .unwrap_or(0)
}

const CHORDS: [&str; 28] = [
    "C",
    "B♭",
    "F♯m",
    "Gm7",
    "Cmaj7",
    "CΔ7",
    "E♭maj7",
    "Em7♭5",
    "Fø",
    "Fø7",
    "B°",
    "C♯°7",
    "G7♭9",
    "G7(♭9)",
    "D7♯9",
    "A♭7♯11",
    "B♭7alt",
    "Csus4",
    "D♭9sus4",
    "Am(maj7)",
    "C6/9",
    "F♯m11",
    "B♭13",
    "Gm7/D",
    "Caug7",
    "Dadd9",
    "E♭m7♭5/B𝄫",
    "G♯m(maj7)/D♯",
];

#[test]
fn every_chord_name_and_set_fits_without_being_cut() {
    let sets = [
        "D F♯ A",
        "E♭ G♭ B𝄫",
        "sol♯ si♯ re♯",
        "Ases Ceses Es",
        "root second third",
        "B𝄫 D𝄫 F𝄫",
        "fa𝄪 la𝄪 do𝄪",
    ];
    let rooms = [
        (65, 13, 13),
        (74, 15, 15),
        (128, 32, 34),
        (172, 53, 48),
        (186, 46, 38),
        (128, 64, 64),
    ];
    let wide = rooms.into_iter().filter(|(w, ..)| *w >= 128);
    let chords = CHORDS
        .iter()
        .flat_map(|text| rooms.map(|room| (*text, room)));
    let sets = sets
        .iter()
        .flat_map(|text| wide.clone().map(|room| (*text, room)));
    for (text, (w, h, most)) in chords.chain(sets) {
        assert!(text.chars().all(has_glyph), "no glyph in {text}");
        {
            let kind =
                fit(text, w, h, most).unwrap_or_else(|| panic!("{text} does not fit {w}x{h}"));
            let area = Area::new(7, 5, w, h);
            let mut bitmap = Bitmap::new(w as u32 + 14, h as u32 + 10);
            draw_fit(&mut bitmap, text, area, most, Align::Middle, true);
            let mut cleared = bitmap.clone();
            cleared.fill(area, false);
            assert_eq!(cleared.lit(), 0, "{text} leaves {w}x{h} at {kind:?}");
            assert!(bitmap.lit() > 0);
        }
    }
}

/// A file of harmony fixtures (sources in its README).
fn harmony(name: &str) -> serde_json::Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fixtures/harmony")
        .join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// Places for a chord on the panels: width, height, greatest capital. Corners, wide, tall, the low panel.
const CHORD_ROOMS: [(i32, i32, i32); 4] =
    [(65, 13, 13), (74, 15, 15), (186, 46, 38), (128, 32, 34)];
/// Places for a set of up to three notes: 128x64, 256x64, 320x240, 128x32 and the smallest panel.
const SET_ROOMS: [(i32, i32, i32); 5] = [
    (124, 32, 34),
    (160, 53, 48),
    (304, 108, 104),
    (128, 32, 32),
    (128, 64, 64),
];

#[test]
fn every_chord_name_of_the_tables_fits_its_place() {
    let (mut count, mut smallest) = (0, i32::MAX);
    for row in harmony("chord_symbols.json").as_array().unwrap() {
        let written = row["symbol"].as_str().unwrap();
        let Ok(symbol) = written.parse::<underfoot::harmony::ChordSymbol>() else {
            continue;
        };
        let text = symbol.pretty();
        assert!(text.chars().all(has_glyph), "no glyph in {text}");
        for (w, h, most) in CHORD_ROOMS {
            let kind = fit(&text, w, h, most);
            let kind = kind.unwrap_or_else(|| panic!("{text} does not fit {w}x{h}"));
            smallest = smallest.min(kind.cap());
        }
        count += 1;
    }
    println!("{count} chord names fit, the smallest capital is {smallest} px");
    assert!(count > 1000, "{count}");
}

#[test]
fn every_target_set_of_the_tables_fits_its_place() {
    let (mut count, mut smallest) = (0, i32::MAX);
    let mut take = |text: &str, rooms: &[(i32, i32, i32)]| {
        for (w, h, most) in rooms {
            let kind = fit(text, *w, *h, *most);
            let kind = kind.unwrap_or_else(|| panic!("{text} does not fit {w}x{h}"));
            smallest = smallest.min(kind.cap());
        }
        count += 1;
    };
    for progression in harmony("progressions.json").as_array().unwrap() {
        for chord in progression["chords"].as_array().unwrap() {
            for (_, notes) in chord["stages"].as_object().unwrap() {
                let words: Vec<String> = notes
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|note| pretty_note(note.as_str().unwrap()))
                    .collect();
                if words.len() <= 3 {
                    take(&words.join(" "), &SET_ROOMS);
                    continue;
                }
                // The root huge at the left, the others in two rows at its right (three fifths of the place).
                let rooms =
                    SET_ROOMS.map(|(w, h, _)| (w * 3 / 5 - 8, (h - 2) / 2, (h - 2) / 2 * 9 / 10));
                let half = words.len().div_ceil(2);
                take(&words[1..half].join(" "), &rooms);
                take(&words[half..].join(" "), &rooms);
            }
        }
    }
    println!("{count} sets fit, the smallest capital is {smallest} px");
    assert!(count > 1000, "{count}");
}

fn pretty_note(note: &str) -> String {
    let (letter, signs) = note.split_at(1);
    let signs = match signs {
        "bb" => "𝄫",
        "##" => "𝄪",
        "b" => "♭",
        "#" => "♯",
        other => other,
    };
    format!("{letter}{signs}")
}

#[test]
fn no_two_glyphs_look_alike() {
    let signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz0123456789♭♯♮𝄫𝄪Δ°ø+-/(),.:&?!♩";
    for kind in [
        Type::Large(9),
        Type::Large(13),
        Type::Large(33),
        Type::Small,
    ] {
        let pictures: Vec<(char, Bitmap)> = signs
            .chars()
            .map(|sign| {
                let mut bitmap = Bitmap::new(60, 60);
                kind.draw(&mut bitmap, &sign.to_string(), 2, 2, true);
                (sign, bitmap)
            })
            .collect();
        for (place, (sign, picture)) in pictures.iter().enumerate() {
            assert!(picture.lit() > 0, "{sign} is empty at {kind:?}");
            for (other, same) in &pictures[place + 1..] {
                assert!(picture != same, "{sign} and {other} are one at {kind:?}");
            }
        }
    }
}

/// Texts that nobody wraps by hand: a fault a line for a hundred lines, a path, a word without an end, signs, nothing.
fn nasty_texts() -> Vec<Vec<String>> {
    let faults = |count: usize| {
        let fault =
            |n| format!("nine-lanterns.toml:{n}:14: \"Gm7b\" is no chord symbol (nearest: Gm7b5)");
        (1..=count).map(fault).collect::<Vec<_>>()
    };
    let path = "/var/lib/underfoot/a-directory-with-a-long-name/charts/tram-to-the-salt-pans.toml"
        .to_string();
    vec![
        faults(1),
        faults(4),
        faults(100),
        vec![format!("{path}: no such file or directory"), path],
        vec!["x".repeat(3000)],
        vec![format!("a {} z", "wwwww".repeat(40)), "b".into()],
        vec!["𝄫𝄪♭♯ Δ7 ø7 日本語 \u{fffd}".repeat(30)],
        vec![String::new(), " ".into(), "\t".into()],
        Vec::new(),
    ]
}

#[test]
fn whatever_a_message_says_its_words_are_whole_and_it_ends() {
    for (width, height) in [(128, 32), (128, 64), (256, 64), (320, 240), (64, 48)] {
        let panel = Panel::new(width, height);
        let rows = message_rows(panel);
        for lines in nasty_texts() {
            let shown = message_text(&lines, panel);
            let what = format!("{width}x{height}: {shown:?}");
            assert!(
                shown.len() <= 3 * rows.max(1),
                "more than three parts: {what}"
            );
            let all: String = lines.join(" ").split_whitespace().collect();
            let is_cut = shown.last().is_some_and(|last| last == MORE);
            let text = &shown[..shown.len() - usize::from(is_cut)];
            let told: String = text.join(" ").split_whitespace().collect();
            assert!(all.starts_with(&told), "{what}");
            assert_eq!(all == told, !is_cut, "{what}");
            // Where it is cut, a word ends, unless it is the only one.
            let mut end = String::new();
            let ends = lines.iter().flat_map(|line| line.split_whitespace());
            let ends = ends.map(|word| {
                end += word;
                end.len()
            });
            let ends: Vec<usize> = ends.collect();
            let is_whole = told.is_empty() || ends.contains(&told.len());
            assert!(is_whole || told.len() < ends[0], "{what}");
            // No line is drawn shorter than it is: the same text in a wider panel's width would look the same.
            let page = Page::Message {
                title: "faults".into(),
                lines: shown.clone(),
            };
            for first in 0..shown.len().max(1) {
                let bitmap = draw_from(&page, panel, first);
                assert_eq!((bitmap.width(), bitmap.height()), (width, height));
            }
        }
    }
}

#[test]
fn a_message_shows_every_line_by_scrolling() {
    let page = named("message");
    let Page::Message { lines, .. } = &page else {
        panic!("the message page is a message")
    };
    let panel = Panel::new(128, 64);
    let count = message_lines(lines, panel);
    assert!(count > 6);
    let pictures: Vec<Bitmap> = (0..count)
        .map(|first| draw_from(&page, panel, first))
        .collect();
    assert!(pictures.windows(2).all(|pair| pair[0] != pair[1]));
    assert_eq!(draw_from(&page, panel, count + 9), pictures[count - 1]);
}

#[test]
fn the_set_to_play_next_is_large_on_a_stage_panel() {
    // Heights of stems in pixels on 128x64 as a 2.42" panel has it; 32 to 34 where the width allows, common practice, no source.
    let panel = Panel {
        panel_mm: Some(61.5),
        ..Panel::new(128, 64)
    };
    for (name, least_px) in [
        ("one", 32),
        ("now", 32),
        ("next", 32),
        ("armed", 32),
        ("marks", 22),
        ("both", 15),
    ] {
        let page = named(name);
        let px = tallest_run(&draw(&page, panel));
        println!("{name}: {px} px");
        assert!(px >= least_px, "{name}: {px} px");
    }
}

#[test]
fn the_large_place_does_not_move_when_the_chord_changes() {
    // What was next is now: the middle of the page stays, pixel for pixel.
    let Page::Practice(before) = named("next") else {
        panic!("a practice page")
    };
    let mut after = before.clone();
    after.large = Large::Now;
    after.now = before.next.clone();
    after.chord_now = before.chord_next.clone();
    for (width, height) in SIZES {
        let panel = Panel::new(width, height);
        let (old, new) = (
            draw(&Page::Practice(before.clone()), panel),
            draw(&Page::Practice(after.clone()), panel),
        );
        let (third, w) = (height as i32 / 3, width as i32 * 2 / 3 - 8);
        for y in third..2 * third {
            for x in 0..w {
                assert_eq!(old.get(x, y), new.get(x, y), "{width}x{height} at {x},{y}");
            }
        }
    }
}

fn any_text() -> impl Strategy<Value = String> {
    "[A-Ga-z0-9♭♯𝄫°øΔ/() é漢…]{0,40}"
}

fn any_set() -> impl Strategy<Value = SetOnPage> {
    (
        prop::collection::vec(any_text(), 0..6),
        prop::collection::vec(any_text(), 0..6),
        prop::option::of(0usize..8),
    )
        .prop_map(|(words, marks, root)| SetOnPage {
            words,
            marks,
            root,
            ..SetOnPage::default()
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn text_never_leaves_its_area(text in any_text(), w in 5i32..200, h in 8i32..80, most in 1i32..90) {
        let area = Area::new(3, 4, w, h);
        let mut bitmap = Bitmap::new(w as u32 + 8, h as u32 + 8);
        draw_fit(&mut bitmap, &text, area, most, Align::Right, true);
        bitmap.fill(area, false);
        prop_assert_eq!(bitmap.lit(), 0);
    }

    #[test]
    fn whatever_a_page_says_it_is_drawn_on_whatever_panel(
        sets in (any_set(), any_set()),
        texts in prop::collection::vec(any_text(), 5),
        group in prop::collection::vec((any_text(), prop::collection::vec(any_text(), 0..3)), 0..7),
        current in prop::option::of(0usize..8),
        large in prop::sample::select(vec![Large::Now, Large::Next, Large::Both]),
        size in (0u32..330, 0u32..250),
        mm in prop::option::of(0.0f32..200.0),
    ) {
        let Page::Practice(mut page) = named("now") else { panic!("a practice page") };
        (page.now, page.next) = sets;
        (page.chord_now, page.chord_next) = (texts[0].clone(), texts[1].clone());
        (page.section, page.stage) = (texts[2].clone(), texts[3].clone());
        page.next.cells = group.into_iter().map(|(chord, words)| PageCell { chord, words, ..PageCell::default() }).collect();
        page.next.current = current;
        page.large = large;
        page.armed = (texts[4].len() > 20).then(|| ArmedLine { what: texts[4].clone(), when: texts[0].clone() });
        let panel = Panel { panel_mm: mm, ..Panel::new(size.0, size.1) };
        let lost = Page::ClockLost { source: texts[0].clone(), doing: texts[1].clone(), below: page.clone() };
        let told = Page::Message { title: texts[0].clone(), lines: texts.clone() };
        for page in [Page::Practice(page), lost, told] {
            let bitmap = draw(&page, panel);
            prop_assert_eq!((bitmap.width(), bitmap.height()), size);
        }
    }
}

#[test]
fn png_pages_are_numbered_and_named() {
    let place = tempfile::tempdir().unwrap();
    let directory = place.path().join("pages");
    let mut screen = PngScreen::open(&directory, 2).unwrap();
    for name in ["ready", "count-in", "now", "clock-lost"] {
        let page = named(name);
        screen
            .show(&draw(&page, Panel::new(128, 64)), &page)
            .unwrap();
    }
    let mut names: Vec<String> = std::fs::read_dir(&directory)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let wanted = [
        "00001-ready.png",
        "00002-count-in.png",
        "00003-practice.png",
        "00004-clock-lost.png",
    ];
    assert_eq!(names, wanted);
    let read = read_png(&std::fs::read(directory.join(&names[0])).unwrap());
    assert_eq!((read.width(), read.height()), (256, 128));

    std::fs::remove_dir_all(&directory).unwrap();
    let page = named("ready");
    let refused = screen.show(&draw(&page, Panel::new(128, 64)), &page);
    assert!(
        matches!(refused, Err(ScreenError::Refused { .. })),
        "{refused:?}"
    );
    std::fs::write(&directory, "a file").unwrap();
    let absent = PngScreen::open(&directory, 1).err();
    assert!(
        matches!(absent, Some(ScreenError::Absent { .. })),
        "{absent:?}"
    );
}
