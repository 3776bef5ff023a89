//! Foot scripts: presses written down, for rendering and for the demo.
//!
//! A line is `<beat> <switch> down|up`, or `<beat> song <number>` where a song select comes in; beats are quarters from the
//! first full bar (negative before it), in order. `#` begins a comment.

use super::{Edge, SWITCHES};
use crate::fault::{Fault, Faults, Source, nearest_hint};
use crate::time::{Frame, Tick};

/// The farthest beat, in quarters: nobody practises longer than a day without a stop.
const FARTHEST: f64 = 1e6;

/// One line of a script.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FootStep {
    /// When, from the first full bar.
    pub at: Tick,
    pub what: StepKind,
}

/// What comes in with a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StepKind {
    Edge {
        /// Which switch, from 1.
        switch: u8,
        down: bool,
    },
    /// A song select, or a program change: its number, from 0.
    Song(u8),
}

impl FootStep {
    /// What comes in, where the step's time falls on `at`.
    pub fn on(self, at: Frame) -> ScriptedInput {
        match self.what {
            StepKind::Edge { switch, down } => ScriptedInput::Edge(Edge { switch, down, at }),
            StepKind::Song(number) => ScriptedInput::Song(at, number),
        }
    }
}

/// What a script lets come in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScriptedInput {
    Edge(Edge),
    Song(Frame, u8),
}

impl ScriptedInput {
    /// When.
    pub fn at(&self) -> Frame {
        match self {
            ScriptedInput::Edge(edge) => edge.at,
            ScriptedInput::Song(at, _) => *at,
        }
    }

    /// The same so many frames later.
    #[must_use]
    pub fn later(self, frames: u64) -> ScriptedInput {
        match self {
            ScriptedInput::Edge(edge) => ScriptedInput::Edge(Edge {
                at: Frame(edge.at.0 + frames),
                ..edge
            }),
            ScriptedInput::Song(at, number) => ScriptedInput::Song(Frame(at.0 + frames), number),
        }
    }
}

/// Reads a script for whatever switches there will be.
///
/// # Errors
/// As [`parse_for`].
pub fn parse(source: &Source<'_>) -> Result<Vec<FootStep>, Faults> {
    parse_for(source, SWITCHES)
}

/// Reads a script for so many switches.
///
/// # Errors
/// All faults of all lines: what is no beat, switch or word; a switch that is not there; beats out of order; a
/// switch that is down already.
pub fn parse_for(source: &Source<'_>, switches: usize) -> Result<Vec<FootStep>, Faults> {
    let mut steps: Vec<FootStep> = Vec::new();
    let mut down = [false; SWITCHES];
    let mut faults = Vec::new();
    let mut offset = 0;
    for line in source.text.split_inclusive('\n') {
        let content = line.split('#').next().unwrap_or_default();
        if !content.trim().is_empty() {
            match read_line(source, content, offset, switches) {
                Ok(step) => {
                    let late = out_of_order(&steps, step);
                    let same = no_change(&mut down, step);
                    faults.extend(late.or(same).map(|rule| source.fault(offset, rule)));
                    steps.push(step);
                }
                Err(fault) => faults.push(fault),
            }
        }
        offset += line.len();
    }
    if faults.is_empty() {
        Ok(steps)
    } else {
        Err(Faults(faults))
    }
}

fn out_of_order(steps: &[FootStep], step: FootStep) -> Option<String> {
    let before = steps.last().filter(|last| last.at > step.at)?;
    Some(format!(
        "beat {} comes after beat {}: beats must be in order",
        step.at.quarters(),
        before.at.quarters()
    ))
}

fn no_change(down: &mut [bool; SWITCHES], step: FootStep) -> Option<String> {
    let StepKind::Edge {
        switch,
        down: is_down,
    } = step.what
    else {
        return None;
    };
    let before = &mut down[usize::from(switch - 1)];
    let same = *before == is_down;
    *before = is_down;
    let word = if is_down { "down" } else { "up" };
    same.then(|| format!("switch {switch} is {word} already"))
}

fn read_line(
    source: &Source<'_>,
    content: &str,
    offset: usize,
    switches: usize,
) -> Result<FootStep, Fault> {
    let start = content.as_ptr() as usize;
    let mut words = content.split_whitespace();
    let place = |word: &str| offset + (word.as_ptr() as usize - start);
    let mut next = |what: &str| {
        words.next().ok_or_else(|| {
            let end = offset + content.trim_end().len();
            source.fault(
                end,
                format!("{what} is missing (a line is: beat switch down|up)"),
            )
        })
    };
    let (beat, switch) = (next("the beat")?, next("the switch")?);
    let last = next(if switch == "song" {
        "the number"
    } else {
        "down or up"
    })?;
    let quarters = beat.parse::<f64>().ok();
    let quarters = quarters.filter(|quarters| quarters.abs() <= FARTHEST);
    let quarters = quarters.ok_or_else(|| {
        let rule =
            format!("\"{beat}\" is no beat (quarters from the first full bar, such as 12.5)");
        source.fault(place(beat), rule)
    })?;
    let what = match switch {
        "song" => song(last),
        _ => {
            let number = switch_number(switch, switches);
            let number = number.map_err(|rule| source.fault(place(switch), rule))?;
            edge(number, last)
        }
    };
    let what = what.map_err(|rule| source.fault(place(last), rule))?;
    match words.next() {
        Some(more) => {
            let rule = format!("nothing may follow {}", followed(what));
            Err(source.fault(place(more), rule))
        }
        None => Ok(FootStep {
            at: Tick::from_quarters(quarters),
            what,
        }),
    }
}

fn followed(what: StepKind) -> &'static str {
    match what {
        StepKind::Edge { .. } => "down or up",
        StepKind::Song(_) => "the number of a song",
    }
}

fn switch_number(word: &str, switches: usize) -> Result<u8, String> {
    let number = word.parse::<u8>().ok();
    let number = number.filter(|number| (1..=SWITCHES as u8).contains(number));
    let number = number.ok_or_else(|| format!("\"{word}\" is no switch (1 to {SWITCHES})"))?;
    match usize::from(number) > switches {
        true => Err(too_high(number, switches)),
        false => Ok(number),
    }
}

fn edge(switch: u8, level: &str) -> Result<StepKind, String> {
    let down = match level {
        "down" => true,
        "up" => false,
        other => {
            let hint = nearest_hint(other, ["down", "up"]);
            return Err(format!("\"{other}\" is neither down nor up{hint}"));
        }
    };
    Ok(StepKind::Edge { switch, down })
}

fn song(number: &str) -> Result<StepKind, String> {
    let read = number.parse::<u8>().ok().filter(|number| *number < 128);
    let rule = || format!("\"{number}\" is no number of a song (0 to 127)");
    read.map(StepKind::Song).ok_or_else(rule)
}

fn too_high(number: u8, switches: usize) -> String {
    let there = match switches {
        1 => "there is 1".to_string(),
        _ => format!("there are {switches}"),
    };
    format!("switch {number}, but {there} (switches, in [foot] of the configuration)")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> Result<Vec<FootStep>, Faults> {
        parse(&Source {
            name: "f.foot",
            text,
        })
    }

    #[test]
    fn a_script_is_read() {
        let text = "# the stage on, then stop\n-4 1 down\n-3.8 1 up   # started\n\n16.5 2 down\r\n16.5 3 down\n17 song 3\n";
        let told: Vec<(f64, StepKind)> = read(text)
            .unwrap()
            .iter()
            .map(|step| (step.at.quarters(), step.what))
            .collect();
        let edge = |switch, down| StepKind::Edge { switch, down };
        let wanted = [
            (-4.0, edge(1, true)),
            (-3.8, edge(1, false)),
            (16.5, edge(2, true)),
            (16.5, edge(3, true)),
            (17.0, StepKind::Song(3)),
        ];
        assert_eq!(told, wanted);
        assert_eq!(read("").unwrap(), []);
    }

    #[test]
    fn all_faults_are_told_with_their_places() {
        let text = "x 1 down\n1 9 down\n2 1 dwn\n3 1 down now\n4\n  4 1\n5 1 down\n4 1 up\n6 1 up\nnan 1 up\n7 song\n7 song 128\n7 song 3 3\n";
        let told = read(text).unwrap_err().to_string();
        let wanted = [
            "f.foot:1:1: \"x\" is no beat (quarters from the first full bar, such as 12.5)",
            "f.foot:2:3: \"9\" is no switch (1 to 8)",
            "f.foot:3:5: \"dwn\" is neither down nor up (nearest: \"down\")",
            "f.foot:4:10: nothing may follow down or up",
            "f.foot:5:2: the switch is missing (a line is: beat switch down|up)",
            "f.foot:6:6: down or up is missing (a line is: beat switch down|up)",
            "f.foot:8:1: beat 4 comes after beat 5: beats must be in order",
            "f.foot:9:1: switch 1 is up already",
            "f.foot:10:1: \"nan\" is no beat (quarters from the first full bar, such as 12.5)",
            "f.foot:11:7: the number is missing (a line is: beat switch down|up)",
            "f.foot:12:8: \"128\" is no number of a song (0 to 127)",
            "f.foot:13:10: nothing may follow the number of a song",
        ];
        assert_eq!(told.lines().collect::<Vec<_>>(), wanted);
    }

    #[test]
    fn a_switch_that_is_not_there_is_a_fault() {
        let read = |switches| {
            let (name, text) = ("f.foot", "8 2 down\n8.2 2 up\n9 3 down\n");
            parse_for(&Source { name, text }, switches).map_err(|faults| faults.to_string())
        };
        let faults = |switches| read(switches).unwrap_err();
        let rule = "(switches, in [foot] of the configuration)";
        assert_eq!(
            faults(1).lines().collect::<Vec<_>>(),
            [
                format!("f.foot:1:3: switch 2, but there is 1 {rule}"),
                format!("f.foot:2:5: switch 2, but there is 1 {rule}"),
                format!("f.foot:3:3: switch 3, but there is 1 {rule}"),
            ]
        );
        assert_eq!(
            faults(2),
            format!("f.foot:3:3: switch 3, but there are 2 {rule}")
        );
        assert_eq!(read(3).unwrap().len(), 3);
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "[0-9a-z #\\n\\t.é-]{0,80}") {
            let _ = read(&text);
        }
    }
}
