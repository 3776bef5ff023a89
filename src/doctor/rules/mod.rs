//! The rules.

mod foot;
mod keeping;
mod machine;
mod sound;

use super::finding::{Finding, Grade};
use super::system::{Asked, System, Told};
use std::cmp::Reverse;

/// What is wrong, the worst first; `told` is missing where no daemon answers.
pub fn examine(system: &System, asked: &Asked, told: Option<&Told>) -> Vec<Finding> {
    let mut findings = Vec::new();
    findings.extend(configuration(asked));
    findings.extend(is_running(system, told));
    findings.extend(sound::findings(system, asked, told));
    findings.extend(foot::findings(system, asked, told));
    findings.extend(keeping::findings(system, asked));
    findings.extend(machine::findings(system));
    // The order among those of one grade stays: what comes first above is what the others follow from.
    findings.sort_by_key(|finding| Reverse(finding.grade == Grade::Risk));
    findings
}

fn configuration(asked: &Asked) -> Option<Finding> {
    let fault = asked.fault.as_deref()?;
    Some(Finding::risk(
        "configuration",
        format!(
            "the configuration has faults: {}",
            fault.lines().next().unwrap_or_default()
        ),
        "nothing starts with it",
        "underfoot check /etc/underfoot/underfoot.toml names each",
    ))
}

/// A daemon that is to run does.
fn is_running(system: &System, told: Option<&Told>) -> Vec<Finding> {
    let daemons: Vec<_> = system.daemons().collect();
    let mut findings = Vec::new();
    if daemons.is_empty() && told.is_none() && system.starts_at_boot {
        findings.push(Finding::risk(
            "daemon",
            "underfoot does not run, though it is to start at boot",
            "no press does anything",
            "systemctl restart underfoot; journalctl -u underfoot -n 20 says why it ended",
        ));
    }
    if let [one, other, ..] = daemons[..] {
        findings.push(Finding::risk(
            "two-daemons",
            format!(
                "underfoot runs twice (processes {} and {})",
                one.pid, other.pid
            ),
            "both want the same pedal and the same name in JACK",
            format!(
                "kill {}, or stop the unit: systemctl --user stop underfoot",
                other.pid
            ),
        ));
    }
    findings
}
