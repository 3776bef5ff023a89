//! Underfoot: a hands-free practice companion for a guitarist at an amp.
//!
//! # The map
//!
//! A room is a module; an arrow says who may use whom. None runs back up, between the rooms and inside them: `tests/arrows`
//! reads every `use` line and fails when one does.
//!
//! ```text
//! time <- harmony <- chart <- drill <- {fretboard, band} <- plan <- {foot, judging} <- practice <- daemon
//! {clock, synth} <- audio           pedal, listen, display, speech, sheet, journal, doctor: beside them, each for itself; glossary: their words
//! {display, fretboard} <- engrave <- daemon
//! ```
//!
//! A walk through the house, from the bottom up:
//!
//! - [`time`]: ticks, frames, meters, tempos. A tick is exact; a frame is what it is rounded to when it sounds.
//! - [`harmony`]: pitches, chord symbols, scales, keys; what a chord means where it stands.
//! - [`chart`]: the chart and its file, unrolled into timed chords.
//! - [`drill`]: stages, figures, places; which notes a stage asks for over each chord.
//! - [`fretboard`]: where these notes lie, and the easiest way from one to the next.
//! - [`band`]: comping, bass, drums, model tones: notes for a pass, written out.
//! - [`plan`]: what will come. Passes on one line of ticks, and everything that is read off it: pages, cues, what is due.
//! - [`foot`]: what a foot can ask for. Actions, gestures, maps, the menu.
//! - [`judging`]: what was. What was asked for beside what was heard, and what comes of that.
//! - [`practice`]: what is. [`practice::Core`] takes stamped events in and gives effects back; nothing else decides.
//! - [`clock`]: tap tempo, clocks of others, and how they are followed.
//! - [`listen`]: the ear. Sound in, heard notes out.
//! - [`synth`]: MIDI messages and a SoundFont in, sound out.
//! - [`audio`]: the player (the callback's body), mixer, the JACK client.
//! - [`pedal`], [`display`], [`speech`], [`sheet`], [`device`]: where edges come from, where pages go, who speaks, lead
//!   sheets of other programs in and out, how a device is.
//! - `engrave` (a feature): sheets to print: model, layout, PDF, SVG, PNG, MusicXML, MEI.
//! - [`doctor`]: what goes wrong in the field, and what cures it.
//! - [`glossary`]: every word that pages and the voice use, in one file.
//! - `journal` (a feature): what was practised, kept; how sure each skill is, what comes next.
//! - [`daemon`]: configuration, wiring, supervision. The only room that knows all the others.
//!
//! # How a press becomes sound
//!
//! 1. A switch closes; the kernel stamps it. A thread of [`pedal`] hands over an edge with its frame on the audio clock.
//! 2. The daemon's loop (one thread, never blocks) gives it to the core as an event.
//! 3. [`foot`] makes a gesture of edges, and the map an action of the gesture.
//! 4. The action changes the plan in the one way there is: what is armed is taken out, the change made, what is armed put on
//!    again, everything worked out anew.
//! 5. The core answers with effects: bars for the player, a page, words, a line for the log.
//! 6. Bars cross a bounded queue into the callback, as ticks, for a moment that the stamp decides (10 ms after the press, the
//!    bar line, the section's end), never the time of arrival.
//! 7. The callback's player rounds each note to a frame when it is due; the synth renders; the mixer limits.
//! 8. The offline renderer runs the same core and the same player, so that `render` and the daemon give the same music.
//!
//! Everything but the adapters in `audio`, `device`, `pedal`, `display`, `speech`, `journal`, `doctor` and `daemon` is pure: time, randomness and
//! bytes come as arguments, which `clippy.toml` holds.

pub mod audio;
pub mod band;
pub mod chart;
pub mod clock;
pub mod daemon;
pub mod device;
pub mod display;
pub mod doctor;
pub mod drill;
#[cfg(feature = "sheet")]
pub mod engrave;
pub mod fault;
pub mod foot;
pub mod fretboard;
pub mod glossary;
pub mod harmony;
#[cfg(feature = "journal")]
pub mod journal;
pub mod judging;
pub mod listen;
pub mod midi;
pub mod pedal;
pub mod plan;
pub mod practice;
pub mod sheet;
pub mod speech;
pub mod synth;
pub mod time;
