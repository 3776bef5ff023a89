//! What will come.

pub mod cues;
pub mod cursor;
pub mod material;
pub mod pass;
pub mod speech_room;
pub mod standing;
pub mod steps;
pub mod take;
pub mod timeline;
pub mod turns;

pub use material::Material;
pub use speech_room::{VoiceRoom, said_in_first_pass};
pub use standing::{Loop, Standing};
