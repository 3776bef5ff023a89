//! Further words for what a round came to: a rhythm, what came beside what was asked for, what is offered.

use crate::drill::Names;
use crate::judging::{NotesPlayed, Offer, Offered, RhythmPlayed};
use crate::speech::{place_said, say};

/// Places of a rhythm that are named at the most.
const NAMED: usize = 2;

/// Which places of a rhythm had no note: the most frequent.
pub(super) fn rhythm_line(rhythm: &RhythmPlayed) -> String {
    let named: Vec<&str> = rhythm
        .left_out
        .iter()
        .take(NAMED)
        .map(String::as_str)
        .collect();
    match &named[..] {
        [] => "the whole rhythm".to_string(),
        _ => format!("left out: {}", named.join(", ")),
    }
}

/// The same for the voice, as places are called.
pub(super) fn rhythm_sentence(notes: &NotesPlayed<'_>, names: Names) -> String {
    let left_out = notes.rhythm.iter().flat_map(|rhythm| &rhythm.left_out);
    let place = |text: &String| place_said(&text.parse().ok()?, names);
    let named: Vec<String> = left_out.filter_map(place).take(NAMED).collect();
    match &named[..] {
        [] => say(names, "the whole rhythm", "der ganze Rhythmus").to_string(),
        _ => format!(
            "{} {}",
            say(names, "you left out", "ausgelassen:"),
            named.join(", ")
        ),
    }
}

/// What was played beside a rhythm, and at its places outside the set.
pub(super) fn beside_words(rhythm: &RhythmPlayed, others: usize) -> Vec<String> {
    let extra = (others > 0).then(|| format!("{others} extra"));
    extra
        .into_iter()
        .chain(others_words(rhythm.outside))
        .collect()
}

pub(super) fn others_words(others: usize) -> Option<String> {
    (others > 0).then(|| format!("{others} outside the set"))
}

/// What is offered; the stage by its name, where there is one.
pub(super) fn offer_words(offer: &Offer, names: Names) -> String {
    let before_name = match offer.what {
        Offered::SlowerOrStageBefore => {
            say(names, "try it slower, or", "versuch es langsamer, oder")
        }
        Offered::StageBefore => say(names, "try", "versuch"),
        Offered::Harder => say(names, "ready for", "bereit für"),
        Offered::Slower | Offered::LongerChords => "",
    };
    if let Some(stage) = offer.stage.as_ref().filter(|_| !before_name.is_empty()) {
        return format!("{before_name} {stage}");
    }
    let (english, german) = match offer.what {
        Offered::Slower => ("try it slower", "versuch es langsamer"),
        Offered::SlowerOrStageBefore => (
            "try it slower, or the stage before",
            "versuch es langsamer, oder den Schritt davor",
        ),
        Offered::LongerChords => ("try longer chords", "versuch längere Akkorde"),
        Offered::StageBefore => ("try the stage before", "versuch den Schritt davor"),
        Offered::Harder => ("try the next stage", "versuch den nächsten Schritt"),
    };
    say(names, english, german).to_string()
}
