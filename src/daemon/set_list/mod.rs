//! Set lists: which tunes are played one after the other, in which key and tempo, who leads the clock.

mod named;
mod read;
mod tune;

pub use named::Files;
pub use read::read;

use super::files::{self, Failure, exit};
use crate::drill::Drill;
use crate::fault::{Source, TableView, keys_of};
use crate::practice::Library;
use std::path::Path;

/// The tunes of the set list in a file, each over its drill; `usual` is the drill of those for which the list names none.
///
/// # Errors
/// Every fault of the list, and of the charts and drills that it names, exit code 65.
pub fn load(path: &Path, usual: Option<&Drill>) -> Result<Library, Failure> {
    let text = files::text(path).map_err(|fault| Failure::new(exit::DATA, fault))?;
    load_text(path, &text, usual)
}

/// The same of a text that was read from `path`.
///
/// # Errors
/// As [`load`].
pub fn load_text(path: &Path, text: &str, usual: Option<&Drill>) -> Result<Library, Failure> {
    let name = path.display().to_string();
    let source = Source { name: &name, text };
    let beside = |file: &str| match path.parent() {
        Some(dir) => dir.join(file),
        None => file.into(),
    };
    let charts = |file: &str| files::chart(&beside(file)).map_err(|failure| failure.text);
    let drills = |file: &str| files::drill(&beside(file)).map_err(|failure| failure.text);
    let files = Files {
        charts: &charts,
        drills: &drills,
        usual,
    };
    read(&source, &files).map_err(|told| Failure::new(exit::DATA, told))
}

/// Every key that the outermost table of a set list may have.
pub fn keys() -> Vec<&'static str> {
    keys_of(|view: &TableView<'_, '_>| {
        read::title(view);
        read::drill_named(view);
        view.tables("tune");
    })
}
