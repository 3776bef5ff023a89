//! The ear through its public API and through the program: labelled notes, blocks, cuts.
//!
//! Truth: the frequency of a MIDI note is 440 * 2^((n - 69) / 12) Hz (MIDI 1.0, equal temperament from A 440).
// These tests run the program on files.

use super::ways::string::sing;
use crate::support::strings::{RATE, hz, lively, pluck, setup};
use serde_json::Value;
use std::path::Path;
use std::process::Command;
use underfoot::listen::{Ear, Found, Heard, Instrument};

fn found(sound: &[f32], rate: u32, instrument: Instrument, block: usize) -> Vec<Found> {
    let mut ear = Ear::new(setup(rate, instrument));
    let mut all = Vec::new();
    for block in sound.chunks(block) {
        ear.push(block, None, &mut |found| all.push(found));
    }
    all
}

fn notes(found: &[Found]) -> Vec<Heard> {
    let named = |found: &Found| match found {
        Found::Named(heard) => Some(*heard),
        _ => None,
    };
    found.iter().filter_map(named).collect()
}

/// Plays a line and wants exactly its notes back: the right ones, in time, in tune.
#[track_caller]
fn hears(rate: u32, instrument: Instrument, line: &[(f64, f64, f64)]) {
    let end = line
        .iter()
        .fold(0.0_f64, |end, (from, long, _)| end.max(from + long))
        + 0.5;
    let mut sound = vec![0.0; (end * f64::from(rate)) as usize];
    for &(from, long, midi) in line {
        pluck(&mut sound, rate, midi, from, long, 0.2);
    }
    let heard = notes(&found(&sound, rate, instrument, 512));
    let of = |heard: &Heard| (f64::from(heard.midi), heard.onset as f64 / f64::from(rate));
    let got: Vec<(f64, f64)> = heard.iter().map(of).collect();
    assert_eq!(got.len(), line.len(), "{got:?}");
    for ((midi, onset), (from, _, wanted)) in got.iter().zip(line) {
        assert_eq!(*midi, wanted.round(), "{got:?}");
        // A bass string without the noise of its stroke rises in few bands, and is noticed late.
        let most = if instrument == Instrument::Bass {
            0.06
        } else {
            0.01
        };
        assert!((onset - from).abs() < most, "{onset} for {from}");
    }
    for (heard, (_, _, wanted)) in heard.iter().zip(line) {
        let off = f64::from(heard.cents) - (wanted - wanted.round()) * 100.0;
        // The lowest strings are named after three of their periods.
        let most = match instrument {
            Instrument::Bass => 12.0,
            _ if *wanted < 45.0 => 8.0,
            _ => 5.0,
        };
        assert!(off.abs() < most, "{wanted}: {off} cents off");
    }
}

#[test]
fn strings_of_every_register_are_heard_at_every_rate() {
    let line = |notes: &[f64]| {
        let at = |(index, midi): (usize, &f64)| (0.2 + 0.4 * index as f64, 0.35, *midi);
        notes.iter().enumerate().map(at).collect::<Vec<_>>()
    };
    let guitar = line(&[40.0, 88.0, 64.0, 35.0, 52.3, 69.0, 76.0]);
    for rate in [22_050, 44_100, 48_000, 96_000] {
        hears(rate, Instrument::Guitar, &guitar);
    }
    hears(RATE, Instrument::Bass, &line(&[24.0, 28.0, 43.0, 31.0]));
}

#[test]
fn fast_lines_and_repeated_notes_are_told_apart() {
    let eighths: Vec<(f64, f64, f64)> = [60.0, 60.0, 62.0, 64.0, 64.0, 67.0]
        .iter()
        .enumerate()
        .map(|(index, midi)| (0.2 + 0.15 * index as f64, 0.138, *midi))
        .collect();
    hears(RATE, Instrument::Guitar, &eighths);
}

#[test]
fn a_hammered_note_is_a_note_although_nothing_was_struck() {
    let mut sound = vec![0.0_f32; 96_000];
    let (mut phase, switch) = (0.0_f64, 48_000);
    for (n, to) in sound.iter_mut().enumerate().skip(4_800) {
        let midi = if n < switch { 57.0 } else { 59.0 };
        phase += hz(midi) / f64::from(RATE);
        let turn = std::f64::consts::TAU * phase;
        let gate = ((n - 4_800) as f64 / 96.0).min(1.0);
        *to = (0.2 * gate * (turn.sin() + 0.5 * (2.0 * turn).sin() + 0.2 * (3.0 * turn).sin()))
            as f32;
    }
    let heard = notes(&found(&sound, RATE, Instrument::Guitar, 480));
    let midi: Vec<u8> = heard.iter().map(|heard| heard.midi).collect();
    assert_eq!(midi, [57, 59]);
    let late = heard[1].onset as i64 - switch as i64;
    assert!((0..2_400).contains(&late), "{late} frames after the change");
}

/// The readings from 80 ms to 500 ms after a beginning.
fn steady(sound: &[f32], from: usize) -> Vec<f64> {
    let in_time = |found: &Found| match found {
        Found::Reading(reading) => {
            let after = reading.at as i64 - from as i64;
            let hz = reading.hz.filter(|_| (3_840..24_000).contains(&after));
            hz.map(f64::from)
        }
        _ => None,
    };
    let all = found(sound, RATE, Instrument::Guitar, 480);
    all.iter().filter_map(in_time).collect()
}

#[test]
fn a_stiff_string_is_read_in_tune_from_its_stroke_on() {
    // The partials of a stiff string lie at n f sqrt(1 + B n^2), B about 0.0001 for a wound string (H. Fletcher and
    // others, "Quality of piano tones", 1962; the value from memory). The lowest partial is the truth.
    for midi in [40.0, 47.0, 52.0, 59.0, 64.0] {
        let (mut sound, from) = (vec![0.0_f32; 48_000], 9_600);
        for (n, to) in sound.iter_mut().enumerate().skip(from) {
            let t = (n - from) as f64 / f64::from(RATE);
            let partial = |h: f64| {
                let f = hz(midi) * h * (1.0 + 1e-4 * h * h).sqrt();
                let heard = if f < 8_000.0 { 1.0 } else { 0.0 };
                heard * (-t * 0.6 * h).exp() * (std::f64::consts::TAU * f * t).sin() / h.sqrt()
            };
            let sum: f64 = (1..=24).map(|h| partial(f64::from(h))).sum();
            *to = (0.1 * (t / 0.002).min(1.0) * sum) as f32;
        }
        let readings = steady(&sound, from);
        assert!(readings.len() > 250, "{midi}: {}", readings.len());
        let mut off: Vec<f64> = readings
            .iter()
            .map(|got| (1200.0 * (got / hz(midi)).log2()).abs())
            .collect();
        off.sort_by(f64::total_cmp);
        let p95 = off[off.len() * 95 / 100];
        assert!(p95 < 5.0, "{midi}: {p95} cents");
    }
}

#[test]
fn a_note_under_which_half_of_it_sounds_later_keeps_its_octave() {
    // High notes of some guitars get a weak tone an octave below them as they die away.
    for midi in [81.0, 85.0, 86.0] {
        let (mut sound, from) = (vec![0.0_f32; 48_000], 9_600);
        for (n, to) in sound.iter_mut().enumerate().skip(from) {
            let t = (n - from) as f64 / f64::from(RATE);
            let turn = std::f64::consts::TAU * hz(midi) * t;
            let half = 0.22 * (t / 0.05).min(1.0);
            let sum = turn.sin() + 0.3 * (2.0 * turn).sin() + half * (0.5 * turn).sin();
            *to = (0.2 * (t / 0.002).min(1.0) * (-2.0 * t).exp() * sum) as f32;
        }
        let heard = notes(&found(&sound, RATE, Instrument::Guitar, 480));
        let got: Vec<f64> = heard.iter().map(|heard| f64::from(heard.midi)).collect();
        assert_eq!(got, [midi]);
        let readings = steady(&sound, from);
        assert!(readings.len() > 250, "{midi}: {}", readings.len());
        let low = readings.iter().filter(|got| **got < 0.9 * hz(midi));
        assert_eq!(low.count(), 0, "{midi}");
    }
}

#[test]
fn a_voice_is_the_middle_of_its_vibrato() {
    let rate = f64::from(RATE);
    for midi in [50.0, 57.0, 62.0, 69.0, 74.0] {
        let mut sound = vec![0.0_f32; 96_000];
        let mut phase = 0.0_f64;
        for (n, to) in sound.iter_mut().enumerate().skip(9_600) {
            let t = n as f64 / rate;
            // 5.5 turns a second, 60 cents from end to end.
            let swing = 0.3 * (std::f64::consts::TAU * 5.5 * t).sin();
            phase += hz(midi + swing) / rate;
            let partial =
                |h: i32| (std::f64::consts::TAU * phase * f64::from(h)).sin() / f64::from(h * h);
            let gate = ((n - 9_600) as f64 / 2_400.0).min(1.0);
            *to = (0.2 * gate * (1..=6).map(partial).sum::<f64>()) as f32;
        }
        let heard = notes(&found(&sound, RATE, Instrument::Voice, 480));
        let got: Vec<u8> = heard.iter().map(|heard| heard.midi).collect();
        assert_eq!(got, [midi as u8]);
        assert!(heard[0].cents.abs() < 20.0, "{}", heard[0].cents);
    }
}

#[test]
fn blocks_change_nothing() {
    let sound = lively();
    let whole = found(&sound, RATE, Instrument::Guitar, sound.len());
    for block in [1, 64, 100, 4_096] {
        assert_eq!(
            found(&sound, RATE, Instrument::Guitar, block),
            whole,
            "blocks of {block}"
        );
    }
}

/// What is found with the band known, of which a part comes back 30 ms late.
fn with_band(sound: &[f32], band: &[f32], block: usize) -> Vec<Found> {
    let mut ear = Ear::new(setup(RATE, Instrument::Guitar));
    let mut all = Vec::new();
    for (sound, band) in sound.chunks(block).zip(band.chunks(block)) {
        ear.push(sound, Some(band), &mut |found| all.push(found));
    }
    all
}

/// A player and a band, and what is heard of both.
fn over_a_band() -> (Vec<f32>, Vec<f32>) {
    let sound = lively();
    let band: Vec<f32> = sound.iter().rev().copied().collect();
    let late = RATE as usize * 30 / 1000;
    let heard = |(n, own): (usize, &f32)| own + 0.2 * n.checked_sub(late).map_or(0.0, |n| band[n]);
    (sound.iter().enumerate().map(heard).collect(), band)
}

#[test]
fn blocks_change_nothing_with_the_band_known() {
    let (sound, band) = over_a_band();
    let whole = with_band(&sound, &band, sound.len());
    for block in [1, 64, 100, 4_096] {
        assert_eq!(with_band(&sound, &band, block), whole, "blocks of {block}");
    }
}

#[test]
fn what_was_known_does_not_depend_on_what_comes() {
    let (heard, band) = over_a_band();
    known_at_every_cut(&heard, |sound| {
        with_band(sound, &band[..sound.len()], 4_096)
    });
    known_at_every_cut(&lively(), |sound| {
        found(sound, RATE, Instrument::Guitar, 4_096)
    });
}

fn known_at_every_cut(sound: &[f32], found: impl Fn(&[f32]) -> Vec<Found>) {
    let whole = found(sound);
    for cut in 1..=20 {
        // No multiple of anything.
        let cut = cut * sound.len() / 21 + cut * 7;
        let short = found(&sound[..cut]);
        assert_eq!(short[..], whole[..short.len()], "cut at {cut}");
        let known = |found: &Found| match found {
            Found::Reading(reading) => reading.at,
            Found::Named(heard) => heard.known,
            Found::Ended { .. } => 0,
        };
        let later = &whole[short.len()..];
        assert!(
            later
                .iter()
                .all(|found| known(found) == 0 || known(found) > cut as u64)
        );
    }
}

#[test]
fn nothing_but_numbers_harms_the_ear() {
    let mut ear = Ear::new(setup(RATE, Instrument::Guitar));
    let nasty = [
        f32::NAN,
        f32::INFINITY,
        f32::NEG_INFINITY,
        1e30,
        -1e30,
        f32::MIN_POSITIVE,
        0.0,
    ];
    for _ in 0..2_000 {
        ear.push(&nasty, Some(&nasty[..3]), &mut |found| {
            if let Found::Named(heard) = found {
                assert!(heard.cents.is_finite());
            }
        });
    }
    let after = lively();
    let mut heard = 0;
    ear.push(&after, None, &mut |found| {
        heard += u32::from(matches!(found, Found::Named(_)))
    });
    assert!(heard > 5, "it hears again afterwards: {heard}");
}

fn write_wav(path: &Path, sound: &[f32], channels: u16, rate: u32) {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for sample in sound {
        for _ in 0..channels {
            writer.write_sample((sample * 32_767.0) as i16).unwrap();
        }
    }
    writer.finalize().unwrap();
}

fn underfoot(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_clear()
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

#[track_caller]
fn lines(arguments: &[&str]) -> Vec<Value> {
    let (code, out, error) = underfoot(arguments);
    assert_eq!((code, error.as_str()), (0, ""), "{arguments:?}");
    out.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

#[test]
fn the_program_tells_notes_frames_and_verdicts() {
    let home = tempfile::tempdir().unwrap();
    let wav = home.path().join("take.wav");
    let band = home.path().join("band.wav");
    // Ferry at Six, roots on one at 120: G, A and D, G, D and G in the bars of section A; the third bar is missed.
    let mut sound = vec![0.0; 9 * RATE as usize];
    for (bar, midi) in [(0.0, 55.0), (1.0, 57.0), (3.0, 62.0)] {
        pluck(&mut sound, RATE, midi, 2.0 * bar + 0.02, 0.9, 0.2);
    }
    write_wav(&wav, &sound, 2, RATE);
    write_wav(&band, &vec![0.0; 44_100], 1, 44_100);
    let (wav, band) = (wav.to_str().unwrap(), band.to_str().unwrap());

    let notes = lines(&["listen", wav, "--json", "--bleed", band]);
    let midi: Vec<i64> = notes
        .iter()
        .map(|note| note["midi"].as_i64().unwrap())
        .collect();
    assert_eq!(midi, [55, 57, 62]);
    for note in &notes {
        for key in [
            "onset_s",
            "onset_known_s",
            "off_s",
            "known_s",
            "midi",
            "cents",
            "confidence",
        ] {
            assert!(note[key].is_number(), "{key} of {note}");
        }
        assert!(note["onset_s"].as_f64() < note["known_s"].as_f64());
        assert!(note["struck"] == true && note["also"].is_null(), "{note}");
    }
    let frames = lines(&["listen", wav, "--json", "--frames"]);
    assert!(frames.len() > 5_000 && frames[0]["hz"].is_null());
    assert!(
        frames
            .iter()
            .any(|frame| (frame["hz"].as_f64().unwrap_or(0.0) - 196.0).abs() < 2.0)
    );
    assert_eq!(underfoot(&["listen", wav]).0, 0);

    let drill = home.path().join("roots.toml");
    let text = "title = \"roots\"\n[[stage]]\nname = \"one\"\ndegrees = [\"1\"]\nfigure = [\"1\"]\nplaces = [\"1\"]\n\
        cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\n";
    std::fs::write(&drill, text).unwrap();
    let chart = home.path().join("chart.toml");
    let text = "title = \"Lamp Oil\"\nkey = \"G minor\"\ntime = \"4/4\"\ntempo = 120\nfeel = \"swing\"\nform = [\"A\"]\n\
        [[section]]\nname = \"A\"\nbars = [\"Gm6\", \"Am7b5\", \"D7b9\", \"Gm6\"]\n";
    std::fs::write(&chart, text).unwrap();
    let judged = lines(&[
        "listen",
        wav,
        "--json",
        "--chart",
        chart.to_str().unwrap(),
        "--drill",
        drill.to_str().unwrap(),
        "--stage",
        "1",
    ]);
    let verdicts: Vec<(&str, &str)> = judged
        .iter()
        .filter(|line| line["kind"] == "verdict")
        .map(|line| {
            (
                line["want"].as_str().unwrap(),
                line["result"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(
        verdicts[..4],
        [
            ("G", "right"),
            ("A", "right"),
            ("D", "missed"),
            ("G", "wrong")
        ]
    );
}

#[test]
fn a_recording_that_cannot_be_read_is_refused_whole() {
    let home = tempfile::tempdir().unwrap();
    let path = |name: &str| home.path().join(name).to_str().unwrap().to_string();
    let good = path("good.wav");
    write_wav(Path::new(&good), &vec![0.1; 5_000], 1, RATE);
    let bytes = std::fs::read(&good).unwrap();
    std::fs::write(path("cut.wav"), &bytes[..bytes.len() / 2]).unwrap();
    std::fs::write(path("none.wav"), b"no sound").unwrap();
    write_wav(Path::new(&path("slow.wav")), &[0.0; 100], 1, 4_000);
    for name in ["cut.wav", "none.wav", "slow.wav", "missing.wav"] {
        let (code, out, error) = underfoot(&["listen", &path(name), "--json"]);
        assert_eq!((code, out.as_str()), (65, ""), "{name}");
        assert!(error.contains(name), "{error}");
    }
    for wrong in [
        &["--a4", "20"][..],
        &["--instrument", "drum"],
        &["--chart", "x.toml"],
    ] {
        assert_eq!(
            underfoot(&[&["listen", &good], wrong].concat()).0,
            64,
            "{wrong:?}"
        );
    }
}

#[test]
fn a_sung_note_that_is_over_is_not_told_again() {
    let line = [57.0, 60.0, 59.0, 55.0, 62.0, 52.0];
    let mut sound = vec![0.0; 8 * RATE as usize];
    for (index, midi) in line.iter().enumerate() {
        sing(
            &mut sound,
            0.5 + 1.2 * index as f64,
            0.7,
            *midi,
            (1.5, 0.03),
        );
    }
    let heard = notes(&found(&sound, RATE, Instrument::Voice, 512));
    let got: Vec<f64> = heard.iter().map(|note| f64::from(note.midi)).collect();
    assert_eq!(got, line);
}
