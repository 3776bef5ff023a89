//! The words of the foot menu, as they are said.

use super::phrases::PhraseSet;
use super::words::say;
use crate::drill::Names;

/// Every word of the menu that German says otherwise (common practice, no source).
const GERMAN: &[(&str, &str)] = &[
    ("menu", "Menü"),
    ("more", "mehr"),
    ("back", "zurück"),
    ("band", "Band"),
    ("mute", "stumm"),
    ("level", "Lautstärke"),
    ("take", "Aufnahme"),
    ("go to", "gehe zu"),
    ("section", "Teil"),
    ("bars", "Takte"),
    ("tempo", "Tempo"),
    ("key and chords", "Tonart und Akkorde"),
    ("tap the tempo", "Tempo treten"),
    ("press on the one", "auf die Eins treten"),
    ("next stage", "nächste Stufe"),
    ("previous stage", "vorige Stufe"),
    ("next section", "nächster Teil"),
    ("previous section", "voriger Teil"),
    ("whole form", "ganze Form"),
    ("loop here", "hier wiederholen"),
    ("top of section now", "Anfang des Teils jetzt"),
    ("section from here", "Teil ab hier"),
    ("back a bar", "einen Takt zurück"),
    ("forward a bar", "einen Takt vor"),
    ("tap tempo", "Tempo treten"),
    ("tempo up", "schneller"),
    ("tempo down", "langsamer"),
    ("next key", "nächste Tonart"),
    ("chord length", "Länge der Akkorde"),
    ("last time", "letztes Mal"),
    ("say again", "noch einmal sagen"),
    ("listen chorus", "Durchgang zum Hören"),
    ("hear my take", "meine Aufnahme hören"),
    ("save take", "Aufnahme sichern"),
    ("tuner", "Stimmgerät"),
    ("reference notes", "Mustertöne"),
    ("louder", "lauter"),
    ("softer", "leiser"),
    ("mute comping", "Begleitung stumm"),
    ("mute bass", "Bass stumm"),
    ("mute drums", "Schlagzeug stumm"),
    ("mute melody", "Melodie stumm"),
    ("mute click", "Klick stumm"),
    ("mute reference notes", "Mustertöne stumm"),
    ("next chart", "nächstes Stück"),
    ("panic", "Ruhe"),
];

/// A word of the menu.
pub fn menu_phrases(word: &str, names: Names) -> PhraseSet {
    let german = GERMAN.iter().find(|(english, _)| *english == word);
    let german = german.map_or(word, |(_, german)| german);
    PhraseSet::plain(say(names, word, german))
}
