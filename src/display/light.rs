//! How bright a screen is.

/// How bright a screen is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Light {
    /// As set.
    #[default]
    Full,
    /// Much less: nobody looks at it just now.
    Dim,
    Off,
}
