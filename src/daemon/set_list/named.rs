//! The files that a set list names, and what goes wrong in them.

use crate::chart::Chart;
use crate::drill::Drill;
use crate::fault::TableView;
use std::cell::RefCell;

/// The files that a set list names.
pub struct Files<'a> {
    /// Reads a chart, or tells every fault of it.
    pub charts: &'a dyn Fn(&str) -> Result<Chart, String>,
    /// Reads a drill.
    pub drills: &'a dyn Fn(&str) -> Result<Drill, String>,
    /// The drill of tunes for which nothing else is named.
    pub usual: Option<&'a Drill>,
}

/// What goes wrong in the files that are named, beside the list's own faults.
#[derive(Default)]
pub(super) struct Beside(RefCell<Vec<String>>);

impl Beside {
    /// Every fault that was kept, a line each.
    pub(super) fn into_lines(self) -> Vec<String> {
        self.0.into_inner()
    }

    /// The value; else the faults are kept, and the list tells at `key` that there are some.
    pub(super) fn good<T>(
        &self,
        view: &TableView<'_, '_>,
        key: &'static str,
        read: Result<T, String>,
    ) -> Option<T> {
        let told = match read {
            Ok(value) => return Some(value),
            Err(told) => told,
        };
        let lines: Vec<&str> = told.lines().collect();
        match lines[..] {
            // It cannot be read at all: one line says it.
            [line] if line.contains("cannot be read") => view.fault(key, format!("{key}: {line}")),
            _ => {
                let count = match lines.len() {
                    1 => "a fault".to_string(),
                    count => format!("{count} faults"),
                };
                view.fault(key, format!("{key}: the file has {count}, told below"));
                let mut all = self.0.borrow_mut();
                if !lines.iter().all(|line| all.iter().any(|one| one == line)) {
                    all.extend(lines.iter().map(|line| (*line).to_string()));
                }
            }
        }
        None
    }
}
