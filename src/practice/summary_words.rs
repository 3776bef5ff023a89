//! What a round came to, in a few calm words: lines for the page, and one sentence for the voice in its language.

use super::choice_words;
use super::round_words::{beside_words, offer_words, others_words, rhythm_line, rhythm_sentence};
use crate::display;
use crate::drill::Names;
use crate::harmony::{ChordSymbol, Degree};
use crate::judging::{NotesPlayed, Reentries, RoundPlayed, RoundSummary, TimeHabit};
use crate::speech::{number_word, say, words};

/// Places that are named at the most.
const NAMED: usize = 2;
/// The page is English.
const PAGE: Names = Names::English;

/// The lines for the page; none where nothing was heard.
pub(super) fn lines(round: &RoundSummary<'_>) -> Vec<String> {
    // Whether the player kept the place comes first: that was the task.
    let mut lines: Vec<String> = round
        .reentries
        .iter()
        .map(|r| reentry_words(r, PAGE))
        .collect();
    match &round.played {
        RoundPlayed::Nothing => {}
        RoundPlayed::Chosen(choice, instead) => {
            lines.extend(choice_words::lines(choice, *instead));
        }
        RoundPlayed::Notes(notes) => {
            lines.push(missed_line(notes));
            let more = match notes.offered {
                // Enough is told: what to do about it.
                Some(offer) => vec![offer_words(offer, PAGE)],
                None => {
                    let time = notes.time.map(|time| time_words(time, "ms", PAGE));
                    let others = match &notes.rhythm {
                        Some(rhythm) => beside_words(rhythm, notes.others),
                        None => others_words(notes.others).into_iter().collect(),
                    };
                    others.into_iter().chain(time).collect()
                }
            };
            if !more.is_empty() {
                lines.push(more.join(", "));
            }
        }
    }
    lines
}

/// One sentence for the voice, without chord symbols; none where nothing was heard.
pub(super) fn sentence(round: &RoundSummary<'_>, names: Names) -> Option<String> {
    if let Some(reentries) = &round.reentries {
        return Some(reentry_words(reentries, names));
    }
    match &round.played {
        RoundPlayed::Nothing => None,
        RoundPlayed::Chosen(choice, instead) => {
            Some(choice_words::sentence(choice, *instead, names))
        }
        RoundPlayed::Notes(notes) => {
            let first = match notes.missed.first() {
                _ if notes.rhythm.is_some() && notes.is_clear => rhythm_sentence(notes, names),
                Some((degree, _)) => {
                    let again = say(names, "listen again to the", "noch einmal hören:");
                    format!("{again} {}", degree_words(*degree, names))
                }
                None => none_missed(notes, names).to_string(),
            };
            let unit = say(names, "milliseconds", "Millisekunden");
            let then = match notes.offered {
                Some(offer) => Some(offer_words(offer, names)),
                None => notes.time.map(|time| time_words(time, unit, names)),
            };
            let said: Vec<String> = std::iter::once(first).chain(then).collect();
            Some(said.join(", "))
        }
    }
}

/// A place to listen for again: "third of C7".
fn place_words((degree, chord): &(Degree, Option<&ChordSymbol>)) -> String {
    let chord = chord.map(ChordSymbol::pretty).unwrap_or_default();
    format!("{} of {chord}", degree_words(*degree, PAGE))
}

fn missed_line(notes: &NotesPlayed<'_>) -> String {
    if let Some(rhythm) = notes.rhythm.as_ref().filter(|_| notes.is_clear) {
        return rhythm_line(rhythm);
    }
    let named: Vec<String> = notes.missed.iter().take(NAMED).map(place_words).collect();
    match &named[..] {
        [] => none_missed(notes, PAGE).to_string(),
        [first, ..] if notes.missed.len() > 2 * NAMED => {
            format!("most missed: {first}")
        }
        _ => format!("listen again to the {}", named.join(", the ")),
    }
}

fn none_missed(notes: &NotesPlayed<'_>, names: Names) -> &'static str {
    match notes.is_clear {
        true => say(names, "all notes right", "alle Töne richtig"),
        false => say(
            names,
            "nothing was heard clearly",
            "nichts war klar zu hören",
        ),
    }
}

/// A degree ("b3") as a word: digits on the page mean beats only. What the chord says by itself is left out.
pub(super) fn degree_words(degree: Degree, names: Names) -> String {
    if names == Names::German {
        return words::degree_word(degree, names);
    }
    let sign = match (degree.alter, degree.number) {
        (0, _) | (-1, 3 | 7) => "",
        (-1, _) => "flat ",
        (1, _) => "sharp ",
        (..=-2, _) => "double-flat ",
        (2.., _) => "double-sharp ",
    };
    format!("{sign}{}", display::degree_word(degree))
}

fn time_words(time: TimeHabit, unit: &str, names: Names) -> String {
    match (time, names) {
        (TimeHabit::OftenLate, _) => say(names, "often late", "oft zu spät").to_string(),
        (TimeHabit::OftenEarly, _) => say(names, "often early", "oft zu früh").to_string(),
        (TimeHabit::Sits(ms), Names::German) => {
            let way = if ms > 0.0 { "spät" } else { "früh" };
            format!("du bist {:.0} {unit} zu {way}", ms.abs())
        }
        (TimeHabit::Sits(ms), Names::English | Names::Solfege) => {
            let way = if ms > 0.0 { "behind" } else { "ahead" };
            format!("you are {:.0} {unit} {way}", ms.abs())
        }
    }
}

/// Where the player was when the band came back.
fn reentry_words(reentries: &Reentries, names: Names) -> String {
    let (heard, off) = match reentries {
        Reentries::Unheard => {
            let alone = (
                "you weren't there when the band came back",
                "du warst nicht da, als die Band zurückkam",
            );
            return say(names, alone.0, alone.1).to_string();
        }
        Reentries::Heard(heard, off) => (*heard, off),
    };
    let told = |(beats, count): &(i32, usize)| match heard {
        1 => beats_words(*beats, names),
        _ => format!(
            "{} {}",
            times_word(*count, names),
            beats_words(*beats, names)
        ),
    };
    if !off.is_empty() {
        return off
            .iter()
            .take(NAMED)
            .map(told)
            .collect::<Vec<_>>()
            .join(", ");
    }
    let right = say(
        names,
        "back in the right place",
        "an der richtigen Stelle zurück",
    );
    match (heard, names) {
        (1, _) => right.to_string(),
        (_, Names::German) => format!("jedes Mal {right}"),
        (_, Names::English | Names::Solfege) => format!("{right} each time"),
    }
}

fn beats_words(beats: i32, names: Names) -> String {
    let count = beats.unsigned_abs() as usize;
    let number = number_word(count, names).filter(|_| count <= 4);
    let number = number.map_or_else(|| count.to_string(), str::to_string);
    let count = match count {
        1 => say(names, "a beat", "einen Schlag").to_string(),
        _ => format!("{number} {}", say(names, "beats", "Schläge")),
    };
    let way = match beats < 0 {
        true => say(names, "early", "zu früh"),
        false => say(names, "late", "zu spät"),
    };
    match names {
        Names::German => format!("{count} {way} zurück"),
        Names::English | Names::Solfege => format!("back {count} {way}"),
    }
}

fn times_word(count: usize, names: Names) -> &'static str {
    match count {
        1 => say(names, "once", "einmal"),
        2 => say(names, "twice", "zweimal"),
        _ => say(names, "often", "oft"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judging::{Choice, Offer, Offered, RhythmPlayed};
    use std::sync::LazyLock;

    /// What is offered: by its kind alone, and with the name of a stage.
    static OFFER: Offer = Offer {
        what: Offered::SlowerOrStageBefore,
        stage: None,
    };
    static NAMED_OFFER: LazyLock<Offer> = LazyLock::new(|| Offer {
        stage: Some("one string".to_string()),
        ..OFFER.clone()
    });
    static HARDER: LazyLock<Offer> = LazyLock::new(|| Offer {
        what: Offered::Harder,
        stage: Some("the form".to_string()),
    });

    /// What was missed as "b3 Gm6", and the rest of what came of some notes.
    fn notes(missed: &[(Degree, ChordSymbol)]) -> NotesPlayed<'_> {
        NotesPlayed {
            missed: missed.iter().map(|(d, chord)| (*d, Some(chord))).collect(),
            is_clear: true,
            others: 0,
            time: None,
            offered: None,
            rhythm: None,
        }
    }

    fn places(text: &str) -> Vec<(Degree, ChordSymbol)> {
        let place = |place: &str| {
            let (degree, chord) = place.split_once(' ')?;
            Some((degree.parse().ok()?, chord.parse().ok()?))
        };
        text.split(", ").filter_map(place).collect()
    }

    /// The lines, the sentence, the sentence in German.
    fn told(reentries: Option<Reentries>, played: RoundPlayed<'_>) -> [String; 3] {
        let round = RoundSummary { reentries, played };
        let said = |names| sentence(&round, names).unwrap_or_default();
        let [english, german] = [Names::English, Names::German].map(said);
        assert_eq!(said(Names::Solfege), english);
        [lines(&round).join("; "), english, german]
    }

    #[test]
    #[rustfmt::skip]
    fn a_round_comes_to_two_calm_lines_and_a_sentence() {
        type More<'a> = &'a dyn Fn(&mut NotesPlayed<'_>);
        let cases: &[(&str, More<'_>, [&str; 3])] = &[
            ("", &|_| (), ["all notes right", "all notes right", "alle Töne richtig"]),
            ("b3 Gm6", &|_| (),
                ["listen again to the third of Gm6", "listen again to the third", "noch einmal hören: kleine Terz"]),
            ("b3 Gm6, 3 C7", &|notes| notes.time = Some(TimeHabit::Sits(12.4)),
                ["listen again to the third of Gm6, the third of C7; you are 12 ms behind",
                 "listen again to the third, you are 12 milliseconds behind",
                 "noch einmal hören: kleine Terz, du bist 12 Millisekunden zu spät"]),
            ("1 C, 1 F, 1 G, 1 A7, 5 Dm7", &|notes| notes.others = 4,
                ["most missed: root of C; 4 outside the set", "listen again to the root",
                 "noch einmal hören: Grundton"]),
            ("", &|notes| (notes.others, notes.time) = (1, Some(TimeHabit::OftenLate)),
                ["all notes right; 1 outside the set, often late", "all notes right, often late",
                 "alle Töne richtig, oft zu spät"]),
            ("", &|notes| (notes.is_clear, notes.time) = (false, Some(TimeHabit::Sits(-15.0))),
                ["nothing was heard clearly; you are 15 ms ahead", "nothing was heard clearly, you are 15 milliseconds ahead",
                 "nichts war klar zu hören, du bist 15 Millisekunden zu früh"]),
            ("b2 A7", &|notes| (notes.others, notes.offered) = (13, Some(&OFFER)),
                ["listen again to the flat second of A7; try it slower, or the stage before",
                 "listen again to the flat second, try it slower, or the stage before",
                 "noch einmal hören: kleine Sekunde, versuch es langsamer, oder den Schritt davor"]),
            ("b2 A7", &|notes| notes.offered = Some(&NAMED_OFFER),
                ["listen again to the flat second of A7; try it slower, or one string",
                 "listen again to the flat second, try it slower, or one string",
                 "noch einmal hören: kleine Sekunde, versuch es langsamer, oder one string"]),
            ("", &|notes| notes.offered = Some(&HARDER),
                ["all notes right; ready for the form", "all notes right, ready for the form", "alle Töne richtig, bereit für the form"]),
            ("", &|notes| notes.rhythm = Some(RhythmPlayed::default()),
                ["the whole rhythm", "the whole rhythm", "der ganze Rhythmus"]),
            ("", &|notes| {
                let left_out = ["2&", "4", "1"].map(str::to_string).to_vec();
                notes.rhythm = Some(RhythmPlayed { left_out, outside: 2 });
                (notes.others, notes.time) = (3, Some(TimeHabit::OftenLate));
            },
                ["left out: 2&, 4; 3 extra, 2 outside the set, often late", "you left out two and, four, often late",
                 "ausgelassen: zwei und, vier, oft zu spät"]),
            ("", &|notes| notes.others = 13,
                ["all notes right; 13 outside the set", "all notes right", "alle Töne richtig"]),
        ];
        for (missed, more, expected) in cases {
            let missed = places(missed);
            let mut notes = notes(&missed);
            more(&mut notes);
            assert_eq!(told(None, RoundPlayed::Notes(notes)), *expected);
        }
        assert_eq!(told(None, RoundPlayed::Nothing), ["", "", ""]);
    }

    #[test]
    fn whoever_traded_hears_of_that_first_and_in_one_sentence_of_nothing_else() {
        let choice = Choice {
            octaves: 1,
            ..Choice::default()
        };
        let back = Some(Reentries::Heard(1, vec![(-1, 1)]));
        let [page, english, german] = told(back, RoundPlayed::Chosen(&choice, None));
        assert!(page.starts_with("back a beat early; no degree"), "{page}");
        assert_eq!(
            [english, german],
            ["back a beat early", "einen Schlag zu früh zurück"]
        );
    }

    #[test]
    #[rustfmt::skip]
    fn coming_back_is_told_in_a_line() {
        use Reentries::{Heard, Unheard};
        let cases = [
            (Unheard, "you weren't there when the band came back", "du warst nicht da, als die Band zurückkam"),
            (Heard(1, vec![]), "back in the right place", "an der richtigen Stelle zurück"),
            (Heard(2, vec![]), "back in the right place each time", "jedes Mal an der richtigen Stelle zurück"),
            (Heard(1, vec![(1, 1)]), "back a beat late", "einen Schlag zu spät zurück"),
            (Heard(1, vec![(-2, 1)]), "back two beats early", "zwei Schläge zu früh zurück"),
            (Heard(1, vec![(5, 1)]), "back 5 beats late", "5 Schläge zu spät zurück"),
            (Heard(2, vec![(4, 1)]), "once back four beats late", "einmal vier Schläge zu spät zurück"),
            (Heard(4, vec![(-1, 2), (1, 1), (3, 1)]),
                "twice back a beat early, once back a beat late",
                "zweimal einen Schlag zu früh zurück, einmal einen Schlag zu spät zurück"),
        ];
        for (reentries, english, german) in cases {
            assert_eq!(told(Some(reentries), RoundPlayed::Nothing), [english, english, german]);
        }
    }

    #[test]
    fn degrees_are_told_as_words() {
        for (degree, words) in [
            ("1", "root"),
            ("b3", "third"),
            ("b2", "flat second"),
            ("#4", "sharp fourth"),
            ("bb7", "double-flat seventh"),
        ] {
            assert_eq!(degree_words(degree.parse().expect("a degree"), PAGE), words);
        }
    }
}
