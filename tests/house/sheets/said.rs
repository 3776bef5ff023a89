//! A sheet says what `targets` says, in every format.

use super::{CHARTS, PLAYERS, asked, chart, config, drills, sheet, stages};
use roxmltree::{Document, Node, ParsingOptions};
use serde_json::Value;
use underfoot::daemon::config::Config;
use underfoot::daemon::targets::lines;
use underfoot::drill::Drill;
use underfoot::engrave::{
    LaidOut, Paper, SheetModel, rows_on_paper, to_mei, to_musicxml, to_pdf, to_png, to_svg,
};
use underfoot::harmony::Pitch;
use underfoot::plan::Material;

/// A note's name, its MIDI key, string and fret.
type WrittenNote = (String, i32, Option<(u64, u64)>);
/// A note's name, and string, fret and MIDI key.
type AskedNote = (String, Option<(u64, u64, i32)>);
/// Writes a sheet as a file.
type Write = fn(&SheetModel, &LaidOut) -> Vec<u8>;

fn parsed(text: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options).unwrap()
}

fn child<'a>(node: Node<'a, 'a>, path: &str) -> Option<&'a str> {
    let found = path.split('/').try_fold(node, |node, name| {
        node.children().find(|one| one.has_tag_name(name))
    });
    found.and_then(|node| node.text())
}

/// Notes of a part as `Bb` and MIDI key, tied ones once; and string and fret where they stand.
fn notes(score: &Document<'_>, part: &str) -> Vec<WrittenNote> {
    let part = score
        .descendants()
        .find(|node| node.attribute("id") == Some(part) && node.has_tag_name("part"))
        .unwrap();
    let notes = part.descendants().filter(|node| node.has_tag_name("note"));
    let is_tied = |note: &Node<'_, '_>| {
        note.children()
            .any(|one| one.has_tag_name("tie") && one.attribute("type") == Some("stop"))
    };
    let mut all = Vec::new();
    for note in notes.filter(|note| !is_tied(note)) {
        let Some(step) = child(note, "pitch/step") else {
            continue;
        };
        let number = |path: &str| child(note, path).map(|text| text.parse::<i32>().unwrap());
        let alter = number("pitch/alter").unwrap_or(0);
        let sign = if alter < 0 { "b" } else { "#" };
        let name = format!("{step}{}", sign.repeat(alter.unsigned_abs() as usize));
        let natural: Pitch = step.parse().unwrap();
        let midi = 12 * (number("pitch/octave").unwrap() + 1) + natural.letter.semitones() + alter;
        let place =
            |what: &str| number(&format!("notations/technical/{what}")).map(|value| value as u64);
        all.push((name, midi, place("string").zip(place("fret"))));
    }
    all
}

/// What `targets` says, a note each.
fn targets(chart: &str, drill: &Drill, stage: usize, player: &Config) -> Vec<AskedNote> {
    let chart = super::chart(chart);
    let material = Material::new(chart, drill.clone(), player.harmony.clone());
    let mut all = Vec::new();
    for line in lines(&material, Some(drill), &asked(stage, player)).unwrap() {
        let line: Value = serde_json::from_str(&line).unwrap();
        let names = line["target"].as_array().unwrap();
        for (name, place) in names.iter().zip(line["neck"].as_array().unwrap()) {
            let number = |key: &str| place[key].as_u64();
            let place = number("string").zip(number("fret")).zip(number("midi"));
            let place = place.map(|((string, fret), midi)| (string, fret, midi as i32));
            all.push((name.as_str().unwrap().to_string(), place));
        }
    }
    all
}

#[test]
fn notes_strings_and_frets_are_those_of_targets() {
    let mut compared = 0;
    for name in CHARTS {
        for (drill_name, drill) in drills() {
            for stage in stages(&drill) {
                for player in PLAYERS {
                    let config = config(player);
                    let what = format!("{name} {drill_name} {stage} {player:?}");
                    let model = sheet(&chart(name), &drill, stage, &config, (None, false));
                    let expected = targets(name, &drill, stage, &config);
                    if drill.stages[stage - 1].is_open_choice() {
                        assert!(expected.is_empty(), "{what}");
                        continue;
                    }
                    let score = to_musicxml(&model);
                    let score = parsed(&score);
                    let (written, frets) = (notes(&score, "P1"), notes(&score, "P2"));
                    let names: Vec<&str> = written.iter().map(|note| note.0.as_str()).collect();
                    let wanted: Vec<&str> = expected.iter().map(|note| note.0.as_str()).collect();
                    assert_eq!(names, wanted, "{what}");
                    for ((written, fret), (_, place)) in written.iter().zip(&frets).zip(&expected) {
                        let Some((string, number, midi)) = place else {
                            continue;
                        };
                        assert_eq!(
                            (written.1, fret.1, fret.2),
                            (*midi, *midi, Some((*string, *number))),
                            "{what}"
                        );
                        compared += 1;
                    }
                }
            }
        }
    }
    assert!(compared > 5_000, "{compared} notes");
}

#[test]
fn open_choice_shows_all_that_may_be_chosen() {
    let open = drills().into_iter().flat_map(|(_, drill)| {
        let is_open = |stage: &usize| drill.stages[stage - 1].is_open_choice();
        let stages: Vec<usize> = (1..=drill.stages.len()).filter(is_open).collect();
        stages.into_iter().map(move |stage| (drill.clone(), stage))
    });
    let mut count = 0;
    for (drill, number) in open {
        let stage = &drill.stages[number - 1];
        let tune = chart("ferry-at-six");
        let material = Material::new(tune.clone(), drill.clone(), config("").harmony.clone());
        let model = sheet(&tune, &drill, number, &config(""), (Some("form"), false));
        let contexts = material.pickup_contexts.iter().chain(&material.contexts);
        for (chord, context) in model
            .chords
            .iter()
            .zip(contexts)
            .filter(|(chord, _)| !chord.notes.is_empty())
        {
            let classes = chord
                .notes
                .iter()
                .fold(0, |set, note| set | 1 << note.pitch.class());
            assert!(chord.is_free);
            assert_eq!(
                classes,
                stage.classes_over(context),
                "{}: {}",
                model.subtitle,
                chord.symbol
            );
            count += 1;
        }
    }
    assert!(count > 50, "{count} chords");
}

#[test]
fn a_chorus_of_an_open_choice_stays_within_it_and_hangs_on_the_seed() {
    let (drill, stage) = drills()
        .into_iter()
        .find_map(|(_, drill)| {
            let stage = drill
                .stages
                .iter()
                .position(|stage| stage.is_open_choice() && stage.degrees.len() > 2)?;
            Some((drill, stage + 1))
        })
        .unwrap();
    let player = config("");
    let tune = chart("tram-to-the-salt-pans");
    let chosen = sheet(&tune, &drill, stage, &player, (Some("form"), false));
    let material = Material::new(tune, drill.clone(), player.harmony.clone());
    let chorus = |seed: u64| {
        let asked = underfoot::daemon::targets::Asked {
            seed,
            ..asked(stage, &player)
        };
        let wanted = underfoot::daemon::sheet::Wanted {
            is_chorus: true,
            ..Default::default()
        };
        underfoot::daemon::sheet::model(&material, &drill, asked, &wanted).unwrap()
    };
    let (one, other) = (chorus(1), chorus(2));
    assert_eq!(one, chorus(1));
    assert_ne!(one.chords, other.chords);
    for (chord, allowed) in one.chords.iter().zip(&chosen.chords) {
        assert!(
            !chord.is_free && !chord.notes.is_empty(),
            "{}",
            chord.symbol
        );
        for note in &chord.notes {
            assert!(
                allowed.notes.iter().any(|other| other.pitch == note.pitch),
                "{}: {note:?}",
                chord.symbol
            );
        }
    }
}

/// A sheet in all formats is the same bytes each time, and each begins as its format does.
#[test]
fn every_format_is_written_and_the_same_each_time() {
    let (_, drill) = drills().swap_remove(0);
    let model: SheetModel = sheet(
        &chart(CHARTS[2]),
        &drill,
        1,
        &config(PLAYERS[1]),
        (None, false),
    );
    let laid_out = rows_on_paper(&model, Paper::A4);
    let formats: [(&str, Write); 5] = [
        ("%PDF-", |_, laid_out| to_pdf(laid_out).unwrap()),
        ("<svg ", |_, laid_out| to_svg(laid_out).into_bytes()),
        ("\u{fffd}PNG", |_, laid_out| to_png(laid_out).unwrap()),
        ("<?xml", |model, _| to_musicxml(model).into_bytes()),
        ("<?xml", |model, _| to_mei(model).into_bytes()),
    ];
    for (begins, write) in formats {
        let bytes = write(&model, &laid_out);
        assert!(
            String::from_utf8_lossy(&bytes[..8]).starts_with(begins),
            "{begins}"
        );
        assert_eq!(bytes, write(&model, &laid_out), "{begins}");
    }
    let svg = to_svg(&laid_out);
    let svg = parsed(&svg);
    let heads = svg
        .descendants()
        .filter(|node| node.attribute("role") == Some("heading"));
    let first = heads.clone().next().unwrap();
    assert_eq!(
        first.descendants().find_map(|node| node.text()),
        Some("Nine Lanterns")
    );
    assert_eq!(
        heads
            .filter(|head| head.attribute("aria-level") == Some("3"))
            .count(),
        model.chords.len()
    );
    let mei = to_mei(&model);
    assert_eq!(parsed(&mei).root_element().tag_name().name(), "mei");
}

/// README's picture is what the program prints; `UNDERFOOT_BLESS=1` makes it anew.
#[test]
fn the_sheet_of_the_readme_is_up_to_date() {
    let (_, drill) = drills()
        .into_iter()
        .find(|(name, _)| name == "three-notes")
        .unwrap();
    let model = sheet(
        &chart("nine-lanterns"),
        &drill,
        3,
        &config(""),
        (Some("A"), false),
    );
    let drawn = to_svg(&rows_on_paper(&model, Paper::A4));
    let path = crate::support::program::root("tests/fixtures/sheets/chords.svg");
    if std::env::var_os("UNDERFOOT_BLESS").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, &drawn).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    // Whole texts would say nothing to a reader.
    let differ = kept
        .lines()
        .zip(drawn.lines())
        .position(|(one, other)| one != other);
    assert_eq!(
        differ, None,
        "the first line that differs; UNDERFOOT_BLESS=1 makes it anew"
    );
    assert_eq!(kept.len(), drawn.len());
}
