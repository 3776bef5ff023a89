//! One thing that is wrong.

/// How bad it is. The order counts: the worst last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// It plays, but not as well as it could, or not for ever.
    Note,
    /// Playing is at risk.
    Risk,
}

impl Grade {
    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            Grade::Note => "note",
            Grade::Risk => "risk",
        }
    }
}

/// What is wrong, why it matters, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    pub grade: Grade,
    /// The rule, for programs: one word or two, with a hyphen.
    pub rule: &'static str,
    pub what: String,
    pub why: &'static str,
    pub cure: String,
}

/// Rules of which the player is told all the same: what is practised would be lost.
const LOST: [&str; 4] = [
    "no-state",
    "state-read-only",
    "state-in-memory",
    "disk-full",
];

impl Finding {
    /// Whether it belongs on the page, where a player sees it who asks nobody.
    pub fn is_for_page(&self) -> bool {
        self.grade == Grade::Risk || LOST.contains(&self.rule)
    }

    /// Something for which playing is at risk.
    pub(super) fn risk(
        rule: &'static str,
        what: impl Into<String>,
        why: &'static str,
        cure: impl Into<String>,
    ) -> Finding {
        Finding {
            grade: Grade::Risk,
            rule,
            what: what.into(),
            why,
            cure: cure.into(),
        }
    }

    /// Something that should be better.
    pub(super) fn note(
        rule: &'static str,
        what: impl Into<String>,
        why: &'static str,
        cure: impl Into<String>,
    ) -> Finding {
        Finding {
            grade: Grade::Note,
            ..Finding::risk(rule, what, why, cure)
        }
    }
}
