//! Care for a panel that is always on: dim and dark when nobody looks, a picture that does not stand on the same
//! pixels for hours, dark while its bus would be heard.
//!
//! A lit pixel of an OLED panel loses half its light in 10,000 to 15,000 hours (as quoted for common panels), so a
//! title that stands for a season is seen for ever after.

use super::super::bitmap::Bitmap;
use super::super::light::Light;
use super::super::page::Page;
use crate::drill::Phase;
use std::time::{Duration, Instant};

/// What is done to spare a panel and the ear. By default: nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Care {
    /// Dim after so long without anything new.
    pub dim_after: Option<Duration>,
    /// Dark after so long without anything new.
    pub blank_after: Option<Duration>,
    /// The picture moves by a pixel after so long, with the next page.
    pub shift_after: Option<Duration>,
    /// Dark, and nothing sent, while the player plays: some panels are heard in the amplifier.
    pub off_while_playing: bool,
}

impl Care {
    /// The light for `page`, which said something new at `changed_at`.
    pub fn light(&self, page: &Page, changed_at: Instant, now: Instant) -> Light {
        let idle = now.saturating_duration_since(changed_at);
        let is_over = |limit: Option<Duration>| limit.is_some_and(|limit| idle >= limit);
        if self.off_while_playing && is_played_over(page) || is_over(self.blank_after) {
            Light::Off
        } else if is_over(self.dim_after) {
            Light::Dim
        } else {
            Light::Full
        }
    }

    /// When the light changes next, if nothing new comes.
    pub fn next_change(&self, changed_at: Instant, now: Instant) -> Option<Instant> {
        let limits = [self.dim_after, self.blank_after].into_iter().flatten();
        limits
            .map(|limit| changed_at + limit)
            .filter(|at| *at > now)
            .min()
    }
}

/// While the guitar sounds; but what the foot has just asked for, and what is wrong, is shown all the same.
fn is_played_over(page: &Page) -> bool {
    match page {
        Page::Practice(page) => {
            page.phase == Phase::Play && page.armed.is_none() && page.states.is_empty()
        }
        _ => false,
    }
}

/// The four places of the picture, in turn: none farther than a pixel, so little is cut off.
const PLACES: [(i32, i32); 4] = [(0, 0), (1, 0), (1, 1), (0, 1)];

/// Where the picture stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PixelShift {
    place: usize,
    since: Option<Instant>,
}

impl PixelShift {
    /// Moves on if it is time; only ever with a page that is sent anyway.
    pub fn turn(&mut self, care: &Care, now: Instant) {
        let Some(after) = care.shift_after else {
            return;
        };
        let since = *self.since.get_or_insert(now);
        if now.saturating_duration_since(since) >= after {
            self.place = (self.place + 1) % PLACES.len();
            self.since = Some(now);
        }
    }

    /// The picture in its place; what leaves the panel is cut off.
    pub fn applied(&self, bitmap: Bitmap) -> Bitmap {
        let (dx, dy) = PLACES[self.place % PLACES.len()];
        if (dx, dy) == (0, 0) {
            return bitmap;
        }
        let mut moved = Bitmap::new(bitmap.width(), bitmap.height());
        for y in 0..bitmap.height() as i32 {
            for x in 0..bitmap.width() as i32 {
                moved.set(x, y, bitmap.get(x - dx, y - dy));
            }
        }
        moved
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::display::page::{ArmedLine, Large, PracticePage, SetOnPage};

    fn playing(phase: Phase, armed: bool, state: &str) -> Page {
        Page::Practice(Box::new(PracticePage {
            now: SetOnPage::default(),
            next: SetOnPage::default(),
            large: Large::Now,
            chord_now: String::new(),
            chord_next: String::new(),
            section: String::new(),
            stage: String::new(),
            call: String::new(),
            task: vec!["play".into()],
            then: Vec::new(),
            places: String::new(),
            phase,
            bar: 1,
            bars: 1,
            beats_to_change: 1,
            tempo_qpm: 60,
            dotted_qpm: None,
            count: None,
            armed: armed.then(|| ArmedLine {
                what: "next stage".into(),
                when: "at section end".into(),
            }),
            note: String::new(),
            states: [state]
                .iter()
                .filter(|state| !state.is_empty())
                .map(|state| state.to_string())
                .collect(),
        }))
    }

    #[test]
    #[allow(clippy::disallowed_methods)] // An Instant can only be had from the clock.
    fn it_is_dark_while_played_over_but_tells_what_must_be_told() {
        let care = Care {
            off_while_playing: true,
            ..Care::default()
        };
        let now = Instant::now();
        for (phase, armed, state, light) in [
            (Phase::Play, false, "", Light::Off),
            (Phase::Listen, false, "", Light::Full),
            (Phase::Play, true, "", Light::Full),
            (Phase::Play, false, "no sound", Light::Full),
        ] {
            let page = playing(phase, armed, state);
            assert_eq!(
                care.light(&page, now, now),
                light,
                "{phase:?} {armed} {state}"
            );
            assert_eq!(Care::default().light(&page, now, now), Light::Full);
        }
    }

    #[test]
    #[allow(clippy::disallowed_methods)] // An Instant can only be had from the clock.
    fn the_picture_moves_by_a_pixel_and_comes_back() {
        let minute = Duration::from_secs(60);
        let care = Care {
            shift_after: Some(minute),
            ..Care::default()
        };
        let (mut shift, start) = (PixelShift::default(), Instant::now());
        let mut dot = Bitmap::new(4, 3);
        dot.set(1, 1, true);
        let mut seen = Vec::new();
        for step in 0..9 {
            shift.turn(&care, start + minute / 2 * step);
            let moved = shift.applied(dot.clone());
            let at = (0..12).find(|n| moved.get(n % 4, n / 4)).unwrap();
            seen.push((at % 4, at / 4));
        }
        let places = [
            (1, 1),
            (1, 1),
            (2, 1),
            (2, 1),
            (2, 2),
            (2, 2),
            (1, 2),
            (1, 2),
            (1, 1),
        ];
        assert_eq!(seen, places);
    }
}
