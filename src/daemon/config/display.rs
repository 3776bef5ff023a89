//! The table `[display]`: screens and what stands on them.

use crate::display::Panel;
use crate::display::oled::{Controller, Geometry, OledBus, OledSettings};
use crate::display::screens::{Care, FramebufferWanted, Lcd, LcdWire};
use crate::drill::Names;
use crate::fault::settings::{flag, path, settings, text, word};
use crate::fault::{TableView, keys_of};
use std::path::PathBuf;
use std::time::Duration;

settings! {
    /// Screens and what stands on them.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Display {
        /// How notes are named, on screens and by the voice.
        names: Names = Names::English,
            word([("English", Names::English), ("German", Names::German), ("solfège", Names::Solfege)]);
        /// Whether necks are drawn for a left-handed player.
        left_handed: bool = false, flag;
        /// The screens.
        screens as "screen": Vec<Screen> = Vec::new(), screens;
    }
}

/// One screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Screen {
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

/// Reads the keys that a kind alone has.
type ReadKind = fn(&TableView<'_, '_>, Panel) -> Option<ScreenKind>;

const KINDS: [(&str, ReadKind); 5] = [
    ("terminal", |_, _| Some(ScreenKind::Terminal)),
    ("png", read_png),
    ("oled", read_oled),
    ("framebuffer", read_framebuffer),
    ("character", read_character),
];

fn screens(view: &TableView<'_, '_>, key: &'static str) -> Option<Vec<Screen>> {
    Some(view.tables(key).iter().filter_map(read_screen).collect())
}

fn read_screen(view: &TableView<'_, '_>) -> Option<Screen> {
    if view.get("kind").is_none() {
        view.missing("kind", "\"terminal\"");
    }
    let kind = view.one_of("kind", &KINDS.map(|kind| (kind.0, kind)));
    let size = view.one_of("size", &SIZES);
    let diagonal_mm = view.number("panel_mm", 10.0..=1000.0, "mm");
    let panel = Panel {
        panel_mm: diagonal_mm.map(|mm| mm as f32),
        ..size.unwrap_or(SIZES[0].1)
    };
    let care = read_care(view, kind.is_some_and(|(word, _)| word == "oled"));
    let is_read = kind.map(|(_, read)| read(view, panel));
    refuse_others(view, kind);
    view.finish();
    Some(Screen {
        kind: is_read??,
        panel,
        care,
    })
}

/// Faults for keys that only other kinds have; where the kind is not known, all keys are.
fn refuse_others(view: &TableView<'_, '_>, kind: Option<(&str, ReadKind)>) {
    let keys_of = |read: ReadKind| keys_of(|view| read(view, SIZES[0].1));
    let own = kind.map(|(_, read)| keys_of(read));
    let known: Vec<_> = KINDS
        .iter()
        .map(|(word, read)| (*word, keys_of(*read)))
        .collect();
    let mut others: Vec<&str> = known.iter().flat_map(|(_, keys)| keys.clone()).collect();
    others.sort_unstable();
    others.dedup();
    for key in others {
        let is_there = view.get(key).is_some();
        if is_there && own.as_ref().is_some_and(|own| !own.contains(&key)) {
            let of = known.iter().filter(|(_, keys)| keys.contains(&key));
            let of: Vec<&str> = of.map(|(word, _)| *word).collect();
            let rule = format!("{key} is for a screen of the kind {}", of.join(" or "));
            view.reader.fault(view.offset(key), rule);
        }
    }
}

fn read_png(view: &TableView<'_, '_>, _: Panel) -> Option<ScreenKind> {
    let dir = path(view, "dir").flatten();
    if dir.is_none() {
        view.missing("dir", "\"pages\"");
    }
    Some(ScreenKind::Png(dir?))
}

/// What spares a panel; for an OLED, whose pixels age, it is there without asking.
fn read_care(view: &TableView<'_, '_>, ages: bool) -> Care {
    let (dim_s, blank_min, shift_min) = if ages { (120, 10, 3) } else { (0, 0, 0) };
    let after =
        |amount: u64, unit_s: u64| (amount > 0).then(|| Duration::from_secs(amount * unit_s));
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

fn read_oled(view: &TableView<'_, '_>, panel: Panel) -> Option<ScreenKind> {
    let bus = view.need_string("bus", "\"/dev/i2c-1\"");
    let address = view.integer("address", 0x08..=0x77, "(an I2C address)");
    let dc = text(view, "dc");
    let reset = text(view, "reset");
    let x_offset = view.integer("x_offset", 0..=4, "columns");
    let upside_down = view.boolean("upside_down").unwrap_or(false);
    let contrast = view.integer("contrast", 1..=255, "");
    let drivers = [
        ("ssd1306", Controller::Ssd1306),
        ("ssd1309", Controller::Ssd1309),
        ("sh1106", Controller::Sh1106),
    ];
    if view.get("driver").is_none() {
        view.missing("driver", "\"ssd1306\"");
    }
    let controller = view.one_of("driver", &drivers);
    if panel.width > 128 || panel.height > 64 {
        let rule = "these controllers have 128x64 or 128x32 pixels";
        view.reader.fault(view.offset("size"), rule);
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
            let rule = "dc is a pin of a panel on SPI; this one is on I2C";
            view.reader.fault(view.offset("dc"), rule);
            return None;
        }
        (false, None) => OledBus::I2c {
            bus: bus.to_string(),
            address: address.unwrap_or(0x3c),
        },
    };
    Some(ScreenKind::Oled(OledSettings {
        controller: controller?,
        geometry: Geometry {
            x_offset,
            upside_down,
            ..Geometry::new(panel.width.min(128) as u8, panel.height.min(64) as u8)
        },
        bus,
        reset,
        contrast: contrast.unwrap_or(127),
    }))
}

fn read_framebuffer(view: &TableView<'_, '_>, _: Panel) -> Option<ScreenKind> {
    let console = text(view, "console").unwrap_or("/dev/tty1".to_string());
    let device = view.need_string("driver", "\"panel-mipi-dbi\"")?;
    Some(ScreenKind::Framebuffer(FramebufferWanted {
        device: device.value.to_string(),
        console: PathBuf::from(console),
    }))
}

fn read_character(view: &TableView<'_, '_>, _: Panel) -> Option<ScreenKind> {
    const LETTERS: [(&str, (usize, usize)); 4] = [
        ("16x2", (16, 2)),
        ("20x2", (20, 2)),
        ("20x4", (20, 4)),
        ("40x2", (40, 2)),
    ];
    let device = path(view, "device").flatten();
    let device = device.unwrap_or_else(|| PathBuf::from("/dev/lcd"));
    let (columns, rows) = view.one_of("letters", &LETTERS).unwrap_or((16, 2));
    let baud = view.integer("baud", 300..=4_000_000, "bits a second");
    if !device.is_absolute() {
        let rule = "device must be a device with its whole path";
        view.reader.fault(view.offset("device"), rule);
    }
    Some(ScreenKind::Character(Lcd {
        device,
        wire: baud.map_or(LcdWire::Kernel, LcdWire::Serial),
        columns,
        rows,
    }))
}
