//! What is practised: a chart, worked out, and a drill.

use crate::chart::{Analysis, Chart, Form, MAX_BARS, PlayedNote};
use crate::drill::Drill;
use crate::harmony::{ChordInContext, Habits, Key, KeyDeclaration};
use crate::time::Tick;
use std::sync::Arc;

/// A tune as it is practised: its title and its home key.
pub(crate) type Tune = (String, Option<Key>);

/// A chart with everything that follows from it, and the drill that goes over it.
#[derive(Debug, Clone)]
pub struct Material {
    /// The chart as written (or transposed).
    pub chart: Chart,
    /// Its form, unrolled; with longer chords where a stage or the foot wants them.
    pub form: Form,
    /// One entry a chord of the form.
    pub contexts: Vec<ChordInContext>,
    /// One entry a chord of the pickup.
    pub pickup_contexts: Vec<ChordInContext>,
    /// The melody in ticks of the form; empty where the chart has none, and where chords last longer than written.
    pub melody: Vec<PlayedNote>,
    pub drill: Drill,
    habits: Habits,
    /// How many times as long as written each chord of the form lasts.
    chords_last: u32,
    /// The same in its home key and as written, where a stage has walked away from it.
    home: Option<Arc<Material>>,
    /// What chooses among keys at random.
    seed: u64,
    played: PlayedAs,
}

/// How a chart of a list is played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PlayedAs {
    /// Its place in the list.
    pub place: usize,
    /// Bars that are counted in; `None`: as the tempo asks for.
    pub count_in_bars: Option<u32>,
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
        let melody = chart.melody.as_ref();
        let melody = melody.map_or(Vec::new(), |melody| melody.play(&chart, &form));
        Material {
            chart,
            melody,
            form,
            contexts,
            pickup_contexts,
            drill,
            habits,
            chords_last: 1,
            home: None,
            seed: 0,
            played: PlayedAs::default(),
        }
    }

    /// How it is played.
    pub fn played(&self) -> PlayedAs {
        self.played
    }

    /// The same, played so.
    #[must_use]
    pub fn played_as(self, played: PlayedAs) -> Material {
        Material { played, ..self }
    }

    /// What chooses among keys at random.
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// The same with the seed that chooses among keys at random.
    #[must_use]
    pub fn with_seed(self, seed: u64) -> Material {
        Material { seed, ..self }
    }

    /// Which tune it is, and in which key it is at home now.
    pub(crate) fn tune(&self) -> Tune {
        let home = self.home.as_deref().unwrap_or(self);
        (home.chart.title.clone(), home.key())
    }

    /// The same as written in its home key, where a stage has walked away from it; else itself.
    pub fn home(self: &Arc<Self>) -> &Arc<Material> {
        self.home.as_ref().unwrap_or(self)
    }

    /// The same in `key` (`None`: where the tune tells of none), with chords that last `times` times as long as written,
    /// as far as the form stays one that a chart could have.
    pub fn varied(self: &Arc<Self>, key: Option<Key>, times: u32) -> Arc<Material> {
        let home = self.home();
        let most = (MAX_BARS / home.form.bars.len().max(1)).max(1) as u32;
        let times = times.min(most);
        if (key, times) == (home.key(), 1) {
            return home.clone();
        }
        if (key, times) == (self.key(), self.chords_last) {
            return self.clone();
        }
        let in_key = match key.filter(|_| key != home.key()) {
            Some(key) => home.in_key(key),
            None => (**home).clone(),
        };
        Arc::new(Material {
            home: Some(home.clone()),
            ..in_key.with_longer_chords(times)
        })
    }

    /// The same with chords that last so many times as long as written.
    fn with_longer_chords(self, times: u32) -> Material {
        if times == 1 {
            return self;
        }
        let longer = |context: ChordInContext| ChordInContext {
            start: Tick(context.start.0 * i64::from(times)),
            len: Tick(context.len.0 * i64::from(times)),
            ..context
        };
        Material {
            form: self.form.with_longer_chords(times),
            contexts: self.contexts.into_iter().map(longer).collect(),
            melody: Vec::new(),
            chords_last: times,
            ..self
        }
    }

    /// How many times as long as written each chord of `form` lasts; its bars come as many times.
    pub fn chords_last(&self) -> u32 {
        self.chords_last
    }

    /// Whether it is `other`, or what a stage made of it.
    pub fn comes_from(self: &Arc<Self>, other: &Arc<Material>) -> bool {
        Arc::ptr_eq(self.home(), other)
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
        .played_as(self.played)
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
