//! The glossary: every word that a player reads on a page or hears from the voice.
//!
//! The same thing has the same word everywhere; where a leader says it otherwise than it is written, both stand in one
//! line. Pages are English; the voice has German words where notes have German names, else English ones, to which the
//! syllables of solfège go. English is what guitarists say (common practice, no source), German from memory of bandstands.
//!
//! Names of notes are no words ([`crate::drill::Names`]); titles, names of sections and stages and a teacher's notes are the
//! user's own. A test collects all texts of pages and voice and finds words that do not stand here.

use std::collections::BTreeSet;

/// A word of the trade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// As pages write it.
    pub page: &'static str,
    /// As the voice says it.
    pub voice: &'static str,
    /// As a German voice says it.
    pub german: &'static str,
}

const fn word(page: &'static str, voice: &'static str, german: &'static str) -> Word {
    Word {
        page,
        voice,
        german,
    }
}

/// A word that is said as it is written.
const fn same(english: &'static str, german: &'static str) -> Word {
    word(english, english, german)
}

// ---- what a leader calls --------------------------------------------------------------------------------------

/// The band is heard.
pub const LISTEN: Word = same("listen", "zuhören");
/// What is asked for is sung.
pub const SING: Word = same("sing", "singen");
/// The player plays.
pub const PLAY: Word = word("play", "now you", "jetzt du");
/// The phrase that the box plays is repeated.
pub const ANSWER: Word = same("answer", "antworten");
/// Some bars without notes, the band goes on.
pub const REST: Word = same("rest", "aussetzen");
/// Between two rounds.
pub const BREAK: Word = same("break", "Pause");
/// The take ends with this time round.
pub const LAST_TIME: Word = same("last time", "letztes Mal");
/// All sections in their order go round.
pub const WHOLE_FORM: Word = same("whole form", "ganze Form");
/// A part of the form; before its name.
pub const SECTION: Word = same("section", "Teil");
/// Behind a section's name in English, before it in German.
pub const NEXT: Word = same("next", "gleich");
/// Before a key.
pub const IN: Word = same("in", "in");
/// Before the places of notes.
pub const ON: Word = same("on", "auf");
/// Before the place of the first of several notes.
pub const START_ON: Word = same("start on", "ab");
/// Half a beat before the chord.
pub const PUSH: Word = same("push", "vorgezogen");
/// Half a beat after a beat: "two and", "2&".
pub const AND: Word = word("&", "and", "und");
/// Over the root.
pub const ABOVE: Word = same("above", "darüber");
/// Under the root.
pub const BELOW: Word = same("below", "darunter");
/// Between a chord and its bass.
pub const OVER: Word = word("/", "over", "über");
/// One string; before its number.
pub const STRING: Word = same("string", "Saite");
/// A position of the hand; before its number.
pub const POSITION: Word = same("position", "Lage");
/// The hand moves within a figure; before the position that it goes to.
pub const SHIFT: &str = "shift to";
/// Where a figure lies, from the bottom.
pub const OCTAVES: [Word; 3] = [
    same("low octave", "tiefe Oktave"),
    same("middle octave", "mittlere Oktave"),
    same("high octave", "hohe Oktave"),
];
/// Out of time: the note is looked for in several places.
pub const FIND: Word = same("find", "suchen");
/// Between how often and how often in all.
pub const OF: &str = "of";
/// The order of a figure's notes; before their names.
pub const ORDER: Word = same("order", "Folge");
/// All places of a note, one a pass.
pub const EVERY_PLACE: &str = "every place";
/// How fast.
pub const TEMPO: Word = same("tempo", "Tempo");

/// Every word above.
const CALLS: [Word; 26] = [
    FIND, LISTEN, SING, PLAY, ANSWER, REST, BREAK, LAST_TIME, WHOLE_FORM, SECTION, NEXT, IN, ON,
    START_ON, PUSH, AND, ABOVE, BELOW, OVER, TEMPO, STRING, POSITION, ORDER, OCTAVES[0],
    OCTAVES[1], OCTAVES[2],
];

/// Beats, from one.
pub const NUMBERS: [Word; 12] = [
    word("1", "one", "eins"),
    word("2", "two", "zwei"),
    word("3", "three", "drei"),
    word("4", "four", "vier"),
    word("5", "five", "fünf"),
    word("6", "six", "sechs"),
    word("7", "seven", "sieben"),
    word("8", "eight", "acht"),
    word("9", "nine", "neun"),
    word("10", "ten", "zehn"),
    word("11", "eleven", "elf"),
    word("12", "twelve", "zwölf"),
];

/// Degrees, from the root.
pub const DEGREES: [Word; 7] = [
    same("root", "Grundton"),
    same("second", "Sekunde"),
    same("third", "Terz"),
    same("fourth", "Quarte"),
    same("fifth", "Quinte"),
    same("sixth", "Sexte"),
    same("seventh", "Septime"),
];

/// The degrees beyond the octave, which only pages name.
pub const HIGH_DEGREES: [&str; 6] = [
    "octave",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
    "thirteenth",
];

/// What a chord is, word by word.
pub const QUALITIES: [Word; 17] = [
    same("minor", "Moll"),
    same("major", "Dur"),
    same("half", "halb"),
    same("half diminished", "halbvermindert"),
    same("diminished", "vermindert"),
    same("augmented", "übermäßig"),
    same("suspended", "sus"),
    same("altered", "alteriert"),
    same("flat", "klein"),
    same("sharp", "hoch"),
    same("add", "plus"),
    same("five", "fünf"),
    same("six", "sechs"),
    same("seven", "sieben"),
    same("nine", "neun"),
    same("eleven", "elf"),
    same("thirteen", "dreizehn"),
];

/// The kinds of chords, as drills and a practice journal name them, and in German.
pub const KINDS: [(&str, &str); 17] = [
    ("major", "Dur"),
    ("major 6", "Dur mit Sexte"),
    ("major 7", "großer Septakkord"),
    ("minor", "Moll"),
    ("minor 6", "Moll mit Sexte"),
    ("minor 7", "Mollseptakkord"),
    ("minor major 7", "Moll mit großer Septime"),
    ("dominant", "Dominante"),
    ("dominant #5", "übermäßige Dominante"),
    ("sus 4", "sus vier"),
    ("sus 2", "sus zwei"),
    ("half-diminished", "halbvermindert"),
    ("diminished", "vermindert"),
    ("diminished 7", "ganz vermindert"),
    ("augmented", "übermäßig"),
    ("augmented major 7", "übermäßig mit großer Septime"),
    ("fifth", "leere Quinte"),
];

/// Words of the menu and the actions of a foot, as page and voice have them, and in German.
pub const MENU: &[(&str, &str)] = &[
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
    ("journal", "Tagebuch"),
    ("weak spots", "Schwächen üben"),
    ("report", "Bericht"),
    ("tuner", "Stimmgerät"),
    ("input", "Eingang"),
    ("box", "Gerät"),
    ("update", "Aktualisierung"),
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
    ("previous chart", "voriges Stück"),
    ("chart", "Stück"),
    ("panic", "Ruhe"),
];

// ---- other words of sentences ---------------------------------------------------------------------------------

/// Further words of pages and of English sentences.
const ENGLISH: &[&str] = &[
    // Where one is, and what is armed.
    "bar",
    "bars",
    "beat",
    "beats",
    "count-in",
    "quiet start",
    "as",
    "written",
    "each",
    "chord",
    "chords",
    "twice",
    "times",
    "long",
    "then",
    "stopped",
    "when",
    "paused",
    "press",
    "to",
    "go",
    "start",
    "stay",
    "here",
    "off",
    "dB",
    "clock",
    "lost",
    "staying",
    "at",
    "and",
    "more",
    "lines",
    "log",
    "the",
    "needs",
    "a",
    "few",
    "restart",
    "no",
    "chart",
    "follows",
    "yet",
    "new",
    "settings",
    "looking",
    "found",
    "none",
    "choose",
    "stop",
    "leave",
    "move",
    // Where notes lie.
    "same",
    "string",
    "strings",
    "every",
    "position",
    "fret",
    "open",
    "one",
    "tune",
    "cents",
    "low",
    "high",
    // How a round went.
    "again most missed of all notes note right nothing was heard clearly outside set whole rhythm left",
    "out extra often late early you are ms milliseconds behind ahead try ready for it slower or before",
    "longer stage mostly hand positions starting degree degrees octave octaves many back place time",
    "weren't there band came once double minutes your hands",
    // What the practice journal tells.
    "today yesterday days ago yes not hold tap this week min h automatic over ten",
    // What an open choice could be besides.
    "started phrase another",
    // Of another version.
    "stick installing installed restarts by itself look page",
];

/// Further words of German sentences.
const GERMAN: &str = "\
    kleine große verminderte übermäßige noch einmal hören alle Töne richtig nichts war klar zu oft \
    spät früh du bist Millisekunden versuch es langsamer oder den Schritt davor längere Akkorde \
    Stufe Stufen Oktave Oktaven keine eine viele warst nicht da als die Band zurückkam an der \
    richtigen Stelle zurück jedes Mal einen Schlag Schläge zweimal der ganze Rhythmus ausgelassen bereit für nächsten \
    Minuten diese Woche von sitzen als Nächstes zehn Mal zuerst beginne einmal mit Wendung kam andere \
    auf dem Stick wird installiert siehe Anzeige";

/// Every single word that page and voice may use.
pub fn all_words() -> BTreeSet<&'static str> {
    let table = CALLS
        .iter()
        .chain(&NUMBERS)
        .chain(&DEGREES)
        .chain(&QUALITIES);
    let table = table.flat_map(|word| [word.page, word.voice, word.german]);
    let menu = MENU
        .iter()
        .chain(&KINDS)
        .flat_map(|(english, german)| [*english, *german]);
    let plain = HIGH_DEGREES.iter().chain(ENGLISH).copied();
    let texts = table
        .chain(menu)
        .chain(plain)
        .chain([GERMAN, EVERY_PLACE, SHIFT]);
    texts.flat_map(str::split_whitespace).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_german_word_means_two_things_that_are_called() {
        let mut known = BTreeSet::new();
        for word in CALLS {
            assert!(known.insert(word.german), "{word:?}");
        }
        let menu: BTreeSet<&str> = MENU.iter().map(|(english, _)| *english).collect();
        assert_eq!(menu.len(), MENU.len());
    }
}
