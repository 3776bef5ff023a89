//! Page and voice use the words of the glossary, and no others: every text of every stage of every drill over all demo
//! charts, and what every action of a foot shows and says, word by word.

use crate::support::demo::{CHARTS, DRILLS, read as demo};
use crate::support::practice::{RATE, library, settings};
use std::collections::{BTreeMap, BTreeSet};
use underfoot::display::{Panel, drawn_texts, note_name};
use underfoot::drill::Names;
use underfoot::foot::Action;
use underfoot::glossary;
use underfoot::harmony::{ChordSymbol, Pitch};
use underfoot::practice::{
    Core, Effect, Event, EventKind, Library, Proposal, ProposedSkill, Settings, ShortReport,
    UpdateNews, UpdateOffer,
};
use underfoot::time::Frame;

/// Words, with the texts in which they were met first.
type Met = BTreeMap<String, String>;

/// Takes the words of a text.
fn take_in(met: &mut Met, text: &str) {
    let is_apart = |c: char| c.is_whitespace() || ",:()·+?".contains(c);
    for word in text.split(is_apart) {
        // Where there is no room a text ends within a word.
        let is_whole = !word.ends_with('…') && word.chars().any(|c| c != '-');
        if is_whole && !met.contains_key(word) {
            met.insert(word.to_string(), text.to_string());
        }
    }
}

/// Where there are words to be met.
struct Reader {
    core: Core,
    at: u64,
    met: Met,
    panels: [Panel; 2],
    pages: BTreeSet<String>,
    /// To what was asked of the journal.
    answers: Vec<EventKind>,
}

impl Reader {
    fn new(library: &Library, names: Names) -> Reader {
        let settings = Settings {
            names,
            spoken_summary: true,
            ..settings(2)
        };
        let core = Core::new(library.clone(), settings, None);
        let mut met = Met::new();
        for phrases in core.vocabulary() {
            for text in [phrases.full, phrases.short, phrases.root] {
                take_in(&mut met, &text);
            }
        }
        Reader {
            core,
            at: 1 << 20,
            met,
            panels: [Panel::new(128, 64), Panel::new(320, 240)],
            pages: BTreeSet::new(),
            answers: Vec::new(),
        }
    }

    fn handle(&mut self, what: EventKind) {
        let mut out = Vec::new();
        let at = Frame(self.at);
        self.core.handle(Event { at, what }, &mut out);
        for effect in out {
            match effect {
                Effect::Show(page) => {
                    // Pages that differ in nothing but numbers have no other words.
                    let told: String = format!("{page:?}")
                        .chars()
                        .filter(|c| !c.is_ascii_digit())
                        .collect();
                    if self.pages.insert(told) {
                        for panel in self.panels {
                            for text in drawn_texts(&page, panel) {
                                take_in(&mut self.met, &text.text);
                            }
                        }
                    }
                }
                Effect::Say(saying) => {
                    for (_, text) in saying.phrases.choices(saying.limit) {
                        take_in(&mut self.met, text);
                    }
                }
                Effect::WeakSpots => self.answers.push(EventKind::WeakSpots(None)),
                Effect::Report => self.answers.push(EventKind::Report(Some(report()))),
                _ => {}
            }
        }
        for answer in std::mem::take(&mut self.answers) {
            self.handle(answer);
        }
    }

    fn go_on(&mut self, seconds: f64) {
        let end = self.at + (seconds * f64::from(RATE)) as u64;
        while self.at < end {
            self.at += u64::from(RATE) / 5;
            self.handle(EventKind::Tick);
        }
    }
}

fn skill() -> ProposedSkill {
    ProposedSkill {
        degree: "b3".parse().expect("a degree"),
        quality: "half-diminished".to_string(),
    }
}

fn report() -> ShortReport {
    ShortReport {
        week_minutes: 125,
        automatic: (5, 12),
        next: Some(skill()),
    }
}

/// Every name of a note, as pages and voice have it.
fn note_names() -> BTreeSet<String> {
    let letters = ["A", "B", "C", "D", "E", "F", "G"];
    let alters = ["", "b", "#", "bb", "##", "bbb"];
    let mut all = BTreeSet::new();
    for pitch in letters
        .iter()
        .flat_map(|letter| alters.map(|alter| format!("{letter}{alter}")))
    {
        let pitch: Pitch = pitch.parse().expect("a pitch");
        for names in [Names::English, Names::German, Names::Solfege] {
            all.insert(note_name(pitch, names));
        }
    }
    all
}

/// Notes, chords, numbers and places on the neck are no words of ours.
fn is_name(word: &str, notes: &BTreeSet<String>) -> bool {
    let plain = word.trim_start_matches(['↑', '↓', '♩', '.', '=', '-']);
    let ascii = plain.replace('♭', "b").replace('♯', "#");
    let is_count = |c: char| "IVX&ea".contains(c) || c.is_ascii_digit();
    notes.contains(plain)
        || ascii.parse::<ChordSymbol>().is_ok()
        || plain == "N.C."
        || plain.chars().all(is_count)
}

/// The words that a chart and a drill bring along.
fn of_the_user(library: &Library) -> BTreeSet<String> {
    let mut met = Met::new();
    for stage in &library.drill.stages {
        take_in(&mut met, &stage.name);
        take_in(&mut met, stage.call.as_deref().unwrap_or_default());
    }
    for chart in &library.charts {
        take_in(&mut met, &chart.title);
        for section in chart.sections.iter() {
            take_in(&mut met, &section.name);
        }
        for chord in &underfoot::chart::Form::unroll(chart).chords {
            take_in(&mut met, chord.note.as_deref().unwrap_or_default());
        }
    }
    met.into_keys().collect()
}

/// Words of `met` that nobody knows, with a text in which each stands.
fn unknown(met: &Met, library: &Library) -> Vec<String> {
    let (known, own, notes) = (glossary::all_words(), of_the_user(library), note_names());
    let is_known = |word: &str| {
        let bare = word.trim_start_matches(['♭', '♯', '𝄫', '𝄪', '↑', '↓']);
        // A long word of the user's may be broken to stand in two lines.
        let is_part = |own: &String| word.len() > 3 && own.contains(word);
        known.contains(word)
            || known.contains(bare)
            || own.contains(word)
            || own.iter().any(is_part)
            || is_name(word, &notes)
    };
    let odd = met.iter().filter(|(word, _)| !is_known(word));
    odd.map(|(word, text)| format!("\"{word}\" in \"{text}\""))
        .collect()
}

#[test]
fn no_page_and_no_voice_has_a_word_of_its_own() {
    let mut odd = BTreeSet::new();
    let mut words = BTreeSet::new();
    for (index, drill) in DRILLS.iter().enumerate() {
        let drill = demo("drills", drill);
        for (number, name) in CHARTS
            .iter()
            .enumerate()
            .filter(|(number, _)| (index + number) % 2 == 0)
        {
            let library = library(&[&demo("charts", name)], &drill);
            let names = [Names::English, Names::German, Names::Solfege][(index + number) % 3];
            for stage in 0..library.drill.stages.len() {
                let mut reader = Reader::new(&library, names);
                reader.core.stand(stage, false);
                reader.core.set_start_tempo(240.0);
                reader.handle(EventKind::Act(Action::Start));
                reader.go_on(25.0);
                odd.extend(unknown(&reader.met, &library));
                words.extend(reader.met.into_keys());
            }
        }
    }
    assert_eq!(odd, BTreeSet::new());
    assert!(words.len() > 200, "{words:?}");
}

#[test]
fn no_action_has_a_word_of_its_own() {
    let library = library(
        &[&demo("charts", CHARTS[0]), &demo("charts", CHARTS[1])],
        &demo("drills", "first-evening"),
    );
    for names in [Names::English, Names::German] {
        let mut odd = BTreeSet::new();
        for plays in [false, true] {
            for (action, _, _) in Action::ALL {
                let mut reader = Reader::new(&library, names);
                if plays {
                    reader.handle(EventKind::Act(Action::Start));
                    reader.go_on(5.0);
                }
                reader.handle(EventKind::Act(action));
                reader.go_on(0.4);
                reader.handle(EventKind::Act(action));
                reader.go_on(8.0);
                odd.extend(unknown(&reader.met, &library));
            }
        }
        assert_eq!(odd, BTreeSet::new(), "{names:?}");
    }
}

#[test]
fn no_proposal_has_a_word_of_its_own() {
    let library = library(&[&demo("charts", CHARTS[0])], &demo("drills", "roots"));
    for names in [Names::English, Names::German] {
        for (nights, more) in [(Some(0), 0), (Some(1), 1), (Some(9), 2), (None, 2)] {
            let mut reader = Reader::new(&library, names);
            let (skill, drill) = (skill(), Box::new(library.drill.clone()));
            reader.handle(EventKind::Proposal(Box::new(Proposal {
                skill,
                nights,
                more,
                drill,
            })));
            assert_eq!(unknown(&reader.met, &library), Vec::<String>::new());
            assert!(
                reader.met.contains_key("half-diminished"),
                "{:?}",
                reader.met
            );
        }
    }
}

#[test]
fn no_news_of_another_version_has_a_word_of_its_own() {
    let library = library(&[&demo("charts", CHARTS[0])], &demo("drills", "roots"));
    let offer = |on_stick| UpdateOffer {
        version: "2".to_string(),
        on_stick,
    };
    for names in [Names::English, Names::German] {
        // Why not, and what came of it, are told in the words of errors.
        for news in [
            UpdateNews::Offered(Some(offer(true))),
            UpdateNews::Offered(Some(offer(false))),
            UpdateNews::Begun(offer(true)),
            UpdateNews::Refused(Vec::new()),
            UpdateNews::Done {
                is_in: true,
                told: String::new(),
            },
        ] {
            let mut reader = Reader::new(&library, names);
            reader.handle(EventKind::Update(news));
            reader.go_on(1.0);
            assert_eq!(unknown(&reader.met, &library), Vec::<String>::new());
        }
    }
}

#[test]
fn a_word_that_does_not_stand_in_the_glossary_is_found() {
    let library = library(&[&demo("charts", CHARTS[0])], &demo("drills", "roots"));
    let mut met = Met::new();
    for text in [
        "listen, on two and",
        "B♭ ♭second",
        "Am7b5 II 12",
        "breathe now",
        "du bist spät",
    ] {
        take_in(&mut met, text);
    }
    assert_eq!(unknown(&met, &library), ["\"breathe\" in \"breathe now\""]);
}
