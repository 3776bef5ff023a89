//! MIDI ports of the ALSA sequencer, found by a part of their name, for the numbers change.
//!
//! Nobody tells that a port is gone: whoever has one open looks through the list of ports now and then.
//!
//! # Why are ports looked for, not announced?
//!
//! midir does not tell that a port is gone, and inotify does not tell that a grabbed
//! pedal may be opened. Looking once or twice a second costs nothing measurable and is the same for all.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)] // An adapter: it opens devices.

use midir::{MidiIO, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use std::time::Duration;

/// From one look at the ports to the next.
pub const LOOK_EVERY: Duration = Duration::from_millis(500);
/// The name under which we are seen.
pub const CLIENT: &str = "underfoot";

/// A port that is looked for by a part of its name, through a client that stays.
pub struct WantedPort<I> {
    name: String,
    client: Option<I>,
    open: fn() -> Result<I, String>,
}

impl<I: MidiIO> WantedPort<I>
where
    I::Port: Identified,
{
    /// The port whose name contains `name`, among those that a client of `open` sees.
    pub fn new(name: impl Into<String>, open: fn() -> Result<I, String>) -> WantedPort<I> {
        WantedPort {
            name: name.into(),
            client: None,
            open,
        }
    }

    /// Its name without numbers, and its id.
    ///
    /// # Errors
    /// In words, when there is no sequencer or no such port.
    pub fn find(&mut self) -> Result<(String, String), String> {
        let client = match &mut self.client {
            Some(client) => client,
            none => none.insert((self.open)()?),
        };
        named(client, &self.name).ok_or_else(|| format!("no MIDI port is named \"{}\"", self.name))
    }

    /// Whether the port of this id is still the one.
    ///
    /// # Errors
    /// In words, when it is not.
    pub fn still(&mut self, id: &str) -> Result<(), String> {
        match self.find() {
            Ok((_, found)) if found == id => Ok(()),
            Ok(_) => Err("it was plugged in anew".to_string()),
            Err(_) => Err("the port is gone".to_string()),
        }
    }
}

/// Whether there is a sequencer. The library writes to standard error each time there is none, so the device is tried
/// first.
fn is_there() -> Result<(), String> {
    const DEVICE: &str = "/dev/snd/seq";
    std::fs::File::options()
        .read(true)
        .write(true)
        .open(DEVICE)
        .map_err(|error| format!("no ALSA sequencer: {DEVICE}: {}", error.kind()))?;
    Ok(())
}

/// A client of the sequencer that listens.
///
/// # Errors
/// With the reason when there is no sequencer.
pub fn input() -> Result<MidiInput, String> {
    is_there()?;
    MidiInput::new(CLIENT).map_err(no_sequencer)
}

/// A client of the sequencer that sends.
///
/// # Errors
/// With the reason when there is no sequencer.
pub fn output() -> Result<MidiOutput, String> {
    is_there()?;
    MidiOutput::new(CLIENT).map_err(no_sequencer)
}

fn no_sequencer(error: midir::InitError) -> String {
    format!("no ALSA sequencer: {error}")
}

/// Sends to the port of this id; `label` is the name of our own port.
///
/// # Errors
/// In words, when it went, or did not let us.
pub fn connect_output(id: &str, label: &str) -> Result<MidiOutputConnection, String> {
    let output = output()?;
    let port = output.find_port_by_id(id).ok_or(WENT_AGAIN)?;
    output
        .connect(&port, label)
        .map_err(|error| error.to_string())
}

/// Listens to every port; what comes is told with the port's name. Dropping a connection ends it.
///
/// # Errors
/// When there is no sequencer.
pub fn listen_to_all(
    heard: impl Fn(&str, &[u8]) + Clone + Send + 'static,
) -> Result<Vec<(String, MidiInputConnection<()>)>, String> {
    let mut all = Vec::new();
    for (name, id) in ports(&input()?) {
        let input = input()?;
        let Some(port) = input.find_port_by_id(&id) else {
            continue;
        };
        let (heard, of) = (heard.clone(), name.clone());
        let take = move |_: u64, bytes: &[u8], (): &mut ()| heard(&of, bytes);
        if let Ok(connection) = input.connect(&port, "learn", take, ()) {
            all.push((name, connection));
        }
    }
    Ok(all)
}

/// Between being found and being opened.
pub const WENT_AGAIN: &str = "it went again";

/// The first port, by name, whose name contains `part`: name without numbers, and id.
fn named<I: MidiIO>(io: &I, part: &str) -> Option<(String, String)>
where
    I::Port: Identified,
{
    ports(io).into_iter().find(|(name, _)| name.contains(part))
}

/// A port that tells its id.
pub trait Identified {
    /// "client:port".
    fn id(&self) -> String;
}

impl Identified for midir::MidiInputPort {
    fn id(&self) -> String {
        midir::MidiInputPort::id(self)
    }
}

impl Identified for midir::MidiOutputPort {
    fn id(&self) -> String {
        midir::MidiOutputPort::id(self)
    }
}

/// The ports one can listen or send to, ours left out: name without numbers, and id. In the order of the names.
fn ports<I: MidiIO>(io: &I) -> Vec<(String, String)>
where
    I::Port: Identified,
{
    let mut ports: Vec<(String, String)> = io
        .ports()
        .iter()
        .filter_map(|port| {
            let name = io.port_name(port).ok()?;
            Some((without_numbers(&name).to_string(), port.id()))
        })
        .filter(|(name, _)| !name.starts_with(CLIENT))
        .collect();
    ports.sort();
    ports
}

/// `Foot Board:Foot Board MIDI 1 20:0` without the numbers at its end.
fn without_numbers(name: &str) -> &str {
    match name.rsplit_once(' ') {
        Some((rest, numbers))
            if numbers.contains(':')
                && numbers
                    .bytes()
                    .all(|byte| byte.is_ascii_digit() || byte == b':') =>
        {
            rest
        }
        _ => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_s_name_is_what_does_not_change() {
        for (name, told) in [
            (
                "Foot Board:Foot Board MIDI 1 20:0",
                "Foot Board:Foot Board MIDI 1",
            ),
            ("Foot Board:port 1 128:12", "Foot Board:port 1"),
            ("plain", "plain"),
            ("a b:c", "a b:c"),
        ] {
            assert_eq!(without_numbers(name), told);
        }
    }
}
