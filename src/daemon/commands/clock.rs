//! `underfoot clock`: what the box makes of a MIDI clock.
// It reads a file or standard input, and looks at the daemon now and then.
#![allow(clippy::disallowed_methods, clippy::disallowed_types)]

use super::output::stdout_failed;
use super::status::sockets_of;
use crate::clock::{PlayedTick, TICKS_PER_QUARTER, trace};
use crate::daemon::args::{ReplayArgs, WatchArgs};
use crate::daemon::files::{self, Failure, exit};
use crate::daemon::status as socket;
use crate::device::plain_file::open_plain;
use serde_json::{Value, json};
use std::io::{BufWriter, Read, Write};
use std::path::Path;
use std::time::{Duration, Instant};

/// The longest trace: three days of ticks at 120 quarters a minute.
const LONGEST_BYTES: u64 = 256 << 20;

/// `underfoot clock replay`.
///
/// # Errors
/// When the trace cannot be read (65): every faulty line is told, nothing else.
pub fn clock_replay(args: &ReplayArgs) -> Result<(), Failure> {
    let name = args.trace.display();
    let text =
        read(&args.trace).map_err(|why| Failure::new(exit::DATA, format!("{name}: {why}")))?;
    let messages = trace::read(&text).map_err(|faults| {
        let lines: Vec<String> = faults
            .iter()
            .map(|fault| format!("{name}: {fault}"))
            .collect();
        Failure::new(exit::DATA, lines.join("\n"))
    })?;
    let mut out = BufWriter::new(std::io::stdout().lock());
    let mut failed = None;
    trace::replay(&messages, args.hold_beats, |tick| {
        let wanted = args.ticks || tick.tick % TICKS_PER_QUARTER == 0;
        if wanted && failed.is_none() {
            failed = write_tick(&mut out, &tick, args.json).err();
        }
    });
    match failed {
        Some(error) => Err(stdout_failed(error)),
        None => out.flush().map_err(stdout_failed),
    }
}

/// How often `clock watch` looks: as often as the daemon publishes.
const LOOK_EVERY: Duration = Duration::from_millis(200);

/// `underfoot clock watch`.
///
/// # Errors
/// When no daemon answers (69), or the configuration that names its socket is wrong (78).
pub fn clock_watch(
    args: &WatchArgs,
    variable: &dyn Fn(&str) -> Option<String>,
) -> Result<(), Failure> {
    let places = sockets_of(&args.daemon, variable)?;
    let begun = Instant::now();
    let mut out = std::io::stdout().lock();
    loop {
        let answer = socket::ask(&places)?;
        let written = if args.json {
            writeln!(
                out,
                "{}",
                json!({"clock": answer["clock"], "bpm": answer["bpm"]})
            )
        } else {
            write!(out, "\r{}\x1b[K", watch_line(&answer))
        };
        written.and_then(|()| out.flush()).map_err(stdout_failed)?;
        if args
            .seconds
            .is_some_and(|seconds| begun.elapsed().as_secs_f64() >= seconds)
        {
            break;
        }
        std::thread::sleep(LOOK_EVERY);
    }
    if args.json {
        return Ok(());
    }
    writeln!(out).map_err(stdout_failed)
}

/// Source, state, tempo, jitter and lost ticks for a reader at a terminal.
fn watch_line(answer: &Value) -> String {
    let clock = &answer["clock"];
    let word = |key: &str| clock[key].as_str().unwrap_or("-").to_string();
    let number = |value: &Value| value.as_f64().unwrap_or(0.0);
    format!(
        "{:8} {:8} {:6.1} bpm  jitter {:5.2} ms  lost {}",
        word("source"),
        word("state"),
        number(&answer["bpm"]),
        number(&clock["jitter_ms"]),
        clock["lost"].as_u64().unwrap_or(0)
    )
}

fn write_tick(out: &mut impl Write, tick: &PlayedTick, json: bool) -> std::io::Result<()> {
    if json {
        return writeln!(out, "{}", trace::line(tick));
    }
    let tempo = tick.qpm.map_or("-".to_string(), |qpm| format!("{qpm:.2}"));
    let beat = tick.tick as f64 / TICKS_PER_QUARTER as f64;
    let (seconds, state) = (tick.at_s, tick.state.name());
    writeln!(
        out,
        "{seconds:12.4} s  beat {beat:9.3}  {tempo:>7} bpm  {state}"
    )
}

fn read(path: &Path) -> Result<String, String> {
    let unreadable = |error: std::io::Error| format!("cannot be read ({})", files::why(&error));
    let input: Box<dyn Read> = if path == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(open_plain(path).map_err(unreadable)?)
    };
    let mut text = String::new();
    let count = input
        .take(LONGEST_BYTES + 1)
        .read_to_string(&mut text)
        .map_err(unreadable)?;
    if count as u64 > LONGEST_BYTES {
        return Err(format!("is longer than {} MiB", LONGEST_BYTES >> 20));
    }
    Ok(text)
}
