//! What several tests share.

pub mod demo;
pub mod player;
pub mod practice;
pub mod program;
pub mod rig;
pub mod sound_file;
pub mod strings;
pub mod takes;
pub mod takes_played;

// Some of it is for the journal's tests alone.
#[cfg_attr(not(feature = "journal"), allow(dead_code))]
pub mod dice;
#[cfg(feature = "journal")]
pub mod power;
#[cfg(feature = "journal")]
pub mod practised;
#[cfg(feature = "journal")]
pub mod students;

#[cfg(feature = "jack")]
pub mod calm;
#[cfg(feature = "jack")]
pub mod daemon;
#[cfg(feature = "jack")]
pub mod delay;
#[cfg(feature = "jack")]
pub mod guitarist;
#[cfg(feature = "jack")]
pub mod jackd;
#[cfg(feature = "jack")]
pub mod recorder;
#[cfg(feature = "jack")]
pub mod sender;
#[cfg(feature = "jack")]
pub mod tape;
