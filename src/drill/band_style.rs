//! How richly the band plays in a stage.

use super::help::{Comping, Drums, Help};

/// How richly the band plays: what helps a beginner to hear stays plain, what a player of tunes wants to play with is free.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum BandStyle {
    /// Every chord on its first beat, no push, the bass in two, no fill.
    Plain,
    /// Time and changes, always in the same place: a walking bass, comping in cells, no fill, no comment.
    #[default]
    Steady,
    /// As with people: fills into sections, comments, an arc over the choruses.
    Free,
}

impl BandStyle {
    /// The words of drills.
    pub(super) const WORDS: [(&'static str, BandStyle); 3] = [
        ("plain", BandStyle::Plain),
        ("steady", BandStyle::Steady),
        ("free", BandStyle::Free),
    ];

    /// Where a stage says nothing: plain where a figure of one or two degrees is learned, free where the player chooses
    /// and the whole band helps, else steady.
    pub(super) fn by_default(degrees: usize, is_open_choice: bool, help: &Help) -> BandStyle {
        let whole_band =
            help.comping == Comping::Full && help.bass && matches!(help.drums, Drums::Ride);
        if !is_open_choice && degrees <= 2 {
            BandStyle::Plain
        } else if is_open_choice && whole_band {
            BandStyle::Free
        } else {
            BandStyle::Steady
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::drill::{BandStyle, Drill};
    use crate::fault::Source;

    #[test]
    fn a_stage_has_the_band_that_it_needs_unless_it_says_which() {
        use BandStyle::{Free, Plain, Steady};
        let cases = [
            ("degrees = ['1']", Plain),
            ("degrees = ['1', '3']", Plain),
            ("degrees = ['1', '2', '3']", Steady),
            ("degrees = ['1', '3']\nfigure = []", Free),
            (
                "degrees = ['1', '3']\nfigure = []\nhelp = { comping = 'off' }",
                Steady,
            ),
            (
                "degrees = ['1', '3']\nfigure = []\nhelp = { drums = 'click' }",
                Steady,
            ),
            ("degrees = ['1']\nband = 'free'", Free),
            ("degrees = ['1']\nfigure = []\nband = 'plain'", Plain),
            ("degrees = ['1']\nband = 'steady'", Steady),
        ];
        for (stage, band) in cases {
            let text = format!("title = 'T'\n[[stage]]\nname = 's'\n{stage}");
            let source = Source {
                name: "drill",
                text: &text,
            };
            let drill = Drill::read(&source).unwrap_or_else(|faults| panic!("{faults:?}"));
            assert_eq!(drill.stages[0].band, band, "{stage}");
        }
        assert_eq!(Drill::just_play().stages[0].band, Free);
    }
}
