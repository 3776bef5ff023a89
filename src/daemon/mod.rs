//! Configuration, wiring, supervision, the status socket, and the offline renderer.

pub mod config;
pub mod events;
pub mod files;
pub mod render;
pub mod rig;
pub mod targets;
