//! The table `[foot]`: switches, where they come from, and what they ask for.

use crate::display::screens::LampShows;
use crate::fault::{Reader, TableView, nearest_hint};
use crate::foot::{FootMap, SwitchSettings, read_map, read_switch};
use crate::pedal::SWITCHES;
use std::path::PathBuf;

/// Switches, where they come from, and what they ask for.
#[derive(Debug, Clone, PartialEq)]
pub struct Foot {
    /// Each switch, from the first.
    pub switches: Vec<SwitchSettings>,
    /// What the gestures ask for.
    pub map: FootMap,
    /// The key of each switch in the terminal.
    pub keys: Vec<char>,
    /// A foot board on a serial line.
    pub serial: Option<Serial>,
    /// MIDI messages that work switches, from `midi_in`, MIDI ports and a serial line with MIDI.
    pub midi: Vec<MidiBinding>,
    /// MIDI ports to listen to besides, by a part of their names.
    pub midi_ports: Vec<String>,
    /// Keys of pedals that act as keyboards.
    pub pedals: Vec<PedalKey>,
    /// Switches on the board's own pins.
    pub gpio: Vec<GpioSwitch>,
    /// Lamps.
    pub lamps: Vec<LampAt>,
}

/// A key of a pedal that acts as a keyboard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PedalKey {
    /// The switch, from 1.
    pub switch: u8,
    /// The device: a path, a part of its name, or `vendor:product`.
    pub device: String,
    /// The kernel's name of the key.
    pub key: String,
    /// Whether the device is taken for us alone.
    pub grab: bool,
}

/// A switch on a pin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GpioSwitch {
    /// The switch, from 1.
    pub switch: u8,
    /// The line's name.
    pub line: String,
    /// The resistor in the chip: to the supply, to ground, none.
    pub pull: Option<bool>,
    /// Whether low is down.
    pub to_ground: bool,
    /// The kernel's own debouncing, in ms; 0: none.
    pub kernel_debounce_ms: u32,
}

/// A lamp.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LampAt {
    /// What it shows.
    pub shows: LampShows,
    /// Where it is.
    pub at: LampPlace,
}

/// Where a lamp is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LampPlace {
    /// On a line of the board.
    Line(String),
    /// On a foot board: the port, and the message's first two bytes.
    Midi(String, [u8; 2]),
}

/// A foot board on a serial line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Serial {
    /// The device, by a name that stays: `/dev/serial/by-id/...`.
    pub port: PathBuf,
    /// Bits a second: 300 to 4,000,000.
    pub baud: u32,
    /// What comes over it.
    pub protocol: Protocol,
}

/// What comes over a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Protocol {
    /// Our lines, a switch and its edge each.
    Lines,
    /// MIDI bytes.
    Midi,
}

/// A MIDI control that works a switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MidiBinding {
    /// The switch, from 1.
    pub switch: u8,
    /// The control.
    pub control: MidiControl,
    /// The channel, 1 to 16; `None`: any.
    pub channel: Option<u8>,
}

/// A MIDI control (MIDI 1.0, numbers from 0 to 127).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MidiControl {
    /// A note: down with note on, up with note off or velocity 0.
    Note(u8),
    /// A controller: down from 64 on.
    Controller(u8),
    /// A program change: a press without an end.
    Program(u8),
}

const KEYS: [char; SWITCHES] = ['1', '2', '3', '4', '5', '6', '7', '8'];

impl Default for Foot {
    fn default() -> Foot {
        Foot {
            switches: vec![SwitchSettings::default()],
            map: FootMap::standard(1),
            keys: KEYS[..1].to_vec(),
            serial: None,
            midi: Vec::new(),
            midi_ports: Vec::new(),
            pedals: Vec::new(),
            gpio: Vec::new(),
            lamps: Vec::new(),
        }
    }
}

pub(super) fn read(reader: &Reader<'_>, view: Option<TableView<'_, '_>>) -> (Foot, Vec<String>) {
    let Some(view) = view else {
        return (Foot::default(), Vec::new());
    };
    let count = view.integer("switches", 1..=SWITCHES as i64, "switches");
    let count = count.unwrap_or(1) as usize;
    let mut switches = vec![SwitchSettings::default(); count];
    let mut told = Vec::new();
    for table in view.tables("switch") {
        let settings = read_switch(&table);
        let number = read_number(&table, "number", count);
        if let Some(number) = number {
            if told.contains(&number) {
                reader.fault(
                    table.offset("number"),
                    format!("switch {number} is set twice"),
                );
            }
            told.push(number);
            switches[usize::from(number) - 1] = settings;
        }
        table.finish();
    }
    let map = view.table("map");
    let map = map.map_or_else(
        || FootMap::standard(count),
        |map| read_map(reader, &map, count),
    );
    let read_midi = |view: &TableView<'_, '_>| read_midi(view, count);
    let foot = Foot {
        keys: read_keys(reader, &view, count),
        serial: view.table("serial").and_then(|view| read_serial(&view)),
        midi: read_apart(&view, "midi", read_midi, same_midi),
        midi_ports: read_ports(reader, &view),
        pedals: read_apart(&view, "pedal", |view| read_pedal(view, count), same_pedal),
        gpio: read_apart(&view, "gpio", |view| read_gpio(view, count), same_pin),
        lamps: read_all(&view, "lamp", read_lamp),
        switches,
        map,
    };
    view.finish();
    let cautions = foot.map.cautions(&foot.switches);
    (foot, cautions)
}

/// The number of a switch that there is.
fn read_number(view: &TableView<'_, '_>, key: &'static str, count: usize) -> Option<u8> {
    if view.get(key).is_none() {
        view.missing(key, "1");
    }
    view.integer(key, 1..=count as i64, "(the switches there are)")
        .map(|number| number as u8)
}

fn read_keys(reader: &Reader<'_>, view: &TableView<'_, '_>, count: usize) -> Vec<char> {
    let Some(texts) = view.strings("keys") else {
        return KEYS[..count].to_vec();
    };
    let mut keys = Vec::new();
    for text in &texts {
        let mut characters = text.value.chars();
        match (characters.next(), characters.next()) {
            (Some(key), None) if keys.contains(&key) => {
                reader.fault(text.span.start, format!("the key \"{key}\" is there twice"));
            }
            (Some(key), None) => keys.push(key),
            _ => reader.fault(text.span.start, "a key must be one character"),
        }
    }
    if texts.len() != count {
        let rule = format!(
            "keys has {} keys for {count} switches: one each",
            texts.len()
        );
        reader.fault(view.offset("keys"), rule);
    }
    keys
}

fn read_serial(view: &TableView<'_, '_>) -> Option<Serial> {
    let port = view.need_string("port", "\"/dev/serial/by-id/...\"");
    let protocol = view
        .one_of(
            "protocol",
            &[("lines", Protocol::Lines), ("midi", Protocol::Midi)],
        )
        .unwrap_or(Protocol::Lines);
    let baud = view.integer("baud", 300..=4_000_000, "bits a second");
    view.finish();
    let port = port?;
    if !port.value.starts_with('/') {
        let rule =
            "port must be a device with its whole path, best one of /dev/serial/by-id, which stays";
        view.reader.fault(port.span.start, rule);
    }
    let usual = match protocol {
        Protocol::Lines => 115_200,
        // MIDI 1.0: 31.25 kbaud, 1 per cent.
        Protocol::Midi => 31_250,
    };
    Some(Serial {
        port: PathBuf::from(port.value),
        baud: baud.map_or(usual, |baud| baud as u32),
        protocol,
    })
}

fn read_all<T>(
    view: &TableView<'_, '_>,
    key: &'static str,
    read: impl Fn(&TableView<'_, '_>) -> Option<T>,
) -> Vec<T> {
    view.tables(key).iter().filter_map(read).collect()
}

/// The same with a fault where two switches come from the same place: `same` tells which two switches.
fn read_apart<T>(
    view: &TableView<'_, '_>,
    key: &'static str,
    read: impl Fn(&TableView<'_, '_>) -> Option<T>,
    same: impl Fn(&T, &T) -> Option<(u8, u8)>,
) -> Vec<T> {
    let mut all: Vec<T> = Vec::new();
    for table in view.tables(key) {
        let Some(one) = read(&table) else { continue };
        let shared = all.iter().find_map(|other| same(other, &one));
        if let Some((first, second)) = shared.filter(|(first, second)| first != second) {
            let rule = format!("switch {second} would come from where switch {first} comes from");
            table.reader.fault(table.offset("switch"), rule);
        }
        all.push(one);
    }
    all
}

fn same_midi(a: &MidiBinding, b: &MidiBinding) -> Option<(u8, u8)> {
    let channel = a.channel.is_none() || b.channel.is_none() || a.channel == b.channel;
    (a.control == b.control && channel).then_some((a.switch, b.switch))
}

fn same_pedal(a: &PedalKey, b: &PedalKey) -> Option<(u8, u8)> {
    ((&a.device, &a.key) == (&b.device, &b.key)).then_some((a.switch, b.switch))
}

fn same_pin(a: &GpioSwitch, b: &GpioSwitch) -> Option<(u8, u8)> {
    (a.line == b.line).then_some((a.switch, b.switch))
}

fn read_ports(reader: &Reader<'_>, view: &TableView<'_, '_>) -> Vec<String> {
    let names = view.strings("midi_ports").unwrap_or_default();
    for name in names.iter().filter(|name| name.value.trim().is_empty()) {
        reader.fault(
            name.span.start,
            "a MIDI port must be a part of its name, not empty",
        );
    }
    names.iter().map(|name| name.value.to_string()).collect()
}

fn read_pedal(view: &TableView<'_, '_>, count: usize) -> Option<PedalKey> {
    let switch = read_number(view, "switch", count);
    let device = view.need_string("device", "\"/dev/input/by-id/...\"");
    let key = view.need_string("key", "\"KEY_PAGEDOWN\"");
    let grab = view.boolean("grab").unwrap_or(true);
    view.finish();
    let (device, key) = (device?, key?);
    #[cfg(feature = "evdev")]
    if crate::pedal::evdev::key_code(key.value).is_none() {
        let rule = format!(
            "\"{}\" is no key of the kernel (as KEY_PAGEDOWN; \"underfoot learn\" tells which)",
            key.value
        );
        view.reader.fault(key.span.start, rule);
    }
    Some(PedalKey {
        switch: switch?,
        device: device.value.to_string(),
        key: key.value.to_string(),
        grab,
    })
}

fn read_gpio(view: &TableView<'_, '_>, count: usize) -> Option<GpioSwitch> {
    let switch = read_number(view, "switch", count);
    let line = view.need_string("line", "\"GPIO17\"");
    let pulls = [("up", Some(true)), ("down", Some(false)), ("none", None)];
    let pull = view.one_of("pull", &pulls).unwrap_or(Some(true));
    let to_ground = view.one_of("active", &[("low", true), ("high", false)]);
    let debounce = view.integer("kernel_debounce_ms", 0..=100, "ms");
    view.finish();
    Some(GpioSwitch {
        switch: switch?,
        line: line?.value.to_string(),
        pull,
        to_ground: to_ground.unwrap_or(true),
        kernel_debounce_ms: debounce.unwrap_or(0) as u32,
    })
}

fn read_lamp(view: &TableView<'_, '_>) -> Option<LampAt> {
    let kinds = [("beat", LampShows::Beat), ("state", LampShows::State)];
    if view.get("shows").is_none() {
        view.missing("shows", "\"beat\"");
    }
    let shows = view.one_of("shows", &kinds);
    let line = view.string("line");
    let port = view.string("midi_port");
    let control = view.string("control");
    let channel = view
        .integer("channel", 1..=16, "(MIDI channels)")
        .unwrap_or(1);
    view.finish();
    let at = match (line, port) {
        (Some(line), None) => LampPlace::Line(line.value.to_string()),
        (None, Some(port)) => {
            if control.is_none() {
                view.missing("control", "\"note 60\"");
            }
            let control = control?;
            let status = match read_control(control.value) {
                Ok(MidiControl::Note(number)) => [0x90, number],
                Ok(MidiControl::Controller(number)) => [0xb0, number],
                Ok(MidiControl::Program(_)) => {
                    let rule = "a lamp is a note or a controller: a program cannot be switched off";
                    view.reader.fault(control.span.start, rule);
                    return None;
                }
                Err(rule) => {
                    view.reader.fault(control.span.start, rule);
                    return None;
                }
            };
            let [status, number] = status;
            LampPlace::Midi(
                port.value.to_string(),
                [status | (channel - 1) as u8, number],
            )
        }
        _ => {
            let rule = "a lamp has a line of the board or a midi_port, one of them";
            view.reader.fault(view.offset("shows"), rule);
            return None;
        }
    };
    Some(LampAt { shows: shows?, at })
}

fn read_midi(view: &TableView<'_, '_>, count: usize) -> Option<MidiBinding> {
    let switch = read_number(view, "switch", count);
    let channel = view.integer("channel", 1..=16, "(MIDI channels)");
    let text = view.need_string("control", "\"controller 64\"");
    view.finish();
    let text = text?;
    let control = read_control(text.value)
        .map_err(|rule| view.reader.fault(text.span.start, rule))
        .ok();
    Some(MidiBinding {
        switch: switch?,
        control: control?,
        channel: channel.map(|channel| channel as u8),
    })
}

/// `note 60`, `controller 64`, `program 3`.
fn read_control(text: &str) -> Result<MidiControl, String> {
    type Kind = fn(u8) -> MidiControl;
    const KINDS: [(&str, Kind); 3] = [
        ("note", MidiControl::Note),
        ("controller", MidiControl::Controller),
        ("program", MidiControl::Program),
    ];
    let (word, number) = text.split_once(' ').unwrap_or((text, ""));
    let Some((_, kind)) = KINDS.iter().find(|(known, _)| *known == word) else {
        let hint = nearest_hint(word, KINDS.iter().map(|(known, _)| *known));
        return Err(format!(
            "\"{text}\" is no control (note, controller or program, and a number){hint}"
        ));
    };
    let number = number.parse::<u8>().ok().filter(|number| *number < 128);
    number
        .map(kind)
        .ok_or_else(|| format!("\"{text}\": the number must lie between 0 and 127"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn midi_controls_are_read() {
        let cases = [
            ("note 60", Ok(MidiControl::Note(60))),
            ("controller 0", Ok(MidiControl::Controller(0))),
            ("program 127", Ok(MidiControl::Program(127))),
            (
                "program 128",
                Err("\"program 128\": the number must lie between 0 and 127"),
            ),
            (
                "note",
                Err("\"note\": the number must lie between 0 and 127"),
            ),
            (
                "contoller 1",
                Err(
                    "\"contoller 1\" is no control (note, controller or program, and a number) (nearest: \"controller\")",
                ),
            ),
        ];
        for (text, read) in cases {
            assert_eq!(read_control(text), read.map_err(str::to_string), "{text}");
        }
    }
}
