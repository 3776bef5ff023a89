//! Foot scripts: presses written down, for rendering and for the demo.
//!
//! A line is `<beat> <switch> down|up`; beats are quarters from the first full bar (negative before it), in
//! order. `#` begins a comment.

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
    /// Which switch, from 1.
    pub switch: u8,
    pub down: bool,
}

impl FootStep {
    /// The edge, where the step's time falls on `at`.
    pub fn edge(self, at: Frame) -> Edge {
        Edge {
            switch: self.switch,
            down: self.down,
            at,
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
    let before = &mut down[usize::from(step.switch - 1)];
    let same = *before == step.down;
    *before = step.down;
    let word = if step.down { "down" } else { "up" };
    same.then(|| format!("switch {} is {word} already", step.switch))
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
    let (beat, switch, level) = (next("the beat")?, next("the switch")?, next("down or up")?);
    let quarters = beat.parse::<f64>().ok();
    let quarters = quarters.filter(|quarters| quarters.abs() <= FARTHEST);
    let quarters = quarters.ok_or_else(|| {
        let rule =
            format!("\"{beat}\" is no beat (quarters from the first full bar, such as 12.5)");
        source.fault(place(beat), rule)
    })?;
    let number = switch.parse::<u8>().ok();
    let number = number.filter(|number| (1..=SWITCHES as u8).contains(number));
    let number = number.ok_or_else(|| {
        source.fault(
            place(switch),
            format!("\"{switch}\" is no switch (1 to {SWITCHES})"),
        )
    })?;
    if usize::from(number) > switches {
        return Err(source.fault(place(switch), too_high(number, switches)));
    }
    let down = match level {
        "down" => true,
        "up" => false,
        other => {
            let hint = nearest_hint(other, ["down", "up"]);
            let rule = format!("\"{other}\" is neither down nor up{hint}");
            return Err(source.fault(place(level), rule));
        }
    };
    match words.next() {
        Some(more) => Err(source.fault(place(more), "nothing may follow down or up")),
        None => Ok(FootStep {
            at: Tick::from_quarters(quarters),
            switch: number,
            down,
        }),
    }
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
        let text = "# the stage on, then stop\n-4 1 down\n-3.8 1 up   # started\n\n16.5 2 down\r\n16.5 3 down\n";
        let told: Vec<(f64, u8, bool)> = read(text)
            .unwrap()
            .iter()
            .map(|step| (step.at.quarters(), step.switch, step.down))
            .collect();
        let wanted = [
            (-4.0, 1, true),
            (-3.8, 1, false),
            (16.5, 2, true),
            (16.5, 3, true),
        ];
        assert_eq!(told, wanted);
        assert_eq!(read("").unwrap(), []);
    }

    #[test]
    fn all_faults_are_told_with_their_places() {
        let text = "x 1 down\n1 9 down\n2 1 dwn\n3 1 down now\n4\n  4 1\n5 1 down\n4 1 up\n6 1 up\nnan 1 up\n";
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
