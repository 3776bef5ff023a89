//! Where pages are shown: the seam, one file a kind of screen, and the thread that runs one.

mod care;
mod character;
mod framebuffer;
mod lamp;
#[cfg(feature = "oled")]
mod oled;
mod png;
mod runner;
mod terminal;
mod worker;

pub use care::{Care, Light, Shift};
pub use character::{CharacterScreen, Lcd, LcdWire, letters};
pub use framebuffer::{Frame, FramebufferScreen, FramebufferWanted, Pixels};
#[cfg(feature = "gpio")]
pub use lamp::gpio_wire;
#[cfg(feature = "midi-alsa")]
pub use lamp::midi_wire;
pub use lamp::{Lamp, LampShows, LampWire};
#[cfg(feature = "oled")]
pub use oled::open_oled;
pub use png::{PngScreen, magnified, png_bytes};
pub use runner::Runner;
pub use terminal::{TerminalScreen, TextMode, braille, half_blocks, in_words, restore_terminal};
pub use worker::{FRAME_GAP, Open, Posted, READ_TIME, Report, Worker};

use super::bitmap::Bitmap;
use super::page::Page;
use std::time::Duration;

/// A display device. A new one is opened after an error, so it need not recover by itself.
pub trait Screen: Send {
    /// Puts a page on the device; when this returns, it is to be seen. A screen of letters may take the page's words instead of
    /// the pixels.
    ///
    /// # Errors
    /// [`ScreenError`] when the device did not take it.
    fn show(&mut self, bitmap: &Bitmap, page: &Page) -> Result<(), ScreenError>;

    /// How bright it is to be; [`Light::Full`] after it was opened. Devices without a light pass it over.
    ///
    /// # Errors
    /// [`ScreenError`] when the device did not take it.
    fn light(&mut self, light: Light) -> Result<(), ScreenError> {
        let _ = light;
        Ok(())
    }

    /// How often [`Screen::check`] is to be called while nothing new is shown; `None`: never.
    fn check_every(&self) -> Option<Duration> {
        None
    }

    /// Looks whether the device is still there and still shows the last page.
    ///
    /// # Errors
    /// [`ScreenError`] when it is not.
    fn check(&mut self) -> Result<(), ScreenError> {
        Ok(())
    }
}

/// Why a page could not be shown. Every one is tried again.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScreenError {
    /// The device is not there.
    #[error("{what} is not there: {why}")]
    Absent {
        /// Which device, directory or terminal.
        what: String,
        /// What the system said.
        why: String,
    },
    /// The device is there and did not take the page.
    #[error("{what} did not take the page: {why}")]
    Refused {
        /// Which device, directory or terminal.
        what: String,
        /// What the system said.
        why: String,
    },
}
