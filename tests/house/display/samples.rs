//! Sample pages of an invented tune.

use underfoot::display::{
    ArmedLine, BreathePage, Large, NeckDot, NeckOnPage, Page, PageCell, PracticePage, SetOnPage,
};
use underfoot::drill::Phase;

fn set(words: &[&str]) -> SetOnPage {
    SetOnPage {
        words: words.iter().map(|word| word.to_string()).collect(),
        ..SetOnPage::default()
    }
}

/// A set with its places, each "string:fret", a root with an "r" behind it.
fn on_neck(words: &[&str], dots: &[&str]) -> SetOnPage {
    let dot = |text: &&str| {
        let root = text.ends_with('r');
        let (string, fret) = text.trim_end_matches('r').split_once(':').unwrap();
        NeckDot {
            string: string.parse().unwrap(),
            fret: fret.parse().unwrap(),
            root,
        }
    };
    SetOnPage {
        neck: Some(NeckOnPage {
            dots: dots.iter().map(dot).collect(),
            strings: 6,
            capo: 0,
            frets: 22,
            left_handed: false,
        }),
        ..set(words)
    }
}

fn left_handed(mut set: SetOnPage) -> SetOnPage {
    if let Some(neck) = &mut set.neck {
        neck.left_handed = true;
    }
    set
}

/// Cells from "chord word word".
fn group(cells: &[&str], current: Option<usize>) -> SetOnPage {
    let cell = |text: &&str| {
        let mut parts = text.split(' ').map(str::to_string);
        PageCell {
            chord: parts.next().unwrap_or_default(),
            words: parts.collect(),
            ..PageCell::default()
        }
    };
    SetOnPage {
        cells: cells.iter().map(cell).collect(),
        current,
        ..SetOnPage::default()
    }
}

fn texts(lines: &[&str]) -> Vec<String> {
    lines.iter().map(|line| line.to_string()).collect()
}

fn base() -> PracticePage {
    PracticePage {
        now: set(&["G", "B♭"]),
        next: set(&["C", "E"]),
        large: Large::Now,
        chord_now: "Gm7".into(),
        chord_next: "C7♭9".into(),
        section: "A".into(),
        stage: "thirds".into(),
        call: String::new(),
        task: vec!["play".into()],
        then: Vec::new(),
        places: String::new(),
        phase: Phase::Play,
        bar: 3,
        count: None,
        bars: 8,
        beats_to_change: 4,
        tempo_qpm: 96,
        dotted_qpm: None,
        armed: None,
        note: String::new(),
        states: Vec::new(),
    }
}

fn practice(change: impl FnOnce(&mut PracticePage)) -> Page {
    let mut page = base();
    change(&mut page);
    Page::Practice(Box::new(page))
}

fn practice_pages() -> Vec<(&'static str, Page)> {
    vec![
        (
            "one",
            practice(|page| {
                page.now = set(&["D"]);
                page.chord_now = "Dm7♭5".into();
                page.next = set(&["G"]);
                page.chord_next = "G7♭9".into();
                page.stage = "roots".into();
            }),
        ),
        ("now", practice(|_| {})),
        (
            "next",
            practice(|page| {
                page.large = Large::Next;
                page.next = set(&["C", "D♭", "E"]);
                page.beats_to_change = 2;
            }),
        ),
        ("both", practice(|page| page.large = Large::Both)),
        (
            "many",
            practice(|page| {
                page.now = SetOnPage {
                    words: texts(&["C", "D♭", "E", "G"]),
                    root: Some(0),
                    ..SetOnPage::default()
                };
                page.chord_now = "C7♭9".into();
                page.next = set(&["F", "G", "A♭", "C"]);
                page.chord_next = "Fm6".into();
                page.stage = "four notes".into();
            }),
        ),
        (
            "marks",
            practice(|page| {
                page.now = SetOnPage {
                    words: texts(&["B♭", "D"]),
                    marks: texts(&["", "below"]),
                    ..SetOnPage::default()
                };
                page.chord_now = "B♭maj7".into();
                page.phase = Phase::Sing;
                page.task = texts(&["sing"]);
            }),
        ),
        (
            "places",
            practice(|page| {
                page.now = set(&["E♭"]);
                page.chord_now = "E♭maj7".into();
                page.next = set(&["rest"]);
                page.stage = "roots elsewhere".into();
                page.places = "on 2&".into();
                page.task = texts(&["play", "on 2&", "same string"]);
                page.then = texts(&["break"]);
            }),
        ),
        (
            "rest",
            practice(|page| {
                page.large = Large::Next;
                page.now = set(&["E♭"]);
                page.next = set(&["rest"]);
                page.stage = "roots with space".into();
                page.places = "push (4&)".into();
                page.task = texts(&["play", "push (4&)"]);
            }),
        ),
        (
            "neck-one",
            practice(|page| {
                page.now = on_neck(&["E♭"], &["5:6r"]);
                page.next = on_neck(&["A♭"], &["6:4r"]);
                page.chord_now = "E♭maj7".into();
                page.stage = "roots".into();
            }),
        ),
        (
            "neck-two",
            practice(|page| {
                page.now = on_neck(&["G", "B♭"], &["6:3r", "5:1"]);
                page.next = on_neck(&["C", "E"], &["5:3r", "4:2"]);
            }),
        ),
        (
            "neck-high",
            practice(|page| {
                page.large = Large::Next;
                page.next = on_neck(&["C", "E"], &["3:5r", "2:5"]);
                if let Some(neck) = &mut page.next.neck {
                    (neck.capo, neck.dots[0].fret, neck.dots[1].fret) = (2, 10, 10);
                }
            }),
        ),
        (
            "neck-three",
            practice(|page| {
                page.large = Large::Next;
                page.next = on_neck(&["C", "D♭", "E"], &["5:15r", "4:11", "4:14"]);
            }),
        ),
        (
            "neck-open",
            practice(|page| {
                page.now = on_neck(&["E", "F♯", "G♯"], &["6:0r", "6:2", "6:4"]);
                page.chord_now = "E7".into();
            }),
        ),
        (
            "neck-left",
            practice(|page| {
                page.now = left_handed(on_neck(&["G", "B♭"], &["6:3r", "5:1"]));
                page.next = on_neck(&["C", "E"], &["5:3r", "4:2"]);
            }),
        ),
        (
            "degrees",
            practice(|page| {
                page.large = Large::Next;
                page.now = set(&["root", "third"]);
                page.next = set(&["root", "third"]);
            }),
        ),
        (
            "symbol",
            practice(|page| {
                page.now = SetOnPage::default();
                page.next = SetOnPage::default();
                page.chord_now = "E♭Δ7".into();
                page.phase = Phase::Listen;
                page.task = texts(&["listen"]);
            }),
        ),
        (
            "group",
            practice(|page| {
                page.now = group(&["Gm7 G", "C7 C", "Fm7 F", "B♭7 B♭"], Some(1));
                page.next = group(&["E♭Δ7 E♭", "A♭7 A♭", "Dø D", "G7 G"], None);
            }),
        ),
        (
            "group-next",
            practice(|page| {
                page.large = Large::Next;
                page.now = group(&["Gm7 G B♭", "C7 C E"], Some(1));
                page.next = group(&["Fm7 F A♭", "B♭7 B♭ D"], Some(0));
                page.beats_to_change = 2;
            }),
        ),
        (
            "armed",
            practice(|page| {
                page.armed = Some(ArmedLine {
                    what: "next stage".into(),
                    when: "at section end".into(),
                });
            }),
        ),
        (
            "armed-wide",
            practice(|page| {
                page.large = Large::Next;
                page.now = set(&["E♭", "G"]);
                page.chord_next = "A♭maj7".into();
                page.chord_now = "E♭maj7".into();
                page.next = set(&["A♭", "C"]);
                page.armed = Some(ArmedLine {
                    what: "listen chorus".into(),
                    when: "in 3 bars".into(),
                });
            }),
        ),
        (
            "group-three",
            practice(|page| {
                page.now = group(
                    &["Am7 A C E", "F♯ø F♯ A C", "E♭7 E♭ G B♭", "G7 G B D"],
                    Some(1),
                );
                page.next = group(
                    &["Cm7 C D E♭", "F7 F G A", "B♭7 B♭ C D", "E♭Δ7 E♭ F G"],
                    None,
                );
            }),
        ),
        (
            "group-degrees",
            practice(|page| {
                page.large = Large::Next;
                page.now = group(&["Gm7 root third second", "C7 second third root"], Some(1));
                page.next = group(&["Fm7 root second third", "B♭7 third root second"], Some(0));
            }),
        ),
        (
            "marks-both",
            practice(|page| {
                page.large = Large::Both;
                for (set, words) in [(&mut page.now, ["A♭", "C"]), (&mut page.next, ["D♭", "F"])]
                {
                    set.words = texts(&words);
                    set.marks = texts(&["", "above"]);
                }
            }),
        ),
        (
            "five-degrees",
            practice(|page| {
                let words = texts(&["root", "♭second", "third", "fifth", "seventh"]);
                page.now.words = words.clone();
                page.next.words = words;
                page.chord_next = "E♭maj7♯11".into();
            }),
        ),
        (
            "hint",
            practice(|page| {
                page.note = "half-diminished: the second is a semitone".into();
                page.stage = "root, second, third in every order".into();
                page.call = "every order".into();
                (page.tempo_qpm, page.dotted_qpm) = (90, Some(60));
            }),
        ),
        (
            "counting",
            practice(|page| {
                page.large = Large::Next;
                (page.bar, page.count) = (0, Some(4));
                page.now = SetOnPage::default();
                page.chord_now = String::new();
            }),
        ),
        (
            "nothing",
            practice(|page| {
                page.now = group(&["", "", "", ""], Some(2));
                page.next = group(&["", ""], None);
            }),
        ),
        (
            "states",
            practice(|page| {
                page.large = Large::Next;
                page.states = texts(&["no sound"]);
            }),
        ),
    ]
}

/// Every page of the tests, with its name.
pub fn all() -> Vec<(&'static str, Page)> {
    let mut pages = vec![
        (
            "ready",
            Page::Ready {
                title: "Lantern Yard".into(),
                stage: "roots, long".into(),
                section: "A".into(),
                tempo_qpm: 96,
                dotted_qpm: None,
                notes: Vec::new(),
            },
        ),
        (
            "count-in",
            Page::CountIn {
                count: 2,
                of: 4,
                counts: texts(&["1", "-", "2", "-", "1", "2", "3", "4"]),
                at: 5,
                task: texts(&["listen"]),
                first: set(&["G", "B♭"]),
                chord: "Gm7".into(),
                section: "A".into(),
                stage: "thirds".into(),
            },
        ),
    ];
    pages.extend(practice_pages());
    pages.extend([
        (
            "breathe",
            Page::Breathe(BreathePage {
                lines: texts(&["thirds are settled", "D♭ over C7 is not yet"]),
                bars_left: 2,
                then: vec!["listen: root, second, third up".into()],
            }),
        ),
        (
            "paused",
            Page::Paused {
                section: "bridge".into(),
                stage: "root, second, third up".into(),
                bar: 5,
                tempo_qpm: 96,
                dotted_qpm: None,
            },
        ),
        (
            "menu",
            Page::Menu {
                items: texts(&[
                    "section",
                    "previous stage",
                    "say again",
                    "next chart",
                    "back",
                ]),
                chosen: 1,
                told: String::new(),
                below: None,
            },
        ),
        (
            "menu-playing",
            Page::Menu {
                items: texts(&[
                    "more",
                    "say again",
                    "loop here",
                    "tempo",
                    "last time",
                    "back",
                ]),
                chosen: 1,
                told: String::new(),
                below: Some(Box::new(base())),
            },
        ),
        (
            "menu-done",
            Page::Menu {
                items: texts(&["tempo down", "tempo up", "back"]),
                chosen: 1,
                told: "tempo up 100".into(),
                below: Some(Box::new(base())),
            },
        ),
        (
            "menu-at-rest",
            Page::Menu {
                items: texts(&[
                    "more",
                    "next stage",
                    "next section",
                    "tempo",
                    "tuner",
                    "back",
                ]),
                chosen: 2,
                told: "A thirds ♩=96".into(),
                below: None,
            },
        ),
        (
            "message",
            Page::Message {
                title: "2 faults".into(),
                lines: texts(&[
                    "lantern.toml:14:9 \"Gm7b\" is no chord symbol (nearest: Gm7b5)",
                    "ladder.toml:31:1 \"placs\" is no key of a stage (nearest: places)",
                    "foot.toml:3:10 /dev/ttyACM0 is not there: plugged in?",
                ]),
            },
        ),
        (
            "tuning",
            Page::Tuning(underfoot::display::TuningPage {
                note: "B♭".into(),
                string: Some(5),
                cents: Some(-12),
            }),
        ),
        (
            "clock-lost",
            Page::ClockLost {
                source: "band".into(),
                doing: "keeping the last tempo".into(),
                below: Box::new(base()),
            },
        ),
    ]);
    pages
}

/// The page of that name.
pub fn named(name: &str) -> Page {
    all()
        .into_iter()
        .find(|(known, _)| *known == name)
        .map(|(_, page)| page)
        .unwrap_or_else(|| panic!("no page {name}"))
}
