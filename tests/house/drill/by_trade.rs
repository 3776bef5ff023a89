//! The table of what teachers and accompanists do (`tests/trade.toml`): each proof that it names is there. And what of it no other
//! test looks at: the way of the ladder, the rest of the hands, the band behind others' clock.

use crate::support::practice::{CHART, RATE, Room, library, settings};
use std::collections::BTreeSet;
use underfoot::audio::Notice;
use underfoot::daemon::config::Config;
use underfoot::display::Page;
use underfoot::drill::{
    Advance, Click, Direction, Drill, Drums, Order, PageHelp, Stage, StringRule, Voice,
};
use underfoot::fault::Source;
use underfoot::foot::Action;
use underfoot::practice::{Core, Event, EventKind};
use underfoot::time::{Frame, Part, Tick};

fn root(path: &str) -> String {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Whether a file has a test of that name: it stands after `#[test]`, with or without other attributes and a property's head.
fn has_test(text: &str, name: &str) -> bool {
    let Some((before, _)) = text.split_once(&format!("fn {name}(")) else {
        return false;
    };
    before
        .rfind("#[test]")
        .is_some_and(|at| !before[at..].contains("fn "))
}

#[test]
fn every_point_of_the_trade_is_held_or_has_its_reason() {
    let table: toml::Table = root("tests/trade.toml").parse().expect("a table");
    let points = table["point"].as_array().expect("points");
    let mut wrong = Vec::new();
    let mut parts = BTreeSet::new();
    for point in points {
        let word = |key: &str| {
            point
                .get(key)
                .and_then(|value| value.as_str())
                .unwrap_or_default()
        };
        let says = word("says");
        parts.insert(word("of"));
        let proofs = point.get("holds").and_then(|proofs| proofs.as_array());
        let proofs: Vec<&str> = proofs
            .into_iter()
            .flatten()
            .filter_map(|proof| proof.as_str())
            .collect();
        if says.is_empty() || proofs.is_empty() && word("fails").len() < 20 {
            wrong.push(format!("{says}: neither held nor with a reason"));
        }
        for proof in proofs {
            let found = proof
                .split_once(' ')
                .is_some_and(|(file, name)| has_test(&root(file), name));
            if !found {
                wrong.push(format!("{says}: no test {proof}"));
            }
        }
    }
    assert_eq!(wrong, Vec::<String>::new());
    assert!(points.len() >= 50 && parts.len() == 10, "{parts:?}");
    assert!(!has_test("#[test]\nfn one() {}\nfn two() {}", "two"));
}

fn ladder() -> Vec<Stage> {
    let text = root("configs/drills/ladder.toml");
    let read = Drill::read(&Source {
        name: "ladder",
        text: &text,
    });
    read.expect("a drill").stages
}

/// The steps of a teacher's ladder in their order, each by what a stage must ask for: common practice, no source.
#[test]
fn the_ladder_goes_the_way_of_teachers() {
    let is = |stage: &Stage, figure: &[&str]| {
        let written: Vec<_> = figure
            .iter()
            .map(|note| note.parse().expect("a note"))
            .collect();
        stage.figure == written
    };
    let has = |stage: &Stage, degrees: &[&str]| {
        let written: Vec<_> = degrees
            .iter()
            .map(|word| word.parse().expect("a degree"))
            .collect();
        stage.degrees == written
    };
    type Step<'a> = (&'a str, &'a dyn Fn(&Stage) -> bool);
    let steps: &[Step<'_>] = &[
        ("wait and find", &|s| {
            s.find == Some(5) && !s.pulse && s.advance == Advance::Right
        }),
        ("roots, sung", &|s| {
            has(s, &["1"]) && s.cycle.sing > 0 && s.cycle.play == 0
        }),
        ("roots, long, help going away", &|s| {
            let last = s.help_in(s.passes - 1);
            has(s, &["1"]) && !last.bass && last.page == PageHelp::Off && last.voice == Voice::Off
        }),
        ("roots elsewhere", &|s| {
            has(s, &["1"])
                && (0..8).any(|pass| s.places_in(pass).iter().any(|place| place.is_push()))
        }),
        ("two bars on, two off", &|s| {
            s.play_bars == 2 && s.rest_bars == 2
        }),
        ("one string", &|s| {
            s.rotation
                .as_ref()
                .is_some_and(|rotation| rotation.strings.len() == 6)
        }),
        ("one position", &|s| {
            s.rotation
                .as_ref()
                .is_some_and(|rotation| rotation.positions.len() == 12)
        }),
        ("octave by octave", &|s| is(s, &["1", "1 above"])),
        ("root and third above", &|s| is(s, &["1", "3 above"])),
        ("reversed", &|s| is(s, &["3 above", "1"])),
        ("on one string", &|s| {
            s.string == StringRule::Same && is(s, &["1", "3 above"])
        }),
        ("the third alone, heard", &|s| {
            has(s, &["3"]) && s.silence && s.cycle.sing > 0
        }),
        ("the third under the root", &|s| is(s, &["1", "3 below"])),
        ("guide tones, the nearest", &|s| {
            s.figure.len() == 1 && s.figure[0].direction == Direction::Near
        }),
        ("three up in eighths", &|s| {
            has(s, &["1", "2", "3"]) && s.order == Order::AsWritten && s.step == Tick(480)
        }),
        ("three down", &|s| is(s, &["3", "2", "1"])),
        ("six orders, one a chorus", &|s| {
            s.order == Order::EveryOrderAPass && has(s, &["1", "2", "3"])
        }),
        ("from other places, one order a chord", &|s| {
            s.order == Order::EveryOrderAChord && s.turns()
        }),
        ("with two bars' rest", &|s| {
            s.order == Order::EveryOrderAChord && s.rest_bars == 2
        }),
        ("four notes", &|s| has(s, &["1", "2", "3", "5"])),
        ("five notes", &|s| has(s, &["1", "2", "3", "4", "5"])),
        ("one approach", &|s| {
            s.figure.len() == 2 && s.figure[0].approach.is_some()
        }),
        ("arpeggios that run on", &|s| {
            s.order == Order::OnFromTheNearest
        }),
        ("open choice over a section", &|s| {
            s.is_open_choice() && s.over.is_some()
        }),
        ("trading", &|s| {
            s.is_open_choice() && s.play_bars == 4 && s.rest_bars == 4
        }),
        ("the band out", &|s| s.is_open_choice() && s.band_out == 4),
        ("a sparse click", &|s| {
            s.help.drums == Drums::Click(Click::EveryOtherBar)
        }),
        ("in all keys", &|s| {
            s.is_open_choice() && s.keys != underfoot::drill::KeyWalk::Stay
        }),
        ("help off", &|s| {
            s.is_open_choice() && s.help.page == PageHelp::Off
        }),
    ];
    let stages = ladder();
    let mut from = 0;
    for (what, fits) in steps {
        let found = stages[from..].iter().position(fits);
        from += found.unwrap_or_else(|| panic!("no {what} after \"{}\"", stages[from].name));
    }
    for stage in &stages {
        // The voice is silent where notes are heard out and where the player chooses.
        let quiet = stage.silence || stage.is_open_choice();
        assert!(!quiet || stage.help.voice == Voice::Off, "{}", stage.name);
        // One string is no place for a third below.
        let below = stage
            .figure
            .iter()
            .any(|note| note.direction == Direction::Below);
        assert!(!below || stage.string != StringRule::Same, "{}", stage.name);
    }
}

#[test]
fn hands_are_to_rest_after_their_minutes() {
    let drill = "title = 'D'\n[[stage]]\nname = 'one'\ndegrees = ['1']\ncycle = { listen = 0, play = 8, breathe_bars = 4 }\n";
    for (minutes, told) in [(1, true), (25, false), (0, false)] {
        let after = underfoot::practice::Settings {
            rest_after_min: minutes,
            ..settings(2)
        };
        let mut room = Room::new(library(&[CHART], drill), after);
        room.handle(EventKind::Act(Action::Start));
        // Two minutes at 240 a minute.
        room.play("+125");
        let rests = |page: &Page| match page {
            Page::Breathe(page) => page
                .lines
                .iter()
                .any(|line| line.ends_with("rest your hands")),
            _ => false,
        };
        assert_eq!(
            room.pages.iter().any(|(_, page)| rests(page)),
            told,
            "{minutes}"
        );
    }
}

#[test]
fn the_band_is_silent_behind_the_clock_of_others() {
    let band = |mutes: bool| {
        let mut core = Core::new(
            library(&[CHART], crate::support::practice::DRILL),
            settings(2),
            None,
        );
        core.follow_clock(true, mutes);
        let began = Notice::ClockBegan {
            frame: Frame(u64::from(RATE)),
            tick: Tick(0),
            home: false,
        };
        let mut out = Vec::new();
        let event = Event {
            at: Frame(u64::from(RATE)),
            what: EventKind::Notice(began),
        };
        core.handle(event, &mut out);
        let plan = core.plan().expect("a plan");
        let notes = plan
            .timeline()
            .segments()
            .flat_map(|segment| segment.pass.notes.clone());
        let band =
            notes.filter(|note| matches!(note.part, Part::Comping | Part::Bass | Part::Drums));
        band.count()
    };
    assert_eq!(band(true), 0);
    assert!(band(false) > 0);
    assert!(Config::default().clock.mute_band);
}
