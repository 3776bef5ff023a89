//! What is practised: a chart, worked out, and a drill.

use super::Standing;
use crate::chart::{Analysis, Chart, Form};
use crate::drill::Drill;
use crate::harmony::{ChordInContext, Habits, Key, KeyDeclaration};
use std::sync::Arc;

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
    /// The same in its home key, where a stage has walked away from it.
    home: Option<Arc<Material>>,
    /// What chooses among keys at random.
    seed: u64,
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
            home: None,
            seed: 0,
        }
    }

    /// The same with the seed that chooses among keys at random.
    #[must_use]
    pub fn with_seed(self, seed: u64) -> Material {
        Material { seed, ..self }
    }

    /// The same in the key in which its stage comes at `standing`.
    pub fn walked(self: &Arc<Self>, standing: &Standing) -> Arc<Material> {
        let home = self.home.as_ref().unwrap_or(self);
        let walk = &standing.stage_of(self).keys;
        let Some(from) = home.key() else {
            return home.clone();
        };
        match walk.key(from, standing.round(self), self.seed) {
            to if to == from => home.clone(),
            to if Some(to) == self.key() => self.clone(),
            to => Arc::new(Material {
                home: Some(home.clone()),
                ..home.in_key(to)
            }),
        }
    }

    /// The key of the tune when no stage has walked away from it.
    pub fn home_key(&self) -> Option<Key> {
        self.home.as_deref().unwrap_or(self).key()
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
        .with_seed(self.seed)
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
        let key = self.home_key()?;
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
