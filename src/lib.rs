//! Underfoot: a hands-free practice companion for a guitarist at an amp.
#![deny(missing_docs)]

pub mod audio;
pub mod band;
pub mod chart;
pub mod clock;
pub mod daemon;
pub mod device;
pub mod display;
pub mod drill;
pub mod fault;
pub mod foot;
pub mod fretboard;
pub mod harmony;
pub mod judging;
pub mod listen;
pub mod midi;
pub mod pedal;
pub mod plan;
pub mod practice;
pub mod sheet;
pub mod speech;
pub mod time;
