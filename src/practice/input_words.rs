//! What an input is like, in words: for the page, and for the voice in its language.

use crate::device::{InputFault, InputReport, Strings};
use crate::drill::Names;
use crate::speech::say;

/// In tune, for an input: the tuner says it to two cents.
const IN_TUNE_CENTS: i32 = 5;

/// The page's title: what is the matter, in a word or three.
pub fn input_title(report: Option<&InputReport>) -> &'static str {
    match report {
        None => "play a few notes",
        Some(report) => match report.faults().first() {
            Some(fault) => fault_words(*fault).0,
            None if report.is_sure => "I hear you",
            None if report.plays() => "listening",
            None => "play a few notes",
        },
    }
}

/// The page's lines: what to do, then what was found.
pub fn input_lines(report: &InputReport) -> Vec<String> {
    let faults = report.faults();
    let cures = faults.iter().map(|fault| fault_words(*fault).1.to_string());
    let others = faults.iter().skip(1);
    let others: Vec<&str> = others.map(|fault| fault_words(*fault).0).collect();
    let others = (!others.is_empty()).then(|| format!("and {}", others.join(", ")));
    cures.take(1).chain(others).chain(found(report)).collect()
}

/// Level, noise, hum, tuning and strings, a line each.
fn found(report: &InputReport) -> Vec<String> {
    let level = report.level_db.map(|level| {
        let peak = report.peak_db;
        format!("level {level:.0} dB, peak {peak:.0} dB")
    });
    let noise = report.noise_db.map(|noise| format!("noise {noise:.0} dB"));
    let hum = report.hum.map(|hum| {
        let under = report.level_db.map_or(String::new(), |level| {
            format!(", {:.0} dB under you", level - hum.level_db)
        });
        format!("hum {} Hz{under}", hum.mains_hz)
    });
    let tuning = report.tuning_cents.map(|cents| {
        let cents = cents.round() as i32;
        match cents.abs() {
            ..=IN_TUNE_CENTS => "in tune".to_string(),
            away if cents < 0 => format!("{away} cents low"),
            away => format!("{away} cents high"),
        }
    });
    let strings = report.strings.filter(|_| report.plays());
    let strings = strings.map(|strings| strings_word(strings).to_string());
    [level, noise, hum, tuning, strings]
        .into_iter()
        .flatten()
        .collect()
}

fn strings_word(strings: Strings) -> &'static str {
    match strings {
        Strings::Guitar => "guitar",
        Strings::Bass => "bass",
    }
}

/// What is the matter, and what to do; the same in German.
fn fault_words(fault: InputFault) -> (&'static str, &'static str, &'static str) {
    match fault {
        InputFault::Nothing => (
            "I hear nothing",
            "check cable, volume and input",
            "ich höre nichts",
        ),
        InputFault::Clipping => (
            "clipping",
            "turn the input down",
            "übersteuert, Eingang leiser",
        ),
        InputFault::TooSoft => ("too soft", "turn the input up", "zu leise, Eingang lauter"),
        InputFault::Hum => (
            "hum",
            "same outlet for amp and box; away from chargers and lamps",
            "es brummt",
        ),
        InputFault::Noise => ("noise", "guitar louder, input lower", "es rauscht"),
    }
}

/// As a sentence; nothing before enough was heard.
pub(super) fn input_sentence(report: &InputReport, names: Names) -> Option<String> {
    let faults = report.faults();
    let Some(fault) = faults.first() else {
        let well = say(names, "I hear you", "ich höre dich");
        return report.is_sure.then(|| well.to_string());
    };
    let (what, cure, german) = fault_words(*fault);
    Some(match names {
        Names::German => german.to_string(),
        Names::English | Names::Solfege => {
            let cure = cure.split(';').next().unwrap_or(cure);
            format!("{what}, {cure}")
        }
    })
}
