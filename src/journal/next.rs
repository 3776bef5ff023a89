//! What to practise next: the weakest skills and the due ones, over the chords of a chart.
//!
//! Roots and thirds come first while one of them is not automatic; a degree that was never asked for comes when all before it
//! are nearly so. Of these the one from which most is to be won: how far it is from automatic, and how often its chord comes.

use super::skill::words::{DUE, SAYS, why};
use super::skill::{AUTOMATIC, Estimate};
use std::collections::BTreeSet;

/// The degrees by number, in the order in which they are learned: common practice, no source.
const LADDER: [u8; 7] = [1, 3, 7, 5, 2, 6, 4];
/// Roots and thirds.
const FIRST: usize = 2;
/// A rung is nearly automatic from here on, and the next one may begin.
const NEARLY: f64 = 0.8;

/// A skill as the chart of today wants it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// As it is over this kind of chord: "b3".
    pub degree: String,
    /// "minor 7".
    pub quality: String,
    /// How many chords of the chart are of this kind.
    pub chords: u32,
    /// What is thought of it; none where it was never asked for.
    pub known: Option<Known>,
}

/// What is known of a skill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    pub estimate: Estimate,
    /// How much of it was forgotten since it was last practised.
    pub lost: f64,
    /// Midnights since then, where the player is.
    pub nights: u32,
}

/// Something to practise, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    pub degree: String,
    pub quality: String,
    pub chords: u32,
    /// In one line.
    pub why: String,
}

impl Proposal {
    /// What it is called, also in the list of what was skipped.
    pub fn name(&self) -> String {
        name(&self.degree, &self.quality)
    }
}

fn name(degree: &str, quality: &str) -> String {
    format!("{degree} over {quality}")
}

impl Wanted {
    fn number(&self) -> u8 {
        self.degree
            .trim_start_matches(['b', '#'])
            .parse()
            .unwrap_or(u8::MAX)
    }

    fn rung(&self) -> usize {
        let found = LADDER.iter().position(|number| *number == self.number());
        found.unwrap_or(LADDER.len())
    }

    fn is_automatic(&self) -> bool {
        self.known
            .is_some_and(|known| known.estimate.is_automatic())
    }

    fn is_due(&self) -> bool {
        self.known.is_some_and(|known| known.lost >= DUE)
    }

    fn is_nearly(&self) -> bool {
        self.known
            .is_some_and(|known| known.estimate.trials >= SAYS && known.estimate.right >= NEARLY)
    }

    /// How much is to be won: how far it may be from automatic, the more the oftener its chord comes.
    fn gain(&self) -> f64 {
        let weight = f64::from(self.chords).sqrt();
        let Some(known) = self.known else {
            return weight * AUTOMATIC;
        };
        let (low, right) = (known.estimate.between.0, known.estimate.right);
        // What is not known so well may be worse than it seems.
        let missing = (AUTOMATIC - (low + right) / 2.0).max(0.0);
        weight * (missing + known.lost)
    }

    fn why(&self) -> String {
        let Some(known) = self.known else {
            return "not asked for yet".to_string();
        };
        why(&known.estimate, known.lost, known.nights)
    }
}

/// What is told where nothing is proposed.
pub fn nothing(wanted: &[Wanted], skipped: &BTreeSet<String>) -> &'static str {
    match skipped.is_empty() || next(wanted, &BTreeSet::new(), 1).is_empty() {
        true => "nothing is weak or due over this chart",
        false => "all that is weak or due over this chart is skipped for today",
    }
}

/// Up to `most` things to practise, the most worthwhile first. What stands in `skipped` is left out.
pub fn next(wanted: &[Wanted], skipped: &BTreeSet<String>, most: usize) -> Vec<Proposal> {
    let rung = open_rung(wanted);
    let is_open = |item: &&Wanted| {
        let is_skipped = skipped.contains(&name(&item.degree, &item.quality));
        item.rung() <= rung && !is_skipped && (!item.is_automatic() || item.is_due())
    };
    let mut items: Vec<&Wanted> = wanted.iter().filter(is_open).collect();
    let is_first = |item: &Wanted| item.rung() < FIRST && !item.is_automatic();
    items.sort_by(|one, other| {
        let by_phase = is_first(other).cmp(&is_first(one));
        let by_gain = other.gain().total_cmp(&one.gain());
        let by_name = (one.rung(), &one.quality).cmp(&(other.rung(), &other.quality));
        by_phase.then(by_gain).then(by_name)
    });
    let proposals = items.into_iter().take(most).map(|item| Proposal {
        degree: item.degree.clone(),
        quality: item.quality.clone(),
        chords: item.chords,
        why: item.why(),
    });
    proposals.collect()
}

/// The highest rung of the ladder that is practised: what was begun, and the next one once all of these are nearly automatic.
fn open_rung(wanted: &[Wanted]) -> usize {
    let begun = wanted
        .iter()
        .filter(|item| item.known.is_some())
        .map(Wanted::rung)
        .max();
    let begun = begun.unwrap_or(0).max(FIRST - 1);
    let are_nearly = wanted
        .iter()
        .filter(|item| item.rung() <= begun)
        .all(Wanted::is_nearly);
    begun + usize::from(are_nearly)
}

/// A drill of these proposals: a stage each, over the chords of its kind alone, on the first beat and then elsewhere.
pub fn drill(proposals: &[Proposal], title: &str) -> String {
    let mut out = format!("title = {}\n", quoted(title));
    for (index, item) in proposals.iter().enumerate() {
        let number = item.degree.trim_start_matches(['b', '#']);
        let is_last = index + 1 == proposals.len();
        // The last one stays; the others go on when they are secure.
        let advance = if is_last { "foot" } else { "ready" };
        out.push_str(&format!(
            "\n# {}\n[[stage]]\nname = {}\ndegrees = [\"{number}\"]\nchords = [{}]\nrotate = [[\"1\"], [\"2\"], [\"1\"], [\"2&\"]]\n\
             passes = 4\nadvance = \"{advance}\"\n\
             help = {{ comping = \"without-target\", bass = {}, page = \"notes\", voice = \"first pass\", model = \"after\" }}\n\
             fade = [{{ page = \"degrees\", model = \"off\" }}]\ncycle = {{ listen = 0, sing = 0, play = 2, breathe_bars = 2 }}\n",
            item.why,
            quoted(&item.name()),
            quoted(&item.quality),
            // The bass would give the root away.
            number != "1"
        ));
    }
    out
}

/// A TOML string.
fn quoted(text: &str) -> String {
    let plain: String = text.chars().filter(|sign| !sign.is_control()).collect();
    format!("\"{}\"", plain.replace('\\', "\\\\").replace('"', "\\\""))
}
