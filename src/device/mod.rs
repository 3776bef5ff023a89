//! How a device is: a lost one is a state, never an end.

#[cfg(any(feature = "gpio", feature = "oled"))]
pub mod lines;

/// Whether a device is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DeviceState {
    /// It was never there, or nobody looks for it.
    Absent,
    /// It is gone; it is looked for.
    Retrying,
    /// It works.
    Present,
}

impl DeviceState {
    /// The word for `status`.
    pub fn name(self) -> &'static str {
        match self {
            DeviceState::Absent => "absent",
            DeviceState::Retrying => "retrying",
            DeviceState::Present => "present",
        }
    }
}
