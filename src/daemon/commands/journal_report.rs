//! `underfoot journal report`: what was practised, as text, JSON, page or picture.

use super::journal::{Variable, failed, place, unreadable};
use super::output::{unwritable, write_text};
use crate::daemon::args::ReportArgs;
use crate::daemon::files::{Failure, exit};
use crate::daemon::whole_file::WholeFile;
use crate::journal::report::{self, PlayerLine, Report};
use crate::journal::{self, WallClock};
use std::path::Path;

/// `underfoot journal report`.
///
/// # Errors
/// Faults of the configuration (78); no journal, no such player, or a file that cannot be written (65).
pub(super) fn report(args: &ReportArgs, variable: Variable<'_>) -> Result<(), Failure> {
    let path = place(&args.place, variable)?;
    let db = journal::open_to_read(&path).map_err(|trouble| failed(&trouble))?;
    let unreadable = |error| unreadable(&path, &error);
    let now_ms = WallClock::new().now().wall_ms;
    let names: Vec<String> = journal::players(&db)
        .map_err(unreadable)?
        .into_iter()
        .map(|player| player.name)
        .collect();
    let player = match (&args.player, &names[..]) {
        (Some(name), _) => Some(name.clone()),
        (None, [only]) => Some(only.clone()),
        (None, _) => None,
    };
    let Some(player) = player else {
        let players = report::overview(&db, now_ms).map_err(unreadable)?;
        return show_all(args, &players, &report::day_of(now_ms));
    };
    let found = report::gather(&db, &player, now_ms, args.since).map_err(unreadable)?;
    let Some(report) = found else {
        let text = format!(
            "no player \"{player}\" in the journal (there are: {})",
            names.join(", ")
        );
        return Err(Failure::new(exit::DATA, text));
    };
    show(args, &report)
}

fn show(args: &ReportArgs, report: &Report) -> Result<(), Failure> {
    let undrawn = |error: Box<dyn std::error::Error>| {
        Failure::new(exit::SOFTWARE, format!("no picture: {error}"))
    };
    if let Some(path) = &args.html {
        write(path, report::html(report).map_err(undrawn)?.as_bytes())?;
    }
    if let Some(path) = &args.svg {
        write(path, report::svg(report).map_err(undrawn)?.as_bytes())?;
    }
    if let Some(path) = &args.png {
        write(path, &report::png(report).map_err(undrawn)?)?;
    }
    match (args.json, writes_files(args) && !args.text) {
        (true, _) => write_text(None, &format!("{}\n", report::json(report))),
        (false, true) => Ok(()),
        (false, false) => write_text(None, &report::text(report)),
    }
}

fn show_all(args: &ReportArgs, players: &[PlayerLine], today: &str) -> Result<(), Failure> {
    if args.svg.is_some() || args.png.is_some() {
        let names: Vec<&str> = players.iter().map(|player| player.name.as_str()).collect();
        let text = format!(
            "a picture is of one player: --player NAME ({})",
            names.join(", ")
        );
        return Err(Failure::new(exit::USAGE, text));
    }
    if let Some(path) = &args.html {
        write(path, report::html_overview(players, today).as_bytes())?;
    }
    match (args.json, args.html.is_some() && !args.text) {
        (true, _) => write_text(None, &format!("{}\n", report::json_overview(players))),
        (false, true) => Ok(()),
        (false, false) => write_text(None, &report::text_overview(players)),
    }
}

fn writes_files(args: &ReportArgs) -> bool {
    args.html.is_some() || args.svg.is_some() || args.png.is_some()
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    WholeFile::write(path, bytes).map_err(|error| unwritable(path, &error))
}
