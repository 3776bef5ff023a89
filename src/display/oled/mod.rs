//! Small OLED panels: the driver for three controllers, over the traits of `embedded-hal`.
//!
//! A `Link` carries commands and pixels to the panel, by I2C or SPI. `Oled` knows what the panel holds and
//! sends only what is different: in each row of eight pixel lines the stretches that changed, close ones in one go.

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
pub use memory::{Memory, RUN_OVERHEAD, Run, runs};
pub use settings::{OledBus, OledSettings};
