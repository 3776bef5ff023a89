//! Recorded clocks: a line for each moment at which bytes came, and what the box would have played to them.
//!
//! # Why does a replayed tick know itself only when it sounds?
//!
//! Until that moment a message may still move it; what
//! comes later cannot. So a recording that is cut short gives the same lines up to the cut.

use super::{ClockMessage, Follower, PlayedTick, TICKS_PER_QUARTER};
use crate::midi::ByteParser;
use serde_json::{Value, json};

/// The most faults that are told of one trace.
const FAULTS: usize = 20;
/// The most bytes on a line.
const BYTES: usize = 1024;
/// Later than any clock: 30 years in microseconds.
const LATEST_US: f64 = 1e15;

/// A line of a trace that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}, column {column}: {rule}")]
pub struct TraceFault {
    /// From 1.
    pub line: usize,
    /// From 1, in characters.
    pub column: usize,
    /// What is asked of it.
    pub rule: &'static str,
}

/// Reads a trace: `<microseconds> <hex bytes>` a line, times not going back; empty lines and what follows a `#`
/// are passed over. Gives the messages of a clock with their times in microseconds.
///
/// # Errors
/// Every line that cannot be read, the first 20.
pub fn read(text: &str) -> Result<Vec<(f64, ClockMessage)>, Vec<TraceFault>> {
    let (mut messages, mut faults) = (Vec::new(), Vec::new());
    let mut parser = ByteParser::default();
    let mut last = f64::NEG_INFINITY;
    for (number, line) in text.lines().enumerate() {
        match read_line(line, last) {
            Ok(None) => {}
            Ok(Some((at_us, bytes))) => {
                last = at_us;
                let whole = bytes.iter().filter_map(|byte| parser.push(*byte));
                let clock = whole.filter_map(|message| ClockMessage::from_bytes(message.bytes()));
                messages.extend(clock.map(|message| (at_us, message)));
            }
            Err((column, rule)) if faults.len() < FAULTS => faults.push(TraceFault {
                line: number + 1,
                column,
                rule,
            }),
            Err(_) => {}
        }
    }
    if faults.is_empty() {
        Ok(messages)
    } else {
        Err(faults)
    }
}

type TraceLine = Result<Option<(f64, Vec<u8>)>, (usize, &'static str)>;

fn read_line(line: &str, last_us: f64) -> TraceLine {
    let line = line.split('#').next().unwrap_or_default();
    // Each word with its column, in characters from 1.
    let mut words = Vec::new();
    for word in line.split_whitespace().take(BYTES + 2) {
        let from = word.as_ptr() as usize - line.as_ptr() as usize;
        let before = line.get(..from).unwrap_or_default();
        words.push((before.chars().count() + 1, word));
    }
    let Some((&(column, time), rest)) = words.split_first() else {
        return Ok(None);
    };
    let at_us = time
        .parse::<f64>()
        .ok()
        .filter(|at| (0.0..LATEST_US).contains(at));
    let at_us = at_us.ok_or((column, "a time in microseconds, 0 or more, stands first"))?;
    if at_us < last_us {
        return Err((column, "times do not go back"));
    }
    if rest.is_empty() || rest.len() > BYTES {
        return Err((column, "1 to 1,024 bytes in hexadecimal follow the time"));
    }
    let mut bytes = Vec::new();
    for (column, word) in rest {
        let fault = (*column, "bytes are pairs of hexadecimal digits");
        if !word.len().is_multiple_of(2) || !word.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(fault);
        }
        for at in (0..word.len()).step_by(2) {
            let byte = word
                .get(at..at + 2)
                .and_then(|two| u8::from_str_radix(two, 16).ok());
            bytes.push(byte.ok_or(fault)?);
        }
    }
    if bytes.len() > BYTES {
        return Err((column, "1 to 1,024 bytes in hexadecimal follow the time"));
    }
    Ok(Some((at_us, bytes)))
}

/// Every tick that the box would have played to these messages (times in microseconds), those held after the
/// last one too.
pub fn replay(
    messages: &[(f64, ClockMessage)],
    hold_quarters: u32,
    mut give: impl FnMut(PlayedTick),
) {
    let mut follower = Box::new(Follower::new(hold_quarters));
    let mut due = |follower: &mut Follower, until_s: f64| {
        while follower.next_tick().is_some_and(|at_s| at_s <= until_s) {
            match follower.take_tick() {
                Some(tick) => give(tick),
                None => return,
            }
        }
    };
    for &(at_us, message) in messages {
        let at_s = at_us / 1e6;
        // A tick that is due at the very moment of a message is judged with it.
        due(&mut follower, at_s.next_down());
        follower.message(at_s, message);
        due(&mut follower, at_s);
    }
    due(&mut follower, f64::INFINITY);
}

/// A played tick as a line that programs read.
pub fn line(tick: &PlayedTick) -> Value {
    let at_us = tick.at_s * 1e6;
    json!({
        "time_us": at_us,
        // The box decides at the moment at which it plays: until then a message may still move the tick.
        "known_us": at_us,
        "beat": tick.tick as f64 / TICKS_PER_QUARTER as f64,
        "bpm": tick.qpm,
        "state": tick.state.name(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn traces_are_read_and_every_fault_is_told() {
        let text = "# a master\n0 fa\n\n1000.5 F8 # the beat\n1000.5 f8f2 10\n2000 02 fe\n";
        let expected = vec![
            (0.0, ClockMessage::Start),
            (1000.5, ClockMessage::Tick),
            (1000.5, ClockMessage::Tick),
            (2000.0, ClockMessage::Position(272)),
        ];
        assert_eq!(read(text), Ok(expected));
        let time = "a time in microseconds, 0 or more, stands first";
        let hex = "bytes are pairs of hexadecimal digits";
        for (line, column, rule) in [
            ("x f8", 1, time),
            ("-1 f8", 1, time),
            ("nan f8", 1, time),
            ("1e99 f8", 1, time),
            ("  12", 3, "1 to 1,024 bytes in hexadecimal follow the time"),
            ("12 f", 4, hex),
            ("12 f8 +f", 7, hex),
            ("12 f8 fg", 7, hex),
            ("12 f8 \u{e9}\u{e9}", 7, hex),
        ] {
            let fault = TraceFault {
                line: 2,
                column,
                rule,
            };
            assert_eq!(read(&format!("1 f8\n{line}\n")), Err(vec![fault]), "{line}");
        }
        let back = read("5 f8\n4 f8\n").unwrap_err();
        assert_eq!(
            back[0].to_string(),
            "line 2, column 1: times do not go back"
        );
        assert_eq!(read(&"x\n".repeat(100)).unwrap_err().len(), FAULTS);
    }

    #[test]
    fn a_played_tick_is_a_line() {
        let tick = PlayedTick {
            at_s: 1.5,
            tick: 36,
            qpm: None,
            state: super::super::ClockState::Locking,
        };
        let told =
            r#"{"beat":1.5,"bpm":null,"known_us":1500000.0,"state":"locking","time_us":1500000.0}"#;
        let line = line(&tick);
        let told: Value = serde_json::from_str(told).unwrap();
        assert_eq!(line, told);
    }
}
