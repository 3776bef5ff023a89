//! Charts that lie in folders: whatever was put there, by the reader of `check`. One with faults keeps nobody else out.

use super::config::Config;
use super::files::{self, Failure};
use super::kind::{FileKind, kind};
use super::set_list;
use super::setup;
use crate::chart::Chart;
use crate::device::folders::{Wanted, below};
use crate::practice::Library;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

/// What was good when it was last read, by file: it stays where a file has faults now.
#[derive(Debug, Clone, Default)]
pub struct ChartFolders {
    good: Arc<Mutex<BTreeMap<PathBuf, Chart>>>,
    /// What all files held when they were last read.
    last: Arc<Mutex<Option<Library>>>,
}

/// What a file of a folder is.
enum Found {
    Chart(Box<Chart>),
    Faults(String),
    /// Something else, or nothing yet.
    Other,
}

/// What was read anew.
#[derive(Debug)]
pub struct FilesRead {
    pub config: Config,
    pub library: Library,
    /// Charts of folders that were not taken, a fault a line.
    pub faults: Vec<String>,
    /// Whether charts, and whether the drill are others than when they were last read. What is practised may be another still:
    /// a drill of weak spots comes from no file.
    pub are_others: (bool, bool),
}

/// The files that are read anew when they change, and the folders in which they come: those that the configuration names, and
/// those that its set list names.
pub fn wanted(config: &Config) -> Wanted {
    let mut wanted = config.wanted();
    let of_set = config.set.as_deref().map(set_list::files_named);
    wanted.files.extend(of_set.into_iter().flatten());
    wanted
}

/// Reads charts and drill as a configuration says, but for files that are `writing`.
///
/// # Errors
/// Every fault of the files that it names.
pub fn files_read(
    config: Config,
    folders: &ChartFolders,
    writing: &BTreeSet<PathBuf>,
) -> Result<FilesRead, Failure> {
    let mut library = setup::library(&config)?;
    let faults = folders.add_to(&mut library, &config, writing);
    let mut last = folders
        .last
        .lock()
        .unwrap_or_else(|broken| broken.into_inner());
    let before = last.replace(library.clone());
    let charts = |before: &Library| before.charts != library.charts || before.set != library.set;
    let are_others = (
        before.as_ref().is_none_or(charts),
        before
            .as_ref()
            .is_none_or(|before| before.drill != library.drill),
    );
    Ok(FilesRead {
        config,
        library,
        faults,
        are_others,
    })
}

impl ChartFolders {
    /// Puts the charts of the configured folders behind those of a library; gives every fault that was found, a line each.
    /// Files that are `writing` are as they were. A set is a list of its own: nothing comes to it.
    pub fn add_to(
        &self,
        library: &mut Library,
        config: &Config,
        writing: &BTreeSet<PathBuf>,
    ) -> Vec<String> {
        let mut good = self
            .good
            .lock()
            .unwrap_or_else(|broken| broken.into_inner());
        let before = std::mem::take(&mut *good);
        if library.set.is_some() {
            return Vec::new();
        }
        let mut faults = Vec::new();
        for folder in &config.chart_folders {
            let found = below(folder, config.wanted().endings);
            if found.is_cut {
                let folder = folder.display();
                faults.push(format!("{folder}: too many files: the rest is not read"));
            }
            for path in found.files {
                // It is there already: named, or in two folders that lie in each other.
                if config.charts.contains(&path) || good.contains_key(&path) {
                    continue;
                }
                let kept = || before.get(&path).cloned();
                let chart = match writing.contains(&path) {
                    true => kept(),
                    false => match look(&path) {
                        Found::Chart(chart) => Some(*chart),
                        Found::Other => None,
                        Found::Faults(told) => {
                            faults.extend(told.lines().map(str::to_string));
                            kept()
                        }
                    },
                };
                if let Some(chart) = chart {
                    library.charts.push(chart.clone());
                    good.insert(path, chart);
                }
            }
        }
        faults
    }
}

fn look(path: &Path) -> Found {
    let bytes = match files::start_of(path) {
        Ok(bytes) => bytes,
        // It went meanwhile.
        Err(_) if !path.exists() => return Found::Other,
        Err(told) => return Found::Faults(told),
    };
    if kind(path, &bytes) != FileKind::Chart {
        return Found::Other;
    }
    let read = files::as_text(path, bytes).and_then(|text| {
        let read = files::parsed(path, &text, Chart::read, files::exit::DATA);
        read.map_err(|failure| failure.text)
    });
    match read {
        Ok(chart) => Found::Chart(Box::new(chart)),
        Err(told) => Found::Faults(told),
    }
}
