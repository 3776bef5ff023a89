//! A panel as the configuration describes it.

use super::controller::{Controller, Geometry};
use std::path::PathBuf;

/// Where the panel is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OledBus {
    /// On I2C.
    I2c {
        /// `/dev/i2c-N`, or a part of the bus's name in `/sys/class/i2c-dev/*/name`, which stays.
        bus: String,
        /// 0x3c or 0x3d.
        address: u8,
    },
    Spi {
        /// `/dev/spidevN.M`.
        bus: PathBuf,
        /// The pin that tells pixels from commands.
        is_data: String,
    },
}

/// A panel as the configuration describes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OledSettings {
    pub controller: Controller,
    pub geometry: Geometry,
    pub bus: OledBus,
    /// The pin that resets it, where it is wired.
    pub reset: Option<String>,
    /// 1 to 255.
    pub contrast: u8,
}
