//! What the callback costs over the bare synthesizer: instructions of each 64-frame block, counted by
//! callgrind (Debian package valgrind), on the same notes. Click and model tones, which the synthesizer does
//! not play, are the callback's own cost.
//!
//! `cargo bench --bench callback` prints the median, the 99th percentile and the worst block of both, and
//! fails above the limits.
// Runs a program and reads its files.
#![allow(clippy::disallowed_methods)]

#[path = "../support/mod.rs"]
mod support;

use std::path::Path;
use std::process::{Command, Stdio};
use support::{RATE, Rig, append, band_bar, prepared, start};
use underfoot::audio::{Outputs, soundfont};
use underfoot::time::Frame;

const BLOCK: usize = 64;
/// About ten seconds.
const BLOCKS: usize = 7_500;
/// The most that the callback may cost as a multiple of the bare synthesizer: median, 99th percentile, worst.
const LIMITS: [f64; 3] = [1.15, 1.3, 2.0];

/// One block of either; callgrind counts inside this function and writes a file after each call.
#[unsafe(no_mangle)]
#[inline(never)]
extern "C" fn measured_block(body: &mut &mut dyn FnMut(&mut [[f32; BLOCK]; 3])) {
    let mut buffers = [[0f32; BLOCK]; 3];
    body(&mut buffers);
    std::hint::black_box(&buffers);
}

fn playing() -> Rig {
    let mut rig = Rig::new(prepared(true));
    assert!(rig.end.send(start(0, 0)).is_ok());
    assert!(
        rig.end
            .send(append((0..4).map(|index| band_bar(index, 140.0))))
            .is_ok()
    );
    assert!(
        rig.end
            .send(append((4..8).map(|index| band_bar(index, 140.0))))
            .is_ok()
    );
    rig
}

fn player() {
    let Rig {
        mut player,
        end: _end,
        mut tape,
        ..
    } = playing();
    for block in 0..BLOCKS {
        let at = Frame((block * BLOCK) as u64);
        let mut body = |buffers: &mut [[f32; BLOCK]; 3]| {
            let [left, right, cue] = buffers;
            player.render(at, Outputs { left, right, cue }, &mut tape);
        };
        measured_block(&mut (&mut body as &mut dyn FnMut(&mut [[f32; BLOCK]; 3])));
    }
}

fn bare() {
    let mut rig = playing();
    rig.until((BLOCKS * BLOCK) as u64, BLOCK);
    // Only what the callback's synthesizer plays too: not the click (keys 76 and 77) nor the model tones.
    let band =
        |(_, [status, key, _]): &(u64, [u8; 3])| status & 0x0F != 2 && !matches!(key, 76 | 77);
    let mut notes = rig.tape.midi.into_iter().filter(band).peekable();
    let path = soundfont::find().expect("a SoundFont");
    let font = soundfont::load(&path, 1 << 30).expect("a font");
    let mut settings = rustysynth::SynthesizerSettings::new(RATE as i32);
    settings.maximum_polyphony = 96;
    let mut synth = rustysynth::Synthesizer::new(&font, &settings).expect("a synthesizer");
    for (channel, program) in [(0, 4), (1, 32)] {
        synth.process_midi_message(channel, 0xC0, program, 0);
    }
    for block in 0..BLOCKS {
        let end = ((block + 1) * BLOCK) as u64;
        let mut body = |buffers: &mut [[f32; BLOCK]; 3]| {
            while let Some((_, [status, key, velocity])) = notes.next_if(|(at, _)| *at < end) {
                let (channel, command) = (i32::from(status & 0x0F), i32::from(status & 0xF0));
                synth.process_midi_message(channel, command, key.into(), velocity.into());
            }
            let [left, right, _] = buffers;
            synth.render(left, right);
        };
        measured_block(&mut (&mut body as &mut dyn FnMut(&mut [[f32; BLOCK]; 3])));
    }
}

/// Instructions of each block, sorted.
fn counted(what: &str, directory: &Path) -> Vec<u64> {
    let out = directory.join(what);
    let status = Command::new("valgrind")
        .args([
            "--tool=callgrind",
            "--toggle-collect=measured_block",
            "--dump-after=measured_block",
        ])
        .args([
            "--dump-line=no",
            &format!("--callgrind-out-file={}", out.display()),
        ])
        .arg(std::env::current_exe().expect("this program"))
        .arg(what)
        .stderr(Stdio::null())
        .status()
        .expect("valgrind");
    assert!(status.success(), "{what} under valgrind: {status}");
    let mut counts: Vec<u64> = directory
        .read_dir()
        .expect("the directory of the dumps")
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let name = path.file_name()?.to_str()?;
            name.starts_with(&format!("{what}.")).then_some(())?;
            let text = std::fs::read_to_string(&path).ok()?;
            let line = text
                .lines()
                .rev()
                .find_map(|line| line.strip_prefix("totals:"))?;
            line.trim().parse().ok()
        })
        .filter(|count| *count > 0)
        .collect();
    assert!(
        counts.len() >= BLOCKS - 1,
        "{what}: {} blocks counted",
        counts.len()
    );
    counts.sort_unstable();
    counts
}

fn main() {
    match std::env::args().nth(1).as_deref() {
        Some("player") => return player(),
        Some("bare") => return bare(),
        _ => {}
    }
    let directory = tempfile::tempdir().expect("a temporary directory");
    let [player, bare] = ["player", "bare"].map(|what| counted(what, directory.path()));
    let mut within = true;
    let percentile =
        |counts: &[u64], part: f64| counts[((counts.len() - 1) as f64 * part) as usize];
    for (name, part, limit) in [
        ("median", 0.5, LIMITS[0]),
        ("99th percentile", 0.99, LIMITS[1]),
        ("worst", 1.0, LIMITS[2]),
    ] {
        let (ours, theirs) = (percentile(&player, part), percentile(&bare, part));
        let ratio = ours as f64 / theirs as f64;
        within &= ratio <= limit;
        println!(
            "{name:16} callback {ours:>8}  bare synth {theirs:>8}  ratio {ratio:.3} (at most {limit})"
        );
    }
    assert!(within, "the callback costs too much");
}
