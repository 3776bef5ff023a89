//! A set: the charts of a list as the tunes of an evening, and how each of them is played.

use crate::drill::Drill;

/// The tunes of a set, one a chart of its library, in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct SetList {
    pub title: String,
    pub tunes: Vec<Tune>,
}

/// How a tune of a set is played. Its key and its tempo are those of its chart in the library.
#[derive(Debug, Clone, PartialEq)]
pub struct Tune {
    /// What is practised over it.
    pub drill: Drill,
    /// Bars that are counted in; `None`: as the tempo asks for.
    pub count_in_bars: Option<u32>,
    /// Who leads the clock; `None`: as the configuration says.
    pub leads: Option<Leads>,
    /// The song select or program change that chooses it, as in the message, from 0.
    pub number: u8,
    /// The last time leads on into the next tune, without a stop.
    pub segue: bool,
}

/// Who leads the clock of a tune.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leads {
    /// We do: no clock is followed.
    We,
    /// Others do: theirs is followed, and ours is not sent.
    They,
}
