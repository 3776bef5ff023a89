//! `underfoot targets`: what analysis and drill say about every chord of a chart.

use super::output::stdout_failed;
use crate::chart::Chart;
use crate::daemon::args::TargetsArgs;
use crate::daemon::config::Overlay;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::targets::{self as listing, Asked};
use crate::drill::Drill;
use crate::plan::Material;
use std::io::{BufWriter, Write};

/// `underfoot targets`.
///
/// # Errors
/// Faults of chart and drill (65); a stage that is not there (64).
pub fn targets(args: &TargetsArgs) -> Result<(), Failure> {
    let read = if args.keep_going {
        Chart::read_tolerant
    } else {
        Chart::read
    };
    let (chart, drill) = files::both(
        files::read(&args.chart, read, exit::DATA),
        args.practised
            .drill
            .as_deref()
            .map(files::drill)
            .transpose(),
    )?;
    let config = files::config_apart(args.config.as_deref(), Overlay::default())?;
    let (neck, mut habits) = (config.neck(), config.harmony);
    for change in &args.trial {
        habits.trial = habits
            .trial
            .with(change)
            .map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    }
    let played = drill.clone().unwrap_or_else(Drill::just_play);
    let material = Material::new(chart, played, habits);
    let asked = Asked {
        stage: args.practised.stage.clone(),
        pass: args.pass,
        form: args.form,
        seed: args.seed,
        why: args.why,
        neck,
    };
    let lines = if args.json {
        listing::lines(&material, drill.as_ref(), &asked)
    } else if args.why {
        Ok(listing::reasons(&material, args.form))
    } else {
        listing::readable(&material, drill.as_ref(), &asked)
    };
    let lines = lines.map_err(|error| Failure::new(exit::USAGE, error.to_string()))?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    for line in lines {
        writeln!(out, "{line}").map_err(stdout_failed)?;
    }
    out.flush().map_err(stdout_failed)
}
