//! New charts and a new drill take the place of the old ones.

use crate::practice::core::Core;
use crate::practice::core::Library;
use crate::practice::course::{Loop, Standing};
use crate::practice::plan::Cursor;
use std::sync::Arc;

impl Core {
    /// Valid new charts and a new drill take over at the section's end.
    pub(in crate::practice) fn reload(&mut self, library: Library) {
        if library.charts.is_empty() {
            return;
        }
        let title = &self.material.chart.title;
        let kept = library
            .charts
            .iter()
            .position(|chart| chart.title == *title);
        self.chart = kept.unwrap_or(0);
        self.library = library;
        let material = Arc::new(self.chart_material(self.chart));
        let fit = |standing: &Standing| {
            let stage = standing.stage.min(material.drill.stages.len() - 1);
            let item = match standing.looping {
                Loop::Item(item) => item.min(material.form.items().saturating_sub(1)),
                _ => 0,
            };
            Standing {
                stage,
                looping: Loop::Item(item),
                ..Standing::first()
            }
        };
        let Some(take) = self.take.as_ref() else {
            self.standing = fit(&self.standing);
            self.material = material;
            return self.refresh();
        };
        let from = take.timeline.tick(self.now);
        let cut = self.section_end(take, from);
        let cursor = Cursor::pass(&material, fit(&self.cursor_at(take, cut).standing));
        let playing = self.playing.clone();
        if let Some(take) = self.take.as_mut() {
            take.armed = None;
            take.replan(cut, cursor);
            take.lead_into(&playing);
        }
        self.rewrite_future(from, self.now);
        self.refresh();
    }
}
