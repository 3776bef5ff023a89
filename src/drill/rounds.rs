//! How a stage goes round, and when it gives way to the next.

use crate::fault::TableView;
use crate::fault::settings::{settings, whole};

/// When a stage gives way to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Advance {
    /// By foot.
    #[default]
    Foot,
    Passes,
    /// When it was right (out of time).
    Right,
    /// Once it is secure: it had its passes, and two choruses running went well.
    Ready,
}

/// What the player is asked to do in a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Phase {
    /// Hear the band, and the model tones where the stage has them.
    Listen,
    /// Sing what is asked for.
    Sing,
    /// Play what is asked for.
    Play,
    /// Rest: time goes on and the summary stands on the page.
    Breathe,
}

settings! {
    /// The cycle of a stage, in passes; the breath in bars. Listen once, play twice, breathe two bars: common practice, no
    /// source.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub struct Cycle {
        listen: u32 = 1, whole(0..=64, "passes");
        sing: u32 = 0, whole(0..=64, "passes");
        play: u32 = 2, whole(0..=64, "passes");
        /// Bars to breathe after each cycle; the summary stands there.
        breathe_bars: u32 = 2, whole(0..=64, "bars");
    }
}

impl Advance {
    /// The word for it; `pulse`: whether the stage is in time.
    pub(super) fn read(view: &TableView<'_, '_>, pulse: bool) -> Advance {
        let words = [
            ("foot", Advance::Foot),
            ("passes", Advance::Passes),
            ("right", Advance::Right),
            ("ready", Advance::Ready),
        ];
        let advance = view.one_of("advance", &words).unwrap_or_default();
        if advance == Advance::Right && pulse {
            let rule = "advance = \"right\" is for stages out of time (pulse = false)";
            view.fault("advance", rule);
        }
        advance
    }
}

impl Cycle {
    /// Passes before the first one that is played.
    pub fn before_playing(&self) -> u32 {
        self.listen + self.sing
    }

    /// Passes of one round; at least one.
    pub fn passes(&self) -> u32 {
        (self.before_playing() + self.play).max(1)
    }

    /// What is asked for in a pass of the stage, from 0.
    pub fn phase(&self, pass: u32) -> Phase {
        match pass % self.passes() {
            at if at < self.listen => Phase::Listen,
            at if at < self.before_playing() => Phase::Sing,
            _ => Phase::Play,
        }
    }

    /// The table of a stage's cycle.
    pub(super) fn read(view: &TableView<'_, '_>) -> Cycle {
        let unsaid = Cycle {
            listen: 0,
            sing: 0,
            play: 1,
            breathe_bars: 0,
        };
        let cycle = unsaid.over(view);
        if cycle.listen + cycle.sing + cycle.play == 0 {
            let rule = "the cycle has nothing to do: listen, sing or play at least one pass";
            view.reader.fault(view.span.start, rule);
        }
        view.finish();
        cycle
    }
}
