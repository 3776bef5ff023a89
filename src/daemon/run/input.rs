//! What reaches the daemon's loop from other threads.

use super::super::band_sound::BandSound;
use super::super::chart_folders::FilesRead;
use super::super::files::Failure;
use super::super::update::{Noticed, Outcome};
use crate::audio::{ClockSource, LateBand};
use crate::clock::ClockMessage;
use crate::device::DeviceState;
use crate::device::folders::Wanted;
use crate::drill::Drill;
use crate::foot::Action;
use crate::judging::{EarEvent, Sureness};
use crate::pedal::Edge;
use crate::practice::{Proposal, Replay, ShortReport};
use crate::time::Frame;
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

/// Something about other versions of the program.
#[derive(Debug)]
pub enum UpdateInput {
    /// Packages, or what came of an installation, changed; these files are still being written.
    Changed(BTreeSet<PathBuf>),
    /// They were looked at, and so was what came of an installation.
    Looked(Box<Noticed>, Option<Outcome>),
    /// One was handed over to root, or why not.
    HandedOver(Result<(), String>),
}

/// Something that came in.
#[derive(Debug)]
pub enum Input {
    /// A switch moved.
    Edge(Edge),
    /// A song select or a program change of a MIDI port outside JACK: its number, from 0.
    Song(Frame, u8),
    /// A MIDI clock from outside JACK said something.
    Clock(Frame, ClockSource, ClockMessage),
    /// An action asked for by key.
    Act(Action),
    /// The user asks to end.
    End,
    /// A device's state changed, with the last error.
    Device(String, DeviceState, Option<String>),
    /// The ear tells, in order.
    Heard(Vec<EarEvent>),
    /// What was heard, to be played back.
    PlayedBack(Replay, Arc<[f32]>),
    /// Something that the user can mend, in a few words and in lines.
    Trouble(String, Vec<String>),
    /// The drill of weak spots that was asked for, or why there is none.
    WeakSpots(Result<Box<Drill>, String>),
    /// What is known of the player from other days; none where nothing is.
    Known(Option<Box<dyn Sureness>>),
    /// What could be practised today.
    Proposal(Box<Proposal>),
    /// The short report that was asked for, or why there is none.
    Report(Result<ShortReport, String>),
    /// The band's sound was loaded, or there is none.
    BandSound(Box<BandSound>),
    /// What the band that joins in plays on.
    LateBand(Box<LateBand>),
    /// Files that are played from changed; these are still being written.
    FilesChanged(BTreeSet<PathBuf>),
    /// Something about other versions of the program.
    Update(UpdateInput),
    /// Configuration, charts and drill were read anew; what is to be looked after from now on, where a configuration was read.
    Reloaded(Box<(Result<FilesRead, Failure>, Option<Wanted>)>),
    /// These devices are not wanted any more.
    Dismissed(Vec<String>),
    /// The devices and screens of a new configuration were begun.
    Renewed,
    /// A screen has shown a page: its number, the screen, and when.
    Shown(u64, String, Instant),
}
