//! What a screen is, whichever it is.

use super::super::bitmap::Bitmap;
use super::super::layout::Panel;
use super::super::light::Light;
use super::super::page::Page;
use std::time::Duration;

/// A display device. A new one is opened after an error, so it need not recover by itself.
pub trait Screen: Send {
    /// The size in which the next page is to be drawn, where `wanted` was asked for: a window may have another.
    fn panel(&mut self, wanted: Panel) -> Panel {
        wanted
    }

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

/// Why a page could not be shown. It is tried again, unless there is nothing left to try it on.
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
    /// It is gone and never comes back: a terminal whose window was closed, a pipe that nobody reads any more.
    #[error("{what} is gone: {why}")]
    Ended {
        /// Which terminal.
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
