//! Configuration, wiring, supervision, the status socket, and the offline renderer.

pub mod events;
pub mod render;
pub mod rig;
