//! What a stage asks for over the chart, to print.

use super::stage::{Task, Workshop};
use crate::daemon::sheet::{self, Wanted};
use crate::daemon::targets::Asked;
use crate::engrave::{Paper, rows_on_paper, to_pdf};
use crate::plan::Material;
use std::io::{Error, Result};

impl Workshop<'_> {
    /// What the stage asks for, to print; some stages have nothing to print.
    pub(super) fn print(&self, task: &Task) -> Result<()> {
        if self.record.is_made(&task.sheet(), &task.from) {
            return Ok(());
        }
        let drill = &task.library.drill;
        let chart = task.library.charts[0].clone();
        let material = Material::new(chart, drill.clone(), self.settings.habits.clone());
        let asked = Asked {
            pass: 1,
            seed: self.settings.seed,
            neck: self.settings.neck.clone(),
            ..Asked::default()
        };
        let wanted = Wanted {
            over: self.whole_form.then(|| "form".to_string()),
            is_chorus: false,
            names: self.settings.names,
        };
        let Ok(model) = sheet::model(&material, drill, asked, &wanted) else {
            return Ok(());
        };
        let pdf = to_pdf(&rows_on_paper(&model, Paper::A4));
        let pdf = pdf.map_err(|error| Error::other(error.to_string()))?;
        self.write(&task.sheet(), &task.from, &pdf)
    }
}
