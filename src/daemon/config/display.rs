//! The table `[display]`: screens and what stands on them.

use super::path;
use crate::display::Panel;
use crate::display::oled::{Controller, Geometry, OledBus, OledSettings};
use crate::display::screens::{Care, FramebufferWanted, Lcd, LcdWire};
use crate::drill::Names;
use crate::fault::{Reader, TableView};
use std::path::PathBuf;
use std::time::Duration;

/// Screens and what stands on them.
#[derive(Debug, Clone, PartialEq)]
pub struct Display {
    /// How notes are named, on screens and by the voice.
    pub names: Names,
    /// Whether necks are drawn for a left-handed player.
    pub left_handed: bool,
    /// The screens.
    pub screens: Vec<Screen>,
}

/// One screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Screen {
    /// What it is.
    pub kind: ScreenKind,
    /// Its pixels and its size, which decide how much can be read at the amp.
    pub panel: Panel,
    /// How it is spared.
    pub care: Care,
}

/// What a screen is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ScreenKind {
    /// Drawn in the terminal that the daemon runs in.
    Terminal,
    /// A file for each page, in this directory.
    Png(PathBuf),
    /// A small panel on the board's I2C or SPI bus.
    Oled(OledSettings),
    /// A panel or monitor with a kernel driver.
    Framebuffer(FramebufferWanted),
    /// A display of letters.
    Character(Lcd),
}

const SIZES: [(&str, Panel); 4] = [
    ("128x64", Panel::new(128, 64)),
    ("128x32", Panel::new(128, 32)),
    ("256x64", Panel::new(256, 64)),
    ("320x240", Panel::new(320, 240)),
];

/// The kinds, as they are written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Terminal,
    Png,
    Oled,
    Framebuffer,
    Character,
}

const KINDS: [(&str, Kind); 5] = [
    ("terminal", Kind::Terminal),
    ("png", Kind::Png),
    ("oled", Kind::Oled),
    ("framebuffer", Kind::Framebuffer),
    ("character", Kind::Character),
];

/// Keys that only some kinds have.
const ONLY: [(&str, &[Kind]); 13] = [
    ("dir", &[Kind::Png]),
    ("driver", &[Kind::Oled, Kind::Framebuffer]),
    ("bus", &[Kind::Oled]),
    ("address", &[Kind::Oled]),
    ("dc", &[Kind::Oled]),
    ("reset", &[Kind::Oled]),
    ("x_offset", &[Kind::Oled]),
    ("upside_down", &[Kind::Oled]),
    ("contrast", &[Kind::Oled]),
    ("console", &[Kind::Framebuffer]),
    ("device", &[Kind::Character]),
    ("baud", &[Kind::Character]),
    ("letters", &[Kind::Character]),
];

pub(super) fn read(
    reader: &Reader<'_>,
    view: Option<TableView<'_, '_>>,
    usual: Display,
) -> Display {
    let Some(view) = view else {
        return usual;
    };
    let names = [
        ("English", Names::English),
        ("German", Names::German),
        ("solfège", Names::Solfege),
    ];
    let screens = view.tables("screen");
    let display = Display {
        names: view.one_of("names", &names).unwrap_or(usual.names),
        left_handed: view.boolean("left_handed").unwrap_or(usual.left_handed),
        screens: screens
            .iter()
            .filter_map(|view| read_screen(reader, view))
            .collect(),
    };
    view.finish();
    display
}

fn read_screen(reader: &Reader<'_>, view: &TableView<'_, '_>) -> Option<Screen> {
    if view.get("kind").is_none() {
        view.missing("kind", "\"terminal\"");
    }
    let kind = view.one_of("kind", &KINDS);
    if let Some(kind) = kind {
        for (key, kinds) in ONLY {
            if view.get(key).is_some() && !kinds.contains(&kind) {
                let of: Vec<&str> = KINDS
                    .iter()
                    .filter(|(_, known)| kinds.contains(known))
                    .map(|(word, _)| *word)
                    .collect();
                let rule = format!("{key} is for a screen of the kind {}", of.join(" or "));
                reader.fault(view.offset(key), rule);
            }
        }
    }
    let size = view.one_of("size", &SIZES);
    let diagonal_mm = view.number("panel_mm", 10.0..=1000.0, "mm");
    let panel = Panel {
        panel_mm: diagonal_mm.map(|mm| mm as f32),
        ..size.unwrap_or(SIZES[0].1)
    };
    let care = read_care(view, kind == Some(Kind::Oled));
    // Each is read, whatever the kind, so that every key is known.
    let dir = path(view, "dir");
    let oled = read_oled(reader, view, kind == Some(Kind::Oled), panel);
    let framebuffer = read_framebuffer(view, kind == Some(Kind::Framebuffer));
    let character = read_character(reader, view, kind == Some(Kind::Character));
    if kind == Some(Kind::Png) && dir.is_none() {
        view.missing("dir", "\"pages\"");
    }
    view.finish();
    let kind = match kind? {
        Kind::Terminal => ScreenKind::Terminal,
        Kind::Png => ScreenKind::Png(dir?),
        Kind::Oled => ScreenKind::Oled(oled?),
        Kind::Framebuffer => ScreenKind::Framebuffer(framebuffer?),
        Kind::Character => ScreenKind::Character(character?),
    };
    Some(Screen { kind, panel, care })
}

/// What spares a panel; for an OLED, whose pixels age, it is there without asking.
fn read_care(view: &TableView<'_, '_>, ages: bool) -> Care {
    let (dim_s, blank_min, shift_min) = if ages { (120, 10, 3) } else { (0, 0, 0) };
    let after = |amount: i64, unit_s: u64| {
        (amount > 0).then(|| Duration::from_secs(amount as u64 * unit_s))
    };
    let dim = view.integer("dim_after_s", 0..=3600, "seconds");
    let blank = view.integer("blank_after_min", 0..=600, "minutes");
    let shift = view.integer("shift_after_min", 0..=600, "minutes");
    Care {
        dim_after: after(dim.unwrap_or(dim_s), 1),
        blank_after: after(blank.unwrap_or(blank_min), 60),
        shift_after: after(shift.unwrap_or(shift_min), 60),
        off_while_playing: view.boolean("off_while_playing").unwrap_or(false),
    }
}

fn read_oled(
    reader: &Reader<'_>,
    view: &TableView<'_, '_>,
    wanted: bool,
    panel: Panel,
) -> Option<OledSettings> {
    let bus = view.string("bus");
    let address = view.integer("address", 0x08..=0x77, "(an I2C address)");
    let dc = view.string("dc").map(|text| text.value.to_string());
    let reset = view.string("reset").map(|text| text.value.to_string());
    let x_offset = view.integer("x_offset", 0..=4, "columns");
    let upside_down = view.boolean("upside_down").unwrap_or(false);
    let contrast = view.integer("contrast", 1..=255, "");
    if !wanted {
        return None;
    }
    let drivers = [
        ("ssd1306", Controller::Ssd1306),
        ("ssd1309", Controller::Ssd1309),
        ("sh1106", Controller::Sh1106),
    ];
    if view.get("driver").is_none() {
        view.missing("driver", "\"ssd1306\"");
    }
    let controller = view.one_of("driver", &drivers);
    if bus.is_none() {
        view.missing("bus", "\"/dev/i2c-1\"");
    }
    if panel.width > 128 || panel.height > 64 {
        reader.fault(
            view.offset("size"),
            "these controllers have 128x64 or 128x32 pixels",
        );
    }
    let bus = bus?.value;
    let is_spi = bus.starts_with("/dev/spidev");
    let bus = match (is_spi, dc) {
        (true, Some(is_data)) => OledBus::Spi {
            bus: PathBuf::from(bus),
            is_data,
        },
        (true, None) => {
            view.missing("dc", "\"GPIO25\"");
            return None;
        }
        (false, Some(_)) => {
            reader.fault(
                view.offset("dc"),
                "dc is a pin of a panel on SPI; this one is on I2C",
            );
            return None;
        }
        (false, None) => OledBus::I2c {
            bus: bus.to_string(),
            address: address.unwrap_or(0x3c) as u8,
        },
    };
    Some(OledSettings {
        controller: controller?,
        geometry: Geometry {
            x_offset: x_offset.map(|columns| columns as u8),
            upside_down,
            ..Geometry::new(panel.width.min(128) as u8, panel.height.min(64) as u8)
        },
        bus,
        reset,
        contrast: contrast.unwrap_or(127) as u8,
    })
}

fn read_framebuffer(view: &TableView<'_, '_>, wanted: bool) -> Option<FramebufferWanted> {
    let console = view.string("console").map(|text| text.value);
    if !wanted {
        return None;
    }
    let driver = view.need_string("driver", "\"panel-mipi-dbi\"");
    Some(FramebufferWanted {
        device: driver?.value.to_string(),
        console: PathBuf::from(console.unwrap_or("/dev/tty1")),
    })
}

fn read_character(reader: &Reader<'_>, view: &TableView<'_, '_>, wanted: bool) -> Option<Lcd> {
    const LETTERS: [(&str, (usize, usize)); 4] = [
        ("16x2", (16, 2)),
        ("20x2", (20, 2)),
        ("20x4", (20, 4)),
        ("40x2", (40, 2)),
    ];
    let device = path(view, "device");
    let letters = view.one_of("letters", &LETTERS);
    let baud = view.integer("baud", 300..=4_000_000, "bits a second");
    if !wanted {
        return None;
    }
    let device = device.unwrap_or_else(|| PathBuf::from("/dev/lcd"));
    if !device.is_absolute() {
        reader.fault(
            view.offset("device"),
            "device must be a device with its whole path",
        );
    }
    let (columns, rows) = letters.unwrap_or((16, 2));
    Some(Lcd {
        device,
        wire: baud.map_or(LcdWire::Kernel, |baud| LcdWire::Serial(baud as u32)),
        columns,
        rows,
    })
}
