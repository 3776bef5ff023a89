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
use std::cell::RefCell;
use std::path::{Path, PathBuf};

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
    let charts = |file: &str| files::chart(&beside(path, file)).map_err(|failure| failure.text);
    let drills = |file: &str| files::drill(&beside(path, file)).map_err(|failure| failure.text);
    let files = Files {
        charts: &charts,
        drills: &drills,
        usual,
    };
    read(&source, &files).map_err(|told| Failure::new(exit::DATA, told))
}

/// The files that the set list in a file names, whatever their faults and its own.
pub fn files_named(path: &Path) -> Vec<PathBuf> {
    let Ok(text) = files::text(path) else {
        return Vec::new();
    };
    let name = path.display().to_string();
    let source = Source {
        name: &name,
        text: &text,
    };
    let named = RefCell::new(Vec::new());
    let note = |file: &str| named.borrow_mut().push(beside(path, file));
    let files = Files {
        charts: &|file| {
            note(file);
            Err(String::new())
        },
        drills: &|file| {
            note(file);
            Err(String::new())
        },
        usual: None,
    };
    // What it says is of no matter here.
    let _ = read(&source, &files);
    named.into_inner()
}

/// A file that a set list names: paths count from the list's own directory.
fn beside(list: &Path, file: &str) -> PathBuf {
    match list.parent() {
        Some(dir) => dir.join(file),
        None => file.into(),
    }
}

/// Every key that the outermost table of a set list may have.
pub fn keys() -> Vec<&'static str> {
    keys_of(|view: &TableView<'_, '_>| {
        read::title(view);
        read::drill_named(view);
        view.tables("tune");
    })
}
