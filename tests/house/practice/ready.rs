//! Stages that go on by themselves once they are secure: two choruses running that went well, by what is heard. Common
//! practice of teachers, no source.

use crate::support::practice::heard::{listen, summary};
use crate::support::practice::*;
use underfoot::foot::Action;
use underfoot::harmony::Degree;
use underfoot::judging::{Around, Chorus, Sure, Sureness, Verdict};
use underfoot::practice::{EventKind, Record, Recorded};

/// Roots on the first beat of four bars; the stages after the first stay.
fn drill(stage: &str) -> String {
    format!(
        "title = 'Secure'\n[[stage]]\nname = 'one'\ndegrees = ['1']\nhelp = {{ voice = 'off' }}\n{stage}\n\
         [[stage]]\nname = 'two'\ndegrees = ['1']\nhelp = {{ voice = 'off' }}\n\
         cycle = {{ listen = 0, play = 1, breathe_bars = 0 }}\n\
         [[stage]]\nname = 'three'\ndegrees = ['1']\n"
    )
}

const PLAYED: &str =
    "advance = 'ready'\npasses = 2\ncycle = { listen = 0, play = 1, breathe_bars = 0 }";
const BREATHING: &str =
    "advance = 'ready'\npasses = 2\ncycle = { listen = 0, play = 2, breathe_bars = 2 }";
const LONG: &str =
    "advance = 'ready'\npasses = 4\ncycle = { listen = 0, play = 1, breathe_bars = 0 }";
const BY_FOOT: &str =
    "advance = 'foot'\npasses = 2\ncycle = { listen = 0, play = 1, breathe_bars = 0 }";
const SUNG: &str =
    "advance = 'ready'\npasses = 2\ncycle = { listen = 0, sing = 1, play = 0, breathe_bars = 0 }";
const BOTH: &str =
    "advance = 'ready'\npasses = 2\ncycle = { listen = 0, sing = 1, play = 1, breathe_bars = 0 }";

/// Plays bar after bar, a letter each on its first beat (small: on its second, `.`: nothing), while the foot does its actions at the quarters
/// given.
fn played(stage: &str, letters: &str, foot: &[(f64, Action)]) -> Room {
    played_by(stage, letters, foot, None)
}

/// The same by a player who is known.
fn played_by(
    stage: &str,
    letters: &str,
    foot: &[(f64, Action)],
    known: Option<Box<dyn Sureness>>,
) -> Room {
    let mut room = Room::new(library(&[CHART], &drill(stage)), settings(2));
    room.handle(EventKind::Known(known));
    room.handle(EventKind::Act(Action::Start));
    let key = |letter: char| 48 + "C D EF G A B".find(letter).unwrap_or(0) as u8;
    let bars: Vec<char> = letters.chars().filter(|letter| *letter != ' ').collect();
    let notes = bars.iter().zip((0..).map(|bar| f64::from(bar) * 4.0));
    let notes: Vec<(f64, u8)> = notes
        .filter(|(letter, _)| **letter != '.')
        .map(|(letter, at)| {
            let late = if letter.is_lowercase() { 1.0 } else { 0.0 };
            (at + late, key(letter.to_ascii_uppercase()))
        })
        .collect();
    let end = (bars.len() as f64 * 4.0, None);
    let moments = foot.iter().map(|(at, action)| (*at, Some(*action)));
    let mut from = f64::MIN;
    for (until, action) in moments.chain([end]) {
        let here = notes.iter().filter(|(at, _)| (from..until).contains(at));
        listen(&mut room, until, &here.copied().collect::<Vec<_>>());
        if let Some(action) = action {
            room.handle(EventKind::Act(action));
        }
        from = until;
    }
    room
}

/// How the choruses went, `!` where the stage is secure with it, and the stages with the quarter they begin on.
fn told(room: &Room) -> String {
    let word = |record: &Record| match &record.what {
        Recorded::Judged { chorus, ready, .. } => {
            let chorus = chorus.map_or("-", Chorus::name);
            Some(format!("{chorus}{}", if *ready { "!" } else { "" }))
        }
        Recorded::Stage => {
            let quarter = record.tick.map_or(0.0, |tick| tick.quarters());
            Some(format!("({} {quarter})", record.stage))
        }
        _ => None,
    };
    let words = room.records.iter().filter_map(word);
    words.collect::<Vec<_>>().join(" ")
}

/// What, the stage, the bars played, the foot, what is told.
type Case = (
    &'static str,
    &'static str,
    &'static str,
    &'static [(f64, Action)],
    &'static str,
);

#[rustfmt::skip]
const CASES: &[Case] = &[
    ("two clean choruses: known in the third, at whose end it goes on",
        PLAYED,    "CDEF CDEF CDEF CDEF C", &[], "(one 0) clean clean! (two 48) clean clean"),
    ("where a breath lies between, after that",
        BREATHING, "CDEF CDEF .. CDEF C",   &[], "(one 0) clean clean! (two 40) clean"),
    ("not before it had its passes",
        LONG,      "CDEF CDEF CDEF CDEF CDEF C", &[], "(one 0) clean clean clean clean! (two 80) clean"),
    ("one bar that was wrong takes two choruses more",
        PLAYED,    "CDEF CDEC CDEF CDEF CDEF C", &[], "(one 0) clean fair clean clean! (two 80) clean"),
    ("it can be called off, and takes as many choruses again",
        PLAYED,    "CDEF CDEF CDEF CDEF CDEF C", &[(38.0, Action::StayHere)], "(one 0) clean clean! clean clean! (two 80) clean"),
    ("what the foot has armed comes first",
        PLAYED,    "CDEF CDEF CDEF GA GA G", &[(32.5, Action::NextSection)], "(one 0) clean clean! clean clean clean!"),
    ("what is secure here may not be so there",
        PLAYED,    "CDEF CDEF GA GA GA G",  &[(30.0, Action::NextSection)], "(one 0) clean clean! clean clean! (two 56) clean"),
    ("the foot's own step takes the place of what comes by itself",
        PLAYED,    "CDEF CDEF CDEF CDEF C", &[(38.0, Action::NextStage)], "(one 0) clean clean! (two 48) clean clean"),
    ("and so does whatever else it asks for",
        PLAYED,    "CDEF CDEF CDEF GA G",  &[(38.0, Action::NextSection)], "(one 0) clean clean! clean clean"),
    ("it waits for the breath where the breath comes a chorus later",
        BREATHING, "CDEC CDEF .. CDEF CDEF .. C.", &[], "(one 0) fair clean clean! clean (two 80)"),
    ("a bar back and what comes by itself comes a bar later",
        PLAYED,    "CDEF CDEF CDDEF CDE",  &[(38.0, Action::BarBack)], "(one 0) clean clean! - (two 52) -"),
    ("who asks to listen again is not moved on",
        PLAYED,    "CDEF CDEF CDEF CDEF CDEF C", &[(30.0, Action::ListenBack)], "(one 0) clean clean! clean clean! (two 80) clean"),
    ("nor who goes on in another key",
        PLAYED,    "CDEF CDEF FGAB FG", &[(30.0, Action::NextKey)], "(one 0) clean clean! fair"),
    ("another stage within the form makes two half choruses",
        PLAYED,    "CDEF CDEF GA ... CDEF", &[(5.0, Action::WholeForm), (22.0, Action::NextStage)], "(one 0) clean (two 32) - -"),
    ("right notes in the wrong place are rough",
        PLAYED,    "cdef cdef cdef C",      &[], "(one 0) rough rough rough"),
    ("a stray note at the end of a chorus says nothing about the next",
        PLAYED,    "CDEf .... .... C",      &[], "(one 0) fair"),
    ("who comes in late rested",
        PLAYED,    "...F ...F ...F C",      &[], "(one 0) - - -"),
    ("a stage that waits for the foot only tells",
        BY_FOOT,   "CDEF CDEF CDEF C",      &[], "(one 0) clean clean! clean"),
    ("a chorus cut short does not count",
        PLAYED,    "CDEF CD CDEF CDEF C",   &[(22.0, Action::SectionFromHere)], "(one 0) clean - clean! (two 56) clean"),
    ("nor one with a bar twice",
        PLAYED,    "CDEF CDDEF CDEF CDEF C", &[(22.0, Action::BarBack)], "(one 0) clean - - clean! (two 68) clean"),
    ("nor one with longer chords",
        PLAYED,    "CDEF CCDDEEFF CCDDEEFF C", &[(5.0, Action::ChordLength)], "(one 0) clean - -"),
    ("nor a hard spot",
        PLAYED,    "CDEF CDCDCDCDCDCD",     &[(18.0, Action::ThisSpot)], "(one 0) clean - - - - -"),
    ("sung choruses count where the stage is sung",
        SUNG,      "CDEF CDEF CDEF C",      &[], "(one 0) clean clean! (two 48) clean"),
    ("and not where it is played too",
        BOTH,      "CDEF CDEF CDEF CDEF CDEF C", &[], "(one 0) - clean - clean! (two 80) -"),
    ("who rests is not rough",
        PLAYED,    ".... .... .... C",      &[], "(one 0)"),
];

#[test]
fn a_stage_goes_on_once_it_is_secure() {
    let mut wrong = 0;
    for (what, stage, letters, foot, wanted) in CASES {
        let told = told(&played(stage, letters, foot));
        if told != *wanted {
            println!("{what}\n    told     {told}\n    expected {wanted}");
            wrong += 1;
        }
    }
    assert_eq!(wrong, 0);
}

#[test]
fn the_tempo_goes_by_ear_where_the_stage_wants_that() {
    let by_ear = format!(
        "{}\ntempo_by_ear = true",
        BREATHING.replace("ready", "foot")
    );
    for (letters, tempos) in [
        ("CDEF CDEF ..", &[240, 244][..]),
        ("CCEC GGGG ..", &[240, 232]),
        ("CDEF CCEC ..", &[240]),
        (".... .... ..", &[240]),
    ] {
        let mut room = played(&by_ear, letters, &[]);
        listen(&mut room, 44.0, &[]);
        let told: Vec<u32> = room.tempos().iter().map(|(_, qpm)| *qpm).collect();
        assert_eq!(told, tempos, "{letters}");
    }
}

#[test]
fn two_rough_choruses_and_something_easier_is_offered_in_the_breath() {
    let stands = |room: &Room| summary(room).iter().any(|line| line == "try it slower");
    #[rustfmt::skip]
    let cases = [
        ("CCEC GGGG", "(one 0) rough rough", true),
        ("CDEF GGGG", "(one 0) clean rough", false),
        ("CDEC CDDF", "(one 0) fair fair",   false),
    ];
    for (letters, wanted, offered) in cases {
        let mut room = played(BREATHING, letters, &[]);
        listen(&mut room, 34.5, &[]);
        assert_eq!(told(&room), wanted);
        assert_eq!(stands(&room), offered, "{letters}: {:?}", summary(&room));
    }
    // Whichever chorus of the round it falls on.
    let mut room = played(BREATHING, "CDEC GGGG .. GGGG GGGG", &[]);
    listen(&mut room, 74.5, &[]);
    assert_eq!(told(&room), "(one 0) fair rough rough rough");
    assert!(stands(&room), "{:?}", summary(&room));
    // What was offered is over with a better chorus.
    let mut room = played(BREATHING, "CDEF GGGG .. GGGG CDEF", &[]);
    listen(&mut room, 74.5, &[]);
    assert_eq!(told(&room), "(one 0) clean rough rough clean");
    assert!(!stands(&room), "{:?}", summary(&room));
}

/// A player of whom it is known how sure the root is over C and over other chords, and who learns nothing but how often was asked.
#[derive(Debug)]
struct Known {
    over_c: f64,
    otherwise: f64,
    asked: std::sync::Arc<std::sync::atomic::AtomicU32>,
}

impl Sureness for Known {
    fn learn(&mut self, verdict: &Verdict, _: &Around) {
        assert!(verdict.target.is_some());
        self.asked
            .fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    }

    fn of(&self, degree: Degree, around: &Around) -> Sure {
        assert_eq!(degree, Degree::new(1, 0));
        let chord = around.chord.as_ref().expect("a chord");
        let right = match chord.root.to_string().as_str() {
            "C" => self.over_c,
            _ => self.otherwise,
        };
        Sure {
            right,
            is_automatic: right > 0.94,
        }
    }
}

#[test]
fn who_is_known_goes_on_when_the_journal_says_so() {
    let bars = "CDEF CDEF CDEF CDEF C";
    #[rustfmt::skip]
    let cases = [
        // Likely right: as soon as it had its passes. Automatic: after one chorus. Too little of it likely: never.
        (PLAYED, (0.9, 0.9),   "(one 0) clean clean! (two 48) clean! clean"),
        (LONG,   (0.9, 0.9),   "(one 0) clean clean clean clean!"),
        (LONG,   (0.95, 0.95), "(one 0) clean! (two 32) clean! clean! clean!"),
        (LONG,   (0.95, 0.9),  "(one 0) clean clean clean clean!"),
        (PLAYED, (0.5, 0.95),  "(one 0) clean clean clean clean"),
    ];
    let mut wrong = Vec::new();
    for (stage, (over_c, otherwise), expected) in cases {
        let asked = std::sync::Arc::default();
        let known = Known {
            over_c,
            otherwise,
            asked: std::sync::Arc::clone(&asked),
        };
        let room = played_by(stage, bars, &[], Some(Box::new(known)));
        if told(&room) != expected {
            wrong.push(format!("{stage} {over_c} {otherwise}: {}", told(&room)));
        }
        assert_eq!(asked.load(std::sync::atomic::Ordering::Relaxed), 16);
    }
    assert_eq!(wrong, Vec::<String>::new());
}
