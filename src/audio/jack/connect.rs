//! Connections: by what a port is, never by what it is called, unless the user says so.

use jack::{AudioIn, Client, MidiIn, PortFlags, PortId, PortSpec};
use std::time::{Duration, Instant};

/// What to connect to when the device opens.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Autoconnect {
    /// The physical ports: band to the first two playback channels (both sides to the only one), cue to the
    /// third where there is one, the first capture channel to the guitar, physical MIDI sources to `midi_in`.
    #[default]
    Physical,
    /// Nothing.
    None,
    /// Our ports by name, each to the ports whose full names match one of its regular expressions (extended POSIX, as
    /// the server reads them).
    Named {
        /// The ports and their expressions.
        ports: Vec<(&'static str, Vec<String>)>,
        /// Whether the ports that are not named are connected as with `Physical`.
        others_physical: bool,
    },
}

/// The physical playback channels, in order.
pub(super) fn physical_playback(client: &Client) -> Vec<String> {
    audio_ports(client, None, PortFlags::IS_PHYSICAL | PortFlags::IS_INPUT)
}

fn audio_ports(client: &Client, pattern: Option<&str>, flags: PortFlags) -> Vec<String> {
    let kind = AudioIn::default().jack_port_type().to_string();
    in_order(client.ports(pattern, Some(&kind), flags))
}

fn midi_ports(client: &Client, pattern: Option<&str>, flags: PortFlags) -> Vec<String> {
    let kind = MidiIn::default().jack_port_type().to_string();
    client.ports(pattern, Some(&kind), flags)
}

/// A port of ours and another's.
type PortPair = (&'static str, String);

/// How often a connection is tried: a program registers its ports a moment before the server lets them be connected.
const TRIES: u32 = 10;
const NEXT_TRY: Duration = Duration::from_millis(100);

/// The connections of the configuration, made as ports come. What the user takes apart stays so until its port goes
/// and comes again.
pub(super) struct Wiring {
    name: String,
    autoconnect: Autoconnect,
    made: Vec<PortPair>,
    tries: u32,
    next_try: Option<Instant>,
}

impl Wiring {
    /// For the client `name`, to begin at `now` with what is there.
    pub(super) fn new(name: &str, autoconnect: &Autoconnect, now: Instant) -> Wiring {
        Wiring {
            name: name.to_string(),
            autoconnect: autoconnect.clone(),
            made: Vec::new(),
            tries: TRIES,
            next_try: Some(now),
        }
    }

    /// Ports came: what is to be connected to them has not been yet.
    pub(super) fn look_at(&mut self, client: &Client, came: &[PortId], now: Instant) {
        let names = came
            .iter()
            .filter_map(|id| client.port_by_id(*id)?.name().ok());
        let names: Vec<String> = names.collect();
        self.made.retain(|(_, other)| !names.contains(other));
        (self.tries, self.next_try) = (TRIES, Some(now));
    }

    /// Connects what is due; gives what was refused for good.
    pub(super) fn tend(&mut self, client: &Client, now: Instant) -> Vec<String> {
        if self.next_try.is_none_or(|at| now < at) {
            return Vec::new();
        }
        let wanted = wanted(client, &self.name, &self.autoconnect);
        self.made.retain(|pair| wanted.contains(pair));
        let mut refused = Vec::new();
        for pair in wanted {
            if !self.made.contains(&pair) {
                match join(client, &self.name, &pair) {
                    None => self.made.push(pair),
                    Some(why) => refused.push(why),
                }
            }
        }
        self.tries = self.tries.saturating_sub(1);
        let again = !refused.is_empty() && self.tries > 0;
        self.next_try = again.then(|| now + NEXT_TRY);
        if again { Vec::new() } else { refused }
    }
}

/// What is to be connected of what is there.
fn wanted(client: &Client, name: &str, autoconnect: &Autoconnect) -> Vec<PortPair> {
    match autoconnect {
        Autoconnect::None => Vec::new(),
        Autoconnect::Physical => physical(client),
        Autoconnect::Named {
            ports,
            others_physical,
        } => {
            let mut wanted = if *others_physical {
                physical(client)
            } else {
                Vec::new()
            };
            for (port, patterns) in ports {
                wanted.retain(|(ours, _)| ours != port);
                wanted.extend(matching(client, name, port, patterns));
            }
            wanted
        }
    }
}

/// Connects the two; gives why not. That we have no such port is no refusal: not every command has all of them.
fn join(client: &Client, name: &str, (port, other): &PortPair) -> Option<String> {
    let own = format!("{name}:{port}");
    client.port_by_name(&own)?;
    match is_input(port) {
        true => refusal(client, other, &own),
        false => refusal(client, &own, other),
    }
}

fn is_input(port: &str) -> bool {
    matches!(port, "guitar_in" | "midi_in")
}

/// Our ports and what they are connected to by what it is.
fn physical(client: &Client) -> Vec<PortPair> {
    let playback = physical_playback(client);
    let sources = PortFlags::IS_PHYSICAL | PortFlags::IS_OUTPUT;
    let mut wanted = Vec::new();
    if let Some(left) = playback.first() {
        wanted.push(("out_l", left.clone()));
        wanted.push(("out_r", playback.get(1).unwrap_or(left).clone()));
    }
    wanted.extend(playback.get(2).map(|cue| ("cue", cue.clone())));
    let guitar = audio_ports(client, None, sources).into_iter().next();
    wanted.extend(guitar.map(|guitar| ("guitar_in", guitar)));
    let midi = midi_ports(client, None, sources);
    wanted.extend(midi.into_iter().map(|source| ("midi_in", source)));
    wanted
}

/// What a port of ours is connected to by name; never to ourselves.
fn matching(client: &Client, name: &str, port: &'static str, patterns: &[String]) -> Vec<PortPair> {
    let flags = match is_input(port) {
        true => PortFlags::IS_OUTPUT,
        false => PortFlags::IS_INPUT,
    };
    let own = format!("{name}:");
    let found = patterns
        .iter()
        .filter(|pattern| !pattern.contains('\0'))
        .flat_map(|pattern| match port.starts_with("midi") {
            true => midi_ports(client, Some(pattern), flags),
            false => audio_ports(client, Some(pattern), flags),
        });
    let others = found.filter(|other| !other.starts_with(&own));
    others.map(|other| (port, other)).collect()
}

fn refusal(client: &Client, from: &str, to: &str) -> Option<String> {
    match client.connect_ports_by_name(from, to) {
        Ok(()) | Err(jack::Error::PortAlreadyConnected(..)) => None,
        Err(error) => Some(format!("{from} was not connected to {to}: {error}")),
    }
}

/// The server does not promise an order. Clients stay in the order given; the ports of each are sorted by
/// name, numbers by value (2 before 10).
fn in_order(ports: Vec<String>) -> Vec<String> {
    let client_of = |port: &str| {
        port.split_once(':')
            .map_or("", |(client, _)| client)
            .to_string()
    };
    let mut clients: Vec<String> = Vec::new();
    for port in &ports {
        let client = client_of(port);
        if !clients.contains(&client) {
            clients.push(client);
        }
    }
    let mut ports = ports;
    ports.sort_by_key(|port| {
        let client = client_of(port);
        let stem = port.trim_end_matches(|c: char| c.is_ascii_digit());
        let number: u64 = port
            .get(stem.len()..)
            .and_then(|n| n.parse().ok())
            .unwrap_or(0);
        let place = clients.iter().position(|other| *other == client);
        (place, stem.to_string(), number)
    });
    ports
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ports_come_in_the_order_a_player_expects() {
        for (given, expected) in [
            ("s:p_2 s:p_10 s:p_1", "s:p_1 s:p_2 s:p_10"),
            (
                "usb:FR usb:FL hdmi:FL hdmi:FR",
                "usb:FL usb:FR hdmi:FL hdmi:FR",
            ),
            ("", ""),
        ] {
            let ports = given.split_whitespace().map(String::from).collect();
            assert_eq!(in_order(ports).join(" "), expected);
        }
    }
}
