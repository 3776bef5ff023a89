//! `underfoot run`: the daemon.
//!
//! One thread decides (`Live`); JACK, each screen, the voice, the serial line, the keys and the status socket
//! have their own, and reach it by channels. Nothing that is missing stops it.
// Threads, clocks, files and signals: this is the shell around the pure core.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

mod awaited;
mod calibrate;
mod hearing;
mod inputs;
mod keep;
#[cfg(feature = "midi-alsa")]
mod lead;
mod live;
mod now;
mod screens;
mod sources;
mod supervise;

use super::args::RunArgs;
use super::config::{Config, Directories};
use super::events::EventLog;
use super::files::{self, Failure, exit};
use super::rig::Rig;
use super::{setup, state, status};
use crate::practice::{Core, Library, Saved};
use crate::speech::SpeakerThread;
use crate::time::Frame;
pub use calibrate::calibrate;
use hearing::Hearing;
use inputs::Inputs;
use live::{Limits, Live};
use screens::Screens;
use std::io::BufWriter;
use std::path::Path;
use supervise::Audio;

/// Frames a second until a server tells another.
const RATE_AT_REST: u32 = 48_000;

/// Runs until a signal, the given seconds, or a JACK call that hangs.
///
/// # Errors
/// Faults of configuration (78), chart or drill (65); a hanging JACK server (69).
pub fn run(args: &RunArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    start_log(args, variable);
    if args.terminal && args.take.events.as_deref() == Some(Path::new("-")) {
        let text =
            "--events - and --terminal both write to standard output: give one of them a file";
        return Err(Failure::new(exit::USAGE, text));
    }
    let load = || files::config(args.config.as_deref(), variable, args.over.clone());
    let config = load()?;
    let library = setup::library(&config)?;
    for line in setup::keys_taken(&library, &config) {
        log::info!("{line}");
    }
    let switches = config.foot.switches.len();
    let foot = args.take.foot.as_deref();
    let foot = foot.map(|path| files::foot(path, switches)).transpose()?;
    let directories = Directories::of(&config, variable);
    let mut messages: Vec<(String, Vec<String>)> = Vec::new();
    let font = setup::font(&config, None).unwrap_or_else(|failure| {
        messages.push(("no band sound".into(), vec![failure.text.clone()]));
        log::warn!("{}", failure.text);
        None
    });
    if font.is_none() {
        log::warn!("no SoundFont: click, model tones and cues only");
    }
    let place = state::path(&directories.state);
    let saved: Option<Saved> = (!args.fresh).then(|| state::load(&place)).flatten();
    let mut core = Core::new(
        library,
        setup::settings(&config, RATE_AT_REST),
        saved.as_ref(),
    );
    core.follow_clock(
        !config.clock.follow.order.is_empty(),
        config.clock.mute_band,
    );
    let speech = setup::speech(&config, Some(&directories.cache));
    let voice = SpeakerThread::start(speech).map_err(|error| {
        Failure::new(exit::SOFTWARE, format!("no thread for the voice: {error}"))
    })?;
    let log = EventLog::new(None, RATE_AT_REST);
    let mut rig = Rig::new(core, None, log, Box::new(voice), RATE_AT_REST);
    rig.prepare();
    let events = match &args.take.events {
        Some(path) => {
            let file = match path.to_str() {
                Some("-") => files::standard_output(),
                _ => std::fs::File::create(path),
            };
            let file = file.map_err(|error| {
                let why = files::why(&error);
                let text = format!("{}: cannot be written ({why})", path.display());
                Failure::new(exit::DATA, text)
            })?;
            Some(BufWriter::new(file))
        }
        None => None,
    };
    let inputs = Inputs::start(&config, args.terminal);
    let screens = Screens::start(&config, args, variable, inputs.sender());
    let server = match status::Server::start(&directories.socket) {
        Ok(server) => Some(server),
        Err(error) => {
            log::warn!(
                "{}: no status socket: {error}",
                directories.socket.display()
            );
            None
        }
    };
    let mut audio = Audio::new(&config, font);
    audio.lead(&inputs.sender());
    let limits = Limits {
        seconds: args.seconds,
        foot,
        clock: config.clock.clone(),
        place: (!args.fresh).then_some(place),
    };
    let hearing = Hearing::start(&config, directories.state.join("takes"), inputs.sender());
    let mut live = Live::new(
        rig,
        (audio, hearing),
        inputs,
        screens,
        server,
        events,
        limits,
    );
    for (title, lines) in messages {
        live.message(title, lines);
    }
    let done = live.run(&|| reload(&load));
    live.leave();
    done
}

/// What a SIGHUP brings: charts and drill read anew, if all of it is valid.
fn reload(load: &dyn Fn() -> Result<Config, Failure>) -> Result<Library, Failure> {
    setup::library(&load()?)
}

fn start_log(args: &RunArgs, variable: &dyn Fn(&str) -> Option<String>) {
    // The JACK library tells a missing server in five lines at each attempt; we tell it once.
    let level = variable("UNDERFOOT_LOG").unwrap_or_else(|| "info,jack=off".into());
    let mut builder = env_logger::Builder::new();
    builder.parse_filters(&level);
    if args.terminal {
        // The page stands in the terminal; only what ends the program may write over it.
        builder.filter_level(log::LevelFilter::Error);
    }
    if variable("JOURNAL_STREAM").is_some() {
        use std::io::Write;
        // sd-daemon(3): the priority stands before the line; the journal adds the time.
        builder.format(|out, record| {
            let priority = match record.level() {
                log::Level::Error => 3,
                log::Level::Warn => 4,
                log::Level::Info => 6,
                _ => 7,
            };
            writeln!(out, "<{priority}>{}", record.args())
        });
    }
    // Only the first logger of a process is taken; a second call is harmless.
    let _ = builder.try_init();
}

/// The first frame of the daemon's own counting: far enough from zero that no guard reaches below it.
const FIRST_FRAME: Frame = Frame(1 << 20);
