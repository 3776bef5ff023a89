//! What a recording is judged by, and the lines of the verdicts.

use crate::chart::Chart;
use crate::daemon::args::ListenArgs;
use crate::daemon::events::verdict_fields;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::targets::stage_index;
use crate::harmony::Habits;
use crate::judging::{
    HeardNote, Judged, NoteName, Outcome, Rules, StageTake, Timing, Verdict, judge, wanted_in,
};
use crate::listen::Heard;
use crate::plan::{Loop, Material, Standing};
use crate::time::UsPerQuarter;
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;

/// Chart, drill and stage.
pub(super) struct ListenTask {
    material: Arc<Material>,
    plan: StageTake,
    first_bar_ms: f64,
}

impl ListenTask {
    /// Reads chart and drill.
    ///
    /// # Errors
    /// Their faults (65); a stage that is not there (64).
    pub(super) fn read(chart: &Path, args: &ListenArgs) -> Result<ListenTask, Failure> {
        let (chart, drill) = files::both(
            files::read(chart, Chart::read, exit::DATA),
            args.drill.as_deref().map(files::drill).transpose(),
        )?;
        let drill = drill.unwrap_or_else(crate::drill::Drill::just_play);
        let stage = stage_index(&drill, args.stage.as_deref())
            .map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
        let tempo = UsPerQuarter::from_qpm(args.tempo.unwrap_or(chart.tempo_qpm));
        let material = Material::new(chart, drill, Habits::default()).with_seed(args.seed);
        let looping = if args.form { Loop::Form } else { Loop::Item(0) };
        Ok(ListenTask {
            material: Arc::new(material),
            plan: StageTake {
                standing: Standing {
                    looping,
                    stage,
                    ..Standing::first()
                },
                tempo,
                seed: args.seed,
                until_ms: 0.0,
            },
            first_bar_ms: args.first_bar * 1000.0,
        })
    }

    /// The verdicts on what was heard in a recording of `frames` frames, then one line about the whole.
    pub(super) fn lines(
        mut self,
        heard: &[(Heard, Option<u64>)],
        frames: usize,
        rate: u32,
        json: bool,
    ) -> Vec<String> {
        let ms = |frame: u64| frame as f64 * 1000.0 / f64::from(rate) - self.first_bar_ms;
        let played: Vec<HeardNote> = heard
            .iter()
            .map(|(heard, off)| HeardNote {
                onset_ms: ms(heard.onset),
                off_ms: off.map(ms),
                midi: heard.midi,
                cents: f64::from(heard.cents),
                confidence: heard.confidence,
                also: heard.also,
                struck: heard.struck,
            })
            .collect();
        self.plan.until_ms = ms(frames as u64);
        let wanted = wanted_in(&self.material, &self.plan);
        let judged = judge(&wanted, &played, &Rules::default());
        let mut lines: Vec<String> = judged
            .verdicts
            .iter()
            .map(|verdict| line(verdict, json))
            .collect();
        lines.push(whole(&judged, json));
        lines
    }
}

fn line(verdict: &Verdict, json: bool) -> String {
    if json {
        let mut fields = verdict_fields(verdict);
        fields["at_ms"] = json!(verdict.at_ms);
        return fields.to_string();
    }
    let note = |name: Option<NoteName>| name.map_or("-".to_string(), |name| name.pitch.to_string());
    let late = verdict
        .late_ms
        .map_or(String::new(), |ms| format!("{ms:+.0} ms"));
    format!(
        "{:10.3} {:>3} {:10} {:>3} {late:>8} {}",
        verdict.at_ms / 1000.0,
        note(verdict.want),
        verdict.outcome.name(),
        note(verdict.got),
        verdict.timing.map_or("", Timing::name)
    )
}

fn whole(judged: &Judged, json: bool) -> String {
    let count = |outcome| {
        judged
            .verdicts
            .iter()
            .filter(|verdict| verdict.outcome == outcome)
            .count()
    };
    let (right, other) = (count(Outcome::Right), count(Outcome::Other));
    let all = judged.verdicts.len() - other;
    if json {
        let whole: Value = json!({
            "kind": "judged",
            "targets": all,
            "right": right,
            "others": other,
            "offset_ms": judged.offset_ms,
            "tuning_cents": judged.tuning_cents,
        });
        return whole.to_string();
    }
    let place = match judged.offset_ms {
        ms if ms >= 10.0 => format!(", sits {ms:.0} ms behind"),
        ms if ms <= -10.0 => format!(", sits {:.0} ms ahead", -ms),
        _ => String::new(),
    };
    format!("{right} of {all} right, {other} others{place}")
}
