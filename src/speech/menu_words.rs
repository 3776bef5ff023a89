//! The words of the foot menu, as they are said.

use super::phrases::PhraseSet;
use super::words::say;
use crate::drill::Names;
use crate::glossary::MENU;

/// A word of the menu.
pub fn menu_phrases(word: &str, names: Names) -> PhraseSet {
    let german = MENU.iter().find(|(english, _)| *english == word);
    let german = german.map_or(word, |(_, german)| german);
    PhraseSet::plain(say(names, word, german))
}
