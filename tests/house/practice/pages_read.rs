//! The naive reader before every page: 250 ms before each place it must name what is to be played, and what to do.
//!
//! `UNDERFOOT_ALL_STAGES=1` reads every stage of every drill over all charts at all tempi; else every one of them comes, but not
//! in every combination. `UNDERFOOT_COUNT_ONLY=1` prints the figures and passes.

use super::naive_reader::{Reading, Row, read};
use crate::support::demo::{CHARTS, DRILLS, read as demo};
use crate::support::practice::{RATE, library, settings};
use std::collections::BTreeMap;
use underfoot::display::{Page, Panel, drawn_texts};
use underfoot::drill::{Direction, PageHelp, Phase, Places, StringRule};
use underfoot::harmony::{Degree, Harmony, Pitch};
use underfoot::plan::pass::PassKind;
use underfoot::plan::steps::PlanStep;
use underfoot::plan::take::TakePlan;
use underfoot::practice::{Core, Effect, Event, EventKind, Library, Recorded};
use underfoot::time::Frame;

const TEMPI: [f64; 4] = [60.0, 100.0, 160.0, 240.0];
/// How many of ten thousand looks must be right on each panel. What is missing, nearly all of it on 128x32: four degrees with a long
/// chord have no room beside four others, nor has the octave of a turn that comes.
const RIGHT_OF_10_000: usize = 9_995;
/// How long before a place the reader looks: 250 ms, and a frame or two for the rounding.
const LOOK_MS: f64 = 249.0;
/// The page may not turn this near to a place, so what was played less than this ago may still stand first.
const GUARD_MS: f64 = 200.0;

/// Two chords a bar with long names, and a bar of four.
const SHORT: &str = "title = 'Short'\nkey = 'Ab major'\ntempo = 120\nfeel = 'swing'\nform = ['A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['Bbm7b5 Eb7b9', 'Abmaj7#11 F7alt', 'Bbm7 / / Eb7', 'Ab6 Gb7#11 F7b9 E7']\n\
    [[section]]\nname = 'B'\nbars = ['Dbmaj7', 'Dbm6', 'Cm7 F7b9', 'Bbm7 Eb7']\n";
/// Dotted beats and triads.
const DOTTED: &str = "title = 'Dotted'\nkey = 'D minor'\ntime = '6/8'\ntempo = 90\nfeel = 'straight'\nform = ['A']\n\
    [[section]]\nname = 'A'\nbars = ['Dm', 'G', 'C', 'F Bb', 'Em7b5', 'A7b9', 'Dm', 'A7']\n";

fn panels() -> [(&'static str, Panel); 5] {
    let sized = |mm: f32| Panel {
        panel_mm: Some(mm),
        ..Panel::new(128, 64)
    };
    [
        ("128x64 2.42\"", sized(61.5)),
        ("128x64 0.96\"", sized(24.4)),
        ("128x32", Panel::new(128, 32)),
        ("256x64", Panel::new(256, 64)),
        ("320x240", Panel::new(320, 240)),
    ]
}

/// What a set should read as: notes, or degrees with their chord, or the chord alone; nothing where the stage hides all.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Wanted {
    words: Vec<String>,
    /// The chord, where it must be named.
    chord: Option<String>,
}

fn signs(alter: i8) -> &'static str {
    ["𝄫", "♭", "", "♯", "𝄪"][(alter + 2).clamp(0, 4) as usize]
}

fn note(pitch: Pitch) -> String {
    let plain = pitch.to_string();
    plain.chars().take(1).collect::<String>() + signs(pitch.alter)
}

/// Third and seventh are what the chord has; another degree that bends says so.
fn degree(degree: Degree) -> String {
    let words = [
        "root", "second", "third", "fourth", "fifth", "sixth", "seventh",
    ];
    let bends = !matches!(degree.number, 3 | 7);
    let sign = if bends { signs(degree.alter) } else { "" };
    format!("{sign}{}", words[usize::from(degree.number - 1) % 7])
}

fn wanted(step: &PlanStep) -> Wanted {
    let (Some(chord), Some(set)) = (step.chord, step.set()) else {
        return Wanted::default();
    };
    let Some(context) = step.pass.context(chord) else {
        return Wanted::default();
    };
    let symbol = match &context.harmony {
        Harmony::Chord(symbol) => symbol.pretty(),
        Harmony::Silence => "N.C.".to_string(),
    };
    let sounds = matches!(context.harmony, Harmony::Chord(_));
    if sounds && step.pass.rests.get(chord) == Some(&true) {
        return Wanted {
            words: vec!["rest".to_string()],
            chord: None,
        };
    }
    let arrow = |direction: Direction| match direction {
        Direction::Above => "↑",
        Direction::Below => "↓",
        Direction::Near | Direction::Free => "",
    };
    let notes = set.notes.iter();
    // What is looked for is told by its degree alone.
    let finds = step
        .pass
        .standing
        .stage_of(&step.pass.material)
        .find
        .is_some();
    let help = match step.pass.help.page {
        PageHelp::Notes if finds && step.pass.kind == PassKind::Held => PageHelp::Degrees,
        help => help,
    };
    match help {
        PageHelp::Off => Wanted::default(),
        _ if set.notes.is_empty() => Wanted {
            words: vec![symbol],
            chord: None,
        },
        PageHelp::Symbol => Wanted {
            words: vec![symbol],
            chord: None,
        },
        PageHelp::Notes => Wanted {
            words: notes
                .map(|one| format!("{}{}", arrow(one.direction), note(one.pitch)))
                .collect(),
            chord: None,
        },
        PageHelp::Degrees => Wanted {
            words: notes
                .map(|one| format!("{}{}", arrow(one.direction), degree(one.degree)))
                .collect(),
            chord: Some(symbol),
        },
    }
}

/// What the task line must have in it.
fn tasks(step: &PlanStep, whole: bool) -> Vec<String> {
    let stage = step.pass.standing.stage_of(&step.pass.material);
    let phase = match step.pass.kind {
        PassKind::Music(Phase::Listen) => return vec!["listen".to_string()],
        PassKind::Music(Phase::Sing) => "sing",
        PassKind::Held if stage.find.is_some() => return vec!["find".to_string()],
        PassKind::Music(_) if stage.answer_phrase => "answer",
        PassKind::Music(_) | PassKind::Held => "play",
        PassKind::Breathe => return vec!["break".to_string()],
        PassKind::CountIn => return Vec::new(),
    };
    let mut told = vec![phase.to_string()];
    let standing = &step.pass.standing;
    let is_free = stage.is_open_choice() && stage.places_in(0).is_empty();
    if !whole || step.pass.kind == PassKind::Held || is_free {
        return told;
    }
    let rotation = stage.rotation.as_ref();
    let turning = rotation.map(|rotation| {
        rotation.turning(
            standing.turn(&step.pass.material),
            step.pass.material.seed(),
        )
    });
    let turned = turning
        .as_ref()
        .and_then(|turning| turning.places.as_deref());
    let places = turned.unwrap_or_else(|| stage.places_in(standing.turn(&step.pass.material)));
    let turns =
        turned.is_some() || matches!(&stage.places, Places::Rotate(turns) if turns.len() > 1);
    if turns || places.len() > 1 || places[0].to_string() != "1" {
        let text = |place: &underfoot::drill::Place| place.to_string().replace("before 1", "push");
        told.extend(places.iter().map(text));
    }
    if matches!(phase, "play" | "answer") {
        match stage.string {
            StringRule::Free => {}
            StringRule::Same => told.push("same string".to_string()),
            StringRule::EveryPlace => told.push("every place".to_string()),
            StringRule::On(_) => told.push("string".to_string()),
        }
        told.extend(stage.position.map(|_| "position".to_string()));
        if let Some(turning) = turning {
            told.extend(turning.string.map(|string| format!("string {string}")));
            let roman = [
                "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII",
            ];
            told.extend(
                turning
                    .position
                    .map(|fret| format!("position {}", roman[usize::from(fret) - 1])),
            );
            told.extend(
                turning
                    .octave
                    .map(|octave| format!("{octave:?} octave").to_lowercase()),
            );
            // Else the marks of the words tell it.
            let is_hidden = matches!(step.pass.help.page, PageHelp::Symbol | PageHelp::Off);
            let side = turning.side.filter(|_| is_hidden);
            told.extend(side.map(|side| format!("{side:?}").to_lowercase()));
        }
    }
    told
}

/// A look: when, what the reader must name, in order from what may stand first; what it must be told to do.
struct Look {
    at: Frame,
    /// From the first that may stand there to the one looked for; a later start is as good while it is near.
    sets: Vec<Wanted>,
    may_begin_at: usize,
    task: Vec<String>,
}

fn looks(plan: &TakePlan, from: Frame) -> Vec<Look> {
    let frame = |tick| plan.frame(tick).0 as f64;
    let ms = f64::from(RATE) / 1000.0;
    let steps = plan.steps();
    // Places of all steps; what has none (a rest, a break, something hidden) is looked for where it starts.
    let mut places: Vec<(f64, usize, bool, f64)> = Vec::new();
    for (index, step) in steps
        .iter()
        .enumerate()
        .filter(|(_, step)| step.pass.kind != PassKind::CountIn)
    {
        let begins = index == 0 || steps[index - 1].origin != step.origin;
        if step.places.is_empty() || begins && step.pass.kind == PassKind::Breathe {
            places.push((frame(step.start), index, begins, frame(step.end)));
        }
        let each = step.places.iter().enumerate();
        places
            .extend(each.map(|(place, at)| (frame(*at), index, begins && place == 0, frame(*at))));
    }
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let look = |&(at, index, begins, _): &(f64, usize, bool, f64)| {
        let when = at - LOOK_MS * ms;
        // What has no place is wanted as long as it sounds.
        let over = when - GUARD_MS * ms;
        let near = places
            .iter()
            .find(|place| place.3 > over)
            .map_or(index, |place| place.1);
        let next = places
            .iter()
            .find(|place| place.0 > when)
            .map_or(index, |place| place.1);
        let near = near.min(next).min(index);
        let sets = if steps[index].pass.kind == PassKind::Breathe {
            Vec::new()
        } else {
            steps[near..=index].iter().map(wanted).collect()
        };
        Look {
            at: Frame(when.max(0.0) as u64),
            sets,
            may_begin_at: next.min(index) - near,
            task: tasks(&steps[index], begins),
        }
    };
    places
        .iter()
        .map(look)
        .filter(|look| look.at > from)
        .collect()
}

/// What is wrong with a reading, in a word; nothing where all is named.
fn fault(reading: &Reading, look: &Look) -> Option<&'static str> {
    if reading.cut.is_some() {
        return Some("cut");
    }
    let goes = |from: usize| {
        let wanted: Vec<&Wanted> = look.sets[from..]
            .iter()
            .filter(|set| !set.words.is_empty())
            .collect();
        let words: Vec<&String> = wanted.iter().flat_map(|set| &set.words).collect();
        let told: Vec<&String> = reading
            .rows
            .iter()
            .flat_map(|row: &Row| &row.words)
            .collect();
        let chords_told = wanted
            .iter()
            .zip(&reading.rows)
            .all(|(set, row)| set.chord.as_ref().is_none_or(|chord| *chord == row.chord));
        (told.starts_with(&words), chords_told)
    };
    let all: Vec<(bool, bool)> = (0..=look.may_begin_at.min(look.sets.len().saturating_sub(1)))
        .filter(|_| !look.sets.is_empty())
        .map(goes)
        .collect();
    if !all.is_empty() && !all.iter().any(|(words, _)| *words) {
        return Some("notes");
    }
    if !all.is_empty() && !all.iter().any(|(words, chords)| *words && *chords) {
        return Some("chord");
    }
    let told = look
        .task
        .iter()
        .all(|task| reading.task.contains(task.as_str()));
    (!told).then_some("task")
}

/// No word of what comes after a break is cut.
fn assert_break_is_whole(page: &Page) {
    for (name, panel) in panels() {
        let is_break = matches!(page, Page::Breathe(_));
        let texts = if is_break {
            drawn_texts(page, panel)
        } else {
            Vec::new()
        };
        let cut = texts.iter().find(|text| text.text.contains('…'));
        assert!(cut.is_none(), "{name}: {cut:?} of {page:?}");
    }
}

/// Plays a stage once through its cycle, and gives each look with the page that stood then.
fn played(library: &Library, stage: usize, qpm: f64) -> Vec<(Look, Page)> {
    let mut core = Core::new(library.clone(), settings(2), None);
    core.stand(stage, false);
    core.set_start_tempo(qpm);
    let step = u64::from(RATE) / 100;
    let (mut at, mut page) = (1 << 20, core.page());
    let mut ahead: Vec<Look> = Vec::new();
    let mut seen = Vec::new();
    let mut out = Vec::new();
    core.handle(
        Event {
            at: Frame(at),
            what: EventKind::Act("start".parse().expect("an action")),
        },
        &mut out,
    );
    let cycle = library.drill.stages[stage].cycle;
    let most = u64::from(cycle.listen + cycle.sing + cycle.play.min(4)) + 1;
    let (end, mut origins) = (at + 400 * u64::from(RATE), Vec::new());
    while at < end && origins.len() as u64 <= most + 1 {
        let mut is_new = false;
        for effect in out.drain(..) {
            match effect {
                Effect::Show(shown) => {
                    assert_break_is_whole(&shown);
                    page = shown;
                }
                Effect::Record(record) => is_new |= matches!(record.what, Recorded::Bar),
                _ => {}
            }
        }
        while ahead.first().is_some_and(|look| look.at.0 <= at) {
            let look = ahead.remove(0);
            if look.at.0 == at {
                seen.push((look, page.clone()));
            }
        }
        if let Some(plan) = core.plan().filter(|_| is_new || ahead.is_empty()) {
            ahead = looks(plan, Frame(at));
            let origin = plan.step_at(plan.tick(Frame(at))).map(|step| step.origin);
            if origin.is_some() && origins.last() != Some(&origin) {
                origins.push(origin);
            }
        }
        at = ahead
            .first()
            .map_or(at + step, |look| look.at.0.min(at + step));
        core.handle(
            Event {
                at: Frame(at),
                what: EventKind::Tick,
            },
            &mut out,
        );
    }
    seen
}

/// How many looks a stage's pages got on all panels, and what was misread.
pub fn misread(library: &Library, stage: usize, qpm: f64) -> (usize, Vec<String>) {
    let (mut looks, mut wrong) = (0, Vec::new());
    for (look, page) in played(library, stage, qpm) {
        for (name, panel) in panels() {
            looks += 1;
            let reading = read(&drawn_texts(&page, panel), panel);
            if let Some(fault) = fault(&reading, &look) {
                wrong.push(format!(
                    "{name} at {qpm}: {fault}, wanted {:?} {:?}, read {reading:?}",
                    look.sets, look.task
                ));
            }
        }
    }
    (looks, wrong)
}

#[test]
fn a_naive_reader_plays_the_right_thing() {
    let thorough = std::env::var("UNDERFOOT_ALL_STAGES").is_ok();
    let charts: Vec<(&str, String)> = CHARTS
        .iter()
        .map(|name| (*name, demo("charts", name)))
        .chain([("short", SHORT.to_string()), ("dotted", DOTTED.to_string())])
        .collect();
    let mut counts: BTreeMap<(usize, &str), usize> = BTreeMap::new();
    // How often, and the first of its kind.
    let mut faults: BTreeMap<String, (usize, String)> = BTreeMap::new();
    let (mut combination, mut total) = (0, 0);
    for name in DRILLS {
        let drill = demo("drills", name);
        let libraries: Vec<Library> = charts
            .iter()
            .map(|(_, chart)| library(&[chart], &drill))
            .collect();
        for stage in 0..libraries[0].drill.stages.len() {
            for (chart, library) in libraries.iter().enumerate() {
                for (speed, qpm) in TEMPI.into_iter().enumerate() {
                    combination += 1;
                    if !thorough && (stage + chart + 2 * speed + name.len()) % 12 != 0 {
                        continue;
                    }
                    let mut known: BTreeMap<(String, usize), Reading> = BTreeMap::new();
                    for (look, page) in played(library, stage, qpm) {
                        let told = format!("{page:?}");
                        for (place, (panel_name, panel)) in panels().into_iter().enumerate() {
                            let reading = known
                                .entry((told.clone(), place))
                                .or_insert_with(|| read(&drawn_texts(&page, panel), panel));
                            total += 1;
                            let fault = fault(reading, &look).unwrap_or("right");
                            *counts.entry((place, fault)).or_default() += 1;
                            if fault != "right" {
                                let stage = &libraries[chart].drill.stages[stage].name;
                                let of = format!("{panel_name} {fault}: {stage} at {qpm}");
                                let (many, first) = faults.entry(of).or_default();
                                *many += 1;
                                if first.is_empty() {
                                    let Look {
                                        at,
                                        sets,
                                        may_begin_at,
                                        task,
                                    } = &look;
                                    *first = format!(
                                        "{} frame {}: wanted {sets:?} from {may_begin_at}, {task:?}; read {reading:?}\n{told}",
                                        charts[chart].0, at.0,
                                    );
                                }
                            }
                        }
                    }
                }
            }
        }
    }
    let mut least = 10_000;
    for (place, (name, _)) in panels().into_iter().enumerate() {
        let of = |what: &str| counts.get(&(place, what)).copied().unwrap_or(0);
        let all: usize = ["right", "notes", "chord", "task", "cut"]
            .map(of)
            .iter()
            .sum();
        least = least.min(10_000 * of("right") / all.max(1));
        println!(
            "{name:14} {:.2} % of {all}: notes {}, chord {}, task {}, cut {}",
            100.0 * of("right") as f64 / all.max(1) as f64,
            of("notes"),
            of("chord"),
            of("task"),
            of("cut")
        );
    }
    println!("{total} looks, {combination} combinations");
    assert!(total > 10_000, "{total} looks are too few to judge by");
    let listed = faults
        .iter()
        .map(|(of, (many, first))| format!("{many} x {of}: {first}"));
    let listed: Vec<String> = listed.collect();
    if std::env::var("UNDERFOOT_COUNT_ONLY").is_err() {
        assert!(least >= RIGHT_OF_10_000, "{}", listed.join("\n"));
    } else {
        println!("{}", listed.join("\n"));
    }
}
