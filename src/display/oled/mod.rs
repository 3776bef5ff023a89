//! Small OLED panels: the driver for three controllers, over the traits of `embedded-hal`.
//!
//! A `Link` carries commands and pixels to the panel, by I2C or SPI. `Oled` knows what the panel holds and
//! sends only what is different: in each row of eight pixel lines the stretches that changed, close ones in one go.
//!
//! # Why an OLED driver of our own?
//!
//! The crate for the SH1106 speaks the embedded-hal of before 1.0, and the one for the SSD1306
//! sends everything anew after a clear. Ours compares with what the panel holds, so a beat costs 24 bytes on the bus, not 1119;
//! that matters because the bus is heard in nearby amplifiers. The controllers in `tests/house/display/oled_panel` decode those bytes again.

mod controller;
#[cfg(feature = "oled")]
mod driver;
#[cfg(feature = "oled")]
mod link;
mod memory;
mod settings;

pub use super::light::Light;
pub use controller::{Controller, Geometry};
#[cfg(feature = "oled")]
pub use driver::Oled;
#[cfg(feature = "oled")]
pub use link::{I2cLink, Link, SpiError, SpiLink};
pub use memory::{Memory, PageRun, RUN_OVERHEAD, runs};
pub use settings::{OledBus, OledSettings};
