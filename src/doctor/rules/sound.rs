//! The sound: the server, its rights, the card, the band's sounds, the voice.

use super::super::finding::Finding;
use super::super::system::{Asked, Process, System, Told};

/// So much memory a daemon with a SoundFont locks.
const LOCKED_BYTES: u64 = 64 << 20;
/// More lost cycles than come from a start or a plugged device.
const FEW_XRUNS: u64 = 10;

/// What is wrong with the sound.
pub fn findings(system: &System, asked: &Asked, told: Option<&Told>) -> Vec<Finding> {
    let mut findings = Vec::new();
    findings.extend(server(system, told));
    findings.extend(two_servers(system));
    findings.extend(silent(system, told));
    findings.extend(rights(system));
    findings.extend(numbered_card(system));
    findings.extend(lost_cycles(told));
    findings.extend(sounds(system, asked));
    findings
}

/// The daemon has a server, or why it has none.
fn server(system: &System, told: Option<&Told>) -> Option<Finding> {
    const SILENT: &str = "without it nothing sounds";
    let told = told?;
    let risk = |rule, what: String, cure: &str| Some(Finding::risk(rule, what, SILENT, cure));
    if told.jack == "hung" {
        let what = "the JACK server hangs: it is there and answers nothing".to_string();
        return risk("jack-hangs", what, "systemctl restart jackd");
    }
    if told.jack == "present" {
        return None;
    }
    let daemon = system.daemons().next();
    let foreign = |server: &&Process| daemon.is_some_and(|daemon| daemon.user != server.user);
    if let Some(server) = system.named("jackd").find(foreign) {
        let what = format!(
            "the JACK server belongs to the user {}, not to underfoot's",
            system.user_name(server.user)
        );
        return risk(
            "jack-of-another",
            what,
            "run both as one user, as the units do: systemctl enable --now jackd underfoot",
        );
    }
    if system.named("jackd").next().is_some() {
        let what = "a JACK server runs, and underfoot does not get at it".to_string();
        return risk(
            "jack-out-of-reach",
            what,
            "systemctl restart jackd underfoot",
        );
    }
    if let Some(server) = system.named("pipewire").find(foreign) {
        let what = format!(
            "PipeWire runs in the session of {}, and serves nobody else",
            system.user_name(server.user)
        );
        let cure = "as that user: systemctl --user enable --now underfoot (and systemctl disable --now underfoot)";
        return risk("pipewire-of-another", what, cure);
    }
    let what = "no JACK server runs".to_string();
    let cure = "systemctl restart jackd; journalctl -u jackd -n 20 says why it ended (most often the card's name in /etc/default/underfoot-jackd)";
    risk("no-jack", what, cure)
}

fn two_servers(system: &System) -> Option<Finding> {
    let servers: Vec<_> = system.named("jackd").collect();
    let [one, other, ..] = servers[..] else {
        return None;
    };
    Some(Finding::risk(
        "two-servers",
        format!(
            "two JACK servers run (processes {} and {})",
            one.pid, other.pid
        ),
        "only one can have the sound card",
        format!(
            "kill {} or {}, whichever is not systemd's (systemctl status jackd)",
            one.pid, other.pid
        ),
    ))
}

/// A server that is there, and a card of its that does nothing.
fn silent(system: &System, told: Option<&Told>) -> Option<Finding> {
    let is_there = told.is_some_and(|told| told.jack == "present");
    let has_card = |server: &Process| server.arguments.iter().any(|argument| argument == "alsa");
    let stands = !system.cards.is_empty() && !system.cards.iter().any(|card| card.runs);
    (is_there && stands && system.named("jackd").any(has_card)).then(|| {
        Finding::risk(
            "silent-jack",
            "the JACK server is there, but no sound card runs (unplugged or suspended)",
            "everything seems to play, and nothing is heard",
            "plug the card in again, then: systemctl restart jackd",
        )
    })
}

/// Real-time scheduling and locked memory, of the daemon and of the server.
fn rights(system: &System) -> Vec<Finding> {
    const CLICKS: &str = "whatever else the box does is heard as clicks";
    const UNIT: &str =
        "start it by its unit, or in a session: usermod -aG audio USER, then log in again";
    let mut findings = Vec::new();
    for daemon in system.daemons() {
        if daemon.realtime_limit == Some(0) && daemon.user != 0 {
            findings.push(Finding::risk(
                "no-realtime",
                "underfoot may not be scheduled in real time (limit 0)",
                CLICKS,
                UNIT,
            ));
        }
        if daemon
            .lock_limit_bytes
            .is_some_and(|limit| limit < LOCKED_BYTES)
            && daemon.user != 0
        {
            let what = "underfoot may not lock its memory";
            let why = "a page that was put aside is fetched while it plays: a click";
            let cure = "LimitMEMLOCK=infinity in the unit; in a session a line \"@audio - memlock unlimited\" in /etc/security/limits.d";
            findings.push(Finding::note("no-lock", what, why, cure));
        }
    }
    for server in system.named("jackd").filter(|server| !server.is_realtime) {
        let what = "the JACK server is not scheduled in real time";
        let cure = match server.realtime_limit {
            Some(0) => "start it by its unit (LimitRTPRIO=95); limits.conf is for logins only",
            _ => "start it with -R (\"systemctl cat jackd\" shows how the unit does)",
        };
        findings.push(Finding::risk("jack-not-realtime", what, CLICKS, cure));
    }
    findings
}

fn numbered_card(system: &System) -> Option<Finding> {
    let card = system.jack_card.as_deref()?;
    let is_number = !card.is_empty() && card.bytes().all(|byte| byte.is_ascii_digit());
    let names: Vec<_> = system.cards.iter().map(|card| card.name.as_str()).collect();
    (is_number && names.len() > 1).then(|| {
        Finding::note(
            "numbered-card",
            format!(
                "the sound card is named by its number ({card}), and there are {}",
                names.len()
            ),
            "numbers change from boot to boot",
            format!(
                "JACK_CARD={} in /etc/default/underfoot-jackd (one of {})",
                names[0],
                names.join(", ")
            ),
        )
    })
}

fn lost_cycles(told: Option<&Told>) -> Option<Finding> {
    let told = told.filter(|told| told.xruns > FEW_XRUNS)?;
    Some(Finding::note(
        "xruns",
        format!("{} cycles of sound were lost since the start", told.xruns),
        "each can be heard as a click",
        "a bigger period: -p 512 for -p 256 in JACK_DRIVER of /etc/default/underfoot-jackd, then systemctl restart jackd",
    ))
}

/// SoundFont and speech.
fn sounds(system: &System, asked: &Asked) -> Vec<Finding> {
    let is_there = |path| system.present.contains(path);
    let mut findings = Vec::new();
    if !asked.soundfonts.iter().any(is_there) {
        let what = match &asked.soundfonts[..] {
            [named] => format!("the SoundFont {} is not there", named.display()),
            _ => "there is no SoundFont".to_string(),
        };
        let why = "the band is silent: only click, reference notes and cues sound";
        findings.push(Finding::risk(
            "no-soundfont",
            what,
            why,
            "apt install timgm6mb-soundfont, or soundfont in [audio]",
        ));
    }
    if !asked.speech.is_empty() && !asked.speech.iter().any(is_there) {
        let what = "the speech program espeak-ng is not there";
        let why = "nothing is said: the notes stand on the page alone";
        findings.push(Finding::note(
            "no-speech",
            what,
            why,
            "apt install espeak-ng, or engine = \"none\" in [speech]",
        ));
    }
    findings
}
