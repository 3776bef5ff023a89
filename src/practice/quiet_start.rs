//! The first take after the program came up is quieter than the kept level: an amplifier may have been turned up since.

use super::board::QuietStart;
use super::core::Core;
use crate::time::Frame;

impl Core {
    /// Has the first take begin quieter than the kept level.
    pub fn start_quietly(&mut self) {
        self.board.quiet_start = QuietStart::Ahead;
    }

    /// A take begins on `at`: the first one is quiet, the next is not.
    pub(super) fn begin_quietly(&mut self, at: Frame) {
        self.board.quiet_start = match self.board.quiet_start {
            QuietStart::Over => return,
            QuietStart::Ahead => QuietStart::Now,
            QuietStart::Now => QuietStart::Over,
        };
        self.send_levels(at);
    }

    /// The player chooses a level: from the one that is heard on, which is the kept one from now on.
    pub(super) fn end_quiet_start(&mut self) {
        let below_db = self.board.quiet_start.below_db();
        if self.board.quiet_start == QuietStart::Now {
            self.board.quiet_start = QuietStart::Over;
            self.session.level_by(-below_db);
        }
    }
}
