//! What is so at a bar line of the plan, in the words of the listener, and whether it was heard: what a leader has to call.

use super::naive_listener::{Belief, Heard};
use std::collections::BTreeMap;
use underfoot::drill::{DegreeWord, Phase, Stage, Turning};
use underfoot::harmony::{Key, KeyDeclaration, Mode, Pitch};
use underfoot::plan::Standing;
use underfoot::plan::pass::PassKind;
use underfoot::plan::take::TakePlan;
use underfoot::time::Tick;

/// What is so from a bar line on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moment {
    /// The frame by which it must be known: that of the bar, or of a push before it.
    pub at: u64,
    /// "listen", "sing", "play", "answer", "rest", "break".
    pub doing: String,
    /// Where notes fall; `None` where nothing is to fall on a place.
    pub places: Option<Vec<String>>,
    /// What turns for the hand; `None` where it does not play.
    pub hand: Option<Vec<String>>,
    pub key: String,
    pub section: String,
    /// Whether a pass begins here.
    pub top: bool,
}

fn pitch_words(pitch: Pitch) -> String {
    let sign = ["double flat", "flat", "", "sharp", "double sharp"];
    let sign = sign[(pitch.alter + 2).clamp(0, 4) as usize];
    format!("{} {sign}", &pitch.to_string()[..1])
        .trim()
        .to_string()
}

fn key_words(key: Key) -> String {
    let mode = if key.mode == Mode::Minor {
        " minor"
    } else {
        ""
    };
    format!("{}{mode}", pitch_words(key.tonic))
}

/// What turns for the hand, in the words of a leader.
fn hand_words(turning: &Turning, now: &Stage) -> Vec<String> {
    let numbers = [
        "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
        "twelve",
    ];
    let number = |number: u8| numbers[usize::from(number) - 1];
    let degrees = [
        "root", "second", "third", "fourth", "fifth", "sixth", "seventh",
    ];
    let order = turning.order.map(|_| {
        let named = now.figure.iter().map(|note| match note.degree {
            DegreeWord::InScale(number) => degrees[usize::from(number) - 1],
            DegreeWord::Absolute(degree) => degrees[usize::from(degree.number - 1) % 7],
        });
        format!("order {}", named.collect::<Vec<&str>>().join(" "))
    });
    let parts = [
        turning
            .string
            .map(|string| format!("string {}", number(string))),
        turning
            .position
            .map(|fret| format!("position {}", number(fret))),
        turning
            .octave
            .map(|octave| format!("{octave:?} octave").to_lowercase()),
        turning.side.map(|side| format!("{side:?}").to_lowercase()),
        order,
    ];
    parts.into_iter().flatten().collect()
}

/// What is so from the bar line `at` on, and where that stands in the course; `None` in a count-in, out of time, and where a
/// chord goes on over the line.
pub fn moments(plan: &TakePlan, at: Tick) -> Option<(Moment, Standing)> {
    let step = plan.steps().iter().find(|step| step.start == at)?;
    let (pass, material) = (&step.pass, &step.pass.material);
    let standing = &pass.standing;
    let stage = standing.stage_of(material);
    let rests = step
        .chord
        .is_some_and(|chord| pass.rests.get(chord) == Some(&true));
    let doing = match pass.kind {
        PassKind::Music(Phase::Listen) => "listen",
        PassKind::Music(Phase::Sing) => "sing",
        PassKind::Music(_) if rests => "rest",
        PassKind::Music(_) if stage.answer_phrase => "answer",
        PassKind::Music(_) => "play",
        PassKind::Breathe => "break",
        PassKind::Held | PassKind::CountIn => return None,
    };
    let (turn, seed) = (standing.turn(material), material.seed());
    // Open choice falls where its rhythm is.
    let is_free = stage.is_open_choice() && stage.places_at(turn, seed).is_empty();
    let falls = !is_free && matches!(doing, "play" | "sing");
    let places = stage.places_at(turn, seed).iter().map(ToString::to_string);
    let now = stage.in_turn(turn, seed);
    let hand = stage
        .rotation
        .as_ref()
        .map(|rotation| hand_words(&rotation.turning(turn, seed), &now));
    let within = step.start - step.origin;
    // In the break the section that was played is still the one that is known.
    let form_bar = match doing {
        "break" => *standing.form_bars(material).last()?,
        _ => {
            pass.lap
                .bars
                .iter()
                .rev()
                .find(|bar| bar.start <= within)?
                .form_bar
        }
    };
    let bar = &material.form.bars[form_bar];
    let key = match bar.key {
        Some(KeyDeclaration::Key(key)) => Some(key),
        _ => material.key(),
    };
    let first = step
        .places
        .iter()
        .copied()
        .min()
        .map_or(at, |place| place.min(at));
    let moment = Moment {
        at: plan.frame(first).0,
        doing: doing.to_string(),
        places: falls.then(|| places.collect()),
        hand: matches!(doing, "play" | "answer").then(|| hand.unwrap_or_default()),
        key: key.map_or(String::new(), key_words),
        section: material.form.section_names[bar.section].clone(),
        top: step.start == step.origin,
    };
    Some((moment, standing.clone()))
}

/// What had to be called, and was.
#[derive(Debug, Default)]
pub struct Count {
    pub all: usize,
    pub heard: usize,
    /// Passes that were counted in and played, which the count itself says.
    pub counted_in: usize,
    pub calls: usize,
    /// Calls that sounded over a place where something is to be played or sung.
    pub over_places: usize,
    /// What was not heard or meant otherwise: how often, and the first.
    pub faults: BTreeMap<String, (usize, String)>,
}

impl Count {
    /// Compares what the listener believes at each moment with what is so.
    pub fn compare(&mut self, name: &str, moments: &[Moment], mut heard: Vec<Heard>) {
        let Some(first) = moments.first() else { return };
        self.counted_in += usize::from(first.doing == "play");
        heard.sort_by_key(|words| words.start);
        let mut belief = Belief::counted_in(&first.key, &first.section);
        let mut so = Moment {
            doing: "play".to_string(),
            places: Some(vec!["1".to_string()]),
            hand: Some(Vec::new()),
            ..first.clone()
        };
        let mut listened = 0;
        for moment in moments {
            let by = |words: &&Heard| words.end <= moment.at;
            for words in heard[listened..].iter().take_while(by) {
                belief.hear(&words.text);
                listened += 1;
            }
            let places = moment
                .places
                .clone()
                .unwrap_or_else(|| so.places.clone().unwrap_or_default());
            let hand = moment
                .hand
                .clone()
                .or_else(|| so.hand.clone())
                .unwrap_or_default();
            let looks = [
                ("hand", so.hand.as_ref() != Some(&hand), belief.hand == hand),
                (
                    "what to do",
                    so.doing != moment.doing,
                    belief.doing == moment.doing,
                ),
                ("key", so.key != moment.key, belief.key == moment.key),
                (
                    "section",
                    so.section != moment.section,
                    belief.section == moment.section,
                ),
                (
                    "place",
                    so.places.as_ref() != Some(&places),
                    belief.places == places,
                ),
            ];
            // What was called counts from the next thing of its kind: until then it may be believed too soon.
            let is_looked_at = |look: &(&str, bool, bool)| look.1 || moment.top;
            for (what, changes, right) in looks.into_iter().filter(is_looked_at) {
                self.all += usize::from(changes);
                self.heard += usize::from(changes && right);
                let is_open = what == "place" && moment.places.is_none()
                    || what == "hand" && moment.hand.is_none();
                if !right && !is_open {
                    let kind = if changes { "not heard" } else { "said wrong" };
                    let near = heard.iter().filter(|words| {
                        words.end + 16_000 * 12 > moment.at && words.start < moment.at + 8_000
                    });
                    let near: Vec<_> = near.collect();
                    let fault = self
                        .faults
                        .entry(format!("{name}: {what} {kind}"))
                        .or_default();
                    fault.0 += 1;
                    if fault.1.is_empty() {
                        fault.1 = format!("{moment:?} but {belief:?}, heard {near:?}");
                    }
                }
            }
            // Who plays along knows what is going on, whatever was said of it; a call for later is kept in mind.
            for (what, changes, _) in looks {
                match what {
                    "what to do" if changes => belief.doing = moment.doing.clone(),
                    "key" if changes => belief.key = moment.key.clone(),
                    "section" if changes => belief.section = moment.section.clone(),
                    "place" if changes => belief.places = places.clone(),
                    "hand" if changes => belief.hand = hand.clone(),
                    _ => {}
                }
            }
            so = Moment {
                places: Some(places),
                hand: Some(hand),
                ..moment.clone()
            };
        }
    }
}
