//! The tables `[ear]` and `[judging]`.

use crate::fault::TableView;
use crate::fault::settings::{flag, number, settings, word};
use crate::judging::Rules;
use crate::listen::Instrument;

settings! {
    /// What listens.
    #[derive(Debug, Clone, Copy, PartialEq)]
    pub struct Ear {
        /// Whether it listens at all.
        on: bool = true, flag;
        /// What is plugged in.
        instrument: Instrument = Instrument::Guitar,
            word([("guitar", Instrument::Guitar), ("bass", Instrument::Bass), ("voice", Instrument::Voice)]);
        /// What the way round takes beyond what the server knows of, in ms.
        latency_ms: f64 = 0.0, number(-100.0..=100.0, "ms");
    }
}

settings! {
    /// When a note is right, and what is told.
    #[derive(Debug, Clone, PartialEq)]
    pub struct Judging {
        /// When a note is in time, right, or counted.
        rules: Rules = Rules::default(), rules;
        /// Whether the summary is spoken, too.
        spoken: bool = false, flag;
    }
}

fn rules(view: &TableView<'_, '_>, _: &'static str) -> Option<Rules> {
    Some(Rules::default().over(view))
}
