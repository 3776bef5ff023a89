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
        /// Whether something to practise is proposed when the box comes up.
        propose: bool = true, flag;
    }
}

fn player(view: &TableView<'_, '_>, key: &'static str) -> Option<String> {
    let text = view.string(key)?;
    let name = player_name(text.value);
    name.map_err(|rule| view.reader.fault(text.span.start, rule))
        .ok()
}

/// The name of a player.
///
/// # Errors
/// When it is none.
pub fn player_name(text: &str) -> Result<String, String> {
    let name = text.trim();
    let is_fine =
        (1..=LONGEST_NAME).contains(&name.chars().count()) && !name.chars().any(char::is_control);
    match is_fine {
        true => Ok(name.to_string()),
        false => Err(format!(
            "a player's name has 1 to {LONGEST_NAME} characters"
        )),
    }
}
