//! What is said of a target set, a stage, a section, and how much of it at which tempo.

use super::words::{below, chord_words, degree_word, note_name, quality, said};
use crate::audio::CueForm;
use crate::drill::{Direction, Names, Stage};
use crate::glossary;
use crate::harmony::{ChordSymbol, Degree, Pitch};
use crate::time::{Tick, UsPerQuarter};

/// What to say, from the fullest form to the shortest. All of it is plain text ("A flat"); how the engine must
/// be told to say it is its own business.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct PhraseSet {
    /// All of it ("D, F sharp, A"); empty: nothing to say.
    pub full: String,
    /// Shortened ("D major"); empty: there is no shorter form that could not be heard as something else.
    pub short: String,
    /// Shortened to the root ("D"); empty: the root alone would be heard as something else.
    pub root: String,
}

impl PhraseSet {
    /// A sentence that cannot be shortened.
    pub fn plain(text: impl Into<String>) -> PhraseSet {
        PhraseSet {
            full: text.into(),
            ..PhraseSet::default()
        }
    }

    /// The texts that may be said within a limit, fullest first, none twice.
    pub fn choices(&self, limit: FormLimit) -> Vec<(CueForm, &str)> {
        let all = [
            (FormLimit::Full, CueForm::Full, self.full.as_str()),
            (FormLimit::Short, CueForm::Short, self.short.as_str()),
            (FormLimit::RootOnly, CueForm::Root, self.root.as_str()),
        ];
        let mut choices: Vec<(CueForm, &str)> = Vec::new();
        for (needs, form, text) in all {
            // A full form that is nothing but the root (or root and quality) is as short as the short one.
            let twin = (text == self.full).then_some(CueForm::Full);
            let known = choices.iter().any(|(_, other)| *other == text);
            if needs <= limit && !text.is_empty() && !known {
                choices.push((twin.unwrap_or(form), text));
            }
        }
        choices
    }
}

/// How much may be said of a chord's targets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FormLimit {
    /// Nothing: there is no time.
    None,
    RootOnly,
    Short,
    Full,
}

/// How much may be said of a chord of this length at this tempo. Bar-long chords (three quarters and more):
/// notes up to 100 quarters a minute, root and quality to 140, root to 180, nothing above. Two-beat chords:
/// notes up to 90, nothing above; shorter ones in proportion. Common practice, no source.
pub fn form_limit(tempo: UsPerQuarter, chord_len: Tick) -> FormLimit {
    // Tempo is kept in whole microseconds: 140 comes back as 140.0002.
    let qpm = (tempo.qpm() * 100.0).round() / 100.0;
    let quarters = chord_len.quarters();
    if quarters < 3.0 {
        let fits = qpm <= 90.0 * quarters.min(2.0) / 2.0;
        return if fits {
            FormLimit::Full
        } else {
            FormLimit::None
        };
    }
    match qpm {
        ..=100.0 => FormLimit::Full,
        ..=140.0 => FormLimit::Short,
        ..=180.0 => FormLimit::RootOnly,
        _ => FormLimit::None,
    }
}

/// A target as it is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpokenNote {
    pub pitch: Pitch,
    /// What it is over the chord.
    pub degree: Degree,
    pub direction: Direction,
}

/// More different notes than this are not listed: the chord is named instead.
const MOST_NOTES: usize = 5;

/// What to say of the targets over a chord, in playing order. Shorter forms name the chord, never a target:
/// a lone third would be heard as a root. `chord` is `None` where the stage hides the chord: then there is no
/// shorter form.
pub fn target_phrases(
    notes: &[SpokenNote],
    chord: Option<&ChordSymbol>,
    names: Names,
) -> PhraseSet {
    if notes.is_empty() {
        return PhraseSet::default();
    }
    let short = chord.map(|chord| {
        let root = note_name(chord.root, names);
        format!("{root} {}", quality(chord, names).short)
    });
    let root = chord.map(|chord| note_name(chord.root, names));
    let (short, root) = (short.unwrap_or_default(), root.unwrap_or_default());
    if let [note] = notes {
        return one_note(note, short, root, names);
    }
    let mut different: Vec<Pitch> = notes.iter().map(|note| note.pitch).collect();
    different.sort_unstable();
    different.dedup();
    let full = match chord {
        Some(chord) if different.len() > MOST_NOTES => chord_words(chord, names),
        _ => listed(notes, names),
    };
    PhraseSet { full, short, root }
}

fn one_note(note: &SpokenNote, short: String, root: String, names: Names) -> PhraseSet {
    let name = note_name(note.pitch, names);
    if note.degree.simple() == Degree::new(1, 0) {
        return PhraseSet {
            full: name.clone(),
            short: String::new(),
            root: name,
        };
    }
    // Its degree is said too, or it would be heard as a root.
    let mut full = format!("{name}, {}", degree_word(note.degree, names));
    if note.direction == Direction::Below {
        full = format!("{full} {}", below(names));
    }
    PhraseSet { full, short, root }
}

/// "D, F sharp, A below"; a note under the root says so, the last of a run for all of it.
fn listed(notes: &[SpokenNote], names: Names) -> String {
    let mut words: Vec<String> = Vec::new();
    for (index, note) in notes.iter().enumerate() {
        let name = note_name(note.pitch, names);
        if words.last() != Some(&name) {
            words.push(name);
        }
        let under = |note: &SpokenNote| note.direction == Direction::Below;
        let run_goes_on = notes.get(index + 1).is_some_and(under);
        let Some(last) = words.last_mut().filter(|_| under(note) && !run_goes_on) else {
            continue;
        };
        *last = format!("{last} {}", below(names));
    }
    words.join(", ")
}

/// A stage by its name, or what it is called for short: said once.
pub fn stage_phrases(stage: &Stage) -> PhraseSet {
    PhraseSet {
        full: stage.name.trim().to_string(),
        short: stage.call.clone().unwrap_or_default(),
        root: String::new(),
    }
}

/// Where one is: said on request, and where the display may be out of sight.
pub fn status_sentence(stage: &str, section: &str, tempo_qpm: u32, names: Names) -> String {
    let [section_word, tempo] = [glossary::SECTION, glossary::TEMPO].map(|word| said(word, names));
    format!(
        "{}, {section_word} {}, {tempo} {tempo_qpm}",
        stage.trim(),
        section.trim()
    )
}

#[cfg(test)]
mod tests {
    use super::super::words::tests::chord;
    use super::*;

    /// `D=1 F#=3 A=5`, `A=3_` lies under the root.
    fn notes(text: &str) -> Vec<SpokenNote> {
        let note = |word: &str| {
            let (pitch, degree) = word.split_once('=').unwrap();
            let under = degree.ends_with('_');
            SpokenNote {
                pitch: pitch.parse().unwrap(),
                degree: degree.trim_end_matches('_').parse().unwrap(),
                direction: if under {
                    Direction::Below
                } else {
                    Direction::Free
                },
            }
        };
        text.split_whitespace().map(note).collect()
    }

    #[test]
    #[rustfmt::skip]
    fn targets_are_said_in_full_and_shorter() {
        let cases = [
            ("D=1",              "D",  "1 3 5",       "D",                                "",                   "D"),
            ("D=1 F#=3 A=5",     "D",  "1 3 5",       "D, F sharp, A",                    "D major",            "D"),
            ("D=1 F#=3",         "D",  "1 3 5 b7",    "D, F sharp",                       "D seven",            "D"),
            ("F#=3",             "D",  "1 3 5",       "F sharp, third",                   "D major",            "D"),
            ("F=b3",             "D",  "1 b3 5",      "F, minor third",                   "D minor",            "D"),
            ("A=3_",             "F",  "1 3 5",       "A, third below",                   "F major",            "F"),
            ("Bb=b2",            "A",  "1 b3 b5 b7",  "B flat, flat second",              "A half diminished",  "A"),
            ("C=1 A=6_",         "C",  "1 3 5 6",     "C, A below",                       "C major",            "C"),
            ("A=6_ G=5_ C=1",    "C",  "1 3 5 6",     "A, G below, C",                    "C major",            "C"),
            ("D=1 D=1 F=b3",     "D",  "1 b3 5",      "D, F",                             "D minor",            "D"),
            ("F#=3 C=b7",        "D",  "1 3 5 b7",    "F sharp, C",                       "D seven",            "D"),
            ("C=1 D=2 E=3 F=4 G=5 A=6", "C", "1 3 5 7", "C major seven",                  "C major",            "C"),
            ("",                 "C",  "1 3 5",       "",                                 "",                   ""),
        ];
        for (targets, root, degrees, full, short, alone) in cases {
            let symbol = chord(root, degrees, root);
            let said = target_phrases(&notes(targets), Some(&symbol), Names::English);
            let told = (said.full.as_str(), said.short.as_str(), said.root.as_str());
            assert_eq!(told, (full, short, alone), "{targets}");
        }
        let hidden = target_phrases(&notes("F#=3 A=5"), None, Names::English);
        assert_eq!(hidden, PhraseSet::plain("F sharp, A"), "the chord is not given away");
    }

    #[test]
    fn a_shorter_form_is_never_a_target_that_could_be_heard_as_the_root() {
        for degree in ["2", "b3", "3", "4", "b5", "5", "6", "b7", "7"] {
            let degree: Degree = degree.parse().unwrap();
            for root in ["C", "Eb", "F#", "A"] {
                let symbol = chord(root, "1 b3 5 b7", root);
                let pitch = degree.above(symbol.root);
                let note = SpokenNote {
                    pitch,
                    degree,
                    direction: Direction::Free,
                };
                let said = target_phrases(&[note], Some(&symbol), Names::English);
                let name = note_name(pitch, Names::English);
                for (_, text) in said.choices(FormLimit::Full) {
                    assert_ne!(text, name);
                }
            }
        }
    }

    #[test]
    fn a_faster_tempo_says_less() {
        use FormLimit::{Full, None, RootOnly, Short};
        let cases = [
            // quarters a minute, quarters of the chord
            (60.0, 4.0, Full),
            (100.0, 4.0, Full),
            (101.0, 4.0, Short),
            (140.0, 4.0, Short),
            (141.0, 4.0, RootOnly),
            (180.0, 4.0, RootOnly),
            (181.0, 4.0, None),
            (280.0, 8.0, None),
            (100.0, 3.0, Full),
            (60.0, 2.0, Full),
            (90.0, 2.0, Full),
            (91.0, 2.0, None),
            (45.0, 1.0, Full),
            (46.0, 1.0, None),
        ];
        for (qpm, quarters, limit) in cases {
            let tempo = UsPerQuarter::from_qpm(qpm);
            let told = form_limit(tempo, Tick::from_quarters(quarters));
            assert_eq!(told, limit, "{qpm} {quarters}");
        }
    }

    #[test]
    fn the_choices_are_those_within_the_limit() {
        let set = PhraseSet {
            full: "D, A".into(),
            short: "D major".into(),
            root: "D".into(),
        };
        let root = PhraseSet {
            full: "D".into(),
            short: String::new(),
            root: "D".into(),
        };
        let told = |set: &PhraseSet, limit| {
            let choices = set.choices(limit);
            let words = choices
                .iter()
                .map(|(form, text)| format!("{form:?} {text}"));
            words.collect::<Vec<_>>().join("; ")
        };
        assert_eq!(
            told(&set, FormLimit::Full),
            "Full D, A; Short D major; Root D"
        );
        assert_eq!(told(&set, FormLimit::Short), "Short D major; Root D");
        assert_eq!(told(&set, FormLimit::RootOnly), "Root D");
        assert_eq!(told(&set, FormLimit::None), "");
        assert_eq!(told(&root, FormLimit::Full), "Full D");
        assert_eq!(told(&root, FormLimit::RootOnly), "Full D");
    }

    #[test]
    fn announcements() {
        let mut stage = crate::drill::Drill::just_play().stages.remove(0);
        stage.name = "roots, octave by octave".into();
        stage.call = Some("octaves".into());
        let said = stage_phrases(&stage);
        assert_eq!(
            (said.full.as_str(), said.short.as_str()),
            ("roots, octave by octave", "octaves")
        );
        assert_eq!(
            status_sentence("roots on one", "A", 112, Names::English),
            "roots on one, section A, tempo 112"
        );
    }
}
