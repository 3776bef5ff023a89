//! The foot and the other devices: their groups, whether they are there, whether what comes from them makes sense.

use super::super::finding::Finding;
use super::super::system::{Asked, Process, System, Told, Wanted};

/// The user of the units.
const USER: &str = "underfoot";
/// The group of the sound card.
const CARD: &str = "audio";

/// What is wrong with the foot and the other devices.
pub fn findings(system: &System, asked: &Asked, told: Option<&Told>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if !asked.has_foot && asked.fault.is_none() {
        findings.push(Finding::risk(
            "no-switch",
            "no foot switch is named in the configuration",
            "there is nothing to start it with",
            "underfoot learn prints the lines for yours; they go into /etc/underfoot/conf.d/foot.toml",
        ));
    }
    findings.extend(
        asked
            .wanted
            .iter()
            .filter_map(|wanted| group(system, *wanted)),
    );
    findings.extend(told.into_iter().flat_map(missing));
    findings.extend(framing(system, told));
    findings
}

/// Whether the daemon (or, where none runs, the user of the unit) is in a group.
fn group(system: &System, wanted: Wanted) -> Option<Finding> {
    let Wanted {
        group: name,
        what_for,
    } = wanted;
    let daemon = system.daemons().next();
    // In a session PipeWire has the card.
    let is_served = |daemon: &Process| {
        system
            .named("pipewire")
            .any(|server| server.user == daemon.user)
    };
    if name == CARD && daemon.is_some_and(is_served) {
        return None;
    }
    let user = match daemon {
        Some(daemon) if daemon.user == 0 => return None,
        Some(daemon) => system.user_name(daemon.user),
        None => system
            .users
            .iter()
            .find(|(name, _)| name == USER)?
            .0
            .clone(),
    };
    let group = system.groups.iter().find(|group| group.name == name);
    let is_in = group.is_some_and(|group| match daemon {
        Some(daemon) => daemon.groups.contains(&group.number),
        None => group.members.contains(&user),
    });
    let cure = match group {
        Some(_) => format!("usermod -aG {name} {user}; systemctl restart underfoot"),
        None => format!(
            "groupadd --system {name}; usermod -aG {name} {user}; udevadm trigger; systemctl restart underfoot"
        ),
    };
    (!is_in).then(|| {
        Finding::risk(
            "group",
            format!("{user} is not in the group {name}"),
            what_for,
            cure,
        )
    })
}

fn missing(told: &Told) -> Vec<Finding> {
    let missing = told.missing.iter().map(|(name, error)| {
        let reason = error.as_deref().map(|error| format!(" ({error})")).unwrap_or_default();
        Finding::risk(
            "device",
            format!("{name} is not there{reason}"),
            "the configuration names it: a switch, a page or a clock is missing",
            "plug it in, or take it out of /etc/underfoot; it is taken up by itself when it is there",
        )
    });
    missing.collect()
}

/// Bytes that do not come as they were sent: counted by the kernel, or by us as lines that make no sense.
fn framing(system: &System, told: Option<&Told>) -> Vec<Finding> {
    const WHY: &str = "presses get lost, or do what nobody meant";
    const CURE: &str = "the same baud rate at both ends (115200 where [foot.serial] names none); a shorter cable; ground connected";
    let unread = told
        .and_then(|told| told.counters.get("unread_serial"))
        .copied()
        .unwrap_or(0);
    let mut findings = Vec::new();
    if unread > 0 {
        let what = format!("{unread} bytes from the foot board made no sense");
        findings.push(Finding::risk("unread-serial", what, WHY, CURE));
    }
    let lines = system
        .serial_lines
        .iter()
        .filter(|line| line.framing_errors > 0);
    findings.extend(lines.map(|line| {
        let what = format!(
            "{} framing errors on serial line {}",
            line.framing_errors, line.number
        );
        Finding::note("framing", what, WHY, CURE)
    }));
    findings
}
