//! What reaches the core, and what it asks for.

use super::proposal::{Proposal, ShortReport};
use super::set_list::Leads;
use super::settings::{Library, Settings};
use super::update_news::UpdateNews;
use crate::audio::{CUE_WINDOWS, Command, CueForm, Notice};
use crate::device::DeviceState;
use crate::display::Page;
use crate::drill::Drill;
use crate::foot::{Action, GestureKind, Moment};
use crate::harmony::{Harmony, Key};
use crate::judging::{Around, Choice, Chorus, EarEvent, Reentry, Sureness, Verdict};
use crate::pedal::Edge;
use crate::speech::{FormLimit, PhraseSet};
use crate::time::{Frame, Part, Tick, UsPerQuarter};
use arrayvec::ArrayVec;

/// Something that happened, with the frame it happened on.
#[derive(Debug)]
pub struct Event {
    pub at: Frame,
    pub what: EventKind,
}

/// What happened.
#[derive(Debug)]
pub enum EventKind {
    Edge(Edge),
    /// An action asked for by other means than the foot (a key of the terminal, the start of the program).
    Act(Action),
    /// A take is to begin by itself.
    Begin {
        /// The frame of its first count.
        at: Frame,
    },
    Notice(Notice),
    /// The audio server is gone; time stands still until it is back.
    AudioLost {
        /// In a few words, for the page.
        why: String,
    },
    /// A new player is ready: a take that was lost goes on at the start of its bar.
    AudioBack {
        rate: u32,
        /// The frame on which a lost take goes on.
        at: Frame,
    },
    /// New settings, charts and drill, already valid. What is played takes over at the section's end, all else at once.
    Reload(Box<(Library, Settings)>),
    /// The drill of weak spots that was asked for, over the charts that are there; none where there is nothing to practise, or it
    /// cannot be had.
    WeakSpots(Option<Box<Drill>>),
    /// What is known of the player from other days; none where nothing is.
    Known(Option<Box<dyn Sureness>>),
    /// What could be practised today: it stands on the page until a foot takes it or skips it, or a take begins.
    Proposal(Box<Proposal>),
    /// The short report that was asked for; none where there is nothing to tell.
    Report(Option<ShortReport>),
    /// Something about another version of the program.
    Update(UpdateNews),
    /// Whether settings wait for a restart.
    NeedsRestart(bool),
    /// A device came or went.
    Device {
        name: String,
        state: DeviceState,
    },
    /// Something the user can mend; it is shown at the next rest.
    Message {
        /// In a few words.
        title: String,
        lines: Vec<String>,
    },
    Heard(EarEvent),
    /// A song select or a program change: its number, from 0.
    Song(u8),
    Tick,
}

/// What is to be done.
#[derive(Debug)]
pub enum Effect {
    /// A command for the player.
    Audio(Command),
    /// A page for the screens.
    Show(Page),
    Say(Saying),
    /// A line for whoever reads events.
    Record(Record),
    /// The place to come back to at the next start.
    Save(Saved),
    /// What was heard is to be played back.
    PlayBack(Replay),
    /// What was heard from a frame up to another is to become a file.
    Keep(Frame, Frame),
    /// A drill of what is weak and due is asked for; the answer is [`EventKind::WeakSpots`].
    WeakSpots,
    /// A short report is asked for; the answer is [`EventKind::Report`].
    Report,
    /// The version that was offered is to be installed; the answer is [`EventKind::Update`].
    Update,
    /// Today's proposal was skipped: it is not to be made again today.
    Skipped,
    /// Who leads the clock from now on; `None`: as the configuration says.
    Clock(Option<Leads>),
}

/// A stretch of what was heard, and when it is to sound on `cue`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Replay {
    pub id: u32,
    /// The first frame on which it was meant.
    pub from: Frame,
    /// The frame after the last.
    pub to: Frame,
    /// Where its first frame sounds now.
    pub at: Frame,
}

/// A phrase with the stretches of time it may sound in.
#[derive(Debug, Clone, PartialEq)]
pub struct Saying {
    /// Comes back in the player's notices.
    pub id: u32,
    pub phrases: PhraseSet,
    /// How much of it at the most.
    pub limit: FormLimit,
    pub windows: ArrayVec<(Tick, Tick), CUE_WINDOWS>,
    /// On this frame instead, or as soon after as it can be.
    pub now: Option<Frame>,
}

/// What comes back at the next start.
#[derive(Debug, Clone, PartialEq)]
pub struct Saved {
    /// Index of the chart in the list.
    pub chart: usize,
    /// The chart's title, to notice that the list changed.
    pub title: String,
    /// The stage, from 0.
    pub stage: usize,
    /// The form item whose section is practised.
    pub item: usize,
    /// Quarter notes a minute.
    pub tempo_qpm: f64,
    /// The key it stands in ("G minor"), if it was moved.
    pub key: Option<String>,
    /// The master level in dB.
    pub master_db: f32,
    /// How far each stage that turns has come in its rotation, by its name.
    pub turned: Vec<(String, u32)>,
}

/// A line of the event log: what happened where in the music.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    pub frame: Frame,
    /// Where in the take; `None` outside one.
    pub tick: Option<Tick>,
    /// Bar in the section, from 1; `None` in the count-in and outside a take.
    pub bar: Option<u32>,
    pub section: String,
    pub stage: String,
    /// Pass of the stage, from 1.
    pub pass: u32,
    pub what: Recorded,
}

/// What changes in the music.
#[derive(Debug, Clone, PartialEq)]
pub enum MusicChange {
    /// Another chord begins: its index in the form, and what is written there.
    Chord(usize, Option<Harmony>),
    /// The tempo that is ours.
    Tempo(UsPerQuarter),
    /// The key of the tune, where it is known.
    Key(Option<Key>),
    /// The parts that are muted now.
    Muted(Vec<Part>),
    /// Whether the stage's model tones sound.
    ModelTones(bool),
}

/// What an event line tells.
#[derive(Debug, Clone, PartialEq)]
pub enum Recorded {
    /// A bar begins: it moves the position, and stands in no log.
    Bar,
    Page {
        /// The type of page.
        page: &'static str,
        now: Vec<String>,
        next: Vec<String>,
        large: &'static str,
        /// The chords of the form that stand on the page.
        chords: Vec<usize>,
        /// The frame of the next change of chord.
        next_change: Option<Frame>,
    },
    /// Something was said, or not.
    Say {
        text: String,
        form: CueForm,
        /// The frame after its last; none if not said.
        end: Option<Frame>,
        /// When it had to have ended.
        deadline: Option<Frame>,
        /// The chord of the form it names.
        index: Option<usize>,
    },
    /// A gesture and what it did.
    Foot {
        switch: u8,
        /// How the switch was moved.
        gesture: GestureKind,
        /// What it asks for, its moment, and the frame on which it takes effect; `None` if it means nothing here.
        action: Option<(Action, Moment, Frame)>,
    },
    /// A chord begins, or tempo, key or parts change.
    Change(MusicChange),
    Stage,
    Section,
    /// Another tune of the set is on.
    Tune {
        /// Its place, from 0.
        place: usize,
        title: String,
    },
    /// A song select or a program change came.
    Song {
        number: u8,
        /// The place of the tune that it chooses, if there is one.
        place: Option<usize>,
    },
    /// The take starts or stops.
    Take {
        starts: bool,
    },
    /// What became of a note that was asked for, or of one that was not, and where it was heard. Its line stands where
    /// it was asked for. In time: what stood around it.
    Verdict(Box<Verdict>, Option<Frame>, Option<Box<Around>>),
    /// What was played where the stage leaves the choice.
    Choice(Box<Choice>),
    /// Where the player was when the band came back.
    Reentry(Reentry),
    /// A pass was judged.
    Judged {
        /// How many notes were asked for.
        targets: usize,
        /// How many of them were right.
        right: usize,
        /// The steady offset that was taken out; positive sits behind.
        offset_ms: f64,
        /// The tuning that was taken out.
        tuning_cents: f64,
        /// How it went, where it was a whole chorus and enough was heard.
        chorus: Option<Chorus>,
        /// Whether the stage is secure with it.
        ready: bool,
    },
}
