//! The way through a chart: what comes once before the choruses, what goes round, and how the last time round ends.
//!
//! The bars of the form are in the order of the chorus, for it is what is practised; those of the intro and of the last time
//! stand behind it. A [`Leg`] is a stretch that is played in one piece: a vamp is a leg of its own, for it goes round until a
//! foot moves on.

use super::Chart;

/// A stretch of the form that is played in one piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Leg {
    /// Its bars, as indices into the form, in the order of playing.
    pub bars: Vec<usize>,
    /// It goes round until a foot moves on.
    pub vamp: bool,
}

/// The legs of a form.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Route {
    /// Played once, before the first chorus.
    pub intro: Vec<Leg>,
    /// What goes round.
    pub chorus: Vec<Leg>,
    /// The last time round; empty where nothing but a chorus goes round, and the last one is as the others.
    pub last: Vec<Leg>,
}

impl Route {
    /// The bars of the chorus: the first ones of the form.
    pub fn chorus_bars(&self) -> usize {
        self.chorus.iter().map(|leg| leg.bars.len()).sum()
    }

    /// The same with each bar there `times` as often.
    #[must_use]
    pub(super) fn longer(&self, times: usize) -> Route {
        let longer = |legs: &[Leg]| -> Vec<Leg> {
            let leg = |leg: &Leg| Leg {
                bars: leg
                    .bars
                    .iter()
                    .flat_map(|bar| bar * times..(bar + 1) * times)
                    .collect(),
                vamp: leg.vamp,
            };
            legs.iter().map(leg).collect()
        };
        Route {
            intro: longer(&self.intro),
            chorus: longer(&self.chorus),
            last: longer(&self.last),
        }
    }
}

/// A section of the route, before it has bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stop {
    pub(super) section: usize,
    /// Which pass of its section it is, from 1.
    pub(super) pass: u32,
    /// Only so many of its bars are played; `None`: all.
    pub(super) bars: Option<usize>,
}

/// Sections with the number of each one's pass.
pub(super) fn stops(form: &[usize], sections: usize) -> Vec<Stop> {
    let mut passes = vec![0; sections];
    let stop = |section: &usize| {
        passes[*section] += 1;
        Stop {
            section: *section,
            pass: passes[*section],
            bars: None,
        }
    };
    form.iter().map(stop).collect()
}

/// The last time round: the sections up to the coda, and the coda's. Empty where it is the chorus again.
pub(super) fn last_stops(chart: &Chart) -> Vec<Stop> {
    let Some(last) = &chart.last_time else {
        return Vec::new();
    };
    let count = chart.sections.len();
    let form = if last.form.is_empty() {
        &chart.form
    } else {
        &last.form
    };
    let mut all = stops(form, count);
    if let (Some(end), Some(bars)) = (all.last_mut(), last.to_coda) {
        end.bars = Some(bars as usize);
    }
    all.extend(stops(&last.coda, count));
    all
}
