//! Where pages are shown.

mod png;

pub use png::{magnified, png_bytes};
