//! What a foot can ask for, and when it takes effect.

use crate::fault;
use crate::time::Part;
use std::fmt;
use std::str::FromStr;

/// When an action takes effect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Moment {
    /// At its press, after a small constant time.
    Now,
    /// At the next bar line.
    NextBar,
    /// Where the section (or the loop) ends; until then it is armed, shown and can be called off.
    SectionEnd,
}

impl Moment {
    /// The word for it in events and on the page.
    pub fn name(self) -> &'static str {
        match self {
            Moment::Now => "now",
            Moment::NextBar => "next bar",
            Moment::SectionEnd => "section end",
        }
    }
}

/// What a foot can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    /// Count in and play.
    Start,
    Stop,
    /// The next stage of the drill.
    NextStage,
    PreviousStage,
    /// The next section with another name.
    NextSection,
    PreviousSection,
    /// Calls off what is armed and loops this section.
    StayHere,
    /// The whole form instead of one section.
    WholeForm,
    /// Loops the two bars around now.
    ThisSpot,
    /// The top of this section is now: for rehearsal.
    TopOfSectionNow,
    /// The section begins with the next bar: for rehearsal, where the others play it from there.
    SectionFromHere,
    /// Back a bar: the others are a bar behind.
    BarBack,
    /// Forward a bar: the others are a bar ahead.
    BarOn,
    /// One tap of a new tempo.
    TapTempo,
    TempoUp,
    TempoDown,
    NextKey,
    /// Each chord twice as long at the same tempo, then four times, then as before.
    ChordLength,
    /// The last time round: the take ends with the section, on the tonic.
    LastTime,
    /// Says again what comes next.
    SayAgain,
    /// The stage's cycle begins again with its listening pass.
    ListenBack,
    /// What was played in the last pass, once more with the next.
    PlayBack,
    /// What was played in this take, as far as it is in memory, becomes a file.
    KeepTake,
    /// A drill of what is weak and due by the practice journal, from the section's end on.
    WeakSpots,
    /// How the practice goes, by the practice journal, in a few words.
    Report,
    /// Installs the other version that was found.
    Update,
    /// The page for tuning, or back from it.
    Tune,
    /// The page of the input, or back from it.
    Input,
    /// Model tones on or off.
    ModelTones,
    Louder,
    Softer,
    /// A part of the band on or off.
    MutePart(Part),
    /// The next chart of the list.
    NextChart,
    /// The chart before it.
    PreviousChart,
    /// The tune of the set at a place, from 0: no foot asks for it, but a song select does.
    ToChart(u8),
    /// Silence at once, whatever sounds.
    Panic,
    /// Opens the foot menu; a count-in dies, a band that plays goes on.
    MenuOpen,
    /// The next entry of the menu.
    MenuMove,
    /// Takes the chosen entry.
    MenuTake,
    MenuLeave,
}

/// A word that is no action.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{word}\" is no action{}", nearest.map(|near| format!(" (nearest: \"{near}\")")).unwrap_or_default())]
pub struct ActionError {
    pub word: String,
    /// The nearest action, if one is near.
    pub nearest: Option<&'static str>,
}

impl Action {
    /// Every action with its word in configuration, menu, page and events, and its moment.
    pub const ALL: [(Action, &'static str, Moment); 44] = {
        use Action::*;
        use Moment::*;
        [
            (Start, "start", Now),
            (Stop, "stop", Now),
            (NextStage, "next stage", SectionEnd),
            (PreviousStage, "previous stage", SectionEnd),
            (NextSection, "next section", SectionEnd),
            (PreviousSection, "previous section", SectionEnd),
            (StayHere, "stay here", Now),
            (WholeForm, "whole form", SectionEnd),
            (ThisSpot, "loop here", NextBar),
            (TopOfSectionNow, "top of section now", Now),
            (SectionFromHere, "section from here", NextBar),
            (BarBack, "back a bar", Now),
            (BarOn, "forward a bar", Now),
            // Each tap counts by its press edge; the tempo itself changes at the next bar line.
            (TapTempo, "tap tempo", NextBar),
            (TempoUp, "tempo up", NextBar),
            (TempoDown, "tempo down", NextBar),
            (NextKey, "next key", SectionEnd),
            (ChordLength, "chord length", SectionEnd),
            (LastTime, "last time", SectionEnd),
            (SayAgain, "say again", Now),
            (ListenBack, "listen chorus", SectionEnd),
            (PlayBack, "hear my take", Now),
            (KeepTake, "save take", Now),
            (WeakSpots, "weak spots", Now),
            (Report, "report", Now),
            (Update, "update", Now),
            (Tune, "tuner", Now),
            (Input, "input", Now),
            (ModelTones, "reference notes", NextBar),
            (Louder, "louder", Now),
            (Softer, "softer", Now),
            (MutePart(Part::Comping), "mute comping", NextBar),
            (MutePart(Part::Bass), "mute bass", NextBar),
            (MutePart(Part::Drums), "mute drums", NextBar),
            (MutePart(Part::Melody), "mute melody", NextBar),
            (MutePart(Part::Click), "mute click", NextBar),
            (MutePart(Part::Model), "mute reference notes", NextBar),
            (NextChart, "next chart", SectionEnd),
            (PreviousChart, "previous chart", SectionEnd),
            (Panic, "panic", Now),
            (MenuOpen, "menu", Now),
            (MenuMove, "menu move", Now),
            (MenuTake, "choose", Now),
            (MenuLeave, "menu leave", Now),
        ]
    };

    fn row(self) -> &'static (Action, &'static str, Moment) {
        const CHOSEN: (Action, &str, Moment) = (Action::ToChart(0), "chart", Moment::SectionEnd);
        if let Action::ToChart(_) = self {
            return &CHOSEN;
        }
        const ALL: &[(Action, &str, Moment)] = &Action::ALL;
        let row = ALL.iter().find(|(action, _, _)| *action == self);
        // Every action stands in the table (a test walks through all of them).
        row.unwrap_or(&ALL[0])
    }

    /// Its word.
    pub fn name(self) -> &'static str {
        self.row().1
    }

    /// When it takes effect while the band plays. When nothing plays everything takes effect now.
    pub fn moment(self) -> Moment {
        self.row().2
    }

    /// Whether its press edge is what counts: it must sit on a press, and nothing that waits beside it.
    pub fn needs_the_edge(self) -> bool {
        matches!(
            self,
            Action::Start
                | Action::TapTempo
                | Action::TopOfSectionNow
                | Action::BarBack
                | Action::BarOn
        )
    }
}

/// How it is in the menu.
impl Action {
    /// What the next press is for once this was chosen in the menu; `None`: the choice itself does it.
    pub fn to_be_pressed(self) -> Option<&'static str> {
        match self {
            Action::TapTempo => Some("tap the tempo"),
            Action::TopOfSectionNow => Some("press on the one"),
            _ => None,
        }
    }

    /// Whether one is often followed by another: the menu then stays for it.
    pub fn is_often_repeated(self) -> bool {
        use Action::{
            BarBack, BarOn, ChordLength, Louder, MutePart, NextKey, NextSection, NextStage,
            PreviousSection, PreviousStage, Softer, TempoDown, TempoUp,
        };
        matches!(
            self,
            TempoUp
                | TempoDown
                | Louder
                | Softer
                | NextKey
                | ChordLength
                | BarBack
                | BarOn
                | NextStage
                | PreviousStage
                | NextSection
                | PreviousSection
                | MutePart(_)
        )
    }
}

impl fmt::Display for Action {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Action {
    type Err = ActionError;
    /// Reads the words of [`Action::ALL`].
    ///
    /// # Errors
    /// When there is no such action; the nearest is told.
    fn from_str(word: &str) -> Result<Action, ActionError> {
        let all = || Action::ALL.iter();
        all()
            .find(|(_, name, _)| *name == word)
            .map(|(action, _, _)| *action)
            .ok_or_else(|| ActionError {
                word: word.to_string(),
                nearest: renamed(word)
                    .or_else(|| fault::nearest(word, all().map(|(_, name, _)| *name))),
            })
    }
}

/// What an action is called now that had another word.
fn renamed(word: &str) -> Option<&'static str> {
    let renamed = [
        ("listen back", "listen chorus"),
        ("play back", "hear my take"),
        ("bar on", "forward a bar"),
        ("bar back", "back a bar"),
        ("this spot", "loop here"),
        ("keep take", "save take"),
        ("tune", "tuner"),
        ("model tones", "reference notes"),
        ("menu take", "choose"),
        ("mute model", "mute reference notes"),
        ("listen again", "listen chorus"),
    ];
    let found = renamed.iter().find(|(before, _)| *before == word);
    found.map(|(_, now)| *now)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_action_is_written_and_read_back() {
        for (action, name, moment) in Action::ALL {
            assert_eq!(name.parse(), Ok(action));
            assert_eq!((action.name(), action.moment()), (name, moment));
            assert!(name.bytes().all(|b| b == b' ' || b.is_ascii_lowercase()));
        }
    }

    #[test]
    fn a_word_near_an_action_is_told_which() {
        for (word, told) in [
            (
                "next stge",
                "\"next stge\" is no action (nearest: \"next stage\")",
            ),
            (
                "Next Stage",
                "\"Next Stage\" is no action (nearest: \"next stage\")",
            ),
            (
                "mute brass",
                "\"mute brass\" is no action (nearest: \"mute bass\")",
            ),
            ("zzz", "\"zzz\" is no action"),
        ] {
            assert_eq!(word.parse::<Action>().unwrap_err().to_string(), told);
        }
    }
}
