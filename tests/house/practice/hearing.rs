//! What the core makes of what is heard: verdicts where something is asked for, the summary in the breath, chords out of
//! time that go on by themselves, and no word where nothing is heard.

use crate::support::practice::heard::{QUARTER, first_bar, listen, summary};
use crate::support::practice::*;
use underfoot::daemon::hearing::{Listener, Past};
use underfoot::display::Page;
use underfoot::foot::Action;
use underfoot::judging::{EarEvent, NoteName, Timing};
use underfoot::listen::{Instrument, Setup};
use underfoot::practice::{EventKind, MusicChange, Recorded};
use underfoot::time::{Frame, Tick};

/// Four chords of a second each, a root on the first beat of each: a pass to listen, one to play, a breath.
const ROOTS: &str = "title = 'Roots'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\nplaces = ['1']\n\
    cycle = { listen = 1, sing = 0, play = 1, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";
const SUNG: &str = "title = 'Sung'\n[[stage]]\nname = 'sung'\ndegrees = ['1']\nplaces = ['1']\n\
    cycle = { listen = 0, sing = 1, play = 1, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";
const FREE: &str = "title = 'Free'\n[[stage]]\nname = 'free'\ndegrees = ['1', '3', '5']\nfigure = []\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";
const FOUND: &str = "title = 'Found'\n[[stage]]\nname = 'find'\ndegrees = ['1', '3']\nfigure = ['1', '3']\npulse = false\n\
    passes = 1\nadvance = 'right'\nhelp = { drums = 'off', voice = 'off' }\n\
    [[stage]]\nname = 'play'\ndegrees = ['1']\ncycle = { listen = 0, play = 1 }\n";

fn room(drill: &str) -> Room {
    Room::new(library(&[CHART], drill), settings(2))
}

/// The verdicts so far: pass, quarter, note wanted, note heard, result, time.
fn verdicts(room: &Room) -> Vec<String> {
    let told = |record: &underfoot::practice::Record| match &record.what {
        Recorded::Verdict(verdict, ..) => {
            let word = |name: Option<NoteName>| {
                name.map_or("-".to_string(), |name| name.pitch.to_string())
            };
            let time = verdict.timing.map_or("-", Timing::name);
            Some(format!(
                "{} {} {} {} {} {time}",
                record.pass,
                record.tick.map_or(0.0, Tick::quarters),
                word(verdict.want),
                word(verdict.got),
                verdict.outcome.name(),
            ))
        }
        _ => None,
    };
    room.records.iter().filter_map(told).collect()
}

#[test]
fn verdicts_are_given_where_something_was_asked_for() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::Start));
    // Four bars to listen (noodling there is nobody's business), four to play: C, D, E, F; the E is a D sharp, the F
    // comes 60 ms late, and the C of the pass was brought forward.
    let notes = [
        (2.0, 61),
        (7.0, 61),
        (15.6, 48),
        (20.05, 50),
        (24.0, 51),
        (28.24, 53),
    ];
    listen(&mut room, 34.5, &notes);
    assert_eq!(
        verdicts(&room),
        [
            "2 16 C C right pushed",
            "2 20 D D right in time",
            "2 24 E D# wrong in time",
            "2 28 F F right late",
        ]
    );
    assert_eq!(summary(&room), ["roots", "listen again to the root of Em7"]);
    // The round that comes says nothing of this one.
    listen(&mut room, 74.5, &[]);
    assert_eq!(verdicts(&room).len(), 4);
    assert_eq!(summary(&room), ["roots", "section A"]);
}

#[test]
fn who_is_not_heard_is_not_bothered() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::Start));
    listen(&mut room, 70.0, &[]);
    let told = |what: &Recorded| matches!(what, Recorded::Verdict(..) | Recorded::Judged { .. });
    assert!(!room.records.iter().any(|record| told(&record.what)));
    let ear = |page: &Page| matches!(page, Page::Message { .. });
    assert!(!room.pages.iter().any(|(_, page)| ear(page)));
}

#[test]
fn what_was_played_before_a_jump_or_a_stop_is_judged() {
    for (action, moment) in [(Action::Stop, 26.0), (Action::TopOfSectionNow, 26.0)] {
        let mut room = room(ROOTS);
        room.handle(EventKind::Act(Action::Start));
        listen(&mut room, moment, &[(16.0, 48), (20.0, 52), (24.0, 52)]);
        assert_eq!(verdicts(&room), [""; 0], "{action:?}");
        room.handle(EventKind::Act(action));
        for _ in 0..400 {
            room.step();
            let frame = Frame(room.at);
            room.handle(EventKind::Heard(EarEvent::Upto { frame }));
        }
        let told = [
            "2 16 C C right in time",
            "2 20 D E wrong in time",
            "2 24 E E right in time",
        ];
        assert_eq!(verdicts(&room), told, "{action:?}");
    }
}

#[test]
fn a_lost_server_judges_what_it_has() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::Start));
    listen(&mut room, 26.0, &[(16.0, 48), (20.0, 50)]);
    room.handle(EventKind::AudioLost { why: "gone".into() });
    let told = [
        "2 16 C C right in time",
        "2 20 D D right in time",
        "2 24 E - missed -",
    ];
    assert_eq!(verdicts(&room), told);
}

#[test]
fn a_voice_is_listened_for_where_it_is_asked_for() {
    let mut room = room(SUNG);
    room.handle(EventKind::Act(Action::Start));
    listen(&mut room, 2.0, &[]);
    assert!(room.core.listens_to_voice());
    // Sung an octave higher: a voice may.
    listen(
        &mut room,
        20.0,
        &[(0.1, 60), (4.1, 62), (8.1, 64), (12.1, 65), (16.0, 48)],
    );
    assert!(!room.core.listens_to_voice());
    let told = verdicts(&room);
    let right = |line: &String| line.starts_with("1 ") && line.ends_with("right in time");
    assert_eq!(
        told.iter().filter(|line| right(line)).count(),
        4,
        "{told:?}"
    );
}

/// A note of so many frames, heard at once.
fn strike(room: &mut Room, midi: u8, frames: u64) {
    let onset = Frame(room.at);
    let (cents, confidence) = (0.0, 0.9);
    room.handle(EventKind::Heard(EarEvent::Began {
        onset,
        midi,
        cents,
        confidence,
        also: None,
        struck: true,
    }));
    let until = room.at + frames;
    while room.at < until {
        room.step();
        let frame = Frame(room.at);
        room.handle(EventKind::Heard(EarEvent::Upto { frame }));
    }
    let off = Frame(room.at);
    room.handle(EventKind::Heard(EarEvent::Ended { off }));
    room.seconds(0.2);
}

#[test]
fn a_chord_out_of_time_stays_until_it_was_right() {
    let mut room = room(FOUND);
    room.handle(EventKind::Act(Action::Start));
    room.seconds(1.0);
    let chord = |room: &Room| match room.page() {
        Page::Practice(page) => page.chord_now.clone(),
        other => panic!("{other:?}"),
    };
    let held = u64::from(RATE) / 4;
    assert_eq!(chord(&room), "Cmaj7");
    // A wrong note, a slip of 60 ms, then the root: still one to find.
    strike(&mut room, 50, held);
    strike(&mut room, 52, u64::from(RATE) * 60 / 1000);
    strike(&mut room, 60, held);
    room.seconds(3.0);
    assert_eq!(chord(&room), "Cmaj7");
    strike(&mut room, 52, held);
    assert_eq!(chord(&room), "Cmaj7");
    room.seconds(2.0);
    assert_eq!(chord(&room), "Dm7");
    let told = verdicts(&room);
    let outcome = |line: &String| line.split(' ').skip(2).collect::<Vec<_>>().join(" ");
    let told: Vec<String> = told.iter().map(outcome).collect();
    assert_eq!(told, ["C D wrong -", "C C right -", "E E right -"]);
}

/// A root to be found in three places.
const PLACES: &str = "title = 'Places'\n[[stage]]\nname = 'find'\ndegrees = ['1']\npulse = false\npasses = 3\n\
    advance = 'right'\nhelp = { drums = 'off', voice = 'off' }\n";

#[test]
fn the_same_note_struck_again_is_no_other_place() {
    let mut room = room(PLACES);
    room.handle(EventKind::Act(Action::Start));
    room.seconds(1.0);
    let chords = |room: &Room| {
        let change = |what: &Recorded| matches!(what, Recorded::Change(MusicChange::Chord(..)));
        room.records.iter().filter(|r| change(&r.what)).count()
    };
    for (midi, on_chord) in [(48, 1), (48, 1), (48, 1), (60, 1), (48, 2)] {
        strike(&mut room, midi, u64::from(RATE) / 4);
        room.seconds(1.5);
        assert_eq!(chords(&room), on_chord, "{midi}");
    }
}

/// Trading with the band: two bars of the player's own choice, two for the band.
const TRADED: &str = "title = 'Traded'\n[[stage]]\nname = 'traded'\ndegrees = ['1', '3', '5']\nfigure = []\n\
    play_bars = 2\nrest_bars = 2\ncycle = { listen = 0, sing = 0, play = 1, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";

#[test]
fn what_is_played_in_the_bars_of_the_other_is_not_counted() {
    let mut room = room(TRADED);
    room.handle(EventKind::Act(Action::Start));
    listen(
        &mut room,
        18.5,
        &[(0.0, 48), (4.0, 50), (8.0, 52), (12.0, 53)],
    );
    let choice = room.records.iter().find_map(|record| match &record.what {
        Recorded::Choice(choice) => Some(choice.notes),
        _ => None,
    });
    assert_eq!(choice, Some(2));
}

#[test]
fn a_free_round_is_counted() {
    let mut room = room(FREE);
    room.handle(EventKind::Act(Action::Start));
    listen(
        &mut room,
        18.5,
        &[(0.0, 48), (1.5, 52), (4.0, 50), (6.0, 65)],
    );
    assert_eq!(
        summary(&room),
        [
            "free",
            "three degrees, two octaves",
            "2 starting notes, mostly on the beat",
            "1 hand position"
        ]
    );
    let choice = room.records.iter().find_map(|record| match &record.what {
        Recorded::Choice(choice) => Some(choice.clone()),
        _ => None,
    });
    let choice = choice.expect("a count");
    assert_eq!((choice.notes, choice.off_beats, choice.beats), (4, 1, 3));
}

#[test]
fn the_last_pass_is_played_back_with_the_next() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::PlayBack));
    assert_eq!(room.replays, []);
    room.handle(EventKind::Act(Action::Start));
    listen(&mut room, 33.0, &[(16.0, 48)]);
    room.handle(EventKind::Act(Action::PlayBack));
    let base = first_bar(&room);
    let [replay] = room.replays[..] else {
        panic!("{:?}", room.replays);
    };
    // Quarters 16 to 32 were played; after a breath of two bars the next pass begins on quarter 40.
    let at = [replay.from, replay.to, replay.at].map(|frame| (frame.0 - base) / QUARTER);
    assert_eq!(at, [16, 32, 40]);
}

#[test]
fn a_take_is_kept_when_asked() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::KeepTake));
    assert_eq!(room.keeps, []);
    room.handle(EventKind::Act(Action::Start));
    listen(&mut room, 10.0, &[]);
    room.handle(EventKind::Act(Action::KeepTake));
    listen(&mut room, 12.0, &[]);
    room.handle(EventKind::Act(Action::Stop));
    room.seconds(2.0);
    room.handle(EventKind::Act(Action::KeepTake));
    // From the first count (two bars before the first full one) to now, and when it is over, to its end.
    let base = first_bar(&room) as f64;
    let quarter = |frame: Frame| (frame.0 as f64 - base) / QUARTER as f64;
    let kept = room.keeps.iter();
    let kept: Vec<(i64, i64)> = kept
        .map(|(from, to)| (quarter(*from).round() as i64, quarter(*to).round() as i64))
        .collect();
    assert_eq!(kept, [(-8, 10), (-8, 12)]);
}

#[test]
fn a_page_for_tuning_stands_where_nothing_plays() {
    let mut room = room(ROOTS);
    room.handle(EventKind::Act(Action::Tune));
    assert!(room.core.is_tuning());
    for hz in [Some(108.1), Some(108.1), Some(108.1), None] {
        room.handle(EventKind::Heard(EarEvent::Reading { hz }));
    }
    let Page::Tuning(page) = room.page() else {
        panic!("{:?}", room.page());
    };
    assert_eq!(
        (page.note.as_str(), page.words().as_str()),
        ("A", "string 5, 30 cents low")
    );
    // A press leads back, and does no more.
    room.play("+0.1 edge 1 down; +0.1 edge 1 up; +0.5");
    assert!(!room.core.is_tuning() && matches!(room.page(), Page::Ready { .. }));
    assert_eq!(room.takes(), 0);
}

#[test]
fn what_was_heard_comes_back_late_by_the_way_round_and_no_more_than_is_kept() {
    // Each sample says its frame (its 10,000th part); 100 frames a second, so that 9,000 are kept.
    let mut past = Past::new(100);
    let sound =
        |from: u64, to: u64| -> Vec<f32> { (from..to).map(|n| n as f32 / 10_000.0).collect() };
    past.push(Frame(1_000), &sound(1_000, 1_500));
    past.push(Frame(1_600), &sound(1_600, 2_000));
    let told = |past: &Past, from: u64, to: u64, late: i64| {
        let samples = past.between(Frame(from), Frame(to), late)?;
        // A fade of one frame leaves all as it was.
        let frames = |n: &f32| (n * 10_000.0).round() as u64;
        Some((
            samples.len(),
            frames(samples.first()?),
            frames(samples.last()?),
        ))
    };
    for (from, to, late, expected) in [
        (1_100, 1_200, 0, Some((100, 1_100, 1_199))),
        (1_100, 1_200, 50, Some((100, 1_150, 1_249))),
        (1_100, 1_200, -50, Some((100, 1_050, 1_149))),
        (900, 1_100, 0, Some((200, 0, 1_099))),
        (1_550, 1_700, 0, Some((150, 0, 1_699))),
        (1_900, 2_500, 0, Some((100, 1_900, 1_999))),
        (100, 900, 0, None),
        (2_000, 2_100, 0, None),
    ] {
        assert_eq!(
            told(&past, from, to, late),
            expected,
            "{from} to {to}, {late} late"
        );
    }
    past.push(Frame(2_000), &sound(2_000, 12_000));
    assert_eq!(told(&past, 2_500, 2_600, 0), None);
    assert_eq!(told(&past, 3_000, 3_100, 0), Some((100, 3_000, 3_099)));
    past.push(Frame(50), &sound(50, 150));
    assert_eq!(told(&past, 3_000, 3_100, 0), None);
    assert_eq!(told(&past, 60, 100, 0), Some((40, 60, 99)));
}

/// Two strokes of a string with six seconds between, in most of which the input gives nothing at all.
#[test]
fn a_dead_input_is_not_listened_to_and_a_live_one_is_again() {
    let rate = 48_000u64;
    let strokes = [24_000u64, 7 * rate];
    let sample = |at: u64| {
        let stroke = strokes.iter().rev().find(|from| **from <= at);
        let Some(from) = stroke.filter(|from| at - **from < rate) else {
            return 0.0;
        };
        let t = (at - from) as f32 / rate as f32;
        let partial = |h: f32| (std::f32::consts::TAU * 196.0 * h * t).sin() / h;
        0.2 * (-4.0 * t).exp() * (1..6).map(|h| partial(h as f32)).sum::<f32>()
    };
    let setup = Setup {
        rate: rate as u32,
        instrument: Instrument::Guitar,
        a4_hz: 440.0,
        lowest_hz: 82.4,
    };
    let mut listener = Listener::new(setup, 100);
    let mut told = Vec::new();
    for block in 0..8 * rate / 64 {
        let sound: Vec<f32> = (0..64).map(|n| sample(block * 64 + n)).collect();
        listener.push(Frame(1_000_000 + block * 64), &sound, &[0.0; 64], &mut told);
    }
    let onset = |sounded: &EarEvent| match sounded {
        EarEvent::Began {
            onset, midi: 55, ..
        } => Some(onset.0),
        _ => None,
    };
    let onsets: Vec<u64> = told.iter().filter_map(onset).collect();
    let wanted = strokes.map(|from| 1_000_000 + from - 100);
    let near = onsets
        .iter()
        .zip(wanted)
        .all(|(one, other)| one.abs_diff(other) < 240);
    assert!(onsets.len() == 2 && near, "{onsets:?} for {wanted:?}");
    // How far it has listened is told all the same.
    let upto = told.iter().rev().find_map(|sounded| match sounded {
        EarEvent::Upto { frame } => Some(frame.0),
        _ => None,
    });
    assert!(upto.is_some_and(|upto| upto > 1_000_000 + 8 * rate - 2_000));
}
