//! What a page says. No pixels here: texts are ready to draw (accidentals as ♭ and ♯, named in the user's way).

use crate::drill::Phase;

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub enum Page {
    /// Nothing plays; a press starts.
    Ready {
        title: String,
        stage: String,
        section: String,
        /// Quarter notes a minute, rounded.
        tempo_qpm: u32,
        /// The same in dotted quarters, where the meter counts those.
        dotted_qpm: Option<u32>,
        /// What stands on the page below: cautions, device states; may be empty.
        notes: Vec<String>,
    },
    /// The count before the first bar.
    CountIn {
        /// The count that sounds now ("1"), from 1.
        count: u32,
        /// Counts in the bar.
        of: u32,
        /// All that is counted ("1", "-", "2", "-", "1", "2", "3", "4").
        counts: Vec<String>,
        /// Which of them sounds now.
        at: usize,
        /// What is to be done then, as in [`PracticePage::task`].
        task: Vec<String>,
        /// The first set to play.
        first: SetOnPage,
        chord: String,
        section: String,
        stage: String,
    },
    Practice(Box<PracticePage>),
    /// Between cycles: the summary.
    Breathe(BreathePage),
    /// Held: stopped in the middle, a press goes on.
    Paused {
        section: String,
        stage: String,
        /// The bar in the section.
        bar: u32,
        /// Quarter notes a minute, rounded.
        tempo_qpm: u32,
        /// The same in dotted quarters, where the meter counts those.
        dotted_qpm: Option<u32>,
    },
    Menu {
        items: Vec<String>,
        chosen: usize,
        /// What the last choice did, or what stands at rest; may be empty.
        told: String,
        /// While the band plays the practice page goes on below, small.
        below: Option<Box<PracticePage>>,
    },
    /// Something the user can mend.
    Message {
        /// What happened, in a few words.
        title: String,
        /// The faults, with file and line.
        lines: Vec<String>,
    },
    Tuning(TuningPage),
    /// The external clock is gone.
    ClockLost {
        source: String,
        /// What the box does meanwhile.
        doing: String,
        /// The practice page goes on below, small.
        below: Box<PracticePage>,
    },
}

impl Page {
    /// What kind of page it is, in a word: `ready`, `count-in`, `practice`, `breathe`, `paused`, `menu`, `message`,
    /// `tuning`, `clock-lost`. Names files and log lines.
    pub fn kind(&self) -> &'static str {
        match self {
            Page::Ready { .. } => "ready",
            Page::CountIn { .. } => "count-in",
            Page::Practice(_) => "practice",
            Page::Breathe(_) => "breathe",
            Page::Paused { .. } => "paused",
            Page::Menu { .. } => "menu",
            Page::Message { .. } => "message",
            Page::Tuning(_) => "tuning",
            Page::ClockLost { .. } => "clock-lost",
        }
    }
}

/// The page for tuning.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TuningPage {
    /// The note that is meant; empty before anything was heard.
    pub note: String,
    /// The open string that is meant, from 1, the highest; none: another note.
    pub string: Option<u8>,
    /// How far above the note it sounds, in cents.
    pub cents: Option<i32>,
}

impl TuningPage {
    /// What stands below the note.
    pub fn words(&self) -> String {
        let string = self
            .string
            .map_or(String::new(), |string| format!("string {string}, "));
        match self.cents {
            None => "play one string".to_string(),
            Some(-2..=2) => format!("{string}in tune"),
            Some(cents) if cents < 0 => format!("{string}{} cents low", -cents),
            Some(cents) => format!("{string}{cents} cents high"),
        }
    }
}

/// A tempo as players read it: in compound meters the dotted quarters that are counted first, then the quarters that
/// files have. Neither where there is no pulse (0).
pub fn tempo_parts(tempo_qpm: u32, dotted_qpm: Option<u32>) -> Vec<String> {
    let dotted = dotted_qpm.map(|qpm| format!("♩.={qpm}"));
    let quarters = (tempo_qpm > 0).then(|| format!("♩={tempo_qpm}"));
    dotted.into_iter().chain(quarters).collect()
}

/// One target set on the page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SetOnPage {
    /// What is shown, in playing order: notes ("B♭") or degree words ("third"); empty: nothing is given away.
    pub words: Vec<String>,
    /// Short marks beside single words ("below", "♭2"), one a word, empty where there is none.
    pub marks: Vec<String>,
    /// Which of the words is the root of the chord; none: the root is not among them.
    pub root: Option<usize>,
    /// Chords shorter than 1.2 s are shown in groups of up to four: the cells of the group in order. Not
    /// empty: this slot (upper or lower) is a row of cells, and `words`, `marks` and `special` are empty.
    pub cells: Vec<PageCell>,
    /// Which of the cells is to be played first: it is inverted where the group is the large set.
    pub current: Option<usize>,
    /// Where the notes lie on the neck; `None` where the stage gives no place away.
    pub neck: Option<NeckOnPage>,
}

/// Where the notes of a set lie, with all that a picture of the neck needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NeckOnPage {
    /// The places in playing order; a note that lies outside the neck has none.
    pub dots: Vec<NeckDot>,
    /// How many strings there are.
    pub strings: u8,
    /// The fret of the capo; 0: none.
    pub capo: u8,
    /// Frets that can be played: those from the capo on.
    pub frets: u8,
    /// Whether the neck is seen by a left-handed player: the nut at the right.
    pub left_handed: bool,
}

/// A note's place on the neck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NeckDot {
    /// The string; 1 is the highest.
    pub string: u8,
    /// The fret, counted from the capo; 0 is open.
    pub fret: u8,
    /// Whether it is the root of the chord.
    pub root: bool,
}

/// One chord of a group.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PageCell {
    /// The chord ("" where the stage hides it).
    pub chord: String,
    /// Its target notes or degree words, in playing order; empty: nothing is given away.
    pub words: Vec<String>,
    /// Short marks of single words, as in [`SetOnPage::marks`].
    pub marks: Vec<String>,
}

/// Which of the two sets is to be played next, and so is large.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Large {
    /// The upper one: the set of the chord that sounds.
    Now,
    /// The lower one: the set of the chord to come.
    Next,
    /// The upper one is not finished at the deadline: both equal.
    Both,
}

/// An armed action, shown until its moment; it can be called off.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArmedLine {
    /// What will happen ("next stage").
    pub what: String,
    /// When ("at section end").
    pub when: String,
}

impl ArmedLine {
    /// All of it.
    pub fn words(&self) -> String {
        format!("{} {}", self.what, self.when).trim().to_string()
    }
}

/// The page while playing.
#[derive(Debug, Clone, PartialEq)]
pub struct PracticePage {
    /// The set of the chord that sounds now.
    pub now: SetOnPage,
    /// The set of the chord to come.
    pub next: SetOnPage,
    pub large: Large,
    /// The chord that sounds ("" where the stage hides it).
    pub chord_now: String,
    /// The chord to come.
    pub chord_next: String,
    pub section: String,
    pub stage: String,
    /// A shorter name of the stage; may be empty.
    pub call: String,
    /// What is to be done with the set that is to be played first, the verb first, then in order of weight:
    /// "play", "on 1, 3", "same string".
    pub task: Vec<String>,
    /// What is to be done after it where that is something else; empty: the same.
    pub then: Vec<String>,
    /// Where the notes fall in this pass ("on 2&"); empty: on the first beat of each chord, or left to the player.
    pub places: String,
    /// Listen, sing, play.
    pub phase: Phase,
    /// Bar in the section, from 1; 0: not known.
    pub bar: u32,
    /// The count that sounds, while the count-in still runs.
    pub count: Option<u32>,
    /// Bars in the section.
    pub bars: u32,
    /// Beats until the chord changes.
    pub beats_to_change: u32,
    /// Quarter notes a minute, rounded.
    pub tempo_qpm: u32,
    /// The same in dotted quarters, where the meter counts those.
    pub dotted_qpm: Option<u32>,
    pub armed: Option<ArmedLine>,
    /// A teacher's note for the chord to come; may be empty.
    pub note: String,
    /// Short states worth a corner ("no sound", "clock"); may be empty.
    pub states: Vec<String>,
}

/// The summary.
#[derive(Debug, Clone, PartialEq)]
pub struct BreathePage {
    pub lines: Vec<String>,
    /// Bars left to breathe.
    pub bars_left: u32,
    /// What comes then, the fullest words first.
    pub then: Vec<String>,
}
