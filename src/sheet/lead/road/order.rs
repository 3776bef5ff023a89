//! The order of playing, and the endings in it.

use super::super::warnings::Warnings;

/// The order of playing.
#[derive(Debug, Default, PartialEq)]
pub(in crate::sheet) struct Road {
    /// Bars by index, in the order of playing.
    pub order: Vec<usize>,
    pub brackets: Vec<Bracket>,
    /// What was strange, by bar.
    pub remarks: Vec<(usize, String)>,
}

/// An ending: the bars under one bracket.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::sheet) struct Bracket {
    pub first: usize,
    pub last: usize,
    pub passes: Vec<u32>,
    /// Endings of the same repeat have the same group.
    pub group: usize,
}

impl Road {
    /// Hands the remarks on as warnings.
    pub(in crate::sheet) fn tell(
        &mut self,
        warnings: &mut Warnings,
        label: impl Fn(usize) -> String,
    ) {
        for (bar, what) in self.remarks.drain(..) {
            warnings.at(&label(bar), what);
        }
    }
}
