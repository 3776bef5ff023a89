//! The player: the whole body of the audio callback, without any of JACK's types.
//!
//! Forbidden in everything [`Player::render`] reaches: to allocate, to free, to lock, to call the system, to
//! log, to panic. It works in sub-blocks of [`BLOCK_FRAMES`](super::BLOCK_FRAMES) on a grid that starts with the take, so the
//! size of the caller's blocks changes nothing.

mod body;
mod commands;
mod render;
mod transport;

pub use body::Player;
pub use render::Outputs;
