//! Naming a switch by pressing it: the lines for the configuration.
//!
//! Pure: what was seen comes as data.

use super::midi::Control;
use std::fmt::Write;

/// What was pressed.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Pressed {
    /// A key of a pedal that acts as a keyboard.
    Key {
        /// The device, by a path or name that stays.
        device: String,
        /// The kernel's name of the key.
        key: String,
    },
    /// A control of a MIDI foot board.
    Midi { port: String, control: Control },
    /// A line of the board.
    Line {
        line: String,
        /// Whether the level that it was pressed to is low.
        to_ground: bool,
    },
}

/// What has been pressed so far, each thing once: the first is switch 1.
#[derive(Debug, Clone, Default)]
pub struct Learned(Vec<Pressed>);

impl Learned {
    /// Takes a press; its number if it is new.
    pub fn take(&mut self, pressed: Pressed) -> Option<usize> {
        if self.0.contains(&pressed) || self.0.len() == super::SWITCHES {
            return None;
        }
        self.0.push(pressed);
        Some(self.0.len())
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.0.len()
    }

    /// The lines for the configuration.
    pub fn lines(&self) -> String {
        let mut text = format!("[foot]\nswitches = {}\n", self.0.len().max(1));
        let mut ports: Vec<&String> = Vec::new();
        let mut pedals: Vec<(&String, Vec<(usize, &String)>)> = Vec::new();
        for (index, pressed) in self.0.iter().enumerate() {
            match pressed {
                Pressed::Midi { port, .. } if !ports.contains(&port) => ports.push(port),
                Pressed::Key { device, key } => {
                    match pedals.iter_mut().find(|(known, _)| *known == device) {
                        Some((_, keys)) => keys.push((index + 1, key)),
                        None => pedals.push((device, vec![(index + 1, key)])),
                    }
                }
                _ => {}
            }
        }
        if !ports.is_empty() {
            let _ = writeln!(text, "midi_ports = {ports:?}");
        }
        for (device, keys) in pedals {
            for (switch, key) in keys {
                let _ = write!(
                    text,
                    "\n[[foot.pedal]]\nswitch = {switch}\ndevice = {device:?}\nkey = {key:?}\n"
                );
            }
        }
        for (index, pressed) in self.0.iter().enumerate() {
            let switch = index + 1;
            let _ = match pressed {
                Pressed::Midi { control, .. } => {
                    let text_of = control.to_string();
                    let (control, channel) = match text_of.split_once(" channel ") {
                        Some((control, channel)) => (control, Some(channel)),
                        None => (text_of.as_str(), None),
                    };
                    let channel =
                        channel.map_or(String::new(), |channel| format!("channel = {channel}\n"));
                    write!(
                        text,
                        "\n[[foot.midi]]\nswitch = {switch}\ncontrol = {control:?}\n{channel}"
                    )
                }
                Pressed::Line { line, to_ground } => {
                    let active = if *to_ground { "low" } else { "high" };
                    write!(
                        text,
                        "\n[[foot.gpio]]\nswitch = {switch}\nline = {line:?}\nactive = {active:?}\n"
                    )
                }
                Pressed::Key { .. } => Ok(()),
            };
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_pressed_becomes_a_configuration_that_is_read() {
        let key = |key: &str| Pressed::Key {
            device: "/dev/input/by-id/usb-Two \"Step\"-event-kbd".into(),
            key: key.into(),
        };
        let mut learned = Learned::default();
        assert_eq!(learned.take(key("KEY_PAGEUP")), Some(1));
        assert_eq!(learned.take(key("KEY_PAGEUP")), None, "each once");
        let midi = Pressed::Midi {
            port: "Board:Board MIDI 1".into(),
            control: "controller 64 channel 2".parse().unwrap(),
        };
        assert_eq!(learned.take(midi), Some(2));
        assert_eq!(learned.take(key("KEY_PAGEDOWN")), Some(3));
        let line = Pressed::Line {
            line: "GPIO17".into(),
            to_ground: true,
        };
        assert_eq!(learned.take(line), Some(4));
        let text = learned.lines();
        let source = crate::fault::Source {
            name: "learned",
            text: &text,
        };
        let config = crate::daemon::config::Config::read(&source).unwrap();
        assert_eq!(config.foot.switches.len(), 4);
        assert_eq!(config.foot.pedals.len(), 2);
        assert_eq!(config.foot.pedals[1].switch, 3);
        assert_eq!(config.foot.midi[0].1.channel, Some(2));
        assert_eq!(config.foot.midi_ports, ["Board:Board MIDI 1"]);
        assert_eq!(config.foot.gpio[0].line, "GPIO17");
    }
}
