//! What an input is like: sounds whose level, noise, hum, tuning and strings are known because they were made so.
//!
//! The string is the one of `listen::ways`. A sine of amplitude a has a level of 20 log10(a) - 3.01 dB RMS (textbook).

use super::ways::string::{Chance, RATE, Sounding, add, picked};
use crate::support::program::in_background;
use crate::support::sound_file::write_wav;
use std::path::Path;
use underfoot::device::{InputFault, InputReport, Strings};
use underfoot::listen::{InputCheck, InputSetup};

/// E2, the lowest string of a guitar.
const LOWEST_HZ: f32 = 82.41;

/// An input, and what is true of it.
struct Case {
    name: &'static str,
    sound: Vec<f32>,
    faults: &'static [InputFault],
    /// Hz and level of the mains.
    hum: Option<(u32, f32)>,
    noise_db: Option<f32>,
    tuning_cents: Option<f32>,
    strings: Option<Strings>,
}

/// A line over a range of notes, all of them so many cents off; each is damped before the next.
fn line(range: (f64, f64), level: f64, cents: f64) -> Vec<f32> {
    let mut sound = vec![0.0; 8 * RATE as usize];
    let mut chance = Chance(11);
    for index in 0..13 {
        let midi = chance.between(range.0, range.1).round() + cents / 100.0;
        let note = Sounding {
            level,
            ..picked(0.7 + 0.55 * f64::from(index), 0.4, midi)
        };
        add(&mut sound, &note);
    }
    sound
}

/// The mains and so much of each multiple, from the fundamental on.
fn with_hum(mut sound: Vec<f32>, hz: f64, parts: &[f64]) -> Vec<f32> {
    for (n, sample) in sound.iter_mut().enumerate() {
        let turn = std::f64::consts::TAU * hz * n as f64 / f64::from(RATE);
        let parts = (1..).zip(parts);
        let sum: f64 = parts
            .map(|(h, part)| part * (f64::from(h) * turn + 0.3).sin())
            .sum();
        *sample += sum as f32;
    }
    sound
}

/// Even noise of a level in dB RMS: its power is a third of its peak's square.
fn with_hiss(mut sound: Vec<f32>, level_db: f64) -> Vec<f32> {
    let peak = 3_f64.sqrt() * 10_f64.powf(level_db / 20.0);
    let mut chance = Chance(5);
    for sample in &mut sound {
        *sample += (peak * (2.0 * chance.next() - 1.0)) as f32;
    }
    sound
}

/// A converter of 16 bits that is given so many times too much.
fn converted(mut sound: Vec<f32>, times: f32) -> Vec<f32> {
    for sample in &mut sound {
        *sample = (times * *sample * 32_768.0)
            .round()
            .clamp(-32_768.0, 32_767.0)
            / 32_768.0;
    }
    sound
}

/// The level of a sum of sines, in dB RMS.
fn db(parts: &[f64]) -> f32 {
    let power: f64 = parts.iter().map(|part| part * part / 2.0).sum();
    10.0 * power.log10() as f32
}

const GUITAR: (f64, f64) = (40.0, 76.0);
const BASS: (f64, f64) = (28.0, 50.0);
const MAINS: [f64; 4] = [0.006, 0.003, 0.004, 0.001];
const BUZZ: [f64; 6] = [0.001, 0.004, 0.0005, 0.003, 0.0005, 0.002];

#[rustfmt::skip]
fn cases() -> Vec<Case> {
    use InputFault::{Clipping, Hum, Noise, Nothing, TooSoft};
    let quiet = |sound| with_hiss(sound, -80.0);
    let clean = line(GUITAR, 0.2, 0.0);
    let whole = || quiet(clean.clone());
    let guitar = Some(Strings::Guitar);
    let base = || Case {
        name: "a guitar as it should be",
        sound: whole(),
        faults: &[],
        hum: None,
        noise_db: Some(-80.0),
        tuning_cents: Some(0.0),
        strings: guitar,
    };
    vec![
        base(),
        Case { name: "loud, but whole", sound: converted(quiet(line(GUITAR, 0.45, 0.0)), 1.0), ..base() },
        Case { name: "too soft", sound: with_hiss(line(GUITAR, 0.004, 0.0), -90.0), faults: &[TooSoft], noise_db: Some(-90.0), ..base() },
        Case { name: "clipping", sound: converted(whole(), 6.0), faults: &[Clipping], noise_db: Some(-64.5), ..base() },
        Case { name: "clipping a little", sound: converted(whole(), 3.0), faults: &[Clipping], noise_db: Some(-70.5), ..base() },
        Case { name: "hum of 50 Hz", sound: with_hum(whole(), 50.0, &MAINS), faults: &[Hum], hum: Some((50, db(&MAINS))), noise_db: Some(db(&MAINS)), ..base() },
        Case { name: "hum of 60 Hz, a little off", sound: with_hum(whole(), 60.04, &MAINS), faults: &[Hum], hum: Some((60, db(&MAINS))), noise_db: Some(db(&MAINS)), ..base() },
        Case { name: "a dimmer's buzz", sound: with_hum(whole(), 49.97, &BUZZ), faults: &[Hum], hum: Some((50, db(&BUZZ))), noise_db: Some(db(&BUZZ)), ..base() },
        Case { name: "hiss", sound: with_hiss(clean.clone(), -40.0), faults: &[Noise], noise_db: Some(-40.0), ..base() },
        Case { name: "nothing plugged in", sound: vec![0.0; 8 * RATE as usize], faults: &[Nothing], noise_db: None, tuning_cents: None, strings: None, ..base() },
        Case { name: "plugged in, not played", sound: quiet(vec![0.0; 8 * RATE as usize]), faults: &[Nothing], tuning_cents: None, strings: None, ..base() },
        Case { name: "a cable that hums", sound: with_hum(quiet(vec![0.0; 8 * RATE as usize]), 50.0, &[0.05, 0.02, 0.03]), faults: &[Nothing, Hum], hum: Some((50, db(&[0.05, 0.02, 0.03]))), noise_db: Some(db(&[0.05, 0.02, 0.03])), tuning_cents: None, strings: None },
        Case { name: "flat by 30 cents", sound: quiet(line(GUITAR, 0.2, -30.0)), tuning_cents: Some(-30.0), ..base() },
        Case { name: "half a tone down, and sharp", sound: quiet(line((39.0, 75.0), 0.2, 20.0)), tuning_cents: Some(20.0), ..base() },
        Case { name: "a bass", sound: quiet(line(BASS, 0.2, 0.0)), strings: Some(Strings::Bass), ..base() },
        Case { name: "a bass that hums", sound: with_hum(quiet(line(BASS, 0.2, -12.0)), 50.0, &MAINS), faults: &[Hum], hum: Some((50, db(&MAINS))), noise_db: Some(db(&MAINS)), tuning_cents: Some(-12.0), strings: Some(Strings::Bass) },
    ]
}

fn checked(sound: &[f32], block: usize) -> InputReport {
    let mut check = InputCheck::new(InputSetup {
        rate: RATE,
        a4_hz: 440.0,
        lowest_hz: LOWEST_HZ,
    });
    sound.chunks(block).for_each(|block| check.push(block));
    check.report()
}

/// What is told otherwise than it is.
fn differs(case: &Case, report: &InputReport) -> Vec<String> {
    let near = |what: &str, got: Option<f32>, wanted: Option<f32>, most: f32| {
        let agree = match (got, wanted) {
            (Some(got), Some(wanted)) => (got - wanted).abs() <= most,
            (got, wanted) => got == wanted,
        };
        (!agree).then(|| format!("{}: {what} {got:?}, it is {wanted:?}", case.name))
    };
    let (hum, wanted) = (report.hum, case.hum);
    let mains = (hum.map(|hum| hum.mains_hz), wanted.map(|hum| hum.0));
    let told = (report.faults(), report.strings, mains.0);
    let is = (case.faults.to_vec(), case.strings, mains.1);
    let kinds = (told != is).then(|| format!("{}: {told:?}, it is {is:?}", case.name));
    [
        kinds,
        near(
            "hum",
            hum.map(|hum| hum.level_db),
            wanted.map(|hum| hum.1),
            1.5,
        ),
        near("noise", report.noise_db, case.noise_db, 2.0),
        // Partials of a stiff string are sharp by some cents, and so is what is heard of it.
        near("tuning", report.tuning_cents, case.tuning_cents, 5.0),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[test]
fn what_is_told_of_an_input_is_true() {
    let told = |case: Case| differs(&case, &checked(&case.sound, 256));
    let wrong: Vec<String> = cases().into_iter().flat_map(told).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn how_it_comes_in_makes_no_difference_and_early_is_not_sure() {
    let sound = with_hiss(line(GUITAR, 0.2, 0.0), -60.0);
    assert_eq!(checked(&sound, 64), checked(&sound, 4096));
    let early = checked(&sound[..RATE as usize], 256);
    assert!(!early.is_sure && early.faults().is_empty(), "{early:?}");
}

/// `underfoot listen --input` of a sound.
fn told(dir: &Path, sound: &[f32], flags: &[&str]) -> String {
    let path = dir.join("input.wav");
    write_wav(&path, sound, RATE);
    let mut command = in_background(dir);
    let out = command
        .arg("listen")
        .arg(&path)
        .arg("--input")
        .args(flags)
        .output()
        .expect("the program");
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    String::from_utf8(out.stdout).expect("text")
}

#[test]
fn a_recording_is_told_in_the_pages_words() {
    let dir = tempfile::tempdir().expect("a directory");
    let mut cases = cases();
    let well = cases.remove(0);
    let text = told(dir.path(), &well.sound, &[]);
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    assert_eq!(
        (lines[0], &lines[3..]),
        ("I hear you", &["in tune", "guitar"][..]),
        "{text}"
    );
    let hums = cases
        .iter()
        .find(|case| case.name == "a cable that hums")
        .expect("one");
    let text = told(dir.path(), &hums.sound, &[]);
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    assert_eq!(
        lines[..3],
        ["I hear nothing", "check cable, volume and input", "and hum"],
        "{text}"
    );
    let line = told(dir.path(), &hums.sound, &["--json"]);
    let told: serde_json::Value = serde_json::from_str(&line).expect("a line");
    assert_eq!(
        (&told["faults"], &told["hum_hz"]),
        (&serde_json::json!(["nothing", "hum"]), &50.into())
    );
    assert!(told["level_db"].is_null() && told["sure"] == true, "{told}");
}
