//! `underfoot doctor`: what goes wrong in the field, each finding with its cure.

use super::output::stdout_failed;
use crate::daemon::args::DoctorArgs;
use crate::daemon::checkup;
use crate::daemon::config::Overlay;
use crate::daemon::config::socket_places;
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::status as socket;
use crate::doctor::{Finding, Grade, System, examine};
use crate::fault::printable;
use serde_json::json;
use std::io::Write;

/// `underfoot doctor`: tells every finding, the worst first.
///
/// # Errors
/// When playing is at risk (69), when there is no such system (65).
pub fn doctor(args: &DoctorArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    std::fs::read_dir(&args.root).map_err(|error| {
        let why = files::why(&error);
        Failure::new(
            exit::DATA,
            format!("{}: cannot be read ({why})", args.root.display()),
        )
    })?;
    let flags = Overlay {
        socket: args.daemon.socket.clone(),
        ..Overlay::default()
    };
    let config = files::config(args.daemon.config.as_deref(), variable, flags);
    let places = config
        .as_ref()
        .map(|config| socket_places(&config.paths, variable));
    let asked = checkup::asked(config.as_ref(), &args.root, variable);
    // Another system than the one that runs has no daemon to ask.
    let is_ours = args.root == std::path::Path::new("/");
    let places = places.unwrap_or_default();
    let told = is_ours.then(|| socket::ask(&places).ok()).flatten();
    let told = told.as_ref().map(checkup::told);
    let findings = examine(&System::read(&args.root, &asked), &asked, told.as_ref());
    let text = match args.json {
        true => findings.iter().map(line).collect::<Vec<_>>().join("\n"),
        false if findings.is_empty() => "OK".to_string(),
        false => findings.iter().map(readable).collect::<Vec<_>>().join("\n"),
    };
    if !text.is_empty() {
        writeln!(std::io::stdout().lock(), "{text}").map_err(stdout_failed)?;
    }
    match findings.iter().any(|finding| finding.grade == Grade::Risk) {
        true => Err(Failure::new(exit::UNAVAILABLE, "")),
        false => Ok(()),
    }
}

/// A finding in three lines.
fn readable(finding: &Finding) -> String {
    let (grade, what) = (finding.grade.name(), printable(&finding.what));
    let cure = printable(&finding.cure);
    format!(
        "{grade}: {what}\n      why: {}\n      do:  {cure}",
        finding.why
    )
}

/// A finding as programs read it.
fn line(finding: &Finding) -> String {
    let line = json!({
        "grade": finding.grade.name(),
        "rule": finding.rule,
        "what": finding.what,
        "why": finding.why,
        "cure": finding.cure,
    });
    line.to_string()
}
