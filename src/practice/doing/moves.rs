//! Where stage, section, key and chart actions lead, and what they do while nothing plays.

use crate::foot::action::Action;
use crate::plan::cursor::{Brings, Cursor};
use crate::plan::material::Material;
use crate::plan::standing::{Loop, Standing};
use crate::practice::core::Core;
use crate::time::UsPerQuarter;
use std::sync::Arc;

impl Core {
    /// Where an action leads from `base`.
    pub(in crate::practice) fn target_of(&self, action: Action, base: &Cursor) -> Cursor {
        let material = &base.material;
        let mut standing = base.standing.clone();
        standing.breathing = false;
        let item = self.item_of(base);
        // The same place, as another stage or the foot wants the tune.
        let here = |material: &Arc<Material>, standing: Standing| {
            let walked = material.walked(&standing);
            let home_bar = base.from_bar / base.material.chords_last() as usize;
            Cursor {
                from_bar: home_bar * walked.chords_last() as usize,
                material: walked,
                standing,
                ..base.clone()
            }
        };
        let stage = |steps: i32| here(material, standing.with_stage(material, steps));
        let whole = |standing: Standing| Cursor {
            brings: base.brings,
            ..Cursor::pass(material, standing)
        };
        let section = |item: usize| {
            whole(Standing {
                pass: 0,
                ..standing.in_section(item)
            })
        };
        match action {
            Action::NextStage => stage(1),
            Action::PreviousStage => stage(-1),
            Action::NextSection => section(material.form.next_other_section(item).unwrap_or(item)),
            Action::PreviousSection => {
                section(material.form.previous_other_section(item).unwrap_or(item))
            }
            Action::WholeForm => {
                let form = Standing {
                    looping: Loop::Form,
                    pass: 0,
                    ..standing.clone()
                };
                whole(form.holding_the_chord_of(&standing, material))
            }
            Action::StayHere => {
                let section = standing.in_section(material.home_item(item));
                whole(section.holding_the_chord_of(&standing, material))
            }
            Action::ListenBack => here(
                material,
                Standing {
                    pass: 0,
                    ..standing.clone()
                },
            ),
            Action::ChordLength => here(material, standing.with_longer_chords()),
            Action::NextKey => match material.a_fourth_on() {
                Some(moved) => here(&Arc::new(moved), standing.clone()),
                None => base.clone(),
            },
            Action::NextChart => {
                let chart = base.brings.map_or(self.chart, |brings| brings.chart) + 1;
                let chart = chart % self.library.charts.len();
                let moved = Arc::new(self.chart_material(chart));
                let per_cent = self.settings.tempo_per_cent / 100.0;
                let qpm = (moved.chart.tempo_qpm * per_cent).clamp(30.0, 300.0);
                let tempo = UsPerQuarter::from_qpm(qpm);
                let standing = Standing {
                    stage: standing.stage,
                    ..Standing::first()
                };
                Cursor {
                    brings: Some(Brings { chart, tempo }),
                    ..Cursor::pass(&moved, standing)
                }
            }
            _ => base.clone(),
        }
    }

    pub(in crate::practice) fn chart_material(&self, index: usize) -> Material {
        let chart = self.library.charts[index % self.library.charts.len()].clone();
        Material::new(
            chart,
            self.library.drill.clone(),
            self.settings.habits.clone(),
        )
        .with_seed(self.settings.seed)
    }

    /// The form item that sounded before the bar at which `base` would go on.
    fn item_of(&self, base: &Cursor) -> usize {
        match &base.standing.looping {
            Loop::Item(item) => *item,
            _ => self.last_section.map_or(0, |(item, _)| item),
        }
    }

    /// Armed actions with nothing playing happen at once.
    pub(in crate::practice) fn at_rest(&mut self, action: Action) {
        let target = self.target_of(action, &self.here());
        if let Some(brings) = target.brings {
            self.chart = brings.chart;
            self.tempo = brings.tempo;
        }
        self.material = target.material;
        self.standing = target.standing;
        self.paused_bar = None;
        self.last_section = match self.standing.looping {
            Loop::Item(item) => Some((item, self.standing.stage)),
            _ => None,
        };
        self.save();
    }
}
