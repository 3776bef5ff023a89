//! The way through the bars: repeats, endings, D.C., D.S., coda and end, played out under a cap.
//!
//! MusicXML 4.0 (the `repeat`, `ending` and `sound` elements) says what the signs do: a backward repeat is
//! played `times` in all, twice if it does not say; da capo and dal segno act the first time they are reached,
//! the way to the coda and the end only after such a jump; repeats are not taken again after a jump unless
//! they say so.

mod order;
mod plan;
#[cfg(test)]
mod tests;
mod walk;

pub(super) use self::order::{Bracket, Road};
use self::plan::Plan;
use self::walk::Walk;
use super::warnings::ImportError;
use super::written::Flow;
use std::collections::HashSet;

/// The most endings: a form strings together no more sections.
const MAX_ENDINGS: usize = 500;

/// Plays the signs out. With a pickup, bar 0 is played once at most: a way back to the beginning goes to bar 1.
pub(super) fn road(flows: &[&Flow], pickup: bool) -> Result<Road, ImportError> {
    let mut road = Road {
        brackets: brackets(flows),
        ..Road::default()
    };
    if road.brackets.len() > MAX_ENDINGS {
        let rule = format!("it has more than {MAX_ENDINGS} endings");
        return Err(ImportError(rule));
    }
    let plan = Plan::new(flows, pickup, &mut road);
    Walk::new(flows, &plan, &road.brackets).run(&mut road.order, &mut road.remarks)?;
    let played: HashSet<usize> = road.order.iter().copied().collect();
    let mut unplayed = (0..flows.len()).filter(|bar| !played.contains(bar));
    if let Some(first) = unplayed.next() {
        let more = unplayed.count();
        let others = match more {
            0 => String::new(),
            _ => format!(" ({more} more bars likewise)"),
        };
        let what = "is never reached by the repeats and jumps as written: left out";
        road.remarks.push((first, format!("{what}{others}")));
    }
    Ok(road)
}

/// The endings, and which belong together. An ending reaches as far as its repeat sign, even where its bracket
/// is drawn shorter; without a stop it is one bar long.
fn brackets(flows: &[&Flow]) -> Vec<Bracket> {
    let mut found: Vec<Bracket> = Vec::new();
    for (bar, flow) in flows.iter().enumerate() {
        let Some(passes) = &flow.ending else { continue };
        let next = (bar + 1..flows.len()).find(|one| flows[*one].ending.is_some());
        let room = next.unwrap_or(flows.len());
        let stop = (bar..room).find(|one| flows[*one].ending_stop);
        let mut last = stop.unwrap_or(bar);
        let repeats = |one: &usize| flows[*one].backward.is_some();
        if next.is_some() && !(bar..=last).any(|one| repeats(&one)) && repeats(&(room - 1)) {
            last = room - 1;
        }
        let group = match found.last() {
            Some(before) if before.last + 1 == bar && !flows[bar].forward => before.group,
            Some(before) => before.group + 1,
            None => 0,
        };
        found.push(Bracket {
            first: bar,
            last,
            passes: passes.clone(),
            group,
        });
    }
    found
}
