//! Connections: by what a port is, never by what it is called, unless the user says so.

use jack::{AudioIn, Client, MidiIn, PortFlags, PortSpec};

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

/// Connects the ports of ours that are there; gives what was refused.
pub(super) fn connect(client: &Client, name: &str, autoconnect: &Autoconnect) -> Vec<String> {
    let wanted = match autoconnect {
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
    };
    wanted
        .into_iter()
        .filter_map(|(port, other)| {
            let own = format!("{name}:{port}");
            client.port_by_name(&own)?;
            match is_input(port) {
                true => refusal(client, &other, &own),
                false => refusal(client, &own, &other),
            }
        })
        .collect()
}

fn is_input(port: &str) -> bool {
    matches!(port, "guitar_in" | "midi_in")
}

/// Our ports and what they are connected to by what it is.
fn physical(client: &Client) -> Vec<(&'static str, String)> {
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
fn matching(
    client: &Client,
    name: &str,
    port: &'static str,
    patterns: &[String],
) -> Vec<(&'static str, String)> {
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
