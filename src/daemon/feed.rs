//! What the practice journal is told of what the core records.

use crate::drill::quality_word;
use crate::journal::{Act, ChosenNotes, Entry, TakeBegin, VerdictOn};
use crate::judging::{Around, Choice, Timing, Verdict};
use crate::practice::{Core, Record, Recorded};

/// Turns records into entries of the journal.
#[derive(Debug, Default)]
pub struct Feed {
    /// Whose practice it is, from the next take on.
    pub player: String,
    /// The stage of the take that is known to the journal.
    stage: Option<String>,
}

impl Feed {
    /// The practice of this player.
    pub fn new(player: &str) -> Feed {
        Feed {
            player: player.to_string(),
            stage: None,
        }
    }

    /// Hands on what a record comes to; `at_ms`: milliseconds since the boot.
    pub fn take_in(
        &mut self,
        record: &Record,
        core: &Core,
        at_ms: i64,
        mut add: impl FnMut(Entry),
    ) {
        match &record.what {
            Recorded::Take { starts: true } => {
                let (chart, drill) = core.practised();
                self.stage = None;
                add(Entry::Begin(TakeBegin {
                    at_ms,
                    player: self.player.clone(),
                    chart: chart.to_string(),
                    drill: drill.to_string(),
                }));
                self.stage(record, at_ms, &mut add);
            }
            Recorded::Take { starts: false } => add(Entry::End { at_ms }),
            Recorded::Verdict(verdict, _, Some(around)) if verdict.want.is_some() => {
                self.stage(record, at_ms, &mut add);
                add(Entry::Verdict(verdict_on(verdict, around, at_ms)));
            }
            Recorded::Choice(choice) => {
                self.stage(record, at_ms, &mut add);
                add(Entry::Choice(chosen(choice, at_ms)));
            }
            Recorded::Foot {
                switch,
                gesture,
                action,
            } => add(Entry::Act(Act {
                at_ms,
                switch: *switch,
                gesture: gesture.name(),
                action: action.map_or("", |(action, ..)| action.name()),
            })),
            _ => {}
        }
    }

    /// A verdict comes late: its own stage counts, not the one that is played.
    fn stage(&mut self, record: &Record, at_ms: i64, add: &mut impl FnMut(Entry)) {
        if self.stage.as_ref() != Some(&record.stage) {
            self.stage = Some(record.stage.clone());
            let name = record.stage.clone();
            add(Entry::Stage { name, at_ms });
        }
    }
}

pub(super) fn verdict_on(verdict: &Verdict, around: &Around, at_ms: i64) -> VerdictOn {
    let chord = around.chord.as_ref();
    VerdictOn {
        at_ms,
        degree: verdict
            .want
            .map(|name| name.degree.to_string())
            .unwrap_or_default(),
        quality: chord
            .map_or("", |chord| quality_word(chord.quality()))
            .to_string(),
        key: around.key.map(|key| key.to_string()).unwrap_or_default(),
        root: chord
            .map(|chord| chord.root.to_string())
            .unwrap_or_default(),
        place: around.place.clone(),
        region: around.region.clone(),
        tempo_qpm: around.qpm,
        result: verdict.outcome.name(),
        timing: verdict.timing.map_or("", Timing::name),
        late_ms: verdict.late_ms,
        found: verdict.found,
    }
}

fn chosen(choice: &Choice, at_ms: i64) -> ChosenNotes {
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let degrees: Vec<String> = choice.degrees.iter().map(ToString::to_string).collect();
    ChosenNotes {
        at_ms,
        notes: count(choice.notes),
        degrees: degrees.join(" "),
        octaves: count(choice.octaves),
        positions: count(choice.positions),
        beats: count(choice.beats),
        off_beats: count(choice.off_beats),
        orders: count(choice.orders),
        repeated: count(choice.repeated),
    }
}
