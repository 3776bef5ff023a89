use super::*;

fn practising(large: Large) -> PracticePage {
    let set = |words: &[&str]| SetOnPage {
        words: words.iter().map(|word| word.to_string()).collect(),
        ..SetOnPage::default()
    };
    PracticePage {
        now: set(&["G", "B♭"]),
        next: set(&["C", "E"]),
        large,
        chord_now: "Gm7".into(),
        chord_next: "C7♭9".into(),
        section: "A".into(),
        stage: "thirds".into(),
        call: String::new(),
        task: vec!["play".into()],
        then: Vec::new(),
        places: String::new(),
        phase: crate::drill::Phase::Play,
        bar: 3,
        bars: 8,
        beats_to_change: 4,
        tempo_qpm: 96,
        dotted_qpm: None,
        count: None,
        armed: None,
        note: String::new(),
        states: Vec::new(),
    }
}

#[test]
fn the_practice_page_in_letters() {
    let cases = [
        (16, 2, Large::Now, "G B♭           4|Gm7         C7♭9"),
        (16, 2, Large::Next, "C E            4|Gm7         C7♭9"),
        (16, 2, Large::Both, "G B♭|C E       4|Gm7         C7♭9"),
        (
            20,
            4,
            Large::Now,
            "G B♭               4|Gm7             C7♭9|A                3/8|thirds              ",
        ),
        (8, 2, Large::Now, "G B♭   4|Gm7 C7♭9"),
        (8, 1, Large::Now, "G B♭   4"),
    ];
    for (columns, rows, large, told) in cases {
        let page = Page::Practice(Box::new(practising(large)));
        let lines = letters(&page, columns, rows);
        assert!(lines.iter().all(|line| line.chars().count() == columns));
        assert_eq!(lines.join("|"), told);
    }
}

#[test]
fn only_what_changed_is_written() {
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    let old = ["Gm7  C7".to_string(), "1".to_string()];
    let new = ["Gm6  C7".to_string(), "1".to_string()];
    assert_eq!(
        text(bytes(LcdWire::Kernel, Some(&old), &new)),
        "\x1b[Lx2y0;6"
    );
    assert_eq!(
        text(bytes(LcdWire::Serial(9600), Some(&old), &new)),
        "\x1b[1;3H6"
    );
    assert_eq!(text(bytes(LcdWire::Serial(9600), Some(&new), &new)), "");
    let whole = text(bytes(LcdWire::Serial(9600), None, &["B♭ø".to_string()]));
    assert_eq!(whole, "\x1b[2J\x1b[1;1HBb0");
    let whole = bytes(LcdWire::Kernel, None, &["B♭ø".to_string()]);
    assert!(whole.ends_with(b"\x1b[Lx0y0;B\x01\x03"));
    assert_eq!(
        whole.iter().filter(|byte| **byte == b'G').count(),
        SIGNS.len()
    );
}
