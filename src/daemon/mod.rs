//! Configuration, wiring, supervision, the status socket, and the offline renderer.

pub mod config;
