//! `<harmony>` elements as chord symbols.
//!
//! What sounds comes from `kind` and `degree`; the text beside a kind is kept for the page where it says the
//! same. The elements may stand in any order, with stray white space.

use super::degree::{DegreeAction, Edit};
use super::kind::{self, HarmonyKind};
use super::xml::{child, children, number, text};
use crate::harmony::{ChordSymbol, Degree, Harmony, Key, KeyDeclaration, Letter, Mode, Pitch};
use crate::sheet::lead::short;
use roxmltree::Node;

/// A chord as read, and what is to be told of it.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Read {
    /// `None`: there is nothing that could be taken.
    pub harmony: Option<Harmony>,
    pub told: Vec<String>,
}

/// The move from written to sounding pitch of a transposing part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Transposition {
    pub steps: i32,
    pub semitones: i32,
}

impl Transposition {
    /// The sounding pitch of a written one, and how many octaves it lies higher.
    pub(super) fn pitch(self, pitch: Pitch) -> (Pitch, i32) {
        let place = pitch.letter as i32 + self.steps;
        let letter = pitch.letter.up(self.steps);
        let before = pitch.letter.semitones() + i32::from(pitch.alter);
        let octaves = place.div_euclid(7);
        let alter = before + self.semitones - letter.semitones() - 12 * octaves;
        if alter.abs() <= 2 {
            return (Pitch::new(letter, alter as i8), octaves);
        }
        plain(before + self.semitones)
    }

    /// The sounding key signature of a written one, with at most seven signs.
    pub(super) fn fifths(self, fifths: i8) -> i8 {
        let tonic = Key::of_signature(fifths, Mode::Major).tonic;
        let moved = Key::new(self.pitch(tonic).0, Mode::Major).fifths();
        let around = |signs: i8| match signs {
            8.. => signs - 12,
            ..=-8 => signs + 12,
            _ => signs,
        };
        around(moved)
    }
}

/// A pitch of this many semitones above C, spelled with one accidental at most; and its octave.
fn plain(semitones: i32) -> (Pitch, i32) {
    let class = semitones.rem_euclid(12);
    let letter = Letter::ALL
        .into_iter()
        .rev()
        .find(|letter| letter.semitones() <= class)
        .unwrap_or(Letter::C);
    let alter = (class - letter.semitones()) as i8;
    (Pitch::new(letter, alter), semitones.div_euclid(12))
}

/// Reads a harmony. `key` is the written key in force.
pub(super) fn read(
    node: Node<'_, '_>,
    key: Option<KeyDeclaration>,
    transposition: Transposition,
) -> Read {
    let mut read = Read::default();
    if node.attribute("type") == Some("alternate") {
        read.told.push("an alternate chord is left out".to_string());
        return read;
    }
    let Some(group) = Group::first(node, &mut read.told) else {
        return read;
    };
    let kind_text = group.kind.map(text).unwrap_or_default();
    if kind_text == "none" {
        read.harmony = Some(Harmony::Silence);
        return read;
    }
    let Some(root) = group.root(key, &mut read.told) else {
        return read;
    };
    let shown = group.kind.and_then(|kind| kind.attribute("text"));
    let shown = shown.map(str::trim).filter(|shown| !shown.is_empty());
    let Some(mut tones) = tones(kind_text, shown, &mut read.told) else {
        read.harmony = Some(Harmony::Silence);
        return read;
    };
    for degree in &group.degrees {
        alter(&mut tones, *degree, &mut read.told);
    }
    tones.sort_unstable();
    tones.dedup();
    let bass = group.bass(root, &tones, &mut read.told).unwrap_or(root);
    let moved = |pitch: Pitch| transposition.pitch(pitch).0;
    let symbol = symbol(moved(root), moved(bass), tones, shown, &mut read.told);
    read.harmony = Some(Harmony::Chord(symbol));
    read
}

/// The elements of one chord, whatever their order.
#[derive(Default)]
struct Group<'a, 'input> {
    root: Option<Node<'a, 'input>>,
    numeral: Option<Node<'a, 'input>>,
    kind: Option<Node<'a, 'input>>,
    bass: Option<Node<'a, 'input>>,
    inversion: Option<Node<'a, 'input>>,
    degrees: Vec<Node<'a, 'input>>,
}

impl<'a, 'input> Group<'a, 'input> {
    /// The first chord of the element; more than one stand for one upon the other.
    fn first(node: Node<'a, 'input>, told: &mut Vec<String>) -> Option<Group<'a, 'input>> {
        let mut group = Group::default();
        let mut chords = 0;
        let mut function = false;
        for one in children(node) {
            let name = one.tag_name().name();
            if matches!(name, "root" | "numeral" | "function") {
                chords += 1;
            }
            if chords > 1 {
                continue;
            }
            match name {
                "root" => group.root = Some(one),
                "numeral" => group.numeral = Some(one),
                "function" => function = true,
                "kind" => group.kind = group.kind.or(Some(one)),
                "bass" => group.bass = group.bass.or(Some(one)),
                "inversion" => group.inversion = group.inversion.or(Some(one)),
                "degree" if group.degrees.len() < 32 => group.degrees.push(one),
                _ => {}
            }
        }
        if chords > 1 {
            told.push(format!(
                "{chords} chords stand one upon the other: the first is taken"
            ));
        }
        if function {
            told.push("a chord by function has no root: left out".to_string());
            return None;
        }
        Some(group)
    }

    /// The written root.
    fn root(&self, key: Option<KeyDeclaration>, told: &mut Vec<String>) -> Option<Pitch> {
        if let Some(numeral) = self.numeral {
            let found = numeral_root(numeral, key);
            if found.is_none() {
                told.push(
                    "a chord by numeral cannot be told without its key: left out".to_string(),
                );
            }
            return found;
        }
        let Some(root) = self.root else {
            told.push("a chord without a root: left out".to_string());
            return None;
        };
        let found = pitch(root, "root-step", "root-alter", told);
        if found.is_none() {
            let step = child(root, "root-step").map(text).unwrap_or_default();
            told.push(format!("\"{}\" is no root: left out", short(step)));
        }
        found
    }

    /// The written bass: the one named, else the one of the inversion.
    fn bass(&self, root: Pitch, tones: &[Degree], told: &mut Vec<String>) -> Option<Pitch> {
        if let Some(bass) = self.bass {
            let found = pitch(bass, "bass-step", "bass-alter", told);
            if found.is_none() {
                told.push("a bass that is no note is left out".to_string());
            }
            return found;
        }
        let inversion = number(self.inversion?).filter(|one| one.fract() == 0.0)? as i64;
        let place = match inversion {
            0 => return None,
            1 => tones.iter().find(|one| matches!(one.number, 2..=4)),
            2 => tones.iter().find(|one| one.number == 5),
            3 => tones.iter().find(|one| matches!(one.number, 6 | 7)),
            _ => None,
        };
        if place.is_none() {
            told.push(format!(
                "inversion {inversion} is not in the chord: left out"
            ));
        }
        place.map(|one| one.above(root))
    }
}

/// A step and its accidental; an empty step with a text that is a note is that note.
fn pitch(node: Node<'_, '_>, step: &str, alter: &str, told: &mut Vec<String>) -> Option<Pitch> {
    let step = child(node, step)?;
    let own = text(step);
    let shown = step.attribute("text").map(str::trim).unwrap_or_default();
    let name = if own.is_empty() { shown } else { own };
    let mut signs = name.chars();
    let first = signs.next()?.to_ascii_uppercase();
    let named: Pitch = format!("{first}{}", signs.as_str()).parse().ok()?;
    let alter = child(node, alter).and_then(number).unwrap_or(0.0);
    let whole = alter.round();
    if whole != alter {
        told.push("a quarter tone is rounded".to_string());
    }
    let sum = f64::from(named.alter) + whole;
    if sum.abs() > 2.0 {
        told.push("more than two accidentals: left out".to_string());
        return Some(Pitch::new(named.letter, 0));
    }
    Some(Pitch::new(named.letter, sum as i8))
}

/// A root given as a degree of a key.
fn numeral_root(numeral: Node<'_, '_>, key: Option<KeyDeclaration>) -> Option<Pitch> {
    let degree = number(child(numeral, "numeral-root")?)?;
    let alter = child(numeral, "numeral-alter")
        .and_then(number)
        .unwrap_or(0.0);
    if !(1.0..=7.0).contains(&degree) || alter.abs() > 2.0 {
        return None;
    }
    let own = child(numeral, "numeral-key").and_then(|own| {
        let fifths = number(child(own, "numeral-fifths")?)?;
        let fifths = (-7.0..=7.0).contains(&fifths).then_some(fifths as i8)?;
        let mode = child(own, "numeral-mode").map(text).unwrap_or_default();
        let mode = if mode.contains("minor") {
            Mode::Minor
        } else {
            Mode::Major
        };
        Some(Key::of_signature(fifths, mode))
    });
    let key = own.or(match key? {
        KeyDeclaration::Key(key) => Some(key),
        KeyDeclaration::Signature(fifths) => Some(Key::of_signature(fifths, Mode::Major)),
    })?;
    let note = *key.notes().get(degree as usize - 1)?;
    let sum = i32::from(note.alter) + alter as i32;
    (sum.abs() <= 2).then_some(Pitch::new(note.letter, sum as i8))
}

/// The tones of a kind; `None`: silence. A kind that is none is looked for in what it shows and in its own name,
/// for there are programs that write a symbol there.
fn tones(name: &str, shown: Option<&str>, told: &mut Vec<String>) -> Option<Vec<Degree>> {
    match kind::kind(name) {
        Some(HarmonyKind::Tones(tones)) => return Some(kind::degrees(tones)),
        Some(HarmonyKind::Near(tones)) => {
            let near = symbol_text(&kind::degrees(tones));
            told.push(format!(
                "the kind \"{name}\" has no chord symbol: read as {near} on its root"
            ));
            return Some(kind::degrees(tones));
        }
        Some(HarmonyKind::Silence) => return None,
        None => {}
    }
    let spelled = [shown.unwrap_or_default(), name]
        .into_iter()
        .filter(|text| !text.is_empty())
        .find_map(|text| format!("C{text}").parse::<ChordSymbol>().ok())
        .filter(|chord| chord.bass == chord.root && chord.root == Pitch::new(Letter::C, 0));
    let degrees = match spelled {
        Some(chord) => chord.degrees,
        None => kind::degrees(kind::nearest_triad(shown.unwrap_or(name))),
    };
    let what = match name {
        "" => "a chord without a kind".to_string(),
        _ => format!("\"{}\" is no kind of chord", short(name)),
    };
    told.push(format!("{what}: read as {}", symbol_text(&degrees)));
    Some(degrees)
}

/// A chord's symbol over C, to show what was taken.
fn symbol_text(degrees: &[Degree]) -> String {
    let c = Pitch::new(Letter::C, 0);
    let chord = ChordSymbol {
        text: String::new(),
        root: c,
        bass: c,
        degrees: degrees.to_vec(),
    };
    let written = chord.to_string();
    match written.trim_start_matches('C') {
        "" => "a major triad".to_string(),
        suffix => format!("\"{suffix}\""),
    }
}

/// Adds, alters or takes away a tone.
fn alter(tones: &mut Vec<Degree>, node: Node<'_, '_>, told: &mut Vec<String>) {
    let value = child(node, "degree-value").and_then(number).unwrap_or(0.0);
    let alter = child(node, "degree-alter").and_then(number).unwrap_or(0.0);
    if !(1.0..=13.0).contains(&value) || value.fract() != 0.0 || alter.abs() > 2.0 {
        told.push("a degree that is none is left out".to_string());
        return;
    }
    let written = child(node, "degree-type").map(text).unwrap_or_default();
    let action = match written {
        "add" => DegreeAction::Add,
        "alter" => DegreeAction::Alter,
        "subtract" => DegreeAction::Subtract,
        other => {
            let what = format!("\"{}\" does nothing to a degree: added", short(other));
            told.push(what);
            DegreeAction::Add
        }
    };
    let edit = Edit {
        action,
        number: value as u8,
        alter: alter.round() as i8,
    };
    if !edit.apply(tones) {
        told.push(format!("there is no {value} to take away"));
    }
}

/// The symbol of a chord: the text of the file if it says the same, else our own form.
fn symbol(
    root: Pitch,
    bass: Pitch,
    degrees: Vec<Degree>,
    shown: Option<&str>,
    told: &mut Vec<String>,
) -> ChordSymbol {
    let own = ChordSymbol {
        text: String::new(),
        root,
        bass,
        degrees,
    };
    let slash = match bass == root {
        true => String::new(),
        false => format!("/{bass}"),
    };
    let same = |chord: &ChordSymbol| {
        (chord.root, chord.bass, &chord.degrees) == (own.root, own.bass, &own.degrees)
    };
    let read = |text: String| text.parse::<ChordSymbol>().ok();
    let shown = shown.and_then(|shown| read(format!("{root}{shown}{slash}")));
    if let Some(chord) = shown.filter(same) {
        return chord;
    }
    let written = own.to_string();
    match read(written.clone()) {
        Some(chord) if same(&chord) => chord,
        Some(chord) => {
            told.push(format!("a chord that no symbol writes is taken as {chord}"));
            chord
        }
        None => {
            told.push("a chord that no symbol writes is taken as its triad".to_string());
            let minor = if own.has_degree(3, -1) { "m" } else { "" };
            read(format!("{root}{minor}{slash}")).unwrap_or(own)
        }
    }
}
