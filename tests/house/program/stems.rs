//! Each part alone: together they are the whole.
// Runs the program.

use crate::support::program::{command, root};
use std::path::Path;

const PARTS: [&str; 5] = ["comping", "bass", "drums", "melody", "click"];

fn samples(path: &Path) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).expect("a WAV file");
    let samples = reader.samples::<f32>();
    samples.map(|sample| sample.expect("a sample")).collect()
}

fn render(home: &Path, more: &[&str]) -> Vec<f32> {
    let wav = home.join("whole.wav");
    let status = command(home)
        .arg("render")
        .arg(root("configs/charts/ferry-at-six.toml"))
        .arg("--drill")
        .arg(root("configs/drills/first-evening.toml"))
        .args(["--seconds", "12", "--bits", "32"])
        .args(more)
        .arg("--wav")
        .arg(&wav)
        .current_dir(home)
        .status()
        .expect("underfoot");
    assert!(status.success());
    samples(&wav)
}

#[test]
fn the_stems_of_a_take_add_up_to_it() {
    let home = tempfile::tempdir().expect("a directory");
    let alone = render(home.path(), &[]);
    let whole = render(home.path(), &["--stems", "stems"]);
    assert!(alone == whole, "stems beside it change nothing");
    let stem = |name: &str| samples(&home.path().join(format!("stems/{name}.wav")));
    let cues = stem("cues");
    let mut sum: Vec<f32> = cues.iter().flat_map(|cue| [*cue; 2]).collect();
    assert_eq!(sum.len(), whole.len());
    for part in PARTS {
        let stem = stem(part);
        assert_eq!(stem.len(), whole.len(), "{part}");
        let peak = stem
            .iter()
            .fold(0f32, |peak, sample| peak.max(sample.abs()));
        assert_eq!(peak > 0.01, part != "melody", "{part}: {peak}");
        sum.iter_mut()
            .zip(&stem)
            .for_each(|(sum, sample)| *sum += sample);
    }
    let pairs = sum.iter().zip(&whole);
    let apart = pairs.fold(0f32, |most, (sum, whole)| most.max((sum - whole).abs()));
    // The limiter rests in this take: it is linear from end to end.
    assert!(whole.iter().all(|sample| sample.abs() < 0.79));
    assert!(apart < 1e-4, "{apart}");
}

#[test]
fn stems_are_not_made_of_a_take_that_hears_a_guitar() {
    let home = tempfile::tempdir().expect("a directory");
    let output = command(home.path())
        .arg("render")
        .arg(root("configs/charts/ferry-at-six.toml"))
        .args(["--guitar", "own.wav", "--stems", "stems"])
        .output()
        .expect("underfoot");
    assert_eq!(output.status.code(), Some(64));
    assert!(!home.path().join("stems").exists());
}
