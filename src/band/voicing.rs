//! Voicings: which notes of a chord the comping can take, rootless, between D3 and Bb4.
//!
//! Four notes in two forms. Form A has the third at the bottom, form B the seventh (or sixth); in both lie
//! the fifth or thirteenth and the ninth. Common practice of piano accompanists, no source.

use super::scene::SceneChord;
use crate::drill::Comping;
use crate::harmony::ChordSymbol;

/// The lowest key of the comping, D3.
pub const LOWEST: u8 = 50;
/// The highest key of the comping, Bb4.
pub const HIGHEST: u8 = 70;

/// One way to play a chord: keys ascending, and how much less it is wanted than the full form.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Voicing {
    pub keys: Vec<u8>,
    pub cost: f64,
}

/// What a note is in its form; says what may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Use {
    /// Third, seventh or sixth, the fourth of sus: never left out.
    Guide,
    Filler,
    Colour,
}

type VoicingForm = Vec<(i32, Use)>;

/// What the table needs to know of a chord: semitones over the root.
struct Recipe {
    third: i32,
    seventh: i32,
    /// Fifth or thirteenth in form A, then in form B.
    filler: [i32; 2],
    /// Ninth, or the root where the ninth is not wanted, in form A, then in form B.
    ninth: [Option<i32>; 2],
    /// The ninth is left out before the fifth: the fifth makes the chord (half-diminished).
    fifth_stays: bool,
}

/// Every way to comp `chord` under `mode`; `guides`: third and seventh only. Empty: the chord stays silent.
pub(super) fn voicings(chord: &SceneChord<'_>, mode: Comping, guides: bool) -> Vec<Voicing> {
    let Some(symbol) = &chord.symbol else {
        return Vec::new();
    };
    let all = within_range(symbol, &forms(symbol, &chord.scale));
    let only_guides = guides && mode != Comping::WithoutTarget;
    let wanted = if only_guides {
        let guides = guide_tones(symbol, &chord.scale);
        if guides.is_empty() { all } else { guides }
    } else {
        all
    };
    let is_target = |key: u8| chord.targets.contains(&(key % 12));
    match mode {
        Comping::Full => wanted,
        Comping::Off => Vec::new(),
        Comping::WithoutTarget => {
            let mut away = trimmed(wanted, |keys| keys.retain(|key| !is_target(*key)));
            away.extend(turned(chord, |class| !is_target(class)));
            away
        }
        Comping::Inside => {
            let mut all = wanted;
            all.extend(turned(chord, |_| true));
            let inside: Vec<Voicing> = all
                .iter()
                .filter(|voicing| voicing.keys.last().is_some_and(|top| !is_target(*top)))
                .cloned()
                .collect();
            if inside.is_empty() {
                trimmed(all, |keys| {
                    while keys.last().is_some_and(|top| is_target(*top)) {
                        keys.pop();
                    }
                })
            } else {
                inside
            }
        }
    }
}

/// Where the forms are narrowed by the target, the other close positions of the chord's notes too, so that
/// the top voice keeps a way: those pitch classes that `may` sound, without a semitone at the top.
fn turned(chord: &SceneChord<'_>, may: impl Fn(u8) -> bool) -> Vec<Voicing> {
    let Some(symbol) = chord.symbol.as_ref().filter(|_| !chord.targets.is_empty()) else {
        return Vec::new();
    };
    let fifth = ChordTones(symbol).any(&[5]);
    let mut forms: Vec<(Vec<i32>, f64)> = Vec::new();
    for (form, cost) in self::forms(symbol, &chord.scale) {
        for with_fifth in [None, fifth] {
            let mut classes: Vec<i32> = form.iter().map(|note| note.rem_euclid(12)).collect();
            if form.len() < 4 || !may_all(symbol, &form, &may) {
                classes.extend(with_fifth);
            }
            classes.retain(|class| may(absolute(symbol, *class)));
            classes.sort_unstable();
            classes.dedup();
            forms.extend(
                rotations(&classes)
                    .filter(|turn| {
                        turn.len() < 2 || turn[turn.len() - 1] - turn[turn.len() - 2] > 1
                    })
                    .map(|turn| (turn, cost + 3.0)),
            );
        }
    }
    forms.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    forms.dedup_by(|a, b| a.0 == b.0);
    within_range(symbol, &forms)
}

fn absolute(symbol: &ChordSymbol, semitones: i32) -> u8 {
    (i32::from(symbol.root.class()) + semitones).rem_euclid(12) as u8
}

fn may_all(symbol: &ChordSymbol, form: &[i32], may: impl Fn(u8) -> bool) -> bool {
    form.iter().all(|note| may(absolute(symbol, *note)))
}

/// Every close position of ascending pitch classes.
fn rotations(classes: &[i32]) -> impl Iterator<Item = Vec<i32>> {
    (0..classes.len()).map(|turn| {
        let (low, high) = classes.split_at(turn);
        let raised = low.iter().map(|class| class + 12);
        high.iter().copied().chain(raised).collect()
    })
}

/// The voicings after `trim`, without the empty ones and without doubles.
fn trimmed(mut voicings: Vec<Voicing>, trim: impl Fn(&mut Vec<u8>)) -> Vec<Voicing> {
    for voicing in &mut voicings {
        trim(&mut voicing.keys);
    }
    voicings.retain(|voicing| !voicing.keys.is_empty());
    let most = voicings.iter().map(|v| v.keys.len()).max().unwrap_or(0);
    for voicing in &mut voicings {
        voicing.cost = 2.0 * (most - voicing.keys.len()) as f64;
    }
    voicings.sort_by(|a, b| a.keys.cmp(&b.keys));
    voicings.dedup_by(|a, b| a.keys == b.keys);
    voicings
}

/// The forms of a chord as semitones over the root, with what each costs.
fn forms(symbol: &ChordSymbol, scale: &[u8]) -> Vec<(Vec<i32>, f64)> {
    let Some(recipe) = recipe(symbol, scale) else {
        return triads(symbol);
    };
    let mut forms = Vec::new();
    for form in [form_a(&recipe), form_b(&recipe)] {
        forms.push((form.iter().map(|(note, _)| *note).collect(), 0.0));
        let left_out = if recipe.fifth_stays {
            Use::Colour
        } else {
            Use::Filler
        };
        let three: Vec<i32> = form
            .iter()
            .filter(|(_, is)| *is != left_out)
            .map(|(note, _)| *note)
            .collect();
        if three.len() >= 3 {
            forms.push((three, 3.0));
        }
    }
    forms
}

fn form_a(recipe: &Recipe) -> VoicingForm {
    let mut form = vec![
        (recipe.third, Use::Guide),
        (recipe.filler[0], Use::Filler),
        (recipe.seventh, Use::Guide),
    ];
    form.extend(recipe.ninth[0].map(|ninth| (ninth, Use::Colour)));
    form.sort_unstable_by_key(|(note, _)| *note);
    form
}

fn form_b(recipe: &Recipe) -> VoicingForm {
    let mut form = vec![
        (recipe.seventh, Use::Guide),
        (recipe.third + 12, Use::Guide),
        (recipe.filler[1] + 12, Use::Filler),
    ];
    form.extend(recipe.ninth[1].map(|ninth| (ninth, Use::Colour)));
    form.sort_unstable_by_key(|(note, _)| *note);
    form
}

/// The tones of a symbol, in semitones over the root within the octave.
struct ChordTones<'a>(&'a ChordSymbol);

impl ChordTones<'_> {
    fn any(&self, numbers: &[u8]) -> Option<i32> {
        numbers.iter().find_map(|number| {
            let mut degrees = self.0.degrees.iter();
            degrees
                .find(|degree| degree.number == *number)
                .map(|degree| degree.semitones().rem_euclid(12))
        })
    }

    fn has(&self, numbers: &[u8], semitones: i32) -> bool {
        self.0.degrees.iter().any(|degree| {
            numbers.contains(&degree.number) && degree.semitones().rem_euclid(12) == semitones
        })
    }
}

/// The recipe of a chord with a seventh or sixth; `None`: a triad or what has no third nor fourth.
fn recipe(symbol: &ChordSymbol, scale: &[u8]) -> Option<Recipe> {
    let tones = ChordTones(symbol);
    let third = tones.any(&[3]).or_else(|| tones.any(&[4, 11]))?;
    let seventh = tones.any(&[7]).or_else(|| tones.any(&[6, 13]))?;
    let fifth = tones.any(&[5]).unwrap_or(7);
    let dominant = seventh == 10 && third >= 4;
    let diminished = third == 3 && fifth == 6;
    let in_scale = |semitones: u8| scale.contains(&semitones);
    let second = if tones.has(&[2, 9], 2) || !(in_scale(1) || in_scale(3) && third == 4) {
        Second::Natural
    } else if in_scale(1) {
        Second::Flat
    } else {
        Second::Sharp
    };
    let named = named_ninth(&tones);
    let (filler, ninth) = if dominant {
        dominant_colours(&tones, scale, fifth, second, named)
    } else {
        let ninth = match (named, diminished, second, third) {
            (Some(named), ..) => Some(named),
            // The flat second is passed through, never held in a voicing: the root stands for the ninth.
            (None, true, ..) | (None, false, Second::Flat, 3) => Some(12),
            (None, false, Second::Natural, _) => Some(14),
            (None, ..) => None,
        };
        ([plain_filler(&tones, fifth, third, seventh); 2], [ninth; 2])
    };
    Some(Recipe {
        third,
        seventh,
        filler,
        ninth,
        fifth_stays: diminished,
    })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Second {
    Natural,
    Flat,
    Sharp,
}

/// The ninth that the symbol itself names.
fn named_ninth(tones: &ChordTones) -> Option<i32> {
    match (
        tones.has(&[2, 9], 1),
        tones.has(&[9], 3),
        tones.has(&[2, 9], 2),
    ) {
        (true, false, _) => Some(13),
        (false, true, _) => Some(15),
        (false, false, true) => Some(14),
        _ => None,
    }
}

/// Fifth, or what the symbol names in its place, of a chord that is no dominant.
fn plain_filler(tones: &ChordTones, fifth: i32, third: i32, seventh: i32) -> i32 {
    if fifth != 7 {
        fifth
    } else if third == 3 && tones.any(&[11, 4]).is_some() {
        5
    } else if tones.has(&[11, 4], 6) {
        6
    } else if seventh > 9 && tones.has(&[13, 6], 9) && seventh != 10 {
        9
    } else {
        7
    }
}

/// Thirteenth or fifth, and ninth, of a dominant in forms A and B.
fn dominant_colours(
    tones: &ChordTones,
    scale: &[u8],
    fifth: i32,
    second: Second,
    named: Option<i32>,
) -> ([i32; 2], [Option<i32>; 2]) {
    let in_scale = |semitones: u8| scale.contains(&semitones);
    let sus = tones.any(&[3]).is_none();
    let both_ninths = tones.has(&[9, 2], 1) && tones.has(&[9], 3);
    let flat_ninth = match named {
        Some(named) => named == 13,
        None => both_ninths || second == Second::Flat,
    };
    let dark = in_scale(8) && !in_scale(9);
    let filler = if tones.has(&[13, 6, 5], 8) {
        [8, 8]
    } else if tones.has(&[13, 6], 9) {
        [9, 9]
    } else if fifth == 6 {
        [6, 6]
    } else if tones.has(&[11], 6) {
        [if flat_ninth { 7 } else { 9 }, 6]
    } else if sus || named == Some(13) && (in_scale(7) || scale.is_empty()) {
        [7, 7]
    } else if dark || named == Some(15) && scale.is_empty() {
        [8, 8]
    } else if flat_ninth || named == Some(15) {
        [7, 7]
    } else if in_scale(6) && !in_scale(5) {
        [9, 6]
    } else {
        [9, 9]
    };
    let altered = named.is_none() && flat_ninth && filler[0] == 8 && in_scale(3) && !sus;
    let ninth = match named {
        _ if both_ninths || altered => [15, 13],
        // In form B the sharp ninth would rub against the third above it; the flat one takes its place.
        Some(15) if in_scale(1) || scale.is_empty() => [15, 13],
        Some(named) => [named, named],
        None if second == Second::Flat => [13, 13],
        None => [14, 14],
    };
    (filler, ninth.map(Some))
}

/// A triad or another chord without a seventh: its tones in every close position.
fn triads(symbol: &ChordSymbol) -> Vec<(Vec<i32>, f64)> {
    let tones = ChordTones(symbol);
    let mut classes: Vec<i32> = symbol
        .degrees
        .iter()
        .map(|degree| degree.semitones().rem_euclid(12))
        .collect();
    classes.sort_unstable();
    classes.dedup();
    if classes.len() > 4 {
        // The bass has the root.
        classes.retain(|class| *class != 0);
    }
    classes.truncate(5);
    let power = tones.any(&[3, 4, 2, 9, 11]).is_none() && classes.len() == 2;
    rotations(&classes)
        .map(|mut form| {
            if power {
                form.push(form[0] + 12);
            }
            (form, 0.0)
        })
        .collect()
}

/// Third and seventh (or what stands for them) alone, either on top; empty for a chord that has not both.
fn guide_tones(symbol: &ChordSymbol, scale: &[u8]) -> Vec<Voicing> {
    recipe(symbol, scale).map_or_else(Vec::new, |recipe| {
        let forms = [
            (vec![recipe.third, recipe.seventh], 0.0),
            (vec![recipe.seventh, recipe.third + 12], 0.0),
        ];
        within_range(symbol, &forms)
    })
}

/// Every form at every octave where it lies within the range.
fn within_range(symbol: &ChordSymbol, forms: &[(Vec<i32>, f64)]) -> Vec<Voicing> {
    let root = i32::from(symbol.root.class());
    let mut voicings = Vec::new();
    for (form, cost) in forms {
        for octave in 1..8 {
            let keys = form.iter().map(|note| {
                let key = u8::try_from(root + 12 * octave + note).ok();
                key.filter(|key| (LOWEST..=HIGHEST).contains(key))
            });
            voicings.extend(
                keys.collect::<Option<Vec<u8>>>()
                    .map(|keys| Voicing { keys, cost: *cost }),
            );
        }
    }
    voicings
}

#[cfg(test)]
#[path = "voicing_tests.rs"]
mod tests;
