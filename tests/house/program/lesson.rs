//! A lesson to take home: what is in its folder, how loud it is, and that it goes on where it was stopped.

use crate::support::program::command;
use midly::{MetaMessage, Smf, TrackEventKind};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

const DRILL: &str = r#"
title = "Two things"
[[stage]]
name = "Roots"
degrees = ["1"]
places = ["1"]
passes = 2
advance = "passes"
cycle = { listen = 1, play = 1, breathe_bars = 0 }
help = { model = "after" }
[[stage]]
name = "wait, and find"
degrees = ["3"]
pulse = false
"#;
const CHART: &str = r#"
title = "Short & Small"
tempo = 240
[[section]]
name = "A"
bars = ["Dm7", "G7", "C", "C"]
"#;

/// The program, with the files of a lesson beside its folder.
fn lesson(home: &Path, more: &[&str]) -> std::process::Output {
    std::fs::write(home.join("drill.toml"), DRILL).expect("a file");
    std::fs::write(home.join("chart.toml"), CHART).expect("a file");
    let mut run = command(home);
    run.arg("lesson")
        .arg(home.join("drill.toml"))
        .arg(home.join("chart.toml"));
    run.arg("-o")
        .arg(home.join("out"))
        .arg("--silent-voice")
        .args(more);
    run.output().expect("the program")
}

fn done(home: &Path, more: &[&str]) {
    let done = lesson(home, more);
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
}

/// Every file of the folder with its bytes.
fn files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    for within in ["", "tracks", "pages", "sheets"] {
        for entry in std::fs::read_dir(dir.join(within)).expect("a directory") {
            let entry = entry.expect("an entry");
            if entry.path().is_file() {
                let name = Path::new(within)
                    .join(entry.file_name())
                    .display()
                    .to_string();
                all.insert(name, std::fs::read(entry.path()).expect("a file"));
            }
        }
    }
    all
}

fn names(dir: &Path) -> Vec<String> {
    files(dir).into_keys().collect()
}

/// Loudness and the highest sample of a WAV file.
fn metered(path: &Path) -> (f64, f32) {
    let mut reader = hound::WavReader::open(path).expect("a WAV file");
    let samples: Vec<f32> = reader
        .samples::<i16>()
        .map(|sample| f32::from(sample.expect("a sample")) / 32_768.0)
        .collect();
    let mut meter = ebur128::EbuR128::new(2, 48_000, ebur128::Mode::I).expect("a meter");
    meter.add_frames_f32(&samples).expect("frames");
    let peak = samples
        .iter()
        .fold(0.0f32, |most, sample| most.max(sample.abs()));
    (meter.loudness_global().expect("a loudness"), peak)
}

#[test]
fn the_folder_has_every_track_at_its_loudness_and_a_page() {
    let home = tempfile::tempdir().expect("a directory");
    done(
        home.path(),
        &[
            "--format",
            "wav,flac",
            "--lufs",
            "-20",
            "--student",
            "Ada <3",
        ],
    );
    let out = home.path().join("out");
    let expected = [
        "chart.toml",
        "drill.toml",
        "index.html",
        "lesson.flac",
        "lesson.json",
        "lesson.mid",
        "lesson.wav",
        "pages/01-roots.png",
        "pages/02-wait-and-find.png",
        "sheets/01-roots.pdf",
        "sheets/02-wait-and-find.pdf",
        "tracks/01-roots.flac",
        "tracks/01-roots.mid",
        "tracks/01-roots.wav",
        "tracks/02-wait-and-find.flac",
        "tracks/02-wait-and-find.mid",
        "tracks/02-wait-and-find.wav",
    ];
    assert_eq!(names(&out), expected);
    for track in [
        "tracks/01-roots.wav",
        "tracks/02-wait-and-find.wav",
        "lesson.wav",
    ] {
        let (lufs, peak) = metered(&out.join(track));
        assert!((lufs + 20.0).abs() < 0.5, "{track}: {lufs} LUFS");
        assert!(peak < 0.891, "{track}: {peak}");
    }
    // The whole is its tracks, sample by sample.
    let samples = |name: &str| -> Vec<i16> {
        let mut reader = hound::WavReader::open(out.join(name)).expect("a WAV file");
        reader
            .samples::<i16>()
            .map(|sample| sample.expect("a sample"))
            .collect()
    };
    let parts = [
        samples("tracks/01-roots.wav"),
        samples("tracks/02-wait-and-find.wav"),
    ]
    .concat();
    assert!(samples("lesson.wav") == parts, "the whole is not its parts");
    let page = String::from_utf8(files(&out)["index.html"].clone()).expect("text");
    for wanted in [
        "Short &amp; Small",
        "Ada &lt;3",
        "src=\"tracks/01-roots.flac\"",
        "data-at=\"0.000\"",
        "wait, and find",
    ] {
        assert!(page.contains(wanted), "{wanted}");
    }
    assert!(
        !page.contains("://"),
        "the page asks for something from outside"
    );
}

#[test]
fn markers_stand_where_the_passes_begin() {
    let home = tempfile::tempdir().expect("a directory");
    done(home.path(), &[]);
    let bytes = std::fs::read(home.path().join("out/lesson.mid")).expect("a file");
    let smf = Smf::parse(&bytes).expect("a MIDI file");
    let (mut at, mut marks) = (0u32, Vec::new());
    for event in &smf.tracks[0] {
        at += event.delta.as_int();
        if let TrackEventKind::Meta(MetaMessage::Marker(words)) = event.kind {
            marks.push((at, String::from_utf8_lossy(words).into_owned()));
        }
    }
    // Two bars of count, then four bars each: at 240 a bar lasts a second.
    let begins: Vec<(u32, &str)> = marks[..3]
        .iter()
        .map(|(at, words)| (*at, words.as_str()))
        .collect();
    assert_eq!(
        begins,
        [
            (0, "Roots: count-in"),
            (7_680, "listen, A, pass 1"),
            (23_040, "play, A, pass 2")
        ]
    );
    let second = marks
        .iter()
        .find(|(_, words)| words.starts_with("wait, and find: "));
    let record: Value = serde_json::from_slice(
        &std::fs::read(home.path().join("out/lesson.json")).expect("a file"),
    )
    .expect("JSON");
    let seconds = record["tracks"]["01-roots"]["seconds"]
        .as_f64()
        .expect("seconds");
    let (begins, _) = second.expect("the second stage is marked");
    // 3,840 ticks a second; its sound begins where the first track's ends.
    assert!(
        (f64::from(*begins) / 3_840.0 - seconds).abs() < 0.001,
        "{begins} {seconds}"
    );
}

#[test]
fn what_is_finished_is_not_made_anew_and_what_is_not_becomes_the_same() {
    let home = tempfile::tempdir().expect("a directory");
    let out = home.path().join("out");
    done(home.path(), &["--jobs", "1"]);
    let whole = files(&out);
    let times = |name: &str| {
        std::fs::metadata(out.join(name))
            .and_then(|file| file.modified())
            .expect("a time")
    };
    let first = times("tracks/01-roots.flac");
    // As one that was stopped leaves it: a track and the whole are missing, a half one lies about, another is cut short.
    let cut = whole["tracks/02-wait-and-find.flac"].len() / 2;
    std::fs::write(
        out.join("tracks/02-wait-and-find.flac"),
        &whole["tracks/02-wait-and-find.flac"][..cut],
    )
    .expect("a file");
    std::fs::remove_file(out.join("lesson.flac")).expect("a file");
    std::fs::write(out.join("tracks/.underfoot-x1"), b"half").expect("a file");
    done(home.path(), &["--jobs", "2"]);
    let again = files(&out);
    assert_eq!(
        again.keys().collect::<Vec<_>>(),
        whole.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &whole {
        assert!(again[name] == *bytes, "{name} has other bytes");
    }
    assert_eq!(
        times("tracks/01-roots.flac"),
        first,
        "a finished track was made anew"
    );
    // Another loudness is another lesson.
    done(home.path(), &["--lufs", "-23"]);
    assert!(files(&out)["tracks/01-roots.flac"] != whole["tracks/01-roots.flac"]);
}

#[test]
fn what_cannot_be_is_told_and_leaves_nothing() {
    let home = tempfile::tempdir().expect("a directory");
    // Flags, exit code, and what is told.
    let cases: [(&[&str], i32, &str); 5] = [
        (&["--stage", "none"], 64, "none"),
        (&["--format", "ogg"], 64, "ogg"),
        (&["--lufs", "0"], 64, "LUFS"),
        (&["--jobs", "0"], 64, "from 1 to 64"),
        (&["--soundfont", "nowhere.sf2"], 65, "nowhere.sf2"),
    ];
    for (flags, code, told) in cases {
        let done = lesson(home.path(), flags);
        let error = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(code), "{flags:?}: {error}");
        assert!(error.contains(told), "{flags:?}: {error}");
        assert!(!home.path().join("out").exists(), "{flags:?}");
    }
    // A name that stands in another's way.
    std::fs::write(home.path().join("out"), "a file").expect("a file");
    let done = lesson(home.path(), &[]);
    assert_eq!(done.status.code(), Some(65));
}
