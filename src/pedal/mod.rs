//! Switch sources: serial line, JACK MIDI, terminal keys, foot scripts. Each gives the same thing: edges.

use crate::time::Frame;

/// A switch went down or up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// Which switch, from 1.
    pub switch: u8,
    /// Down or up.
    pub down: bool,
    /// When.
    pub at: Frame,
}
