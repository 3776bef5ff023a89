//! What is told about another version, in words: for the page, and for the voice in its language.

use super::update_news::{UpdateNews, UpdateOffer};
use crate::drill::Names;
use crate::foot::{Action, FootMap, FootState, Occasion};
use crate::speech::{menu_phrases, say};

/// A version as it is told: without what a build adds to it.
fn short(version: &str) -> &str {
    version.split(['+', '~']).next().unwrap_or(version)
}

/// A line with its files by their names alone: where they lie is in the log.
fn without_directories(line: &str) -> String {
    let word = |word: &str| match word.strip_prefix('/') {
        Some(path) => path.rsplit('/').next().unwrap_or(path).to_string(),
        None => word.to_string(),
    };
    line.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// Title and lines of the page.
pub(super) fn page(news: &UpdateNews, map: &FootMap) -> (String, Vec<String>) {
    let word = Action::Update.name();
    let titled = |offer: &UpdateOffer| format!("{word} {}", short(&offer.version));
    match news {
        UpdateNews::Offered(None) => (word.to_string(), Vec::new()),
        UpdateNews::Offered(Some(offer)) => {
            let place = offer.on_stick.then(|| "on the stick".to_string());
            let way = match way(map) {
                Way::Menu(words) => format!("menu: {}", words.join(", ")),
                Way::Gesture(gesture) => format!("{gesture}: {word}"),
                Way::None => "underfoot update FILE".to_string(),
            };
            (titled(offer), place.into_iter().chain([way]).collect())
        }
        UpdateNews::Begun(offer) => {
            let lines = ["installing", "the box restarts by itself"];
            (titled(offer), lines.map(str::to_string).to_vec())
        }
        UpdateNews::Refused(why) => {
            let lines = why.iter().map(|line| without_directories(line));
            (format!("no {word}"), lines.collect())
        }
        UpdateNews::Done { told, .. } => (word.to_string(), vec![told.clone()]),
    }
}

/// The same as a sentence.
pub(super) fn sentence(news: &UpdateNews, map: &FootMap, names: Names) -> String {
    let word = |word: &str| menu_phrases(word, names).full;
    let update = word(Action::Update.name());
    match news {
        UpdateNews::Offered(offer) => {
            let version = offer.as_ref().map_or("", |offer| short(&offer.version));
            let on_stick = offer.as_ref().is_some_and(|offer| offer.on_stick);
            let place = say(names, " on the stick", " auf dem Stick");
            let place = if on_stick { place } else { "" };
            let way = match way(map) {
                Way::Menu(words) => {
                    let words = std::iter::once("menu").chain(words).map(word);
                    words.map(|word| format!(", {word}")).collect()
                }
                Way::Gesture(_) | Way::None => String::new(),
            };
            format!("{update} {version}{place}{way}")
        }
        UpdateNews::Begun(offer) => {
            let installing = say(names, "installing", "wird installiert");
            format!("{update} {}, {installing}", short(&offer.version))
        }
        UpdateNews::Refused(_) | UpdateNews::Done { is_in: false, .. } => say(
            names,
            "no update, look at the page",
            "keine Aktualisierung, siehe Anzeige",
        )
        .to_string(),
        UpdateNews::Done { is_in: true, .. } => {
            format!("{update} {}", say(names, "installed", "installiert"))
        }
    }
}

/// How a foot asks for it where nothing plays.
enum Way {
    /// The words on the way through the menu.
    Menu(Vec<&'static str>),
    /// A gesture of its own: "tap 3".
    Gesture(String),
    None,
}

fn way(map: &FootMap) -> Way {
    let Some(way) = map.way(FootState::Stopped, Action::Update) else {
        return Way::None;
    };
    match (&way.taps, way.gestures.first()) {
        (Some(_), _) => Way::Menu(Occasion::AtRest.words_to(Action::Update)),
        (None, Some((switch, kind))) if map.switches() > 1 => {
            Way::Gesture(format!("{} {switch}", kind.name()))
        }
        (None, Some((_, kind))) => Way::Gesture(kind.name().to_string()),
        (None, None) => Way::None,
    }
}
