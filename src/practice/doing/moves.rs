//! Where stage, section, key and chart actions lead, and what they do while nothing plays.

use crate::practice::action::Action;
use crate::practice::core::Core;
use crate::practice::course::{Loop, Standing};
use crate::practice::material::Material;
use crate::practice::plan::Cursor;
use crate::time::UsPerQuarter;
use std::sync::Arc;

impl Core {
    /// Where an action leads from `base`.
    pub(in crate::practice) fn target_of(&self, action: Action, base: &Cursor) -> Cursor {
        let material = &base.material;
        let mut standing = base.standing.clone();
        standing.breathing = false;
        let item = self.item_of(base);
        let stage = |steps: i32| Cursor {
            standing: standing.with_stage(material, steps),
            ..base.clone()
        };
        let section = |item: usize| {
            let standing = Standing {
                pass: 0,
                ..standing.in_section(item)
            };
            Cursor::pass(material, standing)
        };
        match action {
            Action::NextStage => stage(1),
            Action::PreviousStage => stage(-1),
            Action::NextSection => section(material.form.next_other_section(item).unwrap_or(item)),
            Action::PreviousSection => {
                section(material.form.previous_other_section(item).unwrap_or(item))
            }
            Action::WholeForm => Cursor::pass(
                material,
                Standing {
                    looping: Loop::Form,
                    pass: 0,
                    ..standing
                },
            ),
            Action::StayHere => {
                Cursor::pass(material, standing.in_section(material.home_item(item)))
            }
            Action::ListenBack => Cursor {
                standing: Standing {
                    pass: 0,
                    ..standing
                },
                ..base.clone()
            },
            Action::NextKey => match material.a_fourth_on() {
                Some(moved) => Cursor {
                    material: Arc::new(moved),
                    standing,
                    ..base.clone()
                },
                None => base.clone(),
            },
            Action::NextChart => {
                let moved = Arc::new(self.chart_material(self.chart + 1));
                Cursor::pass(
                    &moved,
                    Standing {
                        stage: standing.stage,
                        ..Standing::first()
                    },
                )
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
        if action == Action::NextChart {
            self.chart = (self.chart + 1) % self.library.charts.len();
            let per_cent = self.settings.tempo_per_cent / 100.0;
            self.tempo = UsPerQuarter::from_qpm(target.material.chart.tempo_qpm * per_cent);
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
