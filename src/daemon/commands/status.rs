//! `underfoot status`: how the running daemon is.

use super::output::stdout_failed;
use crate::daemon::args::{DaemonArgs, StatusArgs};
use crate::daemon::config::{Config, Overlay, socket_places};
use crate::daemon::files::{self, Failure};
use crate::daemon::status as socket;
use crate::fault::{printable, printable_lines};
use serde_json::Value;
use std::io::Write;
use std::path::PathBuf;

/// `underfoot status`.
///
/// # Errors
/// When no daemon answers or nobody says where (69), or the configuration that names its socket is wrong (78).
pub fn status(args: &StatusArgs, variable: &dyn Fn(&str) -> Option<String>) -> Result<(), Failure> {
    let answer = socket::ask(&sockets_of(&args.daemon, variable)?)?;
    let text = match (args.json, args.line) {
        (true, _) => answer.to_string(),
        (false, true) => printable(&one_line(&answer)),
        (false, false) => printable_lines(&readable(&answer)),
    };
    writeln!(std::io::stdout().lock(), "{text}").map_err(stdout_failed)
}

/// Where the daemon may listen.
pub(super) fn sockets_of(
    args: &DaemonArgs,
    variable: &dyn Fn(&str) -> Option<String>,
) -> Result<Vec<PathBuf>, Failure> {
    let flags = Overlay {
        socket: args.socket.clone(),
        ..Overlay::default()
    };
    let config = match files::config(args.config.as_deref(), variable, flags.clone()) {
        // The daemon runs on with what it had, and is asked just then.
        Err(_) if args.config.is_none() => {
            let mut config = Config::default();
            config.overlay(Overlay::from_environment(variable));
            config.overlay(flags);
            config
        }
        read => read?,
    };
    Ok(socket_places(&config.paths, variable))
}

fn text(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Null => "-".to_string(),
        other => other.to_string(),
    }
}

/// What came of the last reload.
fn reload(told: &Value) -> Vec<String> {
    let mut lines = Vec::new();
    for (key, word) in [
        ("taken", "taken over"),
        ("needs_restart", "needs a restart"),
    ] {
        let names = told[key].as_array().into_iter().flatten().map(text);
        let names: Vec<String> = names.collect();
        if !names.is_empty() {
            lines.push(format!("reload    {word}: {}", names.join(", ")));
        }
    }
    let fault = told["fault"].as_str();
    lines.extend(fault.map(|fault| format!("reload    not loaded: {fault}")));
    lines
}

/// Clicks, reference notes and words that came too late, where there were any.
fn late_cues(counters: &Value) -> Option<String> {
    let count = counters["late_cues"].as_u64().filter(|count| *count > 0)?;
    let worst_ms = counters["worst_late_cue_us"]
        .as_u64()
        .unwrap_or(0)
        .div_ceil(1_000);
    let cues = if count == 1 { "cue" } else { "cues" };
    Some(format!("{count} late {cues} (by up to {worst_ms} ms)"))
}

/// A status in one line: what is played, how it sounds, and what is amiss.
pub fn one_line(answer: &Value) -> String {
    let known = |key: &str| (!answer[key].is_null()).then(|| text(&answer[key]));
    let bar = known("bar").map(|bar| format!("bar {bar}"));
    let bpm = answer["bpm"]
        .as_f64()
        .map(|bpm| format!("{} bpm", bpm.round()));
    let played = [known("chart"), known("stage"), known("section"), bar, bpm];
    let played: Vec<String> = played.into_iter().flatten().collect();
    let jack = &answer["jack"];
    let mut sound = format!("jack {}", text(&jack["state"]));
    if let Some(rate) = jack["rate"].as_u64() {
        sound += &format!(" {rate} Hz");
    }
    match jack["xruns"].as_u64() {
        Some(1) => sound += " 1 xrun",
        Some(lost @ 2..) => sound += &format!(" {lost} xruns"),
        _ => {}
    }
    let mut amiss = Vec::new();
    for device in answer["devices"].as_array().into_iter().flatten() {
        if device["state"] != "present" {
            amiss.push(format!(
                "{} {}",
                text(&device["name"]),
                text(&device["state"])
            ));
        }
    }
    if answer["reload"]["fault"].is_string() {
        amiss.push("files with faults not loaded".to_string());
    }
    if answer["reload"]["needs_restart"]
        .as_array()
        .is_some_and(|names| !names.is_empty())
    {
        amiss.push("needs a restart".to_string());
    }
    amiss.extend(late_cues(&answer["counters"]));
    let parts = [
        text(&answer["state"]),
        played.join(", "),
        sound,
        amiss.join(", "),
    ];
    let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join("; ")
}

/// A status for a reader at a terminal: a line for each thing, what is unknown as a dash.
pub fn readable(answer: &Value) -> String {
    let mut lines: Vec<String> = ["state", "chart", "stage", "section", "bar"]
        .iter()
        .map(|key| format!("{key:9} {}", text(&answer[key])))
        .collect();
    // The tempo is kept in whole microseconds a quarter: 104 comes back as 104.00001.
    let bpm = answer["bpm"].as_f64();
    let bpm = bpm.map(|bpm| ((bpm * 10.0).round() / 10.0).to_string());
    let dotted = answer["dotted_bpm"].as_u64();
    let dotted = dotted.map_or(String::new(), |bpm| format!("{bpm} dotted quarters, "));
    lines.push(format!(
        "tempo     {dotted}{} bpm",
        bpm.as_deref().unwrap_or("-")
    ));
    let jack = &answer["jack"];
    let mut sound = format!("jack      {}", text(&jack["state"]));
    for (key, unit) in [
        ("rate", "Hz"),
        ("period_frames", "frames"),
        ("xruns", "xruns"),
    ] {
        let unit = match jack[key].as_u64() {
            Some(1) => unit.trim_end_matches('s'),
            _ => unit,
        };
        if !jack[key].is_null() {
            sound += &format!(", {} {unit}", text(&jack[key]));
        }
    }
    lines.push(sound);
    lines.extend(reload(&answer["reload"]));
    for device in answer["devices"].as_array().into_iter().flatten() {
        let error = device["last_error"].as_str();
        let error = error.map(|error| format!(" ({error})")).unwrap_or_default();
        let (name, state) = (text(&device["name"]), text(&device["state"]));
        lines.push(format!("{name:9} {state}{error}"));
    }
    for (name, count) in answer["counters"].as_object().into_iter().flatten() {
        if count.as_u64() != Some(0) {
            lines.push(format!("{name:9} {count}"));
        }
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_status_is_read_line_by_line() {
        let answer = json!({
            "state": "playing", "chart": "Ferry at Six", "stage": "roots on one", "section": "A", "bar": 3,
            "bpm": 104.000_013_866_668_52,
            "jack": {"state": "present", "rate": 48000, "period_frames": 64, "xruns": 1},
            "devices": [{"name": "serial", "state": "retrying", "last_error": "no such device"}],
            "counters": {"late_pages": 0, "dropped": 2},
            "reload": {"taken": ["[levels]", "[foot]"], "needs_restart": ["[paths]"], "fault": null},
        });
        assert_eq!(
            readable(&answer),
            "state     playing\n\
             chart     Ferry at Six\n\
             stage     roots on one\n\
             section   A\n\
             bar       3\n\
             tempo     104 bpm\n\
             jack      present, 48000 Hz, 64 frames, 1 xrun\n\
             reload    taken over: [levels], [foot]\n\
             reload    needs a restart: [paths]\n\
             serial    retrying (no such device)\n\
             dropped   2"
        );
        assert_eq!(
            one_line(&answer),
            "playing; Ferry at Six, roots on one, A, bar 3, 104 bpm; jack present 48000 Hz 1 xrun; serial retrying, needs a restart"
        );
        let late = json!({"counters": {"late_cues": 2, "worst_late_cue_us": 34_100}});
        assert_eq!(one_line(&late), "-; jack -; 2 late cues (by up to 35 ms)");
        let faults = json!({"reload": {"needs_restart": ["[paths]"], "fault": "a.toml:1:1: x"}});
        let told = "-; jack -; files with faults not loaded, needs a restart";
        assert_eq!(one_line(&faults), told);
        let compound = readable(&json!({"bpm": 93, "dotted_bpm": 62}));
        assert!(compound.contains("tempo     62 dotted quarters, 93 bpm"));
        let starting = readable(&json!({"state": "starting"}));
        assert!(starting.starts_with("state     starting\nchart     -\n"));
        assert!(starting.ends_with("jack      -"));
    }
}
