//! The page of the input.

use super::input_words::{input_lines, input_title};
use crate::device::{InputFault, InputReport};
use crate::display::Page;

/// What is known of the input while its page stands.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct InputPage {
    /// The newest; none before anything was told.
    pub report: Option<InputReport>,
    /// What was said of it last: the worst that is wrong, if anything.
    pub said: Option<Option<InputFault>>,
}

impl InputPage {
    /// The page as it stands.
    pub(super) fn page(&self) -> Page {
        Page::Message {
            title: input_title(self.report.as_ref()).to_string(),
            lines: self.report.as_ref().map_or(Vec::new(), input_lines),
        }
    }
}
