//! What a leader calls across the room: what to do, where the notes fall, which key, which section, which stage; and what of
//! it is dropped first where time is short.

use super::phrases::PhraseSet;
use super::words::{note_name, number_word, quality_word, said};
use crate::drill::{DegreeWord, Direction, Names, Octave, Phase, Place, Stage};
use crate::glossary::{self, Word};
use crate::harmony::{Key, Mode};

/// One thing that is called.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Call<'a> {
    /// The take ends with this time round.
    LastTime,
    /// The whole form goes round from now on.
    WholeForm,
    /// Another section, by its name.
    Section(&'a str),
    /// Another stage.
    Stage(&'a Stage),
    Key(Key),
    Do(Doing),
    /// Where the notes fall; `starts`: the first of them, the others follow.
    Places {
        places: &'a [Place],
        starts: bool,
        /// Whether they are called a bar ahead, with what else turns.
        ahead: bool,
    },
    /// What turns for the hand; `ahead`: a bar ahead, not with the stage.
    Hand {
        hand: Hand,
        ahead: bool,
    },
}

/// The most notes of a figure whose orders turn.
pub const ORDER_NOTES: usize = 4;

/// What a rotation asks of the hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Hand {
    pub string: Option<u8>,
    /// The fret under the first finger.
    pub position: Option<u8>,
    pub octave: Option<Octave>,
    /// Whether notes lie above or below the root.
    pub side: Option<Direction>,
    /// The figure's degrees in their order, where that turns.
    pub order: [Option<DegreeWord>; ORDER_NOTES],
}

impl Hand {
    /// Each part of it, as it is said.
    fn words(&self, names: Names) -> String {
        let numbered = |word, number: Option<u8>| {
            let number = number_word(number?.into(), names)?;
            Some(format!("{} {number}", said(word, names)))
        };
        let side = match self.side {
            Some(Direction::Below) => Some(glossary::BELOW),
            Some(Direction::Above) => Some(glossary::ABOVE),
            _ => None,
        };
        let order: Vec<&str> = self
            .order
            .iter()
            .flatten()
            .filter_map(|word| degree_said(*word, names))
            .collect();
        let order = match &order[..] {
            [] => None,
            words => Some(format!(
                "{} {}",
                said(glossary::ORDER, names),
                words.join(" ")
            )),
        };
        let parts = [
            numbered(glossary::STRING, self.string),
            numbered(glossary::POSITION, self.position),
            self.octave
                .map(|octave| said(octave_word(octave), names).to_string()),
            side.map(|side| said(side, names).to_string()),
            order,
        ];
        parts
            .into_iter()
            .flatten()
            .collect::<Vec<String>>()
            .join(", ")
    }
}

/// The word for an octave.
pub fn octave_word(octave: Octave) -> Word {
    match octave {
        Octave::Low => glossary::OCTAVES[0],
        Octave::Middle => glossary::OCTAVES[1],
        Octave::High => glossary::OCTAVES[2],
    }
}

/// The word for a degree of a figure, without its sign.
pub fn degree_word(degree: DegreeWord) -> Option<Word> {
    let number = match degree {
        DegreeWord::InScale(number) => number,
        DegreeWord::Absolute(degree) => degree.number,
    };
    let simple = usize::from(number.checked_sub(1)?) % 7;
    glossary::DEGREES.get(simple).copied()
}

fn degree_said(degree: DegreeWord, names: Names) -> Option<&'static str> {
    degree_word(degree).map(|word| said(word, names))
}

/// What the player is asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    Listen,
    Sing,
    Play,
    /// Repeat the phrase that the box plays.
    Answer,
    /// Some bars without notes, the band goes on.
    Rest,
    /// Between two rounds.
    Break,
}

impl Doing {
    /// Its word.
    pub fn word(self) -> Word {
        match self {
            Doing::Listen => glossary::LISTEN,
            Doing::Sing => glossary::SING,
            Doing::Play => glossary::PLAY,
            Doing::Answer => glossary::ANSWER,
            Doing::Rest => glossary::REST,
            Doing::Break => glossary::BREAK,
        }
    }
}

impl From<Phase> for Doing {
    fn from(phase: Phase) -> Doing {
        match phase {
            Phase::Listen => Doing::Listen,
            Phase::Sing => Doing::Sing,
            Phase::Play => Doing::Play,
            Phase::Breathe => Doing::Break,
        }
    }
}

/// The table of priorities: what is dropped where time is short, one after the other, the stage's name only after it was
/// shortened to its `call`. What is not in it (what to do, the last time) is said as long as anything is. Notes are beside
/// it: they have the time right before their chord, and are shortened by tempo ([`super::form_limit`]).
const DROPPED_FIRST: [Dropped; 4] = [
    Dropped::Stage,
    Dropped::Section,
    Dropped::Key,
    Dropped::Places,
];

/// What can be dropped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Dropped {
    Stage,
    Section,
    Key,
    Places,
}

impl Call<'_> {
    /// What it counts as when time is short; `None`: it stays.
    fn dropped_as(&self) -> Option<Dropped> {
        match self {
            Call::Stage(_) => Some(Dropped::Stage),
            Call::Section(_) | Call::WholeForm => Some(Dropped::Section),
            Call::Key(_) => Some(Dropped::Key),
            Call::Places { .. } | Call::Hand { .. } => Some(Dropped::Places),
            Call::LastTime | Call::Do(_) => None,
        }
    }

    /// Whether it is to be told a bar ahead at least: the hand must get used to it.
    pub fn is_far_ahead(&self) -> bool {
        match self {
            Call::Section(_) | Call::WholeForm | Call::Key(_) => true,
            Call::Places { ahead, .. } | Call::Hand { ahead, .. } => *ahead,
            Call::LastTime | Call::Stage(_) | Call::Do(_) => false,
        }
    }

    fn words(&self, names: Names) -> String {
        match self {
            Call::LastTime => said(glossary::LAST_TIME, names).to_string(),
            Call::WholeForm => said(glossary::WHOLE_FORM, names).to_string(),
            Call::Section(name) => section_words(name.trim(), names),
            Call::Stage(stage) => stage.name.trim().to_string(),
            Call::Key(key) => key_words(*key, names),
            Call::Do(doing) => said(doing.word(), names).to_string(),
            Call::Places { places, starts, .. } => places_words(places, *starts, names),
            Call::Hand { hand, .. } => hand.words(names),
        }
    }
}

/// A call of all these things, in their order: "third above, in F, now you, on two and". Shorter forms drop what the table of
/// priorities drops first.
pub fn call_phrases(calls: &[Call<'_>], names: Names) -> PhraseSet {
    let joined = |kept: &dyn Fn(&Call<'_>) -> Option<String>| {
        let words = calls
            .iter()
            .filter_map(kept)
            .filter(|words| !words.is_empty());
        words.collect::<Vec<_>>().join(", ")
    };
    let mut forms = vec![joined(&|call| Some(call.words(names)))];
    forms.push(joined(&|call| match call {
        Call::Stage(stage) => stage.call.as_ref().map(|call| call.trim().to_string()),
        other => Some(other.words(names)),
    }));
    for dropped in 1..=DROPPED_FIRST.len() {
        let gone = &DROPPED_FIRST[..dropped];
        let stays = |call: &Call<'_>| call.dropped_as().is_none_or(|one| !gone.contains(&one));
        forms.push(joined(&|call| stays(call).then(|| call.words(names))));
    }
    forms.dedup();
    let mut forms = forms.into_iter();
    let mut next = || forms.next().unwrap_or_default();
    PhraseSet {
        full: next(),
        short: next(),
        root: next(),
    }
}

/// "section B next", "bridge next": a letter alone would be heard as a note.
fn section_words(name: &str, names: Names) -> String {
    let is_short = name.chars().count() <= 2;
    let section = match is_short {
        true => format!("{} {name}", said(glossary::SECTION, names)),
        false => name.to_string(),
    };
    match names {
        Names::German => format!("{} {section}", glossary::NEXT.german),
        Names::English | Names::Solfege => format!("{section} {}", glossary::NEXT.voice),
    }
}

/// "in F", "in G minor".
fn key_words(key: Key, names: Names) -> String {
    let (mode, tonic) = (mode_word(key.mode, names), note_name(key.tonic, names));
    let words = [said(glossary::IN, names), &tonic, mode];
    words.join(" ").trim().to_string()
}

/// A major key is named by its tonic alone, but in German.
fn mode_word(mode: Mode, names: Names) -> &'static str {
    match (mode, names) {
        (Mode::Minor, _) => quality_word("minor", names),
        (Mode::Major, Names::German) => quality_word("major", names),
        (Mode::Major, Names::English | Names::Solfege) => "",
    }
}

/// "two and", "push"; `None` where there is no word for it.
pub fn place_said(place: &Place, names: Names) -> Option<String> {
    let beat = number_word(place.beat.into(), names)?;
    let after = place.text.trim_start_matches(|c: char| c.is_ascii_digit());
    Some(match (place.twelfths, after) {
        (..0, _) => said(glossary::PUSH, names).to_string(),
        (0, _) => beat.to_string(),
        (_, "&") => format!("{beat} {}", said(glossary::AND, names)),
        (_, syllable) => format!("{beat} {syllable}"),
    })
}

/// "on two and", "push, two", "start on three"; empty where there is no word for it.
fn places_words(places: &[Place], starts: bool, names: Names) -> String {
    let Some(words) = places
        .iter()
        .map(|place| place_said(place, names))
        .collect::<Option<Vec<String>>>()
    else {
        return String::new();
    };
    let on = match places.first() {
        None => return String::new(),
        Some(push) if push.twelfths < 0 => "",
        Some(_) if starts => said(glossary::START_ON, names),
        Some(_) => said(glossary::ON, names),
    };
    format!("{on} {}", words.join(", "))
        .trim_start()
        .to_string()
}

/// About how long a text takes to say, in ms, to plan by: measured with espeak-ng 1.51 at 175 words a minute, and rather more.
pub fn about_ms(text: &str) -> f64 {
    160.0 + 66.0 * text.chars().count() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str) -> Place {
        text.parse().unwrap()
    }

    #[test]
    #[rustfmt::skip]
    fn calls_are_a_leaders() {
        // Common practice, no source; German from memory of bandstands.
        let places: Vec<Place> = ["2&"].map(place).into();
        let pushed: Vec<Place> = ["before 1", "2&"].map(place).into();
        let two: Vec<Place> = ["1", "3a"].map(place).into();
        let key = |text: &str| text.parse::<Key>().unwrap();
        let places_of = |places, starts| Call::Places { places, starts, ahead: false };
        let hand = Hand {
            string: Some(5),
            octave: Some(Octave::Low),
            side: Some(Direction::Below),
            order: [Some(DegreeWord::InScale(3)), Some(DegreeWord::InScale(1)), None, None],
            ..Hand::default()
        };
        let cases: &[(&[Call<'_>], [&str; 3])] = &[
            (&[Call::Do(Doing::Listen)],                ["listen", "zuhören", "listen"]),
            (&[Call::Do(Doing::Play), places_of(&places, false)],
                ["now you, on two and", "jetzt du, auf zwei und", "now you, on two and"]),
            (&[places_of(&places, true)],               ["start on two and", "ab zwei und", "start on two and"]),
            (&[places_of(&pushed, false)],              ["push, two and", "vorgezogen, zwei und", "push, two and"]),
            (&[places_of(&two, false)],                 ["on one, three a", "auf eins, drei a", "on one, three a"]),
            (&[Call::Key(key("F major"))],              ["in F", "in F Dur", "in fa"]),
            (&[Call::Key(key("Bb minor"))],             ["in B flat minor", "in B Moll", "in si flat minor"]),
            (&[Call::Section("B")],                     ["section B next", "gleich Teil B", "section B next"]),
            (&[Call::Section(" bridge"), Call::Do(Doing::Sing)],
                ["bridge next, sing", "gleich bridge, singen", "bridge next, sing"]),
            (&[Call::LastTime],                         ["last time", "letztes Mal", "last time"]),
            (&[Call::WholeForm, Call::Do(Doing::Rest)], ["whole form, rest", "ganze Form, aussetzen", "whole form, rest"]),
            (&[Call::Hand { hand, ahead: true }], ["string five, low octave, below, order third root",
                "Saite fünf, tiefe Oktave, darunter, Folge Terz Grundton", "string five, low octave, below, order third root"]),
            (&[Call::Do(Doing::Answer)],                ["answer", "antworten", "answer"]),
            (&[Call::Do(Doing::Break)],                 ["break", "Pause", "break"]),
        ];
        for (calls, expected) in cases {
            let said = [Names::English, Names::German, Names::Solfege];
            let said = said.map(|names| call_phrases(calls, names).full);
            assert_eq!(said, *expected);
        }
    }

    #[test]
    fn the_name_of_a_stage_is_dropped_first_and_what_to_do_never() {
        let mut stage = crate::drill::Drill::just_play().stages.remove(0);
        stage.name = "roots, octave by octave".into();
        let places = [place("3")];
        let on = Call::Places {
            places: &places,
            starts: false,
            ahead: false,
        };
        let listen = Call::Do(Doing::Listen);
        let forms = |calls: &[Call<'_>]| {
            let PhraseSet { full, short, root } = call_phrases(calls, Names::English);
            [full, short, root].join("; ")
        };
        assert_eq!(
            forms(&[Call::Stage(&stage), listen]),
            "roots, octave by octave, listen; listen; "
        );
        let bridge = Call::Section("bridge");
        assert_eq!(
            forms(&[bridge, listen, on]),
            "bridge next, listen, on three; listen, on three; listen"
        );
        stage.call = Some("octaves".into());
        assert_eq!(
            forms(&[Call::Stage(&stage), listen, on]),
            "roots, octave by octave, listen, on three; octaves, listen, on three; listen, on three"
        );
    }
}
