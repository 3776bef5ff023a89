//! What a chart file says of intro and last time: `intro`, and the table `[last_time]`.

use super::model::LastTime;
use super::placed::PlacedSection;
use crate::fault::{Reader, TableView, Text, nearest_hint};

/// Names around the form, before they are looked up.
pub(super) struct Around<'r, 't> {
    intro: Vec<Text<'t>>,
    last: Option<TableView<'r, 't>>,
    form: Vec<Text<'t>>,
    coda: Vec<Text<'t>>,
    to_coda: Option<u32>,
}

impl<'r, 't> Around<'r, 't> {
    /// What stands there; its own faults are told.
    pub(super) fn named(view: &TableView<'r, 't>) -> Around<'r, 't> {
        let names = |view: &TableView<'r, 't>, key| {
            let names = view.strings(key);
            if names.as_ref().is_some_and(Vec::is_empty) {
                let rule = format!("{key} is empty (such as {key} = [\"A\"])");
                view.fault(key, rule);
            }
            names.unwrap_or_default()
        };
        let intro = names(view, "intro");
        let last = view.table("last_time");
        let (mut form, mut coda, mut to_coda) = (Vec::new(), Vec::new(), None);
        if let Some(last) = &last {
            form = names(last, "form");
            coda = names(last, "coda");
            to_coda = last.integer("to_coda", 1..=10_000, "bars");
            if last.get("form").is_none() && last.get("coda").is_none() {
                let rule = "last_time names a form, a coda, or both";
                last.reader.fault(last.span.start, rule);
            }
            if last.get("to_coda").is_some() && last.get("coda").is_none() {
                last.fault("to_coda", "to_coda leads to a coda, but there is none");
            }
            last.finish();
        }
        Around {
            intro,
            last,
            form,
            coda,
            to_coda,
        }
    }

    /// The same as indices of sections; `None` after a fault. `form` is that of the choruses.
    pub(super) fn resolved(
        self,
        view: &TableView<'_, '_>,
        sections: &[PlacedSection],
        form: Option<&[usize]>,
    ) -> Option<(Vec<usize>, Option<LastTime>)> {
        let look_up = |names: &[Text<'_>]| resolve(view.reader, names, sections);
        let (intro, last, coda) = (
            look_up(&self.intro),
            look_up(&self.form),
            look_up(&self.coda),
        );
        let (intro, last, coda) = (intro?, last?, coda?);
        let Some(table) = &self.last else {
            return Some((intro, None));
        };
        let before = if last.is_empty() { form? } else { &last[..] };
        if let (Some(bars), Some(end)) = (self.to_coda, before.last()) {
            let pass = before.iter().filter(|one| *one == end).count() as u32;
            let all = sections[*end].section.pass(pass).count();
            if bars as usize > all {
                let name = &sections[*end].section.name;
                let rule =
                    format!("to_coda is {bars}, but section \"{name}\" has {all} bars there");
                table.fault("to_coda", rule);
            }
        }
        let end = coda.last().or(before.last());
        if end.is_some_and(|end| sections[*end].section.vamp) {
            let key = if coda.is_empty() { "form" } else { "coda" };
            let rule = "the last time cannot end with a vamp: nothing comes after it";
            table.fault(key, rule);
        }
        let last_time = LastTime {
            form: last,
            to_coda: self.to_coda,
            coda,
        };
        Some((intro, Some(last_time)))
    }
}

/// Names of sections as indices; `None` where there is no such section, which is told.
pub(super) fn resolve(
    reader: &Reader<'_>,
    names: &[Text<'_>],
    sections: &[PlacedSection],
) -> Option<Vec<usize>> {
    let find = |name: &Text<'_>| {
        let is_it = |placed: &PlacedSection| placed.section.name == name.value.trim();
        let found = sections.iter().position(is_it);
        if found.is_none() {
            let known = sections.iter().map(|placed| placed.section.name.as_str());
            let hint = nearest_hint(name.value, known);
            let rule = format!("there is no section \"{}\"{hint}", name.value);
            reader.fault(name.span.start, rule);
        }
        found
    };
    let found: Vec<Option<usize>> = names.iter().map(find).collect();
    found.into_iter().collect()
}
