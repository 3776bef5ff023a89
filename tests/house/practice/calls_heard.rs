//! The naive listener in the room: before everything that changes up to the first pass that is played, and with the first
//! thing after it, it must have heard so.
//!
//! `UNDERFOOT_ALL_STAGES=1` listens to every stage of every drill over all charts at all tempi, the first section and the
//! whole form; else a part of them. `UNDERFOOT_COUNT_ONLY=1` prints the figures and passes.

use super::calls_due::{Count, Moment, moments};
use super::naive_listener::Heard;
use crate::support::demo::{CHARTS, DRILLS, read as demo};
use crate::support::practice::{Room, library, settings};
use std::collections::BTreeSet;
use underfoot::drill::KeyWalk;
use underfoot::practice::{Library, Recorded};

const TEMPI: [f64; 3] = [60.0, 80.0, 100.0];
/// How many of a thousand changes must have been heard.
const HEARD_PER_MILLE: usize = 1000;

/// Two chords a bar with long names, and a bar of four.
const SHORT: &str = "title = 'Short'\nkey = 'Ab major'\ntempo = 120\nfeel = 'swing'\nform = ['A', 'bridge']\n\
    [[section]]\nname = 'A'\nbars = ['Bbm7b5 Eb7b9', 'Abmaj7#11 F7alt', 'Bbm7 / / Eb7', 'Ab6 Gb7#11 F7b9 E7']\n\
    [[section]]\nname = 'bridge'\nbars = ['Dbmaj7', 'Dbm6', 'Cm7 F7b9', 'Bbm7 Eb7']\n";
/// Dotted beats, triads, and a second part in another key.
const DOTTED: &str = "title = 'Dotted'\nkey = 'D minor'\ntime = '6/8'\ntempo = 90\nfeel = 'straight'\nform = ['A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['Dm', 'G', 'C', 'F Bb', 'Em7b5', 'A7b9', 'Dm', 'A7']\n\
    [[section]]\nname = 'B'\nbars = ['Bbmaj7', 'F7', 'Bbmaj7', 'F7', 'Gm', 'Cm', 'F7', 'A7']\n\
    [[section.change]]\nbar = 1\nkey = 'Bb major'\n";

/// How long the voice takes, and rather more: espeak-ng 1.51 at 175 words a minute, without the silence around, needs 280 ms
/// for "C", 519 for "C, F", 457 for "now you", 983 for "section A next", 1196 for "now you, on one, three" (measured).
fn speech_ms(text: &str) -> u64 {
    let commas = text.matches(',').count() as u64;
    210 + 66 * text.chars().count() as u64 + 50 * commas
}

/// What came of a stage.
struct Played {
    moments: Vec<Moment>,
    heard: Vec<Heard>,
    /// How many calls there were, and how many of them sounded over a place.
    calls: (usize, usize),
}

/// Plays a stage up to the end of the first pass that is played (where it walks through the keys, in the second one), and
/// gives what was so and what was heard.
fn played(library: &Library, (stage, whole_form): (usize, bool), qpm: f64) -> Played {
    let mut room = Room::new(library.clone(), settings(2));
    room.speech_ms = speech_ms;
    room.core.stand(stage, whole_form);
    room.core.set_start_tempo(qpm);
    room.act("start");
    let (cycle, keys) = (
        library.drill.stages[stage].cycle,
        &library.drill.stages[stage].keys,
    );
    let before = if *keys == KeyWalk::Stay {
        0
    } else {
        cycle.passes()
    };
    let last = before + cycle.before_playing();
    let (mut all, mut seen, end) = (Vec::new(), 0, room.at + 16_000 * 1_200);
    let mut goes_on = true;
    let mut places = BTreeSet::new();
    while goes_on && room.at < end {
        room.step();
        let new = std::mem::replace(&mut seen, room.records.len());
        for record in &room.records[new..] {
            let (Recorded::Bar, Some(at), Some(plan)) =
                (&record.what, record.tick, room.core.plan())
            else {
                continue;
            };
            let asked = plan.steps().iter().filter(|step| !step.is_listening());
            places.extend(
                asked
                    .flat_map(|step| &step.places)
                    .map(|place| plan.frame(*place).0),
            );
            if let Some((moment, standing)) = moments(plan, at) {
                goes_on &= standing.pass <= last && standing.stage == stage;
                all.push(moment);
            }
        }
    }
    let (mut heard, mut calls) = (Vec::new(), (0, 0));
    for record in &room.records {
        if let Recorded::Say {
            text,
            end: Some(end),
            index,
            ..
        } = &record.what
        {
            let words = Heard {
                start: record.frame.0,
                end: end.0,
                text: text.clone(),
            };
            let is_over = places.range(words.start..words.end).next().is_some();
            calls.0 += usize::from(index.is_none());
            calls.1 += usize::from(index.is_none() && is_over);
            heard.push(words);
        }
    }
    Played {
        moments: all,
        heard,
        calls,
    }
}

/// How many changes a stage calls, how many of them were heard, and what was not.
pub fn told(library: &Library, stage: usize, qpm: f64) -> (usize, usize, Vec<String>) {
    let Played { moments, heard, .. } = played(library, (stage, false), qpm);
    let mut count = Count::default();
    count.compare("", &moments, heard);
    let faults = count.faults.iter();
    let faults = faults.map(|(name, (many, first))| format!("{many} x {name}: {first}"));
    (count.all, count.heard, faults.collect())
}

#[test]
fn a_naive_listener_is_told_in_time() {
    let thorough = std::env::var("UNDERFOOT_ALL_STAGES").is_ok();
    let charts = CHARTS.iter().map(|name| (*name, demo("charts", name)));
    let charts = charts.chain([("short", SHORT.to_string()), ("dotted", DOTTED.to_string())]);
    let charts: Vec<(&str, String)> = charts.collect();
    let (mut count, mut combinations) = (Count::default(), 0);
    for drill_name in DRILLS {
        let drill = demo("drills", drill_name);
        for (chart, (chart_name, text)) in charts.iter().enumerate() {
            let library = library(&[text], &drill);
            for stage in 0..library.drill.stages.len() {
                for (speed, qpm) in TEMPI.into_iter().enumerate() {
                    let taken = |form: &bool| {
                        thorough
                            || (stage + chart + speed + drill_name.len()) % 4
                                == 2 * usize::from(*form)
                    };
                    for form in [false, true].into_iter().filter(taken) {
                        let Played {
                            moments,
                            heard,
                            calls,
                        } = played(&library, (stage, form), qpm);
                        (count.calls, count.over_places) =
                            (count.calls + calls.0, count.over_places + calls.1);
                        let over = if form { "whole form" } else { "first section" };
                        let name = format!(
                            "{} at {qpm}, {chart_name}, {over}",
                            library.drill.stages[stage].name
                        );
                        count.compare(&name, &moments, heard);
                        combinations += 1;
                    }
                }
            }
        }
    }
    println!(
        "{} of {} changes heard ({:.2} %) in {combinations} combinations; {} passes were counted in and played at once; \
         {} of {} calls sounded over a place",
        count.heard,
        count.all,
        100.0 * count.heard as f64 / count.all.max(1) as f64,
        count.counted_in,
        count.over_places,
        count.calls,
    );
    let listed = count
        .faults
        .iter()
        .map(|(name, (many, first))| format!("{many} x {name}: {first}"));
    let listed = listed.collect::<Vec<_>>().join("\n");
    if std::env::var("UNDERFOOT_COUNT_ONLY").is_ok() {
        return println!("{listed}");
    }
    assert!(
        count.all > 1_000,
        "{} changes are too few to judge by",
        count.all
    );
    assert!(
        1000 * count.heard >= HEARD_PER_MILLE * count.all,
        "{listed}"
    );
}
