//! Pages early enough and words in time, read off the event lines alone: what stands on a page and when the
//! chord changes, when a word ends and when it had to. The rules are common practice, no source: the next set
//! stands on the page max(2 beats, 1.2 s) before its change; no word ends later than max(1 beat, 0.6 s)
//! before it; up to 100 quarters a minute each bar-long chord gets its notes spoken in a stage's first pass.

use crate::support::demo::{CHARTS, DRILLS, read};
use serde_json::Value;
use std::collections::{BTreeMap, VecDeque};
use std::path::Path;
use underfoot::audio::{Band, Prepared};
use underfoot::chart::Chart;
use underfoot::daemon::render::{Job, Keep, Length, Unheard, render};
use underfoot::daemon::rig::AtOnce;
use underfoot::daemon::{config::Config, setup};
use underfoot::drill::Drill;
use underfoot::fault::Source;
use underfoot::practice::{Core, Library};
use underfoot::speech::Speaker;

const RATE: u32 = 16_000;
const TEMPI: [f64; 11] = [
    40.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0, 180.0, 200.0, 240.0, 280.0,
];

fn chart(name: &str) -> Chart {
    let text = read("charts", name);
    Chart::read(&Source { name, text: &text }).expect("a chart without fault")
}

fn drill(name: &str) -> Drill {
    let text = read("drills", name);
    Drill::read(&Source { name, text: &text }).expect("a drill without fault")
}

/// The event lines of one pass of a stage and what follows it.
fn lines(chart: &Chart, drill: &Drill, stage: usize, qpm: f64, cache: &Path) -> Vec<Value> {
    let config = Config::default();
    let library = Library {
        charts: vec![chart.clone()],
        drill: drill.clone(),
        set: None,
    };
    let mut core = Core::new(library, setup::settings(&config, RATE), None);
    core.stand(stage, false);
    core.set_start_tempo(qpm);
    let prepared = Prepared {
        rate: RATE,
        font: None,
        band: Band::default(),
        levels: Vec::new(),
        cue_to_outputs: false,
    };
    let speaker = Speaker::new(&setup::speech(&config, Some(cache)));
    let job = Job {
        prepared,
        foot: VecDeque::new(),
        // The count-in, a section of at most 16 bars of four, and a bar more.
        length: Length::Seconds(19.0 * 4.0 * 60.0 / qpm),
        blocks: vec![512],
        voice: Box::new(AtOnce::new(speaker)),
        guitar: None,
        keep: Keep::ALL,
    };
    let rendered = render(core, job, 1, &mut Unheard).expect("a rendering");
    let parse = |line: &String| serde_json::from_str(line).expect("a JSON line");
    rendered.lines.iter().map(parse).collect()
}

fn frame(line: &Value, key: &str) -> f64 {
    line[key].as_f64().unwrap_or(f64::NAN)
}

fn of_kind<'a>(lines: &'a [Value], kind: &str) -> Vec<&'a Value> {
    let is_it = |line: &&Value| line["kind"] == kind;
    lines.iter().filter(is_it).collect()
}

fn chord_changes(lines: &[Value]) -> Vec<&Value> {
    let changes = of_kind(lines, "change").into_iter();
    changes.filter(|line| line["what"] == "chord").collect()
}

/// Changes whose chord did not stand on the page early enough, without a break.
fn late_pages(lines: &[Value], qpm: f64) -> Vec<String> {
    let ahead = (2.0 * 60.0 / qpm).max(1.2) * f64::from(RATE);
    let pages = of_kind(lines, "page");
    let mut late = Vec::new();
    for change in chord_changes(lines) {
        let at = frame(change, "frame");
        let stands = |page: &&&Value| {
            let chords = page["chords"].as_array().expect("the chords of the page");
            chords.contains(&change["index"])
        };
        let before = pages.iter().rev().filter(|page| frame(page, "frame") <= at);
        let since = before.take_while(stands).last();
        let since = since.map_or(at, |page| frame(page, "frame"));
        // A held chord sounds with the press that starts it: the page comes within 100 ms of that.
        let press = of_kind(lines, "take")
            .first()
            .map_or(0.0, |take| frame(take, "frame"));
        let known = at - press >= ahead || since - press > 0.1 * f64::from(RATE);
        if known && at - since < ahead - 1.0 {
            late.push(format!(
                "{} bar {} {}: {:.2} s",
                change["section"],
                change["bar"],
                change["value"],
                (at - since) / f64::from(RATE)
            ));
        }
    }
    late
}

/// Words that end too late.
fn late_words(lines: &[Value], qpm: f64) -> Vec<String> {
    let before = (60.0 / qpm).max(0.6) * f64::from(RATE);
    let named = of_kind(lines, "say").into_iter();
    let spoken = named.filter(|say| !say["index"].is_null() && !say["end_frame"].is_null());
    spoken
        .filter(|say| frame(say, "end_frame") > frame(say, "deadline_frame") - before + 2.0)
        .map(|say| say["text"].to_string())
        .collect()
}

/// How each chord of the first pass was named: (form, bar-long or longer, text).
fn named(lines: &[Value]) -> Vec<(String, bool, String)> {
    let changes = chord_changes(lines);
    let mut named = Vec::new();
    for say in of_kind(lines, "say") {
        if say["index"].is_null() || say["pass"] != 1 {
            continue;
        }
        let due = frame(say, "deadline_frame");
        let place = changes
            .iter()
            .position(|change| (frame(change, "frame") - due).abs() < 1.0);
        let Some(here) = place.filter(|place| place + 1 < changes.len()) else {
            continue;
        };
        let quarters = frame(changes[here + 1], "beat") - frame(changes[here], "beat");
        let form = say["form"].as_str().unwrap_or("").to_string();
        named.push((form, quarters >= 3.0, say["text"].to_string()));
    }
    named
}

#[test]
fn no_page_is_late_and_no_word_at_any_tempo() {
    let cache = tempfile::tempdir().expect("a directory");
    // The longer tier goes through every stage of every drill.
    let thorough = std::env::var("UNDERFOOT_ALL_STAGES").is_ok();
    let all: &[&str] = if thorough { &DRILLS } else { &DRILLS[..2] };
    let drills: Vec<Drill> = all.iter().map(|name| drill(name)).collect();
    let can_speak = Speaker::new(&setup::speech(&Config::default(), None)).can_speak();
    println!("quarters a minute: full, short, none of the chords of the first passes");
    let mut faults: Vec<String> = Vec::new();
    let mut pages = 0;
    // A long run can be shared out.
    let from =
        std::env::var("UNDERFOOT_FROM_QPM").map_or(0.0, |from| from.parse().expect("a tempo"));
    for qpm in TEMPI.into_iter().filter(|qpm| *qpm >= from) {
        let mut forms: BTreeMap<String, usize> = BTreeMap::new();
        let mut changes = 0;
        for name in CHARTS {
            let chart = chart(name);
            let stages = |drill: &Drill| if thorough { drill.stages.len() } else { 1 };
            let staged = drills
                .iter()
                .flat_map(|drill| (0..stages(drill)).map(move |stage| (drill, stage)));
            for (drill, stage) in staged {
                let lines = lines(&chart, drill, stage, qpm, cache.path());
                changes += chord_changes(&lines).len();
                let place = format!("{qpm} {name}, {} {stage}", drill.title);
                pages += of_kind(&lines, "page").len();
                let late = late_pages(&lines, qpm).into_iter();
                faults.extend(late.map(|late| format!("{place}: late page: {late}")));
                let late = late_words(&lines, qpm).into_iter();
                faults.extend(late.map(|late| format!("{place}: late word: {late}")));
                for (form, bar_long, text) in named(&lines) {
                    if can_speak && qpm <= 100.0 && bar_long && form != "full" {
                        faults.push(format!("{place}: not spoken: {text}"));
                    }
                    *forms.entry(form).or_default() += 1;
                }
            }
        }
        let count = |form: &str| forms.get(form).copied().unwrap_or(0);
        println!(
            "{qpm:5}: {:3} {:3} {:3}   ({changes} changes)",
            count("full"),
            count("short"),
            count("none")
        );
        assert!(changes > 50, "too little was played to judge by");
    }
    let count = |what: &str| faults.iter().filter(|fault| fault.contains(what)).count();
    println!(
        "{pages} pages: {} chords late, {} words late",
        count("late page"),
        count("late word")
    );
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}
