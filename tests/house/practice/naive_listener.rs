//! A naive listener: it hears words with their start and end, knows the grammar of the calls, and nothing of what is
//! played. Asked at a moment, it tells what it would do then.
//!
//! The grammar: what is called counts from the next top, the next section or the next bar that another thing begins with. A
//! call has parts, with commas between:
//!
//! - `listen`, `sing`, `now you`, `answer`, `rest`, `break` say what to do; what is counted in without such a word is played.
//! - `on two and`, `on one, three`, `push`, `start on two` say where the notes fall, until other places are called. The name
//!   of a stage takes them back to one.
//! - `string five`, `position two`, `low octave`, `below`, `order third root` say what turns for the hand, until another is
//!   called or another stage.
//! - `in F`, `in G minor` is another key; `section B next`, `bridge next` another section.
//! - A note, or a chord, and what follows it: what to play next. Anything else is the name of a stage.

/// What was heard, with the frames of its start and end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    pub start: u64,
    pub end: u64,
    pub text: String,
}

/// What the listener would do.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Belief {
    /// "listen", "sing", "play", "answer", "rest", "break".
    pub doing: String,
    /// Beats as they are written: "1", "2&", "before 1".
    pub places: Vec<String>,
    /// "F", "G minor"; as it was where nothing was said.
    pub key: String,
    pub section: String,
    /// What turns for the hand, part by part.
    pub hand: Vec<String>,
    /// Notes or a chord that were named last.
    pub named: String,
}

const BEATS: [&str; 12] = [
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// "two and" as it is written: "2&".
fn beat(words: &str) -> Option<String> {
    if words == "push" {
        return Some("before 1".to_string());
    }
    let (number, after) = words.split_once(' ').unwrap_or((words, ""));
    let number = BEATS.iter().position(|beat| *beat == number)? + 1;
    let after = match after {
        "and" => "&",
        "" | "e" | "a" => after,
        _ => return None,
    };
    Some(format!("{number}{after}"))
}

/// Whether a part names a note or a chord.
fn is_note(part: &str) -> bool {
    const BEHIND: [&str; 16] = [
        "flat",
        "sharp",
        "double",
        "major",
        "minor",
        "seven",
        "six",
        "nine",
        "half",
        "diminished",
        "augmented",
        "suspended",
        "below",
        "altered",
        "add",
        "five",
    ];
    let mut words = part.split(' ');
    let letter = words.next().unwrap_or_default();
    letter.len() == 1 && ("A"..="G").contains(&letter) && words.all(|word| BEHIND.contains(&word))
}

impl Belief {
    /// Somebody who knows the tune is counted in: its key and the section that is practised.
    pub fn counted_in(key: &str, section: &str) -> Belief {
        Belief {
            doing: "play".to_string(),
            places: vec!["1".to_string()],
            key: key.to_string(),
            section: section.to_string(),
            hand: Vec::new(),
            named: String::new(),
        }
    }

    /// Takes in one call.
    pub fn hear(&mut self, text: &str) {
        let parts: Vec<&str> = text.split(", ").collect();
        if is_note(parts[0]) {
            self.named = text.to_string();
            return;
        }
        let (mut in_places, mut in_hand) = (false, false);
        for part in parts {
            let place = part.strip_prefix("start on ").or(part.strip_prefix("on "));
            let first = place.or((part == "push").then_some(part)).and_then(beat);
            if let Some(beat) = first.filter(|_| place.is_some() || !in_places) {
                self.places = vec![beat];
                in_places = true;
                continue;
            }
            if let Some(beat) = beat(part).filter(|_| in_places) {
                self.places.push(beat);
                continue;
            }
            in_places = false;
            let begins = ["string ", "position ", "order "]
                .iter()
                .any(|word| part.starts_with(word));
            if begins
                || ["low octave", "middle octave", "high octave"].contains(&part)
                || part == "below"
                || part == "above"
            {
                if !std::mem::replace(&mut in_hand, true) {
                    self.hand.clear();
                }
                self.hand.push(part.to_string());
                continue;
            }
            self.hear_part(part);
        }
    }

    fn hear_part(&mut self, part: &str) {
        match part {
            "listen" | "sing" | "answer" | "rest" | "break" => self.doing = part.to_string(),
            "now you" => self.doing = "play".to_string(),
            "last time" => {}
            "whole form" => {}
            _ => {
                let name = part.strip_suffix(" next");
                if let Some(key) = part.strip_prefix("in ").filter(|key| is_note(key)) {
                    self.key = key.to_string();
                } else if let Some(name) = name {
                    let name = name.strip_prefix("section ").unwrap_or(name);
                    self.section = name.to_string();
                } else {
                    self.hand.clear();
                    self.places = vec!["1".to_string()];
                }
            }
        }
    }
}

#[test]
fn calls_are_understood() {
    let cases = [
        ("third above, listen", "listen", "1", "G minor", "A"),
        ("now you, on two and", "play", "2&", "G minor", "A"),
        (
            "both, new places, on one, three",
            "play",
            "1 3",
            "G minor",
            "A",
        ),
        ("push, two and", "play", "before 1 2&", "G minor", "A"),
        ("section B next", "play", "1", "G minor", "B"),
        (
            "bridge next, in B flat, sing",
            "sing",
            "1",
            "B flat",
            "bridge",
        ),
        ("F sharp, third below", "play", "1", "G minor", "A"),
        ("start on three, break", "break", "3", "G minor", "A"),
    ];
    for (call, doing, places, key, section) in cases {
        let mut belief = Belief::counted_in("G minor", "A");
        belief.hear(call);
        let told = (belief.doing.as_str(), belief.places.join(" "));
        assert_eq!(told, (doing, places.to_string()), "{call}");
        assert_eq!(
            (belief.key.as_str(), belief.section.as_str()),
            (key, section),
            "{call}"
        );
    }
}
