use super::*;

/// A neck from "string:fret"; a root has an "r" behind it.
fn neck(dots: &str) -> NeckOnPage {
    let dot = |text: &str| {
        let root = text.ends_with('r');
        let (string, fret) = text.trim_end_matches('r').split_once(':').unwrap();
        NeckDot {
            string: string.parse().unwrap(),
            fret: fret.parse().unwrap(),
            root,
        }
    };
    NeckOnPage {
        dots: dots.split_whitespace().map(dot).collect(),
        strings: 6,
        capo: 0,
        frets: 22,
        left_handed: false,
    }
}

#[test]
fn frets_are_roman_numerals() {
    // The usual subtractive notation.
    for (fret, text) in [
        (0, "open"),
        (1, "I"),
        (4, "IV"),
        (5, "V"),
        (8, "VIII"),
        (9, "IX"),
        (12, "XII"),
        (14, "XIV"),
        (19, "XIX"),
        (24, "XXIV"),
        (99, "XCIX"),
    ] {
        assert_eq!(roman(fret), text);
    }
}

#[test]
fn the_window_holds_every_note_and_begins_at_the_nut_or_at_the_lowest() {
    for (dots, first, count, lowest) in [
        ("6:3r", 1, 5, Some(3)),
        ("5:5r", 1, 5, Some(5)),
        ("5:7r", 7, 5, Some(7)),
        ("5:3r 5:7", 3, 5, Some(3)),
        ("5:7r 4:5", 5, 5, Some(5)),
        ("5:3r 5:10", 3, 8, Some(3)),
        ("6:0r", 1, 5, None),
        ("6:0r 5:7", 7, 5, Some(7)),
        ("1:22r", 18, 5, Some(22)),
    ] {
        let window = NeckWindow {
            first,
            count,
            lowest,
        };
        assert_eq!(NeckWindow::of(&neck(dots)), window, "{dots}");
    }
}

#[test]
fn a_neck_is_seen_as_in_tablature() {
    let mut bitmap = Bitmap::new(84, 18);
    draw(&mut bitmap, &neck("5:7r 4:5"), Area::new(0, 0, 84, 18));
    // The ring is a hollow bar here: string 5 at the seventh fret; string 4 at the fifth, which the numeral names.
    let picture = [
        "....................................................................................",
        ".....................................#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#..",
        ".......................................#.......#.......#.......#.......#.......#....",
        ".......................................#.......#.......#.......#.......#.......#....",
        ".....................................#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#..",
        ".......................................#.......#.......#.......#.......#.......#....",
        "........................#..#...........#.......#.......#.......#.......#.......#....",
        "........................#..#.........#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#..",
        "........................#..#...........................#.......#.......#.......#....",
        "........................#..#............#######........#.......#.......#.......#....",
        ".........................##..........#..#######..#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#..",
        ".........................##.............#######........................#.......#....",
        "........................................................#######........#.......#....",
        ".....................................#.#.#.#.#.#.#.#.#..#.....#..#.#.#.#.#.#.#.#.#..",
        ".......................................#.......#........#######........#.......#....",
        ".......................................#.......#.......................#.......#....",
        ".....................................#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#.#..",
        "....................................................................................",
    ];
    assert_eq!(bitmap.art().lines().collect::<Vec<_>>(), picture);
    // For a left-handed player the frets run the other way; the strings stay.
    let mut mirrored = Bitmap::new(84, 18);
    let left_handed = NeckOnPage {
        left_handed: true,
        ..neck("5:7r 4:5")
    };
    draw(&mut mirrored, &left_handed, Area::new(0, 0, 84, 18));
    for (y, row) in picture.iter().enumerate() {
        for x in 36..84 {
            let lit = row.as_bytes()[x] == b'#';
            assert_eq!(mirrored.get(83 - x as i32, y as i32), lit, "{x},{y}");
        }
    }
}
