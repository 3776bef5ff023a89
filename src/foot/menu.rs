//! The foot menu: what no gesture of the standard maps reaches, at rest and while the band plays.
//!
//! A tap moves, a hold chooses, so that no stomp and no stray tap chooses anything. Lists in lists, and the way to each
//! action counted: never more than four taps in all ([`MOST_TAPS`]), most wanted first. It opens on "more", which does
//! nothing by itself: a hold that was meant to stop the band, in a menu that was forgotten, only opens a list.

use crate::foot::action::Action;
use crate::time::{Frame, Part};

/// Seconds without a press after which the menu leaves by itself.
pub const IDLE_S: u64 = 8;
/// Seconds after the last press in time after which a new tempo is taken to be tapped in.
const TAPPED_S: u64 = 3;
/// Taps in all on the way to any action, at the most.
pub const MOST_TAPS: usize = 4;

/// The word of the last entry of each list: to the list before, and out of the first one.
const BACK: &str = "back";

/// An entry of a list.
#[derive(Debug, Clone, Copy)]
enum Entry {
    Do(Action),
    List(&'static str, &'static [Entry]),
}

use Action::{
    BarBack, BarOn, ChordLength, Input, KeepTake, LastTime, ListenBack, Louder, ModelTones,
    MutePart, NextChart, NextKey, NextSection, NextStage, Panic, PlayBack, PreviousChart,
    PreviousSection, PreviousStage, Report, SayAgain, SectionFromHere, Softer, TapTempo, TempoDown,
    TempoUp, ThisSpot, TopOfSectionNow, Tune, Update, WeakSpots, WholeForm,
};
use Entry::{Do, List};

const TEMPO: Entry = List("tempo", &[Do(TempoDown), Do(TempoUp)]);
const CHART: Entry = List("chart", &[Do(NextChart), Do(PreviousChart)]);
const KEY_AND_CHORDS: Entry = List("key and chords", &[Do(NextKey), Do(ChordLength)]);
const MUTE: Entry = List(
    "mute",
    &[
        Do(MutePart(Part::Comping)),
        Do(MutePart(Part::Bass)),
        Do(MutePart(Part::Drums)),
        Do(MutePart(Part::Melody)),
        Do(MutePart(Part::Click)),
    ],
);
const LEVEL: Entry = List(
    "level",
    &[Do(Softer), Do(Louder), Do(ModelTones), Do(Panic)],
);
const JOURNAL: Entry = List("journal", &[Do(WeakSpots), Do(Report)]);
const MUTE_MODEL: Entry = Do(MutePart(Part::Model));
/// What is the box's own, where nothing plays.
const BOX: Entry = List("box", &[Do(Input), Do(Update)]);
const BAND: Entry = List(
    "band",
    &[
        MUTE,
        LEVEL,
        List("take", &[Do(PlayBack), Do(KeepTake)]),
        JOURNAL,
        MUTE_MODEL,
    ],
);

const AT_REST: &[Entry] = &[
    List(
        "more",
        &[
            BAND,
            List(
                "go to",
                &[
                    List(
                        "section",
                        &[Do(PreviousSection), Do(WholeForm), Do(TopOfSectionNow)],
                    ),
                    CHART,
                    Do(PreviousStage),
                    Do(SayAgain),
                ],
            ),
            BOX,
            KEY_AND_CHORDS,
            Do(TapTempo),
        ],
    ),
    Do(NextStage),
    Do(NextSection),
    TEMPO,
    Do(Tune),
];

const WHILE_PLAYING: &[Entry] = &[
    List(
        "more",
        &[
            BAND,
            List(
                "go to",
                &[
                    List(
                        "section",
                        &[
                            Do(NextSection),
                            Do(PreviousSection),
                            Do(WholeForm),
                            Do(SectionFromHere),
                        ],
                    ),
                    CHART,
                    Do(PreviousStage),
                    Do(ListenBack),
                ],
            ),
            List("bars", &[Do(BarBack), Do(BarOn), Do(TopOfSectionNow)]),
            KEY_AND_CHORDS,
            Do(TapTempo),
        ],
    ),
    Do(SayAgain),
    Do(ThisSpot),
    TEMPO,
    Do(LastTime),
];

/// On which occasion the menu was opened: what makes sense differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occasion {
    AtRest,
    WhilePlaying,
}

impl Occasion {
    fn entries(self) -> &'static [Entry] {
        match self {
            Occasion::AtRest => AT_REST,
            Occasion::WhilePlaying => WHILE_PLAYING,
        }
    }

    /// The way to an action: the taps before each hold. `None`: it is not in this menu.
    pub fn taps_to(self, action: Action) -> Option<Vec<usize>> {
        taps_to(self.entries(), action)
    }

    /// The words on the way to an action, lists first. Empty: it is not in this menu.
    pub fn words_to(self, action: Action) -> Vec<&'static str> {
        let (mut list, mut words) = (self.entries(), Vec::new());
        for index in self.taps_to(action).unwrap_or_default() {
            let Some(entry) = list.get(index) else { break };
            words.push(entry.word());
            if let List(_, below) = entry {
                list = below;
            }
        }
        words
    }

    /// Every word that the menu shows and says.
    pub fn words(self) -> Vec<&'static str> {
        let mut words = vec![BACK];
        collect(self.entries(), &mut words);
        words
    }
}

fn taps_to(list: &[Entry], action: Action) -> Option<Vec<usize>> {
    list.iter().enumerate().find_map(|(taps, entry)| {
        let rest = match entry {
            Do(found) => (*found == action).then(Vec::new),
            List(_, list) => taps_to(list, action),
        };
        rest.map(|rest| std::iter::once(taps).chain(rest).collect())
    })
}

fn collect(list: &[Entry], words: &mut Vec<&'static str>) {
    for entry in list {
        words.push(entry.word());
        match entry {
            Do(action) => words.extend(action.to_be_pressed()),
            List(_, list) => collect(list, words),
        }
    }
}

impl Entry {
    fn word(&self) -> &'static str {
        match self {
            Do(action) => action.name(),
            List(word, _) => word,
        }
    }
}

/// What a choice led to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chosen {
    /// It is to be done.
    Action(Action),
    /// Another list stands there, or what the next press will do.
    Goes,
    /// The menu is left.
    Leaves,
}

/// An open menu.
#[derive(Debug, Clone)]
pub struct Menu {
    /// The lists that were gone through, with the entry chosen in each; the last one stands there.
    lists: Vec<(&'static [Entry], usize)>,
    /// What counts by its press edge and was chosen: the next presses do it.
    awaits: Option<Action>,
    touched: Frame,
    idle_s: u64,
}

impl Menu {
    /// A menu opened on `at`.
    pub fn new(occasion: Occasion, at: Frame) -> Menu {
        Menu {
            lists: vec![(occasion.entries(), 0)],
            awaits: None,
            touched: at,
            idle_s: IDLE_S,
        }
    }

    /// A foot moves: the menu stays.
    pub fn touch(&mut self, at: Frame) {
        self.touched = self.touched.max(at);
    }

    /// The next entry, going round.
    pub fn advance(&mut self, at: Frame) {
        self.touch(at);
        if let Some((list, chosen)) = self.lists.last_mut() {
            *chosen = (*chosen + 1) % (list.len() + 1);
        }
    }

    /// Takes the chosen entry.
    pub fn choose(&mut self, at: Frame) -> Chosen {
        self.touch(at);
        let entry = self.lists.last().and_then(|(list, at)| list.get(*at));
        match entry.copied() {
            Some(Do(action)) if action.to_be_pressed().is_some() => {
                self.awaits = Some(action);
                Chosen::Goes
            }
            Some(Do(action)) => Chosen::Action(action),
            Some(List(_, list)) => {
                self.lists.push((list, 0));
                Chosen::Goes
            }
            None if self.lists.len() > 1 => {
                self.lists.pop();
                Chosen::Goes
            }
            None => Chosen::Leaves,
        }
    }

    /// What a hold would do now; `None`: it only leads to a list.
    pub fn offers(&self) -> Option<Action> {
        let (list, chosen) = self.lists.last()?;
        match list.get(*chosen)? {
            Do(action) if action.to_be_pressed().is_none() => Some(*action),
            _ => None,
        }
    }

    /// What the next press does.
    pub fn awaits(&self) -> Option<Action> {
        self.awaits
    }

    /// A press did what was waited for; whether more presses may follow.
    pub fn pressed(&mut self, at: Frame) -> bool {
        self.touch(at);
        self.idle_s = TAPPED_S;
        self.awaits == Some(TapTempo)
    }

    /// Whether nobody touched it for a while.
    pub fn is_idle(&self, now: Frame, rate: u32) -> bool {
        now.0.saturating_sub(self.touched.0) >= self.idle_s * u64::from(rate)
    }

    /// The entries and the chosen one, for the page.
    pub fn lines(&self) -> (Vec<String>, usize) {
        if let Some(what) = self.awaits.and_then(Action::to_be_pressed) {
            return (vec![what.to_string()], 0);
        }
        let Some((list, chosen)) = self.lists.last() else {
            return (Vec::new(), 0);
        };
        let words = list.iter().map(Entry::word).chain([BACK]);
        (words.map(str::to_string).collect(), *chosen)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_action_is_further_than_four_taps_and_none_stands_twice() {
        for occasion in [Occasion::AtRest, Occasion::WhilePlaying] {
            let mut words = occasion.words();
            for (action, name, _) in Action::ALL {
                let Some(taps) = occasion.taps_to(action) else {
                    continue;
                };
                assert!(taps.iter().sum::<usize>() <= MOST_TAPS, "{name}: {taps:?}");
                assert!(taps.len() <= 4, "{name}: {taps:?}");
            }
            let count = words.len();
            words.sort_unstable();
            words.dedup();
            assert_eq!(words.len(), count, "a word stands for one thing");
        }
    }

    #[test]
    fn it_goes_down_and_up_its_lists_and_leaves() {
        let mut menu = Menu::new(Occasion::WhilePlaying, Frame(0));
        let shown = |menu: &Menu| {
            let (items, chosen) = menu.lines();
            items[chosen].clone()
        };
        // A word for each step: t is a tap, h a hold.
        for (step, then) in [
            ('h', "band"),
            ('t', "go to"),
            ('h', "section"),
            ('t', "chart"),
            ('t', "previous stage"),
            ('t', "listen chorus"),
            ('t', "back"),
            ('h', "go to"),
            ('t', "bars"),
            ('t', "key and chords"),
            ('t', "tap tempo"),
            ('h', "tap the tempo"),
        ] {
            match step {
                't' => menu.advance(Frame(1)),
                _ => assert_eq!(menu.choose(Frame(1)), Chosen::Goes),
            }
            assert_eq!(shown(&menu), then);
        }
        let mut menu = Menu::new(Occasion::AtRest, Frame(0));
        for _ in 0..5 {
            menu.advance(Frame(1));
        }
        assert_eq!(menu.choose(Frame(1)), Chosen::Leaves);
    }
}
