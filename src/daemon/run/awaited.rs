//! Pages that turned and whose showing is still to be told, screen by screen.
//!
//! # Why are there `shown` lines?
//!
//! A `page` line says when the core turned the page, a `shown` line when a screen had it;
//! `overtaken` marks one in whose place a newer one was shown. `tests/house/live/pages.rs` pairs them.

use super::super::events::Seen;
use crate::time::Frame;
use std::collections::{BTreeMap, VecDeque};

/// Pages that are remembered: a screen that lags further behind tells of the newest.
const PAGES: usize = 64;

/// What the screens still have to show.
#[derive(Debug, Default)]
pub struct Awaited {
    pages: VecDeque<(u64, Frame)>,
    /// The newest that each screen has shown.
    shown: BTreeMap<String, u64>,
}

impl Awaited {
    /// The page of this number turned; its line is of that frame.
    pub fn turned(&mut self, id: u64, page: Frame) {
        if self.pages.len() == PAGES {
            self.pages.pop_front();
        }
        self.pages.push_back((id, page));
    }

    /// A screen has shown a number: the pages that it has now, or will never have, oldest first. Between two that
    /// turned, pages come that only count on: they show the same.
    pub fn seen(&mut self, id: u64, screen: &str) -> Vec<Seen> {
        let before = self.shown.insert(screen.to_string(), id).unwrap_or(0);
        let new = self
            .pages
            .iter()
            .filter(|(page, _)| *page > before && *page <= id);
        let newest = new.clone().map(|(page, _)| *page).max();
        let seen = new.map(|(number, page)| Seen {
            page: *page,
            overtaken: Some(*number) != newest,
        });
        seen.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_page_is_told_once_a_screen() {
        // What is done: a page turned (number, frame) or shown on a screen; what is told of it.
        enum Do {
            Turned(u64, u64),
            Shown(u64, &'static str),
        }
        use Do::{Shown, Turned};
        type Case<'a> = (&'a str, &'a [Do], &'a [(u64, bool)]);
        let cases: &[Case<'_>] = &[
            ("one", &[Turned(1, 10), Shown(1, "a")], &[(10, false)]),
            (
                "twice the same",
                &[Turned(1, 10), Shown(1, "a"), Shown(1, "a")],
                &[(10, false)],
            ),
            (
                "only counted on",
                &[Turned(1, 10), Shown(2, "a"), Shown(3, "a")],
                &[(10, false)],
            ),
            (
                "overtaken",
                &[Turned(1, 10), Turned(2, 20), Shown(2, "a")],
                &[(10, true), (20, false)],
            ),
            (
                "two at one time",
                &[Turned(1, 10), Turned(1, 11), Shown(1, "a")],
                &[(10, false), (11, false)],
            ),
            (
                "two screens",
                &[
                    Turned(1, 10),
                    Shown(1, "a"),
                    Turned(2, 20),
                    Shown(2, "a"),
                    Shown(2, "b"),
                ],
                &[(10, false), (20, false), (10, true), (20, false)],
            ),
        ];
        for (name, done, expected) in cases {
            let mut awaited = Awaited::default();
            let mut told = Vec::new();
            for step in *done {
                match step {
                    Turned(id, page) => awaited.turned(*id, Frame(*page)),
                    Shown(id, screen) => told.extend(awaited.seen(*id, screen)),
                }
            }
            let told: Vec<_> = told
                .iter()
                .map(|seen| (seen.page.0, seen.overtaken))
                .collect();
            assert_eq!(told, *expected, "{name}");
        }
    }
}
