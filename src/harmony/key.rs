//! Keys and key signatures.

use super::Pitch;

/// Major or minor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Major.
    Major,
    /// Minor: the sixth and seventh move, the third does not.
    Minor,
}

/// A key: a tonic and a mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Key {
    /// The tonic.
    pub tonic: Pitch,
    /// Major or minor.
    pub mode: Mode,
}

/// What a chart declares: a key, or a bare signature that leaves the mode open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KeyDeclaration {
    /// `"G minor"`.
    Key(Key),
    /// `"3 flats"` is -3, `"1 sharp"` is 1, `"no sharps or flats"` is 0.
    Signature(i8),
}

/// A text that is no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" is no key (such as \"G minor\", \"Bb major\", \"3 flats\", \"no sharps or flats\")"
)]
pub struct KeyError(pub String);
