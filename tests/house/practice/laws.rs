//! What holds whatever the foot does: random presses over the demo charts and drills, through the core and a real
//! player in virtual time. The laws are those of any accompanist who keeps time, no source.
// Asks how many cases to try.

use crate::support::demo::{CHARTS, DRILLS, read};
use crate::support::practice::*;
use proptest::prelude::*;
use std::sync::OnceLock;
use underfoot::audio::Played;
use underfoot::practice::{Library, Recorded};
use underfoot::time::{Part, Tick};

fn demo_library(chart: usize, drill: usize) -> Library {
    static ALL: OnceLock<(Vec<String>, Vec<String>)> = OnceLock::new();
    let (charts, drills) = ALL.get_or_init(|| {
        (
            CHARTS.map(|name| read("charts", name)).to_vec(),
            DRILLS.map(|name| read("drills", name)).to_vec(),
        )
    });
    let charts: Vec<&str> = (0..CHARTS.len())
        .map(|index| charts[(chart + index) % CHARTS.len()].as_str())
        .collect();
    library(&charts, &drills[drill])
}

/// A room at a quick tempo, so that much happens in little time.
fn room(chart: usize, drill: usize) -> Room {
    let mut settings = settings(2);
    settings.tempo_per_cent = 200.0;
    Room::new(demo_library(chart, drill), settings)
}

/// Roots that are soon secure, again and again.
const SECURE: &str = "title = 'Secure'\n\
    [[stage]]\nname = 'one'\ndegrees = ['1']\npasses = 1\nadvance = 'ready'\nhelp = { comping = 'full', bass = true, drums = 'ride' }\n\
    cycle = { listen = 0, play = 1, breathe_bars = 0 }\n\
    [[stage]]\nname = 'two'\ndegrees = ['1']\npasses = 1\nadvance = 'ready'\n\
    cycle = { listen = 0, play = 2, breathe_bars = 2 }\n\
    [[stage]]\nname = 'three'\ndegrees = ['1']\npasses = 1\nadvance = 'ready'\nkeys = 'fourths'\n\
    cycle = { listen = 0, play = 1, breathe_bars = 0 }\n\
    [[stage]]\nname = 'four'\ndegrees = ['1']\n\
    cycle = { listen = 0, play = 1, breathe_bars = 0 }\n";

/// What waits for the section's end, and what leaves the bars in their order.
const MOVES: [&str; 18] = [
    "next stage",
    "previous stage",
    "next section",
    "previous section",
    "stay here",
    "whole form",
    "next key",
    "chord length",
    "next chart",
    "listen chorus",
    "last time",
    "tempo up",
    "tempo down",
    "mute bass",
    "mute comping",
    "reference notes",
    "louder",
    "say again",
];
const JUMPS: [&str; 9] = [
    "loop here",
    "top of section now",
    "section from here",
    "back a bar",
    "forward a bar",
    "stop",
    "start",
    "panic",
    "tap tempo",
];

/// The names of a drill's stages that hold a chord.
fn stages_out_of_time(drill: usize) -> Vec<String> {
    let library = demo_library(0, drill);
    let waiting = library.drill.stages.iter().filter(|stage| !stage.pulse);
    waiting.map(|stage| stage.name.clone()).collect()
}

/// Seconds and words: presses at any moment.
fn foot(words: Vec<&'static str>) -> impl Strategy<Value = String> {
    prop::collection::vec((0.0f64..2.5, prop::sample::select(words)), 1..9).prop_map(|presses| {
        let lines = presses
            .iter()
            .map(|(after, action)| format!("+{after:.3} {action}"));
        lines.collect::<Vec<_>>().join("; ") + "; +3"
    })
}

fn everything() -> Vec<&'static str> {
    MOVES.iter().chain(&JUMPS).copied().collect()
}

/// What of a record places a bar: section, bar, stage.
fn told(room: &Room) -> Vec<(Option<Tick>, String, Option<u32>, String)> {
    let bars = room
        .records
        .iter()
        .filter(|record| matches!(record.what, Recorded::Bar));
    bars.map(|record| {
        (
            record.tick,
            record.section.clone(),
            record.bar,
            record.stage.clone(),
        )
    })
    .collect()
}

/// Few by default, to stay quick; `PROPTEST_CASES` asks for more.
fn cases() -> ProptestConfig {
    let asked = ProptestConfig::default();
    let cases = match std::env::var_os("PROPTEST_CASES") {
        Some(_) => asked.cases,
        None => 40,
    };
    ProptestConfig {
        cases,
        failure_persistence: None,
        max_global_rejects: cases * 4,
        ..asked
    }
}

proptest! {
    #![proptest_config(cases())]

    /// The player is never without a bar, none comes twice, and what was struck is let go.
    #[test]
    fn bars_follow_each_other_without_a_gap(chart in 0usize..4, drill in 0usize..5, script in foot(everything())) {
        let mut room = room(chart, drill).started(&script);
        prop_assert_eq!(room.broken(), Vec::<String>::new());
        room.play("+0 stop; +0.1");
        prop_assert_eq!(room.hanging(), 0);
    }

    /// Stages and sections change where a section ends, and nowhere else.
    #[test]
    fn changes_land_on_a_section_end(chart in 0usize..4, drill in 0usize..5, script in foot(MOVES.to_vec())) {
        let waiting = stages_out_of_time(drill);
        let room = room(chart, drill).started(&script);
        let bars = told(&room);
        for pair in bars.windows(2) {
            let [(_, section, bar, stage), (tick, next_section, next_bar, next_stage)] = pair else { continue };
            let (Some(_), Some(next_bar)) = (bar, next_bar) else { continue };
            // Out of time the chords of the form come one by one, each where it is first written.
            if section != next_section && !waiting.contains(next_stage) {
                prop_assert_eq!(*next_bar, 1, "{} to {} at {:?}", section, next_section, tick);
            }
            if stage != next_stage {
                prop_assert_eq!(*next_bar, 1, "{} to {} at {:?}", stage, next_stage, tick);
            }
        }
    }

    /// All that holds where stages go on by themselves, too, because somebody plays every root.
    #[test]
    fn stages_that_are_secure_change_like_any_other(script in foot(everything()), moves in foot(MOVES.to_vec())) {
        let listening = || {
            let mut room = Room::new(library(&[CHART, OTHER], SECURE), settings(2));
            room.guitar = Some(Default::default());
            room.act("start");
            // Long enough for the first stage to be secure.
            room.play("+7");
            room
        };
        let mut room = listening();
        room.play(&script);
        prop_assert_eq!(room.broken(), Vec::<String>::new());
        room.play("+0 stop; +0.1");
        prop_assert_eq!(room.hanging(), 0);
        let mut room = listening();
        room.play(&moves);
        for pair in told(&room).windows(2) {
            let [(_, _, _, stage), (tick, _, Some(next_bar), next_stage)] = pair else { continue };
            if stage != next_stage {
                prop_assert_eq!(*next_bar, 1, "{} to {} at {:?}", stage, next_stage, tick);
            }
        }
    }

    /// The same foot, the same take, to the frame.
    #[test]
    fn the_same_script_gives_the_same_effects(chart in 0usize..4, drill in 0usize..5, script in foot(everything())) {
        let one = room(chart, drill).started(&script);
        let other = room(chart, drill).started(&script);
        prop_assert_eq!(&one.records, &other.records);
        prop_assert_eq!(one.played(), other.played());
        prop_assert!(one.pages == other.pages);
        prop_assert_eq!(&one.said, &other.said);
    }

    /// Armed and called off is as if it had never been: the same notes struck on the same ticks
    /// from then on.
    #[test]
    fn called_off_is_never_armed(
        chart in 0usize..4, drill in 0usize..5,
        armed in prop::sample::select(vec![
            "next stage", "next section", "previous section", "whole form", "next key", "next chart", "last time",
            "loop here", "listen chorus",
        ]),
        second in prop::sample::select(vec!["", "next stage", "next key"]),
        at in 0.0f64..9.0, between in 0.02f64..0.4,
    ) {
        let mut pressed = room(chart, drill).started(&format!("{at:.3} {armed}"));
        let bars = pressed.bars.len();
        pressed.play(&format!("+{between:.3} {second}"));
        // Where it landed in between there is nothing left to call off.
        prop_assume!(armed_or_spot(&pressed) && pressed.bars.len() == bars);
        pressed.play("+0.05 stay here");
        prop_assume!(pressed.bars.len() == bars);
        let until = pressed.at + 12 * u64::from(RATE);
        while pressed.at < until { pressed.step(); }
        // A last time whose end lies within the moment that a press takes has come: the take is over.
        prop_assume!(armed != "last time" || pressed.bars.len() > bars + 1);
        let mut left_alone = room(chart, drill).started("");
        while left_alone.at < pressed.at { left_alone.step(); }
        // While it is armed the band already leads there (voicings look ahead over the whole lap); from the bar
        // after the next bar line nothing of it is left.
        let from = pressed.bars.get(bars + 1).map_or(Tick(i64::MAX), |bar| bar.start);
        let struck = |room: &Room| {
            let notes = room.notes().into_iter();
            let late = notes.filter(|played| matches!(played, Played::On { tick, .. } if *tick >= from));
            late.collect::<Vec<_>>()
        };
        prop_assert!(!struck(&left_alone).is_empty());
        prop_assert_eq!(struck(&pressed), struck(&left_alone));
    }

    /// A tune in another key has its targets in that key: every bass note and every name on the page moves along.
    #[test]
    fn targets_move_with_the_key(chart in 0usize..4, drill in 0usize..5, steps in 1usize..6) {
        let script = "+6";
        let plain = room(chart, drill).started(script);
        let mut moved = room(chart, drill);
        for _ in 0..steps { moved.act("next key"); }
        let moved = moved.started(script);
        let up = |class: i32| (class + 5 * steps as i32).rem_euclid(12);
        let names = |room: &Room| {
            let pages = room.records.iter().filter_map(|record| match &record.what {
                Recorded::Page { now, next, .. } => Some((record.frame, [now.clone(), next.clone()].concat())),
                _ => None,
            });
            pages.collect::<Vec<_>>()
        };
        let (plain_names, moved_names) = (names(&plain), names(&moved));
        // The takes begin on different frames: what counts is the order.
        let skip = moved_names.len() - plain_names.len().min(moved_names.len());
        for ((_, one), (_, other)) in plain_names.iter().rev().zip(moved_names.iter().rev()).take(plain_names.len() - 1) {
            let (one, other): (Vec<_>, Vec<_>) = (one.iter().map(|name| class(name)).collect(), other.iter().map(|name| class(name)).collect());
            let expected: Vec<_> = one.iter().map(|class| class.map(up)).collect();
            prop_assert_eq!(other, expected, "skip {}", skip);
        }
        let on_one = |room: &Room| {
            let played = room.played();
            let bars: Vec<Tick> = room.bars.iter().map(|bar| bar.start).collect();
            let bass = played.into_iter().filter_map(|played| match played {
                Played::On { part: Part::Bass, tick, key, .. } if bars.contains(&tick) => Some((tick, i32::from(key) % 12)),
                _ => None,
            });
            bass.collect::<Vec<_>>()
        };
        let expected: Vec<_> = on_one(&plain).into_iter().map(|(tick, class)| (tick, up(class))).collect();
        prop_assert_eq!(on_one(&moved), expected);
    }
}

/// Something is armed.
fn armed_or_spot(room: &Room) -> bool {
    room.armed().contains(" bars")
}

/// The pitch class of a note's name on the page; `None` for what is no note.
fn class(name: &str) -> Option<i32> {
    let mut letters = name.chars();
    let natural = "C D EF G A B".find(letters.next()?)? as i32;
    letters
        .try_fold(natural, |class, sign| match sign {
            '♭' | 'b' => Some(class - 1),
            '♯' | '#' => Some(class + 1),
            '\u{1D12B}' => Some(class - 2),
            '\u{1D12A}' | 'x' => Some(class + 2),
            _ => None,
        })
        .map(|class| class.rem_euclid(12))
}
