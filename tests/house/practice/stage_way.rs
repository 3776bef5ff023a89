//! From section to form and from slow to the tune's own tempo: what a stage lets go round, and how its tempo rises. What is
//! heard is told by the bass's first note of each bar. Common practice of teachers, no source.

use crate::support::practice::heard::listen;
use crate::support::practice::told::heard_like;
use crate::support::practice::*;
use proptest::prelude::*;
use std::sync::Arc;
use underfoot::foot::Action;
use underfoot::harmony::Habits;
use underfoot::plan::{Material, Standing};
use underfoot::practice::{EventKind, MusicChange, Record, Recorded};

/// Stages with these keys, one pass each.
fn stages(keys: &[&str]) -> String {
    let stage = |(number, keys): (usize, &&str)| {
        format!(
            "[[stage]]\nname = '{number}'\ndegrees = ['1']\npasses = 1\nadvance = 'passes'\n\
             cycle = {{ listen = 0, sing = 0, play = 1, breathe_bars = 0 }}\n{keys}\n"
        )
    };
    let all: String = keys.iter().enumerate().map(stage).collect();
    format!("title = 'x'\n{all}")
}

#[test]
fn a_drill_leads_from_section_to_form() {
    let way = stages(&[
        "over = 'A'",
        "over = 2",
        "over = 'form'",
        "over = 'hard spot'",
        "",
        "over = ['C', 'A']",
        "passes = 9",
    ]);
    let way = way.replacen("passes = 1\nadvance = 'passes'\ncycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\npasses = 9", "cycle = { listen = 0, play = 1 }", 1);
    heard_like(
        &[(
            "each stage its own part",
            "131",
            "n n C D E F (1) C D E F G A (2) C D E F G A Bb Eb Ab (3) C D (4) C D E F (5) Bb Eb Ab C D E F (6) Bb",
        )],
        CHART,
        &way,
    );
    let spot = "title = 'x'\n[[stage]]\nname = 'a'\ndegrees = ['1']\ncycle = { listen = 0, play = 1 }\n\
        [[stage]]\nname = 'spot'\nover = 'hard spot'\ndegrees = ['1']\ncycle = { listen = 0, play = 1 }\n\
        [[stage]]\nname = 'c'\ndegrees = ['1']\ncycle = { listen = 0, play = 1 }\n";
    heard_like(
        &[
            (
                "the spot that the foot looped",
                "7 loop here; 13 next section; 17 next stage; 63",
                "n n C D E D E (spot) D E D E D E D E D E D",
            ),
            (
                "and the section that it lies in after it",
                "-4 next stage; 9 next stage; 31",
                "n n C D C D (c) C D E F",
            ),
        ],
        CHART,
        spot,
    );
}

/// The stages with the tempo that they begin at and come to, each with its bar.
fn tempos(room: &Room) -> String {
    let bar = |record: &Record| record.tick.map_or(0.0, |tick| tick.quarters() / 4.0);
    let word = |record: &Record| match &record.what {
        Recorded::Stage => Some(format!("({})", record.stage)),
        Recorded::Change(MusicChange::Tempo(tempo)) => {
            Some(format!("{:.0}@{}", tempo.qpm(), bar(record)))
        }
        _ => None,
    };
    room.records
        .iter()
        .filter_map(word)
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn the_tempo_rises_by_passes_and_never_with_stage_or_key() {
    let steps = "tempo = { from_per_cent = 50, to_per_cent = 100, step = 25, every = 1 }";
    #[rustfmt::skip]
    let cases = [
        // Four bars a pass at 240; a take opens at the first tempo, a stage that follows keeps what sounds for a pass.
        (stages(&[&format!("{steps}\npasses = 4").replace("passes = 4", "")]).replace("passes = 1", "passes = 9"), "79", "(0) 180@4 240@8"),
        (stages(&["", steps]).replace("passes = 1", "passes = 3"), "139", "(0) (1) 180@16 240@20"),
        (stages(&[&format!("{steps}\nkeys = ['F', 'G']")]).replace("passes = 1", "passes = 9"), "79", "(0)"),
        // The foot's tempo goes on top.
        (stages(&[steps]).replace("passes = 1", "passes = 9"), "5 tempo up; 47", "(0) 124@2 186@4 248@8"),
    ];
    for (drill, script, expected) in cases {
        let room = Room::new(library(&[CHART], &drill), settings(2)).started(script);
        assert_eq!(tempos(&room), expected, "{drill}");
    }
}

#[test]
fn the_tempo_rises_by_ear_before_the_next_stage_comes() {
    let drill = "title = 'x'\n[[stage]]\nname = 'one'\ndegrees = ['1']\nadvance = 'ready'\npasses = 2\n\
        tempo = { from_per_cent = 80, to_per_cent = 100, step = 20, every = 'ready' }\nhelp = { voice = 'off' }\n\
        cycle = { listen = 0, play = 1, breathe_bars = 0 }\n[[stage]]\nname = 'two'\ndegrees = ['1']\n";
    let mut room = Room::new(library(&[CHART], drill), settings(2));
    room.handle(EventKind::Act(Action::Start));
    // Roots of sixteen bars at 192; then no more is heard that could be right.
    let notes: Vec<(f64, u8)> = (0..16)
        .map(|bar| (f64::from(bar) * 4.0, [48, 50, 52, 53][bar as usize % 4]))
        .collect();
    listen(&mut room, 60.0, &notes);
    assert_eq!(tempos(&room), "(one) 240@12");
}

fn material(keys: &str) -> Arc<Material> {
    let text = format!(
        "title = 'x'\n[[stage]]\nname = 'before'\ndegrees = ['1']\npasses = 2\nadvance = 'passes'\n\
        [[stage]]\nname = 'x'\ndegrees = ['1']\nadvance = 'passes'\n{keys}\n[[stage]]\nname = 'after'\ndegrees = ['1']\n"
    );
    Arc::new(Material::new(chart(CHART), drill(&text), Habits::default()))
}

proptest! {
    /// One thing at a time: tempo or key or stage.
    #[test]
    fn nothing_changes_together(
        from in 20u32..100, more in 1u32..80, step in 1u32..30, every in 1u32..5, passes in 1u32..40,
        play in 1u32..4, listen in 0u32..3, breathe in 0u32..3, keys in prop::sample::select(vec!["stay", "fourths", "at random"]),
    ) {
        let to = from + more;
        let material = material(&format!(
            "passes = {passes}\nkeys = \"{keys}\"\ncycle = {{ listen = {listen}, play = {play}, breathe_bars = {breathe} }}\n\
             tempo = {{ from_per_cent = {from}, to_per_cent = {to}, step = {step}, every = {every} }}"
        ));
        let mut here = Standing::first().opening(&material);
        let mut highest = 0;
        for _ in 0..150 {
            let next = here.next(&material);
            let key = |standing: &Standing| standing.walked(&material).key();
            if next.per_cent != here.per_cent {
                prop_assert_eq!(next.stage, here.stage);
                prop_assert_eq!(key(&next), key(&here));
                prop_assert!(next.per_cent <= to && (next.per_cent >= from));
                prop_assert!(!next.breathing);
            }
            if next.stage == 1 { highest = highest.max(next.per_cent) }
            here = next;
        }
        prop_assert!(here.stage < 2 || highest <= to.max(100));
    }
}
