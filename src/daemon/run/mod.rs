//! `underfoot run`: the daemon.
//!
//! One thread decides (`Live`); JACK, each screen, the voice, the ear, the keeper of files, the sources and the status
//! socket have their own, and reach it by channels. Nothing that is missing stops it.
// Threads, clocks, files and signals: this is the shell around the pure core.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

mod awaited;
mod calibrate;
mod check_up;
mod devices;
mod diary;
mod hearing;
mod input;
mod inputs;
mod joining;
mod keep;
mod keeper;
#[cfg(feature = "midi-alsa")]
mod lead;
mod live;
mod manager;
mod memories;
mod memory;
mod nap;
mod now;
mod outlets;
mod plugged_in;
mod reloading;
mod reloads;
mod screens;
mod scripted;
mod servers;
mod sources;
mod supervise;
mod taking_over;
mod terminal;
mod update_watch;
mod updates;

use super::args::RunArgs;
use super::band_sound::BandSound;
use super::chart_folders::{ChartFolders, FilesRead, files_read, wanted};
use super::config::{Config, Directories, machine_socket};
use super::events::EventLog;
use super::files::{self, Failure, exit};
use super::lock::{Lock, LockError};
use super::rig::Rig;
use super::{known_inputs, setup, state, status};
use crate::device::folders::Wanted;
use crate::device::plain_file::create_plain;
use crate::fault::printable_lines;
use crate::practice::{Core, Library, Saved};
use crate::speech::SpeakerThread;
pub use calibrate::calibrate;
use diary::Diary;
use hearing::Hearing;
use inputs::{Inputs, Signals};
use keeper::{Keeper, KeeperThread, KeptPlaces};
use live::Live;
use now::RATE_AT_REST;
use outlets::Outlets;
use reloading::{Files, Reloading};
use screens::Screens;
use scripted::Scripted;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use supervise::AudioSupervisor;

/// Runs until a signal, the given seconds, or a JACK call that hangs.
///
/// # Errors
/// Faults of configuration (78), chart or drill (65); a hanging JACK server (69).
pub fn run(args: &RunArgs, variable: fn(&str) -> Option<String>) -> Result<(), Failure> {
    prepare(args, variable)?;
    let signals = Signals::take();
    let files = Files::new(args, variable);
    let config = files.config()?;
    let directories = Directories::of(&config.paths, variable);
    for line in kept_nowhere(&directories) {
        log::warn!("{line}");
    }
    let _locks = locks(&config, &directories)?;
    let server = directories.socket.as_deref().and_then(serve_status);
    let (folders, read) = first_read(config)?;
    let (config, library) = (read.config, read.library);
    let switches = config.foot.switches.len();
    let foot = args.take.foot.as_deref();
    let foot = foot.map(|path| files::foot(path, switches)).transpose()?;
    memory::lock();
    // What a scripted foot plays is to sound the same each time.
    let sound = match foot {
        Some(_) => BandSound::load(&config, directories.cache.as_deref()),
        None => BandSound::default(),
    };
    let is_late = foot.is_none();
    let place = directories.state.as_deref().map(state::path);
    let place = place.filter(|_| !args.fresh);
    let saved: Option<Saved> = place.as_deref().and_then(state::load);
    let day = first_of_day(&library, args.day)?;
    let mut rig = rig(&config, library, saved.as_ref(), &files, &directories)?;
    if let Some(stage) = day {
        rig.core.stand(stage, false);
    }
    let (inputs, watched) = inputs(&config, args.terminal, signals);
    let places = KeptPlaces {
        place,
        events: args.take.events.as_deref().map(event_log).transpose()?,
        takes: directories.state.as_ref().map(|dir| dir.join("takes")),
        inputs: directories.state.as_deref().map(known_inputs::path),
    };
    let (keeper, hearing) = ears(&config, places, &inputs);
    let diary = Diary::start(&config, &directories, inputs.sender());
    let asked = screens::AskedFor::new(args, &variable);
    let screens = Screens::start(&config, asked, inputs.sender());
    let outlets = Outlets::new(screens, hearing, keeper, diary, server);
    let mut audio = AudioSupervisor::new(&config, sound.font, sound.trims);
    audio.lead(&inputs.sender());
    let script = Scripted::new(foot, args.seconds);
    let reloading = Reloading::new(config, files, folders, watched, directories);
    let mut live = Live::new(rig, audio, inputs, outlets, reloading, script);
    if let Some((title, line)) = sound.trouble {
        live.message(title.to_string(), vec![line]);
    }
    live.tell_faults(read.faults);
    if is_late {
        live.load_band();
    }
    let done = live.run();
    live.leave();
    done
}

/// What must be so before there is another thread.
fn prepare(args: &RunArgs, variable: fn(&str) -> Option<String>) -> Result<(), Failure> {
    memory::keep_flat();
    start_log(args, variable);
    refuse_two_writers(args)
}

/// What comes in, and which files are looked after.
fn inputs(config: &Config, keys: bool, signals: Signals) -> (Inputs, Wanted) {
    let watched = wanted(config);
    let mut inputs = Inputs::start(config, keys, signals);
    inputs.watch(watched.clone());
    (inputs, watched)
}

/// Who writes files, and the ear, which has some written.
fn ears(config: &Config, places: KeptPlaces, inputs: &Inputs) -> ((Keeper, KeeperThread), Hearing) {
    let known = known_inputs::load(places.inputs.as_deref());
    let keeper = Keeper::start(places, inputs.sender());
    let hearing = Hearing::start(config, (keeper.0.clone(), known), inputs.sender());
    (keeper, hearing)
}

/// Page and events cannot both have standard output.
fn refuse_two_writers(args: &RunArgs) -> Result<(), Failure> {
    if args.terminal && args.take.events.as_deref() == Some(Path::new("-")) {
        let text =
            "--events - and --terminal both write to standard output: give one of them a file";
        return Err(Failure::new(exit::USAGE, text));
    }
    Ok(())
}

/// Charts and drill as they are at the start.
fn first_read(config: Config) -> Result<(ChartFolders, FilesRead), Failure> {
    let folders = ChartFolders::default();
    let read = files_read(config, &folders, &BTreeSet::new())?;
    for line in setup::keys_taken(&read.library) {
        log::info!("{line}");
    }
    Ok((folders, read))
}

/// The stage with which the day begins that is asked for.
fn first_of_day(library: &Library, day: Option<u32>) -> Result<Option<usize>, Failure> {
    let Some(day) = day else { return Ok(None) };
    let stage = library.drill.stage_of_day(day);
    let title = &library.drill.title;
    let missing = || Failure::new(exit::USAGE, format!("\"{title}\" has no day {day}"));
    stage.map(Some).ok_or_else(missing)
}

/// Makes sure that no other daemon has the same state or socket.
fn locks(config: &Config, directories: &Directories) -> Result<Vec<Option<Lock>>, Failure> {
    let state = directories.state.as_ref().map(|dir| dir.join("lock"));
    let socket = directories.socket.as_ref();
    let socket = socket.map(|path| path.with_extension("lock"));
    // The unit's has the same user's or root's sound card, whatever directories this one was given.
    let machines = machine_socket().with_extension("lock");
    let is_usual = config.paths.socket.is_none() && socket.as_ref() != Some(&machines);
    let machines =
        Some(machines).filter(|path| is_usual && File::options().write(true).open(path).is_ok());
    let paths = state.into_iter().chain(socket).chain(machines);
    paths.map(|path| lock(&path)).collect()
}

/// Where nothing can be written nobody can be kept out.
fn lock(path: &Path) -> Result<Option<Lock>, Failure> {
    match Lock::take(path) {
        Ok(lock) => Ok(Some(lock)),
        Err(taken @ LockError::Taken { .. }) => {
            Err(Failure::new(exit::UNAVAILABLE, taken.to_string()))
        }
        Err(unusable) => {
            log::warn!("nobody is kept out: {unusable}");
            Ok(None)
        }
    }
}

/// The core with its voice, at rest and without a player.
fn rig(
    config: &Config,
    library: Library,
    saved: Option<&Saved>,
    files: &Files,
    directories: &Directories,
) -> Result<Rig, Failure> {
    let settings = files.settings(config, RATE_AT_REST);
    let mut core = Core::new(library, settings, saved);
    if config.practice.quiet_start {
        core.start_quietly();
    }
    core.follow_clock(
        !config.clock.follow.order.is_empty(),
        config.clock.mute_band,
    );
    let speech = setup::speech(config, directories.cache.as_deref());
    let voice = SpeakerThread::start(speech).map_err(|error| {
        Failure::new(exit::SOFTWARE, format!("no thread for the voice: {error}"))
    })?;
    let log = EventLog::new(None, RATE_AT_REST);
    let mut rig = Rig::new(core, None, log, Box::new(voice), RATE_AT_REST);
    rig.prepare();
    Ok(rig)
}

fn serve_status(path: &Path) -> Option<status::Server> {
    let told = |error| log::warn!("{}: no status socket: {error}", path.display());
    status::Server::start(path).map_err(told).ok()
}

/// What has no directory, a line each.
fn kept_nowhere(directories: &Directories) -> impl Iterator<Item = &'static str> {
    let missing = [
        (
            directories.state.is_none(),
            "no directory to keep the place and takes in (none of state_dir, STATE_DIRECTORY, XDG_STATE_HOME, HOME is set)",
        ),
        (
            directories.cache.is_none(),
            "no directory to keep what was spoken in (none of cache_dir, CACHE_DIRECTORY, XDG_CACHE_HOME, HOME is set)",
        ),
        (
            directories.socket.is_none(),
            "no status socket (none of socket, RUNTIME_DIRECTORY, XDG_RUNTIME_DIR, HOME is set)",
        ),
    ];
    missing
        .into_iter()
        .filter_map(|(is_missing, line)| is_missing.then_some(line))
}

fn event_log(path: &Path) -> Result<File, Failure> {
    let file = match path.to_str() {
        Some("-") => files::standard_output(),
        _ => create_plain(path),
    };
    file.map_err(|error| {
        let why = files::why(&error);
        let text = format!("{}: cannot be written ({why})", path.display());
        Failure::new(exit::DATA, text)
    })
}

fn start_log(args: &RunArgs, variable: fn(&str) -> Option<String>) {
    // The JACK library tells a missing server in five lines at each attempt; we tell it once.
    let level = variable("UNDERFOOT_LOG").unwrap_or_else(|| "info,jack=off".into());
    let mut builder = env_logger::Builder::new();
    builder.parse_filters(&level);
    if args.terminal {
        // The page stands in the terminal; only what ends the program may write over it.
        builder.filter_level(log::LevelFilter::Error);
    }
    // Names of devices and files are foreign: what a terminal would obey is not passed on.
    if variable("JOURNAL_STREAM").is_some() {
        // sd-daemon(3): the priority stands before the line; the journal adds the time.
        builder.format(|out, record| {
            let said = printable_lines(&record.args().to_string());
            let priority = match record.level() {
                log::Level::Error => 3,
                log::Level::Warn => 4,
                log::Level::Info => 6,
                _ => 7,
            };
            writeln!(out, "<{priority}>{said}")
        });
    } else {
        builder.format(|out, record| {
            let said = printable_lines(&record.args().to_string());
            let (at, level, of) = (out.timestamp(), record.level(), record.target());
            writeln!(out, "[{at} {level:5} {of}] {said}")
        });
    }
    // Only the first logger of a process is taken; a second call is harmless.
    let _ = builder.try_init();
}
