//! The table `[foot]`: switches, where they come from, and what they ask for.

use crate::display::screens::LampShows;
use crate::fault::{TableView, Text};
use crate::foot::{FootMap, Polarity, SwitchSettings, read_map};
use crate::pedal::SWITCHES;
use crate::pedal::midi::{Control, ControlKind};
use crate::pedal::settings::{GpioSettings, Protocol, Pull, SerialSettings};

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
    pub serial: Option<SerialSettings>,
    /// The control of each switch that has one, from `midi_in`, MIDI ports and a serial line with MIDI.
    pub midi: Vec<(u8, Control)>,
    /// MIDI ports to listen to besides, by a part of their names.
    pub midi_ports: Vec<String>,
    /// Keys of pedals that act as keyboards.
    pub pedals: Vec<PedalKey>,
    /// Switches on the board's own pins.
    pub gpio: Vec<GpioSettings>,
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

/// A lamp.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LampAt {
    pub shows: LampShows,
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

pub(super) fn read(view: &TableView<'_, '_>) -> Foot {
    let count = view.integer("switches", 1..=SWITCHES as i64, "switches");
    let count = count.unwrap_or(1);
    let mut switches = vec![SwitchSettings::default(); count];
    let mut told = Vec::new();
    for table in view.tables("switch") {
        let settings = SwitchSettings::default().over(&table);
        if let Some(number) = read_number(&table, "number", count) {
            if told.contains(&number) {
                let rule = format!("switch {number} is set twice");
                table.reader.fault(table.offset("number"), rule);
            }
            told.push(number);
            switches[usize::from(number) - 1] = settings;
        }
        table.finish();
    }
    let map = view.table("map");
    let map = map.map_or_else(|| FootMap::standard(count), |map| read_map(&map, count));
    let read_midi = |view: &TableView<'_, '_>| read_midi(view, count);
    let midi = read_apart(view, "midi", read_midi, |(a, one), (b, other)| {
        let any = one.channel.is_none() || other.channel.is_none();
        let same = (one.kind, one.number) == (other.kind, other.number);
        (same && (any || one.channel == other.channel)).then_some((*a, *b))
    });
    let serial = view.table("serial");
    let gpio = |view: &TableView<'_, '_>| read_gpio(view, &switches);
    Foot {
        keys: view
            .strings("keys")
            .map_or(KEYS[..count].to_vec(), |keys| read_keys(view, &keys, count)),
        serial: serial.and_then(|view| read_serial(&view, &midi)),
        midi,
        midi_ports: read_ports(view),
        pedals: read_apart(
            view,
            "pedal",
            |view| read_pedal(view, count),
            |a, b| ((&a.device, &a.key) == (&b.device, &b.key)).then_some((a.switch, b.switch)),
        ),
        gpio: read_apart(view, "gpio", gpio, |a, b| {
            (a.line == b.line).then_some((a.switch, b.switch))
        }),
        lamps: view.tables("lamp").iter().filter_map(read_lamp).collect(),
        map,
        switches,
    }
}

/// The number of a switch that there is.
fn read_number(view: &TableView<'_, '_>, key: &'static str, count: usize) -> Option<u8> {
    if view.get(key).is_none() {
        view.missing(key, "1");
    }
    view.integer(key, 1..=count as i64, "(the switches there are)")
}

fn read_keys(view: &TableView<'_, '_>, texts: &[Text<'_>], count: usize) -> Vec<char> {
    let reader = view.reader;
    let mut keys = Vec::new();
    for text in texts {
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

fn read_serial(view: &TableView<'_, '_>, midi: &[(u8, Control)]) -> Option<SerialSettings> {
    let port = view.need_string("port", "\"/dev/serial/by-id/...\"");
    let protocols = [
        ("lines", (Protocol::Board, 115_200)),
        // MIDI 1.0: 31.25 kbaud, 1 per cent.
        ("midi", (Protocol::Midi(midi.to_vec()), 31_250)),
    ];
    let protocol = view.one_of("protocol", &protocols);
    let (protocol, usual) = protocol.unwrap_or((Protocol::Board, 115_200));
    let baud = view.integer("baud", 300..=4_000_000, "bits a second");
    view.finish();
    let port = port?;
    if !port.value.starts_with('/') {
        let rule =
            "port must be a device with its whole path, best one of /dev/serial/by-id, which stays";
        view.reader.fault(port.span.start, rule);
    }
    Some(SerialSettings {
        path: port.value.to_string(),
        baud: baud.unwrap_or(usual),
        protocol,
    })
}

/// All tables of a list, with a fault where two switches come from the same place: `same` tells which two switches.
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

fn read_ports(view: &TableView<'_, '_>) -> Vec<String> {
    let names = view.strings("midi_ports").unwrap_or_default();
    for name in names.iter().filter(|name| name.value.trim().is_empty()) {
        let rule = "a MIDI port must be a part of its name, not empty";
        view.reader.fault(name.span.start, rule);
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

fn read_gpio(view: &TableView<'_, '_>, switches: &[SwitchSettings]) -> Option<GpioSettings> {
    let switch = read_number(view, "switch", switches.len());
    let line = view.need_string("line", "\"GPIO17\"");
    let pulls = [("up", Pull::Up), ("down", Pull::Down), ("none", Pull::None)];
    let pull = view.one_of("pull", &pulls).unwrap_or(Pull::Up);
    let to_ground = view.one_of("active", &[("low", true), ("high", false)]);
    let debounce = view.integer("kernel_debounce_ms", 0..=100, "ms");
    view.finish();
    let polarity = switches[usize::from(switch?) - 1].polarity;
    Some(GpioSettings {
        switch: switch?,
        line: line?.value.to_string(),
        pull,
        to_ground: to_ground.unwrap_or(true),
        kernel_debounce_ms: debounce.unwrap_or(0),
        closed_at_rest: polarity == Polarity::NormallyClosed,
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
    let control = read_control(view);
    view.finish();
    let at = match (line, port) {
        (Some(line), None) => LampPlace::Line(line.value.to_string()),
        (None, Some(port)) => {
            if view.get("control").is_none() {
                view.missing("control", "\"note 60\"");
            }
            let control = control?;
            let status = match control.kind {
                ControlKind::Note => 0x90,
                ControlKind::Controller => 0xb0,
                ControlKind::Program => {
                    let rule = "a lamp is a note or a controller: a program cannot be switched off";
                    view.reader.fault(view.offset("control"), rule);
                    return None;
                }
            };
            let message = [status | (control.channel.unwrap_or(1) - 1), control.number];
            LampPlace::Midi(port.value.to_string(), message)
        }
        _ => {
            let rule = "a lamp has a line of the board or a midi_port, one of them";
            view.reader.fault(view.offset("shows"), rule);
            return None;
        }
    };
    Some(LampAt { shows: shows?, at })
}

fn read_midi(view: &TableView<'_, '_>, count: usize) -> Option<(u8, Control)> {
    let switch = read_number(view, "switch", count);
    if view.get("control").is_none() {
        view.missing("control", "\"controller 64\"");
    }
    let control = read_control(view);
    view.finish();
    Some((switch?, control?))
}

/// A control, and its channel where that is told.
fn read_control(view: &TableView<'_, '_>) -> Option<Control> {
    let channel = view.integer("channel", 1..=16, "(MIDI channels)");
    let text = view.string("control")?;
    let read = text.value.parse::<Control>();
    let control = read.map_err(|error| view.reader.fault(text.span.start, error.to_string()));
    let control = control.ok()?;
    Some(Control {
        channel: channel.or(control.channel),
        ..control
    })
}
