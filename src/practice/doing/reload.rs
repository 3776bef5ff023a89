//! New charts and a new drill take the place of the old ones.

use crate::plan::cursor::{Brings, Cursor};
use crate::plan::material::Material;
use crate::plan::standing::{Loop, Standing};
use crate::practice::core::{Core, Library};
use crate::time::{Tick, UsPerQuarter};
use std::sync::Arc;

/// New material on its way to the section's end.
#[derive(Debug, Clone)]
pub(in crate::practice) struct Reloading {
    material: Arc<Material>,
    /// Set where the chart that was played is gone, and another takes its place.
    brings: Option<Brings>,
}

impl Core {
    /// Valid new charts and a new drill take over at the section's end. Key and tempo belong to the player, not
    /// to the file: they stay, unless the chart itself is gone. What is armed stays armed.
    pub(in crate::practice) fn reload(&mut self, library: Library) {
        if library.charts.is_empty() {
            return;
        }
        let title = &self.material.chart.title;
        let of_title = |chart: &crate::chart::Chart| chart.title == *title;
        let kept = library.charts.iter().position(of_title);
        let key = self.moved_key().filter(|_| kept.is_some());
        self.chart = kept.unwrap_or(0);
        self.library = library;
        let mut material = self.chart_material(self.chart);
        if let Some(key) = key {
            material = material.in_key(key);
        }
        let qpm = material.chart.tempo_qpm * self.settings.tempo_per_cent / 100.0;
        let brings = Brings {
            chart: self.chart,
            tempo: UsPerQuarter::from_qpm(qpm.clamp(30.0, 300.0)),
        };
        let reloading = Reloading {
            material: Arc::new(material),
            brings: kept.is_none().then_some(brings),
        };
        if self.take.is_none() {
            self.take_over(reloading);
            return self.refresh();
        }
        self.reloading = Some(reloading);
        let from = self.tick_of(self.now);
        let pending = self.unarm(from);
        self.plan_reload(from);
        self.rearm(pending.filter(|armed| !armed.is_spot()), self.now);
        self.refresh();
    }

    /// Puts new material that is on its way into the plan, where the section ends.
    pub(in crate::practice) fn plan_reload(&mut self, from: Tick) {
        let Some(Reloading { material, brings }) = self.reloading.clone() else {
            return;
        };
        let Some(take) = self.take.as_ref() else {
            return;
        };
        let cut = self.section_end(take, from);
        let standing = fit(&take.cursor_at(cut).standing, &material);
        let cursor = Cursor {
            brings,
            ..Cursor::pass(&material, standing)
        };
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut() {
            take.replan(cut, cursor);
            take.lead_into(&playing);
        }
    }

    /// New material has begun to sound.
    pub(in crate::practice) fn reload_landed(&mut self) {
        let landed = |reloading: &mut Reloading| self.material.comes_from(&reloading.material);
        if let Some(Reloading {
            brings: Some(brings),
            ..
        }) = self.reloading.take_if(landed)
        {
            self.tempo = brings.tempo;
        }
    }

    /// New material takes over while nothing plays.
    pub(in crate::practice) fn take_over(&mut self, reloading: Reloading) {
        self.standing = fit(&self.standing, &reloading.material);
        self.material = reloading.material;
        if let Some(brings) = reloading.brings {
            self.tempo = brings.tempo;
        }
    }
}

/// The nearest standing that the new material has.
fn fit(standing: &Standing, material: &Material) -> Standing {
    let last_item = material.form.items().saturating_sub(1);
    let looping = match &standing.looping {
        Loop::Item(item) => Loop::Item(*item.min(&last_item)),
        Loop::Form => Loop::Form,
        Loop::Spot(_) => Loop::Item(0),
    };
    Standing {
        stage: standing.stage.min(material.drill.stages.len() - 1),
        looping,
        ..Standing::first()
    }
}
