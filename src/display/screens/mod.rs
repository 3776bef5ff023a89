//! Where pages are shown: the seam, one file a kind of screen, and the thread that runs one.

mod care;
mod character;
mod framebuffer;
mod lamp;
#[cfg(feature = "oled")]
mod oled;
mod png;
mod runner;
mod screen;
mod terminal;
mod worker;

pub use super::light::Light;
pub use care::{Care, PixelShift};
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
pub use screen::{Screen, ScreenError};
pub use terminal::{
    TerminalScreen, TextMode, half_blocks, in_words, quarter_blocks, restore_terminal,
};
pub use worker::{FRAME_GAP, Open, Posted, READ_TIME, Report, Worker};
