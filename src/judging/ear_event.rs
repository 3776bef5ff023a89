//! What the ear tells.

use crate::device::InputReport;
use crate::time::Frame;

/// What the ear tells the core.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EarEvent {
    /// A note has its name.
    Began {
        /// Where it began, as the player meant it: all latency is taken out.
        onset: Frame,
        /// The nearest MIDI note.
        midi: u8,
        /// How far above it, -50 to 50.
        cents: f32,
        /// How sure the ear is, 0 to 1.
        confidence: f32,
        /// Another note that was struck with it.
        also: Option<u8>,
        /// Whether it was struck; else the pitch went on to it.
        struck: bool,
    },
    /// The note that was named last ended.
    Ended {
        /// The first frame without it.
        off: Frame,
    },
    /// The pitch as it sounds, told now and then where it is asked for.
    Reading {
        /// None: nothing clear.
        hz: Option<f32>,
    },
    /// What the input is like, told now and then where it is asked for, or while it is not known yet.
    Input(InputReport),
    /// How far the ear is.
    Upto {
        /// Everything before it has been listened to.
        frame: Frame,
    },
}
