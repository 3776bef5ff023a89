//! Switch sources: serial line, JACK MIDI, terminal keys, foot scripts. Each gives the same thing: edges.

pub mod bytes;
pub mod keys;
pub mod midi;
pub mod script;
#[cfg(feature = "serial")]
pub mod serial;

use crate::time::Frame;

/// The most switches.
pub const SWITCHES: usize = 8;

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

/// How a device is. A lost device is a state, never an end: everything else goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DeviceState {
    /// It is not there.
    Absent,
    /// It was lost or refused, and is tried again.
    Retrying,
    /// It is there.
    Present,
}

impl DeviceState {
    /// The word for it in the status and on the page.
    pub fn name(self) -> &'static str {
        match self {
            DeviceState::Absent => "absent",
            DeviceState::Retrying => "retrying",
            DeviceState::Present => "present",
        }
    }
}
