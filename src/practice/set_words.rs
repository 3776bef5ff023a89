//! What page and menu tell of a set: where one is in it, and what comes next.

use super::armed::Armed;
use super::set_list::Leads;
use super::settings::Library;
use crate::foot::Action;
use crate::glossary;

/// What stands below a tune of a set that is ready: its place, the tune after it, whether another's clock is awaited.
pub(super) fn ready(library: &Library, chart: usize) -> Vec<String> {
    let Some(set) = &library.set else {
        return Vec::new();
    };
    let place = format!("{} {} {}", chart + 1, glossary::OF, set.tunes.len());
    let next = library.charts.get(chart + 1);
    let next = next.map(|next| coming(&next.title));
    let leads = library.tune(chart).and_then(|tune| tune.leads);
    let follows = (leads == Some(Leads::They)).then(|| "follows clock".to_string());
    // What comes next has room on the smallest panel, if it stands first.
    next.into_iter().chain([place]).chain(follows).collect()
}

/// The tune of the set that is armed, in words; none where it is another kind of action, or no tune of a set.
pub(super) fn armed_tune(armed: &Armed, library: &Library) -> Option<String> {
    let leads_to = |action: &Action| {
        matches!(
            action,
            Action::NextChart | Action::PreviousChart | Action::ToChart(_)
        )
    };
    let is_tune = armed.actions.iter().any(leads_to) || armed.is_last_time();
    let brings = armed.target.brings.filter(|_| is_tune)?;
    library.tune(brings.chart)?;
    Some(coming(&armed.target.material.chart.title))
}

fn coming(title: &str) -> String {
    format!("{} {title}", glossary::NEXT.page)
}
