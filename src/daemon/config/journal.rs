//! The table `[journal]`.

use crate::fault::TableView;
use crate::fault::settings::{flag, path, settings};
use std::path::PathBuf;

/// The longest name of a player, in characters.
const LONGEST_NAME: usize = 40;

settings! {
    /// What is kept of the practice.
    #[derive(Debug, Clone, PartialEq, Eq)]
    pub struct Journal {
        /// Whether anything is.
        on: bool = true, flag;
        /// The file; `None`: `journal.db` in the state directory.
        path: Option<PathBuf> = None, path;
        /// Whose practice it is.
        player: String = "me".to_string(), player;
    }
}

fn player(view: &TableView<'_, '_>, key: &'static str) -> Option<String> {
    let text = view.string(key)?;
    let name = text.value.trim();
    let is_fine =
        (1..=LONGEST_NAME).contains(&name.chars().count()) && !name.chars().any(char::is_control);
    if !is_fine {
        let rule = format!("a player is called by 1 to {LONGEST_NAME} characters");
        view.reader.fault(text.span.start, rule);
    }
    is_fine.then(|| name.to_string())
}
