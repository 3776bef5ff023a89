//! `underfoot learn`: names the switches by pressing them.
//!
//! Listens to every device that acts as a keyboard (without grabbing it), every MIDI port, and the lines named on the
//! command line (others may be wired to anything, so they are left alone).
// A shell: it opens devices and waits.
#![allow(clippy::disallowed_methods)]

use super::super::args::LearnArgs;
use super::super::files::{Failure, exit};
use super::output::stdout_failed;
use crate::fault::printable;
use crate::pedal::learn::{Learned, Pressed};
use std::io::Write;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Listens until the time is over or as many switches were pressed as asked for, and prints the lines.
///
/// # Errors
/// 69 when there is nothing to listen to, or nothing was pressed.
pub fn learn(args: &LearnArgs) -> Result<(), Failure> {
    let (to, from) = channel();
    let mut sources = Sources::default();
    keys::listen(&to, &mut sources);
    midi::listen(&to, &mut sources);
    lines::listen(&args.line, &to, &mut sources);
    drop(to);
    for (what, why) in &sources.closed {
        eprintln!("{}", printable(&format!("{what}: {why}")));
    }
    if sources.names.is_empty() {
        let rule = "nothing to listen to: no pedal and no MIDI port can be opened (groups input and audio?)";
        return Err(Failure::new(exit::UNAVAILABLE, rule));
    }
    eprintln!("listening to: {}", printable(&sources.names.join("; ")));
    let (count, seconds) = (usize::from(args.switches), args.seconds);
    eprintln!("press the switches in their order, up to {count}, within {seconds} seconds");
    let learned = gather(&from, count, Duration::from_secs_f64(seconds));
    sources.kept.clear();
    if learned.count() == 0 {
        return Err(Failure::new(exit::UNAVAILABLE, "nothing was pressed"));
    }
    std::io::stdout()
        .write_all(learned.lines().as_bytes())
        .map_err(stdout_failed)
}

/// What is listened to.
#[derive(Default)]
struct Sources {
    names: Vec<String>,
    closed: Vec<(String, String)>,
    /// Kept open while we listen.
    kept: Vec<Box<dyn std::any::Any>>,
}

fn gather(from: &Receiver<Pressed>, count: usize, patience: Duration) -> Learned {
    let until = Instant::now() + patience;
    let mut learned = Learned::default();
    while learned.count() < count {
        let left = until.saturating_duration_since(Instant::now());
        match from.recv_timeout(left) {
            Ok(pressed) => {
                if let Some(number) = learned.take(pressed.clone()) {
                    eprintln!("switch {number}: {pressed:?}");
                }
            }
            Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => break,
        }
    }
    learned
}

#[cfg(feature = "evdev")]
mod keys {
    use crate::daemon::commands::learn::Sources;
    use crate::pedal::evdev::{KeyPresses, keyboards};
    use crate::pedal::learn::Pressed;
    use std::sync::mpsc::Sender;

    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(to: &Sender<Pressed>, sources: &mut Sources) {
        for (name, opened) in keyboards() {
            match opened {
                Ok(keyboard) => {
                    sources.names.push(name.clone());
                    let to = to.clone();
                    // Ends with the program: it waits for a key.
                    std::thread::spawn(move || read(keyboard, &to));
                }
                Err(why) => sources.closed.push((name, why)),
            }
        }
    }

    fn read(mut keyboard: KeyPresses, to: &Sender<Pressed>) {
        while let Some(key) = keyboard.next_press() {
            let pressed = Pressed::Key {
                device: keyboard.device().to_string(),
                key,
            };
            if to.send(pressed).is_err() {
                return;
            }
        }
    }
}

#[cfg(not(feature = "evdev"))]
mod keys {
    use crate::daemon::commands::learn::Sources;
    use crate::pedal::learn::Pressed;
    use std::sync::mpsc::Sender;
    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(_: &Sender<Pressed>, _: &mut Sources) {}
}

#[cfg(feature = "midi-alsa")]
mod midi {
    use crate::daemon::commands::learn::Sources;
    use crate::device::midi_ports::listen_to_all;
    use crate::midi::MidiMessage;
    use crate::pedal::learn::Pressed;
    use crate::pedal::midi::Control;
    use std::sync::mpsc::Sender;

    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(to: &Sender<Pressed>, sources: &mut Sources) {
        let to = to.clone();
        let heard = move |port: &str, bytes: &[u8]| {
            let control =
                MidiMessage::from_bytes(bytes).and_then(|message| Control::pressed_by(&message));
            if let Some(control) = control {
                let port = port.to_string();
                let _ = to.send(Pressed::Midi { port, control });
            }
        };
        match listen_to_all(heard) {
            Ok(all) => {
                for (name, connection) in all {
                    sources.names.push(name);
                    sources.kept.push(Box::new(connection));
                }
            }
            Err(why) => sources.closed.push(("MIDI".into(), why)),
        }
    }
}

#[cfg(not(feature = "midi-alsa"))]
mod midi {
    use crate::daemon::commands::learn::Sources;
    use crate::pedal::learn::Pressed;
    use std::sync::mpsc::Sender;
    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(_: &Sender<Pressed>, _: &mut Sources) {}
}

#[cfg(feature = "gpio")]
mod lines {
    use crate::daemon::commands::learn::Sources;
    use crate::device::lines::PinLine;
    use crate::pedal::gpio::Watched;
    use crate::pedal::learn::Pressed;
    use std::sync::mpsc::Sender;

    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(names: &[String], to: &Sender<Pressed>, sources: &mut Sources) {
        for name in names {
            match Watched::take(&PinLine::new(name.as_str())) {
                Ok(line) => {
                    sources.names.push(name.clone());
                    let (to, name) = (to.clone(), name.clone());
                    // Ends with the program: it waits for an edge.
                    std::thread::spawn(move || {
                        while let Some(to_ground) = line.next_edge() {
                            let line = name.clone();
                            if to.send(Pressed::Line { line, to_ground }).is_err() {
                                return;
                            }
                        }
                    });
                }
                Err(why) => sources.closed.push((name.clone(), why)),
            }
        }
    }
}

#[cfg(not(feature = "gpio"))]
mod lines {
    use crate::daemon::commands::learn::Sources;
    use crate::pedal::learn::Pressed;
    use std::sync::mpsc::Sender;
    /// Tells of every press, each device on its own thread; what is open is kept in `sources`.
    pub fn listen(_: &[String], _: &Sender<Pressed>, _: &mut Sources) {}
}
