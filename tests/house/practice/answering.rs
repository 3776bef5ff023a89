//! Call and answer, the rhythm of open choice, what is offered after rough choruses, and where a hand must shift: played, judged
//! and told.

use crate::support::practice::heard::{listen, summary};
use crate::support::practice::*;
use underfoot::audio::Played;
use underfoot::display::Page;
use underfoot::foot::Action;
use underfoot::judging::{Outcome, Verdict};
use underfoot::practice::{EventKind, Recorded};
use underfoot::time::Part;

/// Four chords of a bar each, each two bars long: a bar for the call, a bar for the answer.
const CALLED: &str = "title = 'Called'\n[[stage]]\nname = 'echo'\ndegrees = ['1', '2', '3', '5']\nanswer_phrase = true\n\
    chords_last = 2\npasses = 2\nadvance = 'ready'\nhelp = { comping = 'off', bass = false, drums = 'ride' }\n\
    cycle = { listen = 0, play = 2, breathe_bars = 4 }\n[[stage]]\nname = 'after'\ndegrees = ['1']\n";

fn started(drill: &str) -> Room {
    let mut room = Room::new(library(&[CHART], drill), settings(2));
    room.handle(EventKind::Act(Action::Start));
    room
}

/// What the box played for the player to hear, as quarters and keys.
fn calls(room: &Room) -> Vec<(f64, u8)> {
    let struck = room.notes().into_iter().filter_map(|played| match played {
        Played::On {
            tick,
            part: Part::Model,
            key,
            ..
        } => Some((tick.quarters(), key)),
        _ => None,
    });
    struck.collect()
}

fn verdicts(room: &Room) -> Vec<Verdict> {
    let records = room.records.iter();
    let verdicts = records.filter_map(|record| match &record.what {
        Recorded::Verdict(verdict, _, _) => Some((**verdict).clone()),
        _ => None,
    });
    verdicts.collect()
}

fn count(room: &Room, outcome: Outcome) -> usize {
    let verdicts = verdicts(room).into_iter();
    verdicts
        .filter(|verdict| verdict.outcome == outcome)
        .count()
}

#[test]
fn a_phrase_is_called_in_the_first_bar_and_answered_in_the_second() {
    // What the box plays, when nobody answers.
    let mut room = started(CALLED);
    listen(&mut room, 66.0, &[]);
    let called = calls(&room);
    let of_bar = |bar: usize| {
        let within = (4 * bar) as f64 - 0.01..(4 * bar + 4) as f64 - 0.01;
        let notes = called.iter().filter(move |(at, _)| within.contains(at));
        notes.map(move |(at, key)| (at - (4 * bar) as f64, *key))
    };
    for bar in 0..16 {
        let notes = of_bar(bar).count();
        match bar % 2 {
            0 => assert!((2..=4).contains(&notes), "bar {bar}: {notes}"),
            _ => assert_eq!(notes, 0, "bar {bar}"),
        }
    }
    // Another one each time, and nothing of another chord than the set's: of C major 7 its first chord.
    let first: Vec<(f64, u8)> = of_bar(0).collect();
    let again: Vec<(f64, u8)> = of_bar(8).collect();
    assert_ne!(first, again);
    assert!(
        first
            .iter()
            .all(|(_, key)| [0, 2, 4, 7].contains(&(key % 12)))
    );
    assert_eq!(first[0].0, 0.0);
    // The same seed, the same phrases.
    let mut other = started(CALLED);
    listen(&mut other, 66.0, &[]);
    assert_eq!(calls(&other), called);
    // The page gives nothing away, and says what to do.
    let pages = room.pages.iter().filter_map(|(_, page)| match page {
        Page::Practice(page) => Some(page),
        _ => None,
    });
    let tasks: Vec<&str> = pages
        .filter_map(|page| Some(page.task.first()?.as_str()))
        .collect();
    assert!(tasks.contains(&"answer"), "{tasks:?}");
    assert!(
        room.said.iter().any(|(_, _, text)| text.contains("answer")),
        "{:?}",
        room.said
    );

    // An echo, a bar later, in another octave: all right, twice, so the stage is secure.
    let echo: Vec<(f64, u8)> = called
        .iter()
        .map(|(at, key)| (at + 4.0, key + 12))
        .collect();
    let mut room = started(CALLED);
    listen(&mut room, 70.0, &echo);
    assert_eq!(count(&room, Outcome::Right), echo.len());
    assert_eq!(verdicts(&room).len(), echo.len());
    assert_eq!(summary(&room), ["echo", "all notes right"]);
    let ready = |record: &underfoot::practice::Record| {
        matches!(record.what, Recorded::Judged { ready: true, .. })
    };
    assert_eq!(
        room.records.iter().filter(|record| ready(record)).count(),
        1
    );

    // Whoever always plays the root is told.
    let roots = [48u8, 50, 52, 53].map(|root| root + 12);
    let stays = |(at, _): &(f64, u8)| (at + 4.0, roots[(*at as usize / 8) % 4]);
    let stays: Vec<(f64, u8)> = called.iter().map(stays).collect();
    let mut room = started(CALLED);
    listen(&mut room, 70.0, &stays);
    assert!(count(&room, Outcome::Wrong) > echo.len() / 3);
    assert_ne!(summary(&room)[1], "all notes right");
}

/// Notes on one, after two and on four, whichever.
const RHYTHM: &str = "title = 'Rhythm'\n[[stage]]\nname = 'rhythm'\ndegrees = ['1', '3', '5']\nfigure = []\n\
    rhythm = ['1', '2&', '4']\npasses = 2\nadvance = 'ready'\nhelp = { voice = 'off' }\n\
    cycle = { listen = 0, play = 1, breathe_bars = 4 }\n[[stage]]\nname = 'after'\ndegrees = ['1']\n";

#[test]
fn a_rhythm_is_judged_whatever_notes_are_chosen() {
    let chords = [[48u8, 52, 55], [50, 53, 57], [52, 55, 59], [53, 57, 60]];
    let all: Vec<(f64, u8)> = (0..12)
        .map(|index| {
            let (bar, place) = (index / 3, index % 3);
            (
                4.0 * bar as f64 + [0.0, 1.5, 3.0][place],
                chords[bar][(index + bar) % 3],
            )
        })
        .collect();
    let without = |left: &dyn Fn(f64) -> bool| -> Vec<(f64, u8)> {
        all.iter().copied().filter(|(at, _)| !left(*at)).collect()
    };
    let with = |more: &[(f64, u8)]| {
        let mut notes = [all.clone(), more.to_vec()].concat();
        notes.sort_by(|a, b| a.0.total_cmp(&b.0));
        notes
    };
    let mut stranger = all.clone();
    stranger[4].1 = 54;
    // What is played; right, missed, wrong, other; the lines of the break.
    type Case<'a> = (Vec<(f64, u8)>, [usize; 4], &'a [&'a str]);
    let cases: [Case<'_>; 5] = [
        (all.clone(), [12, 0, 0, 0], &["the whole rhythm"]),
        (
            without(&|at| at % 4.0 == 1.5),
            [8, 4, 0, 0],
            &["left out: 2&"],
        ),
        // A note of the chord too many is one too many.
        (
            with(&[(2.25, 48), (10.25, 55)]),
            [12, 0, 0, 2],
            &["the whole rhythm", "2 extra"],
        ),
        (
            stranger,
            [11, 0, 1, 0],
            &["the whole rhythm", "1 outside the set"],
        ),
        (
            without(&|at| at == 3.0 || at == 7.0 || at == 8.0),
            [9, 3, 0, 0],
            &["left out: 4, 1"],
        ),
    ];
    for (notes, [right, missed, wrong, other], lines) in cases {
        let mut room = started(RHYTHM);
        listen(&mut room, 19.0, &notes);
        let counts = [
            Outcome::Right,
            Outcome::Missed,
            Outcome::Wrong,
            Outcome::Other,
        ];
        assert_eq!(
            counts.map(|one| count(&room, one)),
            [right, missed, wrong, other],
            "{lines:?}"
        );
        assert_eq!(summary(&room)[1..], *lines);
        assert!(verdicts(&room).iter().all(|verdict| verdict.want.is_none()));
        // What was chosen is told beside it.
        let chosen = room.records.iter().find_map(|record| match &record.what {
            Recorded::Choice(choice) => Some(choice.notes),
            _ => None,
        });
        assert_eq!(chosen, Some(notes.len()));
    }
    // Where its notes fall stands on the page and is called; two clean choruses are secure.
    let mut room = started(RHYTHM);
    let twice: Vec<(f64, u8)> = all
        .iter()
        .copied()
        .chain(all.iter().map(|(at, key)| (at + 32.0, *key)))
        .collect();
    listen(&mut room, 72.0, &twice);
    assert!(room.pages.iter().any(|(_, page)| match page {
        Page::Practice(page) => page.task.join(" ") == "play on 1, 2&, 4",
        _ => false,
    }));
    assert!(
        room.said
            .iter()
            .any(|(_, _, text)| text.contains("on one, two and, four")),
        "{:?}",
        room.said
    );
    assert_eq!(
        room.records.last().map(|record| record.stage.as_str()),
        Some("after")
    );
}

/// Three stages of which the last names the first as the easier one.
const NAMED: &str = "title = 'Named'\n[[stage]]\nname = 'roots on one'\ncall = 'roots'\ndegrees = ['1']\nhelp = { voice = 'off' }\n\
    [[stage]]\nname = 'between'\ndegrees = ['1']\nhelp = { voice = 'off' }\n\
    [[stage]]\nname = 'hard'\neasier = 'roots on one'\ndegrees = ['1']\npasses = 2\nadvance = 'ready'\nhelp = { voice = 'off' }\n\
    cycle = { listen = 0, play = 2, breathe_bars = 2 }\n";

#[test]
fn after_rough_choruses_the_easier_stage_is_named_and_going_back_leads_there() {
    // Notes of four bars twice; whether it is offered; where "previous stage" leads.
    let (rough, clean) = ([48u8, 49, 49, 49], [48u8, 50, 52, 53]);
    for (keys, offered, leads) in [(rough, true, "roots on one"), (clean, false, "between")] {
        let mut room = Room::new(library(&[CHART], NAMED), settings(2));
        room.core.stand(2, false);
        room.handle(EventKind::Act(Action::Start));
        let notes: Vec<(f64, u8)> = (0..8)
            .map(|bar| (4.0 * f64::from(bar), keys[bar as usize % 4]))
            .collect();
        listen(&mut room, 34.5, &notes);
        let lines = summary(&room);
        assert_eq!(
            lines.contains(&"try it slower, or roots".to_string()),
            offered,
            "{lines:?}"
        );
        room.handle(EventKind::Act(Action::PreviousStage));
        listen(&mut room, 60.0, &[]);
        assert_eq!(
            room.records.last().map(|record| record.stage.as_str()),
            Some(leads)
        );
    }
}

/// A stage that waits for the foot and names the third as the harder one.
const WAITS: &str = "title = 'Waits'\n[[stage]]\nname = 'easy'\nharder = 'far on'\ndegrees = ['1']\npasses = 2\nhelp = { voice = 'off' }\n\
    cycle = { listen = 0, play = 2, breathe_bars = 2 }\n\
    [[stage]]\nname = 'between'\ndegrees = ['1']\nhelp = { voice = 'off' }\n\
    [[stage]]\nname = 'far on'\ndegrees = ['1']\nhelp = { voice = 'off' }\n";

#[test]
fn after_clean_choruses_the_harder_stage_is_named_where_the_foot_decides() {
    for (keys, offered, leads) in [
        ([48u8, 50, 52, 53], true, "far on"),
        ([48u8, 50, 52, 54], false, "between"),
    ] {
        let mut room = started(WAITS);
        let notes: Vec<(f64, u8)> = (0..8)
            .map(|bar| (4.0 * f64::from(bar), keys[bar as usize % 4]))
            .collect();
        listen(&mut room, 34.5, &notes);
        let lines = summary(&room);
        assert_eq!(
            lines.contains(&"ready for far on".to_string()),
            offered,
            "{lines:?}"
        );
        room.handle(EventKind::Act(Action::NextStage));
        listen(&mut room, 60.0, &[]);
        assert_eq!(
            room.records.last().map(|record| record.stage.as_str()),
            Some(leads)
        );
    }
}

#[test]
fn the_page_says_where_the_hand_must_shift() {
    let drill = |stage: &str| {
        format!(
            "title = 'S'\n[[stage]]\nname = 's'\nhelp = {{ voice = 'off' }}\ncycle = {{ listen = 0, play = 1, breathe_bars = 0 }}\n{stage}"
        )
    };
    // Root and octave on one string are twelve frets apart; root and third are under one hand.
    for (stage, shifts) in [
        (
            "degrees = ['1']\nfigure = ['1', '1 above']\nplaces = ['1', '3']\nstring = [5]\n",
            true,
        ),
        (
            "degrees = ['1', '3']\nfigure = ['1', '3 above']\nplaces = ['1', '3']\n",
            false,
        ),
    ] {
        let mut room = started(&drill(stage));
        listen(&mut room, 8.0, &[]);
        let told = room.pages.iter().any(|(_, page)| match page {
            Page::Practice(page) => page.task.iter().any(|part| part.starts_with("shift to ")),
            _ => false,
        });
        assert_eq!(told, shifts, "{stage}");
    }
}
