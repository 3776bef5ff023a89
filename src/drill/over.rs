//! What goes round in a stage, and how its tempo rises: so that a drill leads from a section to two of them to the form, and
//! from slow to the tune's own tempo.

use super::qualities::quality_named;
use crate::fault::{TableView, Text};
use crate::harmony::Quality;

/// What goes round from the beginning of a stage on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GoesRound {
    /// These sections, one after the other.
    Sections(Vec<String>),
    /// The first so many sections that are different.
    First(usize),
    Form,
    /// The bars that the foot looped last; where it looped none, the two with the most chords.
    HardSpot,
}

/// The most sections that one stage puts together.
const SECTIONS: usize = 16;

impl GoesRound {
    /// Reads `over`; left out: what went round before.
    pub(super) fn read(view: &TableView<'_, '_>) -> Option<GoesRound> {
        let value = view.get("over")?.get_ref();
        if value.as_integer().is_some() {
            let range = 1..=SECTIONS as i64;
            return view
                .integer("over", range, "sections")
                .map(GoesRound::First);
        }
        let names = match value.as_str() {
            Some("form") => return Some(GoesRound::Form),
            Some("hard spot") => return Some(GoesRound::HardSpot),
            Some(_) => vec![view.string("over")?],
            None if value.as_array().is_some() => view.strings("over")?,
            None => {
                let rule = "over must be the name of a section, a list of sections, a number of sections, \"form\" or \"hard spot\"";
                view.fault("over", rule);
                return None;
            }
        };
        if !(1..=SECTIONS).contains(&names.len()) {
            let rule = format!(
                "over names {} sections, but must name 1 to {SECTIONS}",
                names.len()
            );
            view.fault("over", rule);
        }
        let sections: Vec<String> = names
            .iter()
            .filter_map(|name| section(view, name))
            .collect();
        (!sections.is_empty()).then_some(GoesRound::Sections(sections))
    }
}

/// The name of a section, as far as a drill can tell without a chart.
fn section(view: &TableView<'_, '_>, name: &Text<'_>) -> Option<String> {
    let text = name.value.trim();
    let rule = match text {
        "" => "over has an empty name of a section".to_string(),
        "form" | "hard spot" => format!("\"{text}\" stands alone: over = \"{text}\""),
        kind if quality_named(kind).is_ok() => {
            format!(
                "\"{kind}\" is a kind of chord: those are named by chords, over names what goes round"
            )
        }
        _ => return Some(text.to_string()),
    };
    view.reader.fault(name.span.start, rule);
    None
}

/// Reads `chords`: the kinds of chords that something is asked over; left out: all.
pub(super) fn read_chords(view: &TableView<'_, '_>) -> Vec<Quality> {
    let named = |text: Text<'_>| match quality_named(text.value) {
        Ok(quality) => Some(quality),
        Err(near) => {
            let rule = format!(
                "\"{}\" is no kind of chord (nearest: \"{near}\")",
                text.value
            );
            view.reader.fault(text.span.start, rule);
            None
        }
    };
    let words = view.strings("chords").unwrap_or_default();
    words.into_iter().filter_map(named).collect()
}

/// What a step of the tempo waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Every {
    Passes(u32),
    /// Until the stage is secure by what is heard.
    Ready,
}

/// A tempo that rises within a stage, in per cent of the player's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TempoSteps {
    pub from_per_cent: u32,
    pub to_per_cent: u32,
    /// Per cent of one step.
    pub step: u32,
    pub every: Every,
}

impl TempoSteps {
    /// The tempo after so many steps.
    pub fn per_cent(&self, steps: u32) -> u32 {
        let risen = self
            .from_per_cent
            .saturating_add(self.step.saturating_mul(steps));
        risen.min(self.to_per_cent)
    }

    /// Steps up to the full tempo.
    pub fn steps(&self) -> u32 {
        (self.to_per_cent - self.from_per_cent).div_ceil(self.step)
    }

    /// Reads `tempo`; left out: it stays as it is. `pulse`: whether the stage is in time.
    pub(super) fn read(view: &TableView<'_, '_>, pulse: bool) -> Option<TempoSteps> {
        let table = view.table("tempo")?;
        let per_cent = |key, usual| table.integer(key, 20..=200, "per cent").unwrap_or(usual);
        let (from_per_cent, to_per_cent) =
            (per_cent("from_per_cent", 60), per_cent("to_per_cent", 100));
        let step = table.integer("step", 1..=50, "per cent").unwrap_or(5);
        let by_ear = table
            .get("every")
            .is_some_and(|every| every.get_ref().as_str().is_some());
        let every = match by_ear {
            true => table.one_of("every", &[("ready", Every::Ready)]),
            false => table.integer("every", 1..=999, "passes").map(Every::Passes),
        };
        if from_per_cent >= to_per_cent {
            let rule = format!(
                "tempo rises from {from_per_cent} to {to_per_cent} per cent: from_per_cent must be the smaller one"
            );
            view.fault("tempo", rule);
        }
        if !pulse {
            view.fault(
                "tempo",
                "tempo has no meaning in a stage out of time (pulse = false)",
            );
        }
        if view.get("tempo_by_ear").is_some() {
            let rule =
                "tempo and tempo_by_ear exclude each other: steps up to a tempo, or as it is heard";
            view.fault("tempo", rule);
        }
        table.finish();
        (from_per_cent < to_per_cent).then_some(TempoSteps {
            from_per_cent,
            to_per_cent,
            step,
            every: every.unwrap_or(Every::Passes(2)),
        })
    }
}
