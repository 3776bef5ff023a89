//! The neck: tunings, the places of a note, and a way through a list of sets that the hand can play.

/// A place on the neck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct NeckPlace {
    /// The string; 1 is the highest.
    pub string: u8,
    /// The fret, counted from the capo; 0 is open.
    pub fret: u8,
    /// The MIDI key that sounds there.
    pub midi: u8,
}
