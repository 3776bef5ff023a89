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
    /// The band's left, right and the cue to the playback ports whose full names match these regular
    /// expressions (extended POSIX, as the server reads them), in this order; inputs as with `Physical`.
    Patterns(Vec<String>),
}

/// The physical playback channels, in order.
pub(super) fn physical_playback(client: &Client) -> Vec<String> {
    audio_ports(client, None, PortFlags::IS_PHYSICAL | PortFlags::IS_INPUT)
}

fn audio_ports(client: &Client, pattern: Option<&str>, flags: PortFlags) -> Vec<String> {
    let kind = AudioIn::default().jack_port_type().to_string();
    in_order(client.ports(pattern, Some(&kind), flags))
}

/// Connects; gives what was refused.
pub(super) fn connect(client: &Client, name: &str, autoconnect: &Autoconnect) -> Vec<String> {
    let playback = match autoconnect {
        Autoconnect::None => return Vec::new(),
        Autoconnect::Physical => physical_playback(client),
        Autoconnect::Patterns(patterns) => patterns
            .iter()
            .filter(|pattern| !pattern.contains('\0'))
            .flat_map(|pattern| audio_ports(client, Some(pattern), PortFlags::IS_INPUT))
            .filter(|port| !port.starts_with(&format!("{name}:")))
            .collect(),
    };
    let capture = audio_ports(client, None, PortFlags::IS_PHYSICAL | PortFlags::IS_OUTPUT);
    let midi_kind = MidiIn::default().jack_port_type().to_string();
    let physical_out = PortFlags::IS_PHYSICAL | PortFlags::IS_OUTPUT;
    let midi = client.ports(None, Some(&midi_kind), physical_out);

    let own = |port: &str| format!("{name}:{port}");
    let mut wanted = Vec::new();
    if let Some(left) = playback.first() {
        wanted.push((own("out_l"), left.clone()));
        wanted.push((own("out_r"), playback.get(1).unwrap_or(left).clone()));
    }
    if let Some(cue) = playback.get(2) {
        wanted.push((own("cue"), cue.clone()));
    }
    wanted.extend(
        capture
            .first()
            .map(|guitar| (guitar.clone(), own("guitar_in"))),
    );
    wanted.extend(midi.into_iter().map(|source| (source, own("midi_in"))));
    wanted
        .into_iter()
        .filter_map(|(from, to)| refusal(client, &from, &to))
        .collect()
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
