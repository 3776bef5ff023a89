//! What the callback costs over the bare synthesizer: instructions of each 64-frame block, counted by
//! callgrind (Debian package valgrind), on the same notes. Click and model tones, which the synthesizer does
//! not play, are the callback's own cost.
//!
//! `cargo bench --bench callback` prints the median, the 99th percentile and the worst block of both, and
//! fails above the limits.
// Runs a program and reads its files.
#![allow(clippy::disallowed_methods)]

#[allow(dead_code)]
#[path = "../house/support/rig.rs"]
mod rig;

use rig::{RATE, Rig, append, band_bar, prepared, start};
use std::path::Path;
use std::process::{Command, Stdio};
use underfoot::audio::{Outputs, soundfont};
use underfoot::time::Frame;

const BLOCK: usize = 64;
/// About ten seconds.
const BLOCKS: usize = 7_500;
/// The most that the callback may cost as a multiple of the bare synthesizer: median, 99th percentile, worst.
const LIMITS: [f64; 3] = [1.15, 1.3, 2.0];

/// Cores of small boards: their clock, the instructions that they do in a cycle, and the share of one that is ours, in per
/// cent. The Cortex-A53 issues up to two instructions in order, the A72 up to three out of order (Arm, technical reference
/// manuals DDI 0500 and 100095). Half an instruction a cycle in order, and one out of order, are assumed: LLVM's models of the two cores
/// (llvm-mca 14, `-mcpu=cortex-a53` and `cortex-a72`, on the innermost loops of `listen` compiled for aarch64) give 0.41 and 0.93 for the
/// canceller's step, 0.42 and 1.04 for its sum, 0.74 and 2.14 for `dot`, 0.65 and 1.91 for `products`, 0.34 and 0.45 for the
/// smoothing of `lower`, where all data are near.
const CORES: [(&str, f64, f64, f64); 2] = [
    ("Cortex-A53", 1_200.0, 0.5, 20.0),
    ("Cortex-A72", 1_500.0, 1.0, 20.0),
];

/// The most that handing the guitar's sound to the ear may make of it.
const HEARD_LIMIT: f64 = 1.1;

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

/// The player and the way of the guitar's sound to the ear, as the callback does both.
fn heard() {
    let Rig {
        mut player,
        end: _end,
        mut tape,
        ..
    } = playing();
    let (mut tap, mut tapped) = underfoot::audio::tap(RATE);
    let guitar = strings(BLOCKS * BLOCK);
    for block in 0..BLOCKS {
        let at = Frame((block * BLOCK) as u64);
        let guitar = &guitar[block * BLOCK..][..BLOCK];
        let mut body = |buffers: &mut [[f32; BLOCK]; 3]| {
            let [left, right, cue] = buffers;
            let out = Outputs {
                left: &mut *left,
                right: &mut *right,
                cue,
            };
            player.render(at, out, &mut tape);
            tap.push(at, guitar, left, right);
        };
        measured_block(&mut (&mut body as &mut dyn FnMut(&mut [[f32; BLOCK]; 3])));
        assert!(tapped.pop().is_some());
    }
}

/// A string struck twice a second, another each time.
fn strings(frames: usize) -> Vec<f32> {
    let sample = |n: usize| {
        let (stroke, t) = (n / 24_000, (n % 24_000) as f32 / RATE as f32);
        let hz = 110.0 * 2f32.powf((stroke * 5 % 24) as f32 / 12.0);
        let partial = |h: f32| (std::f32::consts::TAU * hz * h * t).sin() / h;
        0.2 * (-4.0 * t).exp() * (1..6).map(|h| partial(h as f32)).sum::<f32>()
    };
    (0..frames).map(sample).collect()
}

/// What the ear's thread costs: seconds of processor time for a second of sound, with the band beside it.
fn ear() -> f64 {
    let (mut used_s, mut blocks) = (0.0, 0u32);
    let used = || {
        let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
        time.tv_sec as f64 + time.tv_nsec as f64 / 1e9
    };
    listened(&mut |listen| {
        let before = used();
        listen();
        used_s += used() - before;
        blocks += 1;
    });
    used_s * f64::from(RATE) / (f64::from(blocks) * BLOCK as f64)
}

/// The same block by block, each of `blocks` measured.
fn ear_blocks(blocks: std::ops::Range<usize>) {
    let mut block = 0;
    listened(&mut |listen| {
        let mut body = |_: &mut [[f32; BLOCK]; 3]| listen();
        if blocks.contains(&block) {
            measured_block(&mut (&mut body as &mut dyn FnMut(&mut [[f32; BLOCK]; 3])));
        } else {
            listen();
        }
        block += 1;
    });
}

/// Lets the ear listen to a guitar with the band beside it; each block is `around`'s to call.
fn listened(around: &mut dyn FnMut(&mut dyn FnMut())) {
    let mut rig = playing();
    rig.until((BLOCKS * BLOCK) as u64, BLOCK);
    let guitar = strings(2 * BLOCKS * BLOCK);
    let once = rig.left.iter().zip(&rig.right).map(|(l, r)| l + r);
    // Twice the same.
    let band: Vec<f32> = once.clone().chain(once).collect();
    let sound: Vec<f32> = guitar
        .iter()
        .zip(&band)
        .map(|(g, b)| g + 0.05 * b)
        .collect();
    let setup = underfoot::listen::Setup {
        rate: RATE,
        instrument: underfoot::listen::Instrument::Guitar,
        a4_hz: 440.0,
        lowest_hz: 82.4,
    };
    let mut listener = underfoot::daemon::hearing::Listener::new(setup, 0);
    let mut told = Vec::new();
    for (block, (sound, band)) in sound.chunks(BLOCK).zip(band.chunks(BLOCK)).enumerate() {
        let at = Frame((block * BLOCK) as u64);
        around(&mut || listener.push(at, sound, band, &mut told));
    }
    let notes = told
        .iter()
        .filter(|told| matches!(told, underfoot::judging::EarEvent::Began { .. }));
    assert!(notes.count() >= 15, "the ear heard nothing");
}

fn bare() {
    let mut rig = playing();
    rig.until((BLOCKS * BLOCK) as u64, BLOCK);
    // Only what the callback's synthesizer plays too: not the click (keys 76 and 77) nor the model tones.
    let band =
        |(_, [status, key, _]): &(u64, [u8; 3])| status & 0x0F != 2 && !matches!(key, 76 | 77);
    let mut notes = rig.tape.midi.into_iter().filter(band).peekable();
    let path = soundfont::find().expect("a SoundFont");
    let mut file = std::io::Cursor::new(std::fs::read(path).expect("a readable file"));
    let font = std::sync::Arc::new(rustysynth::SoundFont::new(&mut file).expect("a font"));
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

/// The share of a core, by the mean of the blocks: both threads have a queue between them, so that a long block of the ear
/// waits. Whether the slowest core has room.
fn budget(band: &[u64], heard: &[u64], ear: &[u64]) -> bool {
    let mean = |counts: &[u64]| counts.iter().sum::<u64>() as f64 / counts.len() as f64;
    let (band, ear) = (mean(band), mean(ear) + mean(heard) - mean(band));
    let blocks_a_second = f64::from(RATE) / BLOCK as f64;
    let mut within = true;
    for (core, mhz, per_cycle, limit) in CORES {
        let share = |count: f64| 100.0 * count * blocks_a_second / (mhz * 1e6 * per_cycle);
        let both = share(band + ear);
        within &= both <= limit;
        println!(
            "{core:10} at {mhz} MHz, {per_cycle} instructions a cycle: band {band:.0} a block, {:.2} %; ear {ear:.0}, {:.2} %; both {both:.2} % (at most {limit})",
            share(band),
            share(ear)
        );
    }
    within
}

fn main() {
    match std::env::args().nth(1).as_deref() {
        Some("player") => return player(),
        Some("bare") => return bare(),
        Some("heard") => return heard(),
        Some("new-ear") => return ear_blocks(0..BLOCKS),
        Some("ear") => return ear_blocks(BLOCKS..2 * BLOCKS),
        _ => {}
    }
    let directory = tempfile::tempdir().expect("a temporary directory");
    let [player, bare, heard, new_ear, ear_alone] =
        ["player", "bare", "heard", "new-ear", "ear"].map(|what| counted(what, directory.path()));
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
    for (name, part) in [("median", 0.5), ("99th percentile", 0.99)] {
        let (with, without) = (percentile(&heard, part), percentile(&player, part));
        let ratio = with as f64 / without as f64;
        within &= ratio <= HEARD_LIMIT;
        println!(
            "{name:16} with guitar {with:>8}  callback {without:>8}  ratio {ratio:.3} (at most {HEARD_LIMIT})"
        );
    }
    println!("the first ten seconds, in which the ear learns how the band comes back (no limit):");
    budget(&player, &heard, &new_ear);
    println!("later:");
    within &= budget(&player, &heard, &ear_alone);
    println!(
        "the ear's thread: {:.4} s of processor time for a second of sound",
        ear()
    );
    assert!(within, "the callback costs too much");
}
