//! What is practised: a chart, worked out, and a drill.

use crate::chart::{Analysis, Chart, Form};
use crate::drill::Drill;
use crate::harmony::{ChordInContext, Habits, Key, KeyDeclaration};

/// A chart with everything that follows from it, and the drill that goes over it.
#[derive(Debug, Clone)]
pub struct Material {
    /// The chart as written (or transposed).
    pub chart: Chart,
    /// Its form, unrolled.
    pub form: Form,
    /// One entry a chord of the form.
    pub contexts: Vec<ChordInContext>,
    /// One entry a chord of the pickup.
    pub pickup_contexts: Vec<ChordInContext>,
    /// The drill.
    pub drill: Drill,
    habits: Habits,
}

impl Material {
    /// Works a chart out; what the chart itself chooses wins over `habits`.
    pub fn new(chart: Chart, drill: Drill, habits: Habits) -> Material {
        let habits = chart.habits.over(&habits);
        let form = Form::unroll(&chart);
        let Analysis {
            chords: contexts,
            pickup: pickup_contexts,
        } = Analysis::of(&form, &habits);
        Material {
            chart,
            form,
            contexts,
            pickup_contexts,
            drill,
            habits,
        }
    }

    /// The habits it was worked out with.
    pub fn habits(&self) -> &Habits {
        &self.habits
    }

    /// The same chart and drill in another key.
    pub fn in_key(&self, key: Key) -> Material {
        Material::new(
            self.chart.transposed(key),
            self.drill.clone(),
            self.habits.clone(),
        )
    }

    /// The key the tune stands in: the declared one, else that of its last chord.
    pub fn key(&self) -> Option<Key> {
        match self.chart.key {
            Some(KeyDeclaration::Key(key)) => Some(key),
            _ => self.contexts.iter().rev().find_map(|chord| chord.key),
        }
    }

    /// The same a fourth higher: the keys in the order in which they are usually practised.
    pub fn a_fourth_on(&self) -> Option<Material> {
        let key = self.key()?;
        let fifths = if key.fifths() <= -6 {
            key.fifths() + 11
        } else {
            key.fifths() - 1
        };
        Some(self.in_key(Key::of_signature(fifths, key.mode)))
    }

    /// The first item of the form that is the same section as `item`: the one that goes round.
    pub fn home_item(&self, item: usize) -> usize {
        let section = self.form.section_of(item);
        section
            .and_then(|section| self.form.first_item_of(section))
            .unwrap_or(item)
    }

    /// The item that is the same section as `item` and is followed by the section that comes next: its
    /// ending leads on.
    pub fn leaving_item(&self, item: usize) -> usize {
        let section = self.form.section_of(item);
        let items = self.form.items();
        let leads_on = |at: &usize| {
            self.form.section_of(*at) == section
                && self.form.section_of((at + 1) % items) != section
        };
        (item..items).find(leads_on).unwrap_or(item)
    }

    /// How many bars two items of the form have in common from their first bar on.
    pub fn bars_in_common(&self, item: usize, other: usize) -> usize {
        let (a, b) = (self.form.item_bars(item), self.form.item_bars(other));
        let chords = |bar: usize| {
            let from = self.form.bars[bar].start;
            let chords = self
                .form
                .chords
                .iter()
                .filter(move |chord| chord.form_bar == bar);
            chords
                .map(move |chord| (chord.timed.start - from, chord.timed.harmony.clone()))
                .collect::<Vec<_>>()
        };
        a.iter()
            .zip(&b)
            .take_while(|(a, b)| chords(**a) == chords(**b))
            .count()
    }
}
