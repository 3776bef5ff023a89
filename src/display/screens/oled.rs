//! An OLED panel on the board's own bus.
//!
//! # Why is a panel asked every half second whether it is there?
//!
//! While nothing changes nothing is sent, and one that is pulled out
//! and pushed in again would stay dark. On SPI nobody answers, so there the page is sent again every two seconds.
#![allow(clippy::disallowed_methods)] // An adapter: it opens devices.

use super::super::bitmap::Bitmap;
use super::super::light::Light;
use super::super::oled::{I2cLink, Link, Oled, OledBus, OledSettings, SpiLink};
use super::super::page::Page;
use super::{Screen, ScreenError};
use crate::device::lines::{OutputLine, PinLine};
use linux_embedded_hal::spidev::{SpiModeFlags, SpidevOptions};
use linux_embedded_hal::{I2cdev, SpidevDevice};
use std::fmt;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How often a panel on I2C is asked whether it is still there: between a plug pulled and pushed in again lies more.
const KNOCK_EVERY: Duration = Duration::from_millis(500);
/// Every so many knocks, and for SPI (where nobody answers) every time, the whole page goes out again.
const KNOCKS_TO_RENEW: u32 = 60;
const SPI_RENEW_EVERY: Duration = Duration::from_secs(2);
/// The clock of the SPI bus: all three controllers take 10 MHz (SSD1306 13, "AC characteristics": 100 ns a cycle; from
/// memory); jumper wires like it slower.
const SPI_HZ: u32 = 4_000_000;

/// The panel as a screen.
pub struct OledScreen<L> {
    oled: Oled<L>,
    last: Option<Bitmap>,
    knocks: u32,
    what: String,
    /// Kept, so that the pin stays high.
    _reset: Option<OutputLine>,
}

/// Opens bus and pins. The panel is spoken to with the first page.
///
/// # Errors
/// [`ScreenError::Absent`] when one of them is not there or taken.
pub fn open_oled(settings: &OledSettings) -> Result<Box<dyn Screen>, ScreenError> {
    let reset = settings
        .reset
        .as_deref()
        .map(|name| pulse(&PinLine::new(name)))
        .transpose()?;
    match &settings.bus {
        OledBus::I2c { bus, address } => {
            let path = i2c_path(bus)?;
            let what = format!("OLED {address:#04x} on {}", path.display());
            let device = I2cdev::new(&path).map_err(|error| absent(&what, &error))?;
            Ok(screen(
                settings,
                I2cLink::new(device, *address),
                what,
                reset,
            ))
        }
        OledBus::Spi { bus, is_data } => {
            let what = format!("OLED on {}", bus.display());
            let mut device = SpidevDevice::open(bus).map_err(|error| absent(&what, &error))?;
            let options = SpidevOptions::new()
                .bits_per_word(8)
                .max_speed_hz(SPI_HZ)
                .mode(SpiModeFlags::SPI_MODE_0)
                .build();
            device
                .configure(&options)
                .map_err(|error| absent(&what, &error))?;
            let pin = OutputLine::take(&PinLine::new(is_data.as_str()), false)
                .map_err(|error| absent(&what, &error))?;
            Ok(screen(settings, SpiLink::new(device, pin), what, reset))
        }
    }
}

fn screen<L>(
    settings: &OledSettings,
    link: L,
    what: String,
    reset: Option<OutputLine>,
) -> Box<dyn Screen>
where
    L: Link + Send + 'static,
    L::Error: fmt::Display,
{
    Box::new(OledScreen {
        oled: Oled::new(
            link,
            settings.controller,
            settings.geometry,
            settings.contrast,
        ),
        last: None,
        knocks: 0,
        what,
        _reset: reset,
    })
}

impl<L> OledScreen<L> {
    fn refused(&self, error: impl fmt::Display) -> ScreenError {
        ScreenError::Refused {
            what: self.what.clone(),
            why: error.to_string(),
        }
    }
}

impl<L> Screen for OledScreen<L>
where
    L: Link + Send,
    L::Error: fmt::Display,
{
    fn show(&mut self, bitmap: &Bitmap, _: &Page) -> Result<(), ScreenError> {
        self.oled
            .show(bitmap)
            .map_err(|error| self.refused(error))?;
        self.last = Some(bitmap.clone());
        Ok(())
    }

    fn light(&mut self, light: Light) -> Result<(), ScreenError> {
        self.oled.light(light).map_err(|error| self.refused(error))
    }

    fn check_every(&self) -> Option<Duration> {
        Some(SPI_RENEW_EVERY.min(KNOCK_EVERY))
    }

    fn check(&mut self) -> Result<(), ScreenError> {
        self.knocks += 1;
        let answers = self.oled.link().is_acknowledged();
        let every = if answers {
            KNOCKS_TO_RENEW
        } else {
            (SPI_RENEW_EVERY.as_millis() / KNOCK_EVERY.as_millis()) as u32
        };
        let done = match &self.last {
            Some(last) if self.knocks.is_multiple_of(every) => self.oled.renew(last),
            _ if answers => self.oled.knock(),
            _ => Ok(()),
        };
        done.map_err(|error| self.refused(error))
    }
}

fn absent(what: &str, why: &dyn fmt::Display) -> ScreenError {
    ScreenError::Absent {
        what: what.to_string(),
        why: why.to_string(),
    }
}

/// Low for a millisecond, then high (SSD1306 8.9 asks for 3 µs at least; from memory).
fn pulse(line: &PinLine) -> Result<OutputLine, ScreenError> {
    let failed = |error: String| absent(&format!("reset line {line}"), &error);
    let mut pin = OutputLine::take(line, false).map_err(failed)?;
    std::thread::sleep(Duration::from_millis(1));
    pin.set(true).map_err(failed)?;
    std::thread::sleep(Duration::from_millis(1));
    Ok(pin)
}

/// The device of a bus that is named by its path or a part of its name. Numbers change when an overlay is added.
fn i2c_path(bus: &str) -> Result<PathBuf, ScreenError> {
    if bus.starts_with('/') {
        return Ok(PathBuf::from(bus));
    }
    let what = format!("I2C bus \"{bus}\"");
    let entries = std::fs::read_dir("/sys/class/i2c-dev").map_err(|error| absent(&what, &error))?;
    let mut names: Vec<(String, PathBuf)> = entries
        .flatten()
        .filter_map(|entry| {
            let name = std::fs::read_to_string(entry.path().join("name")).ok()?;
            let device = Path::new("/dev").join(entry.file_name());
            Some((name.trim().to_string(), device))
        })
        .collect();
    names.sort();
    let found = names.iter().find(|(name, _)| name.contains(bus));
    found.map(|(_, path)| path.clone()).ok_or_else(|| {
        let known: Vec<&str> = names.iter().map(|(name, _)| name.as_str()).collect();
        absent(&what, &format!("the buses there are: {}", known.join(", ")))
    })
}
