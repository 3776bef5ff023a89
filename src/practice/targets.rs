//! Where an action leads: another stage, section, key or chart.

use super::session::{Session, chart_tempo, material_of};
use super::settings::Settings;
use crate::foot::Action;
use crate::plan::cursor::{Brings, Cursor};
use crate::plan::{Loop, Material, Standing};
use std::sync::Arc;

impl Session {
    /// Where an action leads from `base`.
    pub fn target_of(&self, action: Action, base: &Cursor, settings: &Settings) -> Cursor {
        let material = &base.material;
        let standing = Standing {
            breathing: false,
            ..base.standing.clone()
        };
        let again = standing.again(material);
        let item = self.item_of(base);
        // One thing at a time: what comes with another stage or key comes at the tempo that sounds.
        let at_tempo = |standing: Standing| Standing {
            per_cent: self.standing.per_cent,
            ..standing
        };
        let stage = |steps: i32| {
            in_place(
                base,
                material,
                at_tempo(standing.with_stage(material, steps)),
            )
        };
        let whole = |standing: Standing| Cursor {
            brings: base.brings,
            ..Cursor::pass(material, standing)
        };
        let section = |other: Option<usize>| whole(again.in_section(other.unwrap_or(item)));
        match action {
            Action::NextStage | Action::PreviousStage => {
                stage(self.steps_by(action, standing.stage))
            }
            // A vamp is left, and the form goes on.
            Action::NextSection => match standing.past_the_vamp(material) {
                Some(past) => whole(past),
                None => section(material.form.next_other_section(item)),
            },
            Action::PreviousSection => section(material.form.previous_other_section(item)),
            Action::WholeForm => {
                let form = Standing {
                    looping: Loop::Form,
                    ..again
                };
                whole(form.holding_the_chord_of(&standing, material))
            }
            Action::StayHere => {
                let section = standing.in_section(material.home_item(item));
                whole(section.holding_the_chord_of(&standing, material))
            }
            Action::ListenBack => in_place(base, material, again),
            Action::ChordLength => in_place(base, material, standing.with_longer_chords()),
            Action::NextKey => in_next_key(base, at_tempo(standing)),
            _ => match self.chart_asked_for(action, base) {
                Some(chart) => self.chart_at(chart, base, settings),
                None => base.clone(),
            },
        }
    }

    /// The chart of the list to which an action leads.
    fn chart_asked_for(&self, action: Action, base: &Cursor) -> Option<usize> {
        match action {
            Action::NextChart => Some(self.chart_by(base, 1)),
            Action::PreviousChart => Some(self.chart_by(base, -1)),
            Action::ToChart(chart) => Some(usize::from(chart)),
            Action::LastTime => self.segue(base),
            _ => None,
        }
    }

    /// The chart so many places on in the list (or back), round its ends.
    fn chart_by(&self, base: &Cursor, by: i64) -> usize {
        let here = base.brings.map_or(self.chart, |brings| brings.chart);
        let count = self.library.charts.len().max(1) as i64;
        (here as i64 + by).rem_euclid(count) as usize
    }

    /// The start of a chart of the list, in its own tempo. A tune of a set begins its own drill.
    fn chart_at(&self, chart: usize, base: &Cursor, settings: &Settings) -> Cursor {
        let chart = chart.min(self.library.charts.len().saturating_sub(1));
        let moved = Arc::new(material_of(&self.library, chart, settings));
        let tempo = chart_tempo(&moved.chart, settings);
        let stage = match self.library.set {
            Some(_) => 0,
            None => base.standing.stage,
        };
        let standing = Standing {
            stage,
            ..Standing::first()
        };
        let standing = standing.as_its_stage_says(&moved).opening(&moved);
        let standing = standing.from_the_top(&moved);
        Cursor {
            brings: Some(Brings { chart, tempo }),
            ..Cursor::pass(&moved, standing)
        }
    }

    /// The tune of the set into which the last time of the one at `base` leads on.
    pub fn segue(&self, base: &Cursor) -> Option<usize> {
        let here = base.brings.map_or(self.chart, |brings| brings.chart);
        self.library.tune(here).filter(|tune| tune.segue)?;
        self.tune_after(here)
    }

    /// The start of the tune into which the last time of the one at `base` leads on.
    pub fn segue_from(&self, base: &Cursor, settings: &Settings) -> Option<Cursor> {
        let next = self.segue(base)?;
        Some(self.chart_at(next, base, settings))
    }

    /// The tune of the set after this one; none after the last.
    pub fn tune_after(&self, chart: usize) -> Option<usize> {
        let tunes = &self.library.set.as_ref()?.tunes;
        Some(chart + 1).filter(|next| *next < tunes.len())
    }

    /// The form item that sounded before the bar at which `base` would go on.
    fn item_of(&self, base: &Cursor) -> usize {
        match &base.standing.looping {
            Loop::Item(item) => *item,
            _ => self.sounded_item.unwrap_or(0),
        }
    }
}

/// The same place in `material`, as another stage or the foot wants the tune.
fn in_place(base: &Cursor, material: &Arc<Material>, standing: Standing) -> Cursor {
    let walked = standing.walked(material);
    let home_bar = base.from_bar / base.material.chords_last() as usize;
    Cursor {
        from_bar: home_bar * walked.chords_last() as usize,
        material: walked,
        standing,
        ..base.clone()
    }
}

/// The same place a fourth higher, where the tune tells of a key.
fn in_next_key(base: &Cursor, standing: Standing) -> Cursor {
    let Some(moved) = base.material.a_fourth_on() else {
        return base.clone();
    };
    let standing = Standing {
        key_since: standing.pass,
        ..standing
    };
    in_place(base, &Arc::new(moved), standing)
}
