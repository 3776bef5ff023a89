//! What every source of switches gives.

use crate::time::Frame;

/// The most switches.
pub const SWITCHES: usize = 8;

/// A switch went down or up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Edge {
    /// Which switch, from 1.
    pub switch: u8,
    pub down: bool,
    pub at: Frame,
}
