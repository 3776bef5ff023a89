//! Which bars a score has, in which order, and the signs that say how they are played: repeats, endings, rehearsal marks.
//!
//! # Why are only repeats written that follow each other at once?
//!
//! They are read in one way everywhere. What comes back later (the last A of AABA) is written out under its mark; a reader of
//! ours knows it again by mark and bars. Jumps with nested endings are read in three ways by three programs.

use crate::chart::{Chart, Form, Leg};

/// A bar of the score, with its signs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct ScoreBar {
    /// The section, and the number of the bar in it.
    pub(super) section: usize,
    pub(super) number: u32,
    /// The section begins here.
    pub(super) marked: bool,
    /// A repeat begins here.
    pub(super) forward: bool,
    /// A repeat ends here: how often it is played in all.
    pub(super) backward: Option<u32>,
    /// An ending of these passes begins here.
    pub(super) ending: Vec<u32>,
    /// An ending stops here.
    pub(super) ending_stops: bool,
    /// The section ends here.
    pub(super) section_ends: bool,
}

/// A section in one of its passes: the numbers of its bars.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Turn {
    section: usize,
    bars: Vec<u32>,
}

/// Every bar of the score of a chart: its intro, a chorus, and the last time where that is another.
pub(super) fn score_bars(chart: &Chart) -> Vec<ScoreBar> {
    let form = Form::unroll(chart);
    let route = &form.route;
    let last = chart.last_time.as_ref().map(|_| &route.last);
    let turns: Vec<Turn> = [&route.intro, &route.chorus]
        .into_iter()
        .chain(last)
        .flat_map(|legs| turns(&form, legs))
        .collect();
    let blocks = blocks(chart, &turns);
    let bracketed = |section: usize| {
        let is_it = |(first, len, times): &(usize, usize, usize)| {
            *times > 1 && turns[first + len - 1].section == section
        };
        blocks.iter().any(is_it)
    };
    let mut bars = Vec::new();
    for (first, len, times) in &blocks {
        let turns = &turns[*first..first + len * times];
        block(chart, turns, *len, &bracketed, &mut bars);
    }
    bars
}

/// Where each block begins, how many sections it has, and how often they follow each other.
fn blocks(chart: &Chart, turns: &[Turn]) -> Vec<(usize, usize, usize)> {
    let mut blocks = Vec::new();
    let mut at = 0;
    while at < turns.len() {
        let left = turns.len() - at;
        let repeated = (1..=left / 2).find_map(|len| {
            let times = times(chart, &turns[at..], len);
            (times > 1).then_some((len, times))
        });
        let (len, times) = repeated.unwrap_or((1, 1));
        blocks.push((at, len, times));
        at += len * times;
    }
    blocks
}

/// Legs as sections in their passes.
fn turns(form: &Form, legs: &[Leg]) -> Vec<Turn> {
    let mut turns: Vec<(usize, Turn)> = Vec::new();
    for bar in legs.iter().flat_map(|leg| &leg.bars) {
        let bar = &form.bars[*bar];
        match turns.last_mut().filter(|(item, _)| *item == bar.item) {
            Some((_, turn)) => turn.bars.push(bar.bar),
            None => {
                let (section, bars) = (bar.section, vec![bar.bar]);
                turns.push((bar.item, Turn { section, bars }));
            }
        }
    }
    turns.into_iter().map(|(_, turn)| turn).collect()
}

/// How often the first `len` turns follow each other; they may differ in the ending of the last one.
fn times(chart: &Chart, turns: &[Turn], len: usize) -> usize {
    let first = &turns[..len];
    let same = |other: &&[Turn]| {
        let mut pairs = first.iter().zip(other.iter()).enumerate();
        other.len() == len
            && pairs.all(|(index, (one, two))| match index + 1 == len {
                true => one.section == two.section && body(chart, one) == body(chart, two),
                false => one == two,
            })
    };
    turns.chunks(len).take_while(same).count()
}

/// The bars before the ending.
fn body<'t>(chart: &Chart, turn: &'t Turn) -> &'t [u32] {
    let count = chart.sections[turn.section].bars.len();
    &turn.bars[..count.min(turn.bars.len())]
}

/// Adds `len` sections, repeated as often as `turns` has them.
/// A section whose endings are told nowhere by a repeat (`bracketed`) has a bracket over each of them.
fn block(
    chart: &Chart,
    turns: &[Turn],
    len: usize,
    bracketed: &dyn Fn(usize) -> bool,
    bars: &mut Vec<ScoreBar>,
) {
    let times = turns.len() / len;
    let begins = bars.len();
    for (index, turn) in turns[..len].iter().enumerate() {
        let ends_apart = index + 1 == len && times > 1;
        once(chart, turn, ends_apart, bracketed(turn.section), bars);
    }
    if times < 2 {
        return;
    }
    let played = times as u32;
    bars[begins].forward = true;
    let endings = endings(chart, turns, len);
    if endings.is_empty() {
        if let Some(bar) = bars.last_mut() {
            bar.backward = Some(played);
        }
        return;
    }
    if let Some(bar) = bars.last_mut() {
        bar.section_ends = false;
    }
    for (passes, numbers) in endings {
        let first = bars.len();
        let section = turns[len - 1].section;
        bars.extend(numbers.iter().map(|number| ScoreBar {
            section,
            number: *number,
            ..ScoreBar::default()
        }));
        let again = passes.iter().any(|pass| *pass < played);
        bars[first].ending = passes;
        if let Some(bar) = bars.last_mut() {
            bar.ending_stops = true;
            bar.section_ends = !again;
            bar.backward = again.then_some(played);
        }
    }
}

/// Adds a section as it is played once; without its ending where that stands apart. An ending that no repeat tells of has a
/// bracket of its own.
fn once(
    chart: &Chart,
    turn: &Turn,
    ends_apart: bool,
    is_bracketed: bool,
    bars: &mut Vec<ScoreBar>,
) {
    let (first, body) = (bars.len(), body(chart, turn));
    let written = if ends_apart { body } else { &turn.bars[..] };
    bars.extend(written.iter().map(|number| ScoreBar {
        section: turn.section,
        number: *number,
        ..ScoreBar::default()
    }));
    if let Some(bar) = bars.get_mut(first) {
        bar.marked = true;
    }
    let has_ending = written.len() > body.len() && !is_bracketed;
    if has_ending {
        bars[first + body.len()].ending = vec![1];
    }
    if let Some(bar) = bars.last_mut() {
        bar.section_ends = true;
        bar.ending_stops = has_ending;
    }
}

/// The endings of the last of `len` sections, each with the passes that take it.
fn endings(chart: &Chart, turns: &[Turn], len: usize) -> Vec<(Vec<u32>, Vec<u32>)> {
    let mut found: Vec<(Vec<u32>, Vec<u32>)> = Vec::new();
    let last = turns.iter().skip(len - 1).step_by(len);
    for (pass, turn) in (1..).zip(last) {
        let own = &turn.bars[body(chart, turn).len()..];
        if own.is_empty() {
            return Vec::new();
        }
        match found.iter_mut().find(|(_, bars)| bars == own) {
            Some((passes, _)) => passes.push(pass),
            None => found.push((vec![pass], own.to_vec())),
        }
    }
    found
}
