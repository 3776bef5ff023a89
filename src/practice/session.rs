//! What is practised, and how: the chart and the drill, where the player stands in them, tempo, key, parts and level.

use super::brought::Reload;
use super::event::Saved;
use super::settings::{Library, Settings};
use crate::chart::Chart;
use crate::drill::{Drill, Stage};
use crate::foot::Action;
use crate::harmony::{Habits, Key};
use crate::plan::cursor::{Brings, Cursor};
use crate::plan::pass::PassSettings;
use crate::plan::standing::distinct_chords;
use crate::plan::{Loop, Material, PlayedAs, Standing};
use crate::time::UsPerQuarter;
use std::sync::Arc;

/// The slowest and the quickest tempo, in quarter notes a minute.
const TEMPO_QPM: (f64, f64) = (30.0, 300.0);
/// The softest and the loudest master level, in dB.
const MASTER_DB: (f32, f32) = (-60.0, 0.0);

/// What is practised, and how.
#[derive(Debug)]
pub(super) struct Session {
    pub library: Library,
    /// Index of the chart in the library.
    pub chart: usize,
    /// The chart and the drill, as they come where the player stands.
    pub material: Arc<Material>,
    /// Where the player stands.
    pub standing: Standing,
    /// The player's tempo; a stage may take a part of it.
    pub tempo: UsPerQuarter,
    /// What the player wants of every pass.
    pub passes: PassSettings,
    /// The master level in dB.
    pub master_db: f32,
    /// The item of the form that sounded last, where one did.
    pub sounded_item: Option<usize>,
    /// What was offered at the end of a round: in which stage, for which action, and which stage it is.
    pub offered: Option<(usize, Action, usize)>,
    /// There is no chart yet; where the last session ended.
    blank: Option<Option<Saved>>,
}

impl Session {
    /// The start of the library's first chart and drill, or where `saved` says, if it still fits.
    pub fn new(mut library: Library, settings: &Settings, saved: Option<&Saved>) -> Session {
        let blank = library.charts.is_empty().then(|| saved.cloned());
        if blank.is_some() {
            library.charts.push(Chart::silence());
        }
        let place_of = |saved: &Saved| library.place_of(&saved.title, saved.chart);
        let found = saved.and_then(|saved| Some((saved, place_of(saved)?)));
        let chart = found.map_or(0, |(_, chart)| chart);
        let mut material = material_of(&library, chart, settings);
        let mut standing = Standing::first();
        let mut tempo = chart_tempo(&material.chart, settings);
        let mut master_db = settings.master_db;
        if let Some((saved, _)) = found {
            standing = standing.with_turns(&saved.turned, &material);
            if let Some(key) = saved.key.as_ref().and_then(|key| key.parse().ok()) {
                material = material.in_key(key);
            }
            standing.stage = saved.stage.min(material.drill.stages.len() - 1);
            standing = standing.in_section(saved.item.min(material.form.items().saturating_sub(1)));
            tempo = tempo_of(saved.tempo_qpm);
            master_db = saved.master_db.clamp(MASTER_DB.0, MASTER_DB.1);
        }
        let standing = standing.as_its_stage_says(&material).opening(&material);
        Session {
            library,
            chart,
            material: Arc::new(material),
            standing,
            tempo,
            passes: PassSettings {
                neck: settings.neck.clone(),
                seed: settings.seed,
                feel_amount: settings.feel_amount,
                muted: Vec::new(),
                model: None,
                driven: false,
            },
            master_db,
            sounded_item: None,
            offered: None,
            blank,
        }
    }

    /// Whether there is no chart yet.
    pub fn is_blank(&self) -> bool {
        self.blank.is_some()
    }

    /// How many chords are held out of time here, one after the other.
    pub fn held_chords(&self) -> usize {
        let lap = self.standing.lap(&self.material);
        distinct_chords(self.stage(), &self.material, &lap).len()
    }

    /// The stage that the player stands in.
    pub fn stage(&self) -> &Stage {
        self.standing.stage_of(&self.material)
    }

    /// The present standing as the next thing to play.
    pub fn here(&self) -> Cursor {
        Cursor::pass(&self.material, self.standing.clone())
    }

    /// The same, with the tune's intro where the whole form goes round.
    pub fn here_from_the_top(&self) -> Cursor {
        let standing = self.standing.clone().from_the_top(&self.material);
        Cursor::pass(&self.material, standing)
    }

    /// The top of the section that sounds.
    pub fn top_of_section(&self) -> Cursor {
        let mut cursor = self.here();
        if cursor.standing.breathing {
            cursor.standing = cursor.standing.next(&self.material);
        }
        if matches!(cursor.standing.looping, Loop::Form | Loop::Sections(_)) {
            let item = self.sounded_item.unwrap_or(0);
            let bars = cursor.standing.form_bars(&self.material);
            let of_item = |bar: &usize| self.material.form.bars[*bar].item == item;
            cursor.from_bar = bars.iter().position(of_item).unwrap_or(0);
        }
        cursor
    }

    /// Goes to where an action leads: nothing plays.
    pub fn go_to(&mut self, target: Cursor) {
        self.take_along(target.brings);
        self.standing = target.standing.opening(&target.material);
        self.material = target.material;
        self.sounded_item = match self.standing.looping {
            Loop::Item(item) => Some(item),
            _ => None,
        };
    }

    /// Another chart of the list begins to sound, with its tempo.
    pub fn take_along(&mut self, brings: Option<Brings>) {
        if let Some(brings) = brings {
            self.chart = brings.chart;
            self.tempo = brings.tempo;
        }
    }

    /// The take is over: a section goes round from its first place in the form when the next begins.
    pub fn rest(&mut self) {
        self.standing = self.standing.again(&self.material).opening(&self.material);
        if matches!(self.standing.looping, Loop::Item(_)) {
            let item = self.sounded_item.unwrap_or(0);
            self.standing.looping = Loop::Item(self.material.home_item(item));
        }
    }

    /// Whether a library has other charts, and another drill.
    pub fn differs_from(&self, library: &Library) -> (bool, bool) {
        let known = if self.is_blank() {
            &[]
        } else {
            &self.library.charts[..]
        };
        let charts = (known, &self.library.set) != (&library.charts[..], &library.set);
        (charts, self.library.drill != library.drill)
    }

    /// The same charts with another drill.
    pub fn library_with(&self, drill: Drill) -> Library {
        let charts = match self.is_blank() {
            true => Vec::new(),
            false => self.library.charts.clone(),
        };
        let set = None;
        Library { charts, drill, set }
    }

    /// The chart that is practised, as it is written; none where there is none yet.
    pub fn written_chart(&self) -> Option<&Chart> {
        self.library
            .charts
            .get(self.chart)
            .filter(|_| !self.is_blank())
    }

    /// Takes a new library. Key and tempo belong to the player, not to the file: they stay, unless the chart itself is
    /// gone. `None` where nothing is to be brought into what plays: it has no chart, it is what is
    /// there already (whatever came before or after it in the list), or nothing was there before.
    pub fn reload(
        &mut self,
        library: Library,
        settings: &Settings,
        habits_before: &Habits,
    ) -> Option<Reload> {
        library.charts.first()?;
        if let Some(saved) = self.blank.take() {
            *self = Session::new(library, settings, saved.as_ref());
            return None;
        }
        self.passes.feel_amount = settings.feel_amount;
        let title = &self.material.chart.title;
        let kept = library.place_of(title, self.chart);
        let key = self.moved_key().filter(|_| kept.is_some());
        let is_same = self.differs_from(&library) == (false, false)
            && *habits_before == settings.habits
            && self.passes.seed == settings.seed
            && self.passes.neck == settings.neck;
        if is_same {
            return None;
        }
        let goes_on = *habits_before == settings.habits
            && self.passes.seed == settings.seed
            && self.passes.neck == settings.neck
            && kept.is_some_and(|place| self.has_same(&library, place));
        self.chart = kept.unwrap_or(0);
        self.library = library;
        if goes_on {
            return None;
        }
        self.passes.seed = settings.seed;
        self.passes.neck = settings.neck.clone();
        let mut material = material_of(&self.library, self.chart, settings);
        if let Some(key) = key {
            material = material.in_key(key);
        }
        let brings = Brings {
            chart: self.chart,
            tempo: chart_tempo(&material.chart, settings),
        };
        Some(Reload {
            material: Arc::new(material),
            brings: kept.is_none().then_some(brings),
            from_first: false,
        })
    }

    /// Whether what is practised stands in `library`, too, at `place`: the same chart with the same drill, counted in alike.
    fn has_same(&self, library: &Library, place: usize) -> bool {
        let of = |library: &Library, chart: usize| {
            let tune = library.tune(chart);
            tune.and_then(|tune| tune.count_in_bars)
        };
        library.charts.get(place) == self.library.charts.get(self.chart)
            && library.drill_of(place) == self.library.drill_of(self.chart)
            && of(library, place) == of(&self.library, self.chart)
    }

    /// New material takes over while nothing plays.
    pub fn take_over(&mut self, reload: Reload) {
        self.standing = reload.fit(&self.standing, &self.material);
        self.material = reload.material;
        if let Some(brings) = reload.brings {
            self.tempo = brings.tempo;
        }
    }

    /// The key that is played, where it is not the chart's own.
    fn moved_key(&self) -> Option<Key> {
        let written = &self.library.charts[self.chart];
        let is_moved = self.material.chart.key != written.key;
        self.material.home_key().filter(|_| is_moved)
    }

    /// The tempo here, of which the stage may take a part of the player's.
    pub fn tempo_here(&self) -> UsPerQuarter {
        self.passes.tempo_of(&self.standing, self.tempo)
    }

    /// The player's tempo where the one here is so many quarter notes a minute.
    pub fn full_qpm(&self, here_qpm: f64) -> f64 {
        let share = f64::from(self.standing.per_cent.max(1)) / 100.0;
        here_qpm / if self.passes.driven { 1.0 } else { share }
    }

    /// Sets the player's tempo, in quarter notes a minute; whether it is another one.
    pub fn set_tempo(&mut self, qpm: f64) -> bool {
        let tempo = tempo_of(qpm);
        std::mem::replace(&mut self.tempo, tempo) != tempo
    }

    /// The band louder or softer.
    pub fn level_by(&mut self, step_db: f32) {
        self.set_level(self.master_db + step_db);
    }

    /// The band as loud as this, within what is allowed.
    pub fn set_level(&mut self, master_db: f32) {
        self.master_db = master_db.clamp(MASTER_DB.0, MASTER_DB.1);
    }

    /// The place to come back to at the next start.
    pub fn saved(&self) -> Saved {
        let item = match self.standing.looping {
            Loop::Item(item) => item,
            _ => 0,
        };
        Saved {
            chart: self.chart,
            title: self.material.chart.title.clone(),
            stage: self.standing.stage,
            item,
            tempo_qpm: self.tempo.qpm(),
            key: self.moved_key().map(|key| key.to_string()),
            master_db: self.master_db,
            turned: self.standing.turns_by_name(&self.material),
        }
    }
}

/// A chart of the library, worked out for what is practised over it.
pub(super) fn material_of(library: &Library, chart: usize, settings: &Settings) -> Material {
    let tune = library.tune(chart);
    let played = PlayedAs {
        place: chart,
        count_in_bars: tune.and_then(|tune| tune.count_in_bars),
    };
    let drill = library.drill_of(chart).clone();
    Material::new(
        library.charts[chart].clone(),
        drill,
        settings.habits.clone(),
    )
    .with_seed(settings.seed)
    .played_as(played)
}

fn tempo_of(qpm: f64) -> UsPerQuarter {
    UsPerQuarter::from_qpm(qpm.clamp(TEMPO_QPM.0, TEMPO_QPM.1))
}

/// A chart's own tempo, as quick as the player wants charts.
pub(super) fn chart_tempo(chart: &Chart, settings: &Settings) -> UsPerQuarter {
    tempo_of(chart.tempo_qpm * settings.tempo_per_cent / 100.0)
}
