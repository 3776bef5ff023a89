//! What is named as a file and is none, and where there is no place to keep anything: nothing hangs, and it is told.

#[cfg(feature = "jack")]
use crate::support::daemon::within;
#[cfg(feature = "jack")]
use crate::support::program::command;
use crate::support::program::root;
use std::path::Path;
use std::process::{Command, Output, Stdio};
#[cfg(feature = "jack")]
use std::time::Duration;

fn make_pipe(path: &Path) {
    let made = Command::new("mkfifo").arg(path).status();
    assert!(made.expect("mkfifo (coreutils)").success());
}

/// The program, which is ended after 20 s with the code 124.
fn underfoot(home: &Path, arguments: &[&str]) -> Output {
    let mut limited = Command::new("timeout");
    limited.args(["20", env!("CARGO_BIN_EXE_underfoot")]);
    limited.args(arguments).env("HOME", home).current_dir(home);
    limited
        .env_remove("XDG_CONFIG_HOME")
        .output()
        .expect("timeout (coreutils)")
}

#[test]
fn what_could_not_be_read_back_is_not_exported() {
    let dir = tempfile::tempdir().expect("a directory");
    let home = dir.path();
    let bars = |bar: &str, count: usize| vec![format!("\"{bar}\""); count].join(", ");
    let chart = |bars: String, form: usize| {
        let form = vec!["\"A\""; form].join(", ");
        format!(
            "title = \"t\"\nkey = \"C major\"\nform = [{form}]\n[[section]]\nname = \"A\"\nbars = [{bars}]\n"
        )
    };
    let crowded = "C / Dm /".to_string();
    // The chart, and whether it goes out. A score of more than 8 MiB is no lead sheet.
    for (name, text, goes_out) in [
        ("short", chart(bars(&crowded, 12), 2), true),
        ("long", chart(bars(&crowded, 12), 100), true),
        // What is said again is written as a repeat.
        ("said again", chart(bars(&crowded, 25), 400), true),
        ("too long", chart(bars(&crowded, 10_000), 1), false),
        ("silent", chart(bars("N.C.", 4), 1), true),
    ] {
        std::fs::write(home.join("chart.toml"), text).expect("a file");
        let (score, back) = (format!("{name}.musicxml"), format!("{name}.toml"));
        let out = underfoot(home, &["export", "chart.toml", "-o", &score]);
        let told = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(
            out.status.code(),
            Some(if goes_out { 0 } else { 65 }),
            "{name}: {told}"
        );
        assert_eq!(
            told.contains("could not be read back"),
            !goes_out,
            "{name}: {told}"
        );
        assert_eq!(home.join(&score).exists(), goes_out, "{name}");
        if goes_out {
            let back = underfoot(home, &["import", &score, "-o", &back]);
            assert!(back.status.success(), "{name}: {back:?}");
        }
    }
}

#[test]
fn a_pipe_as_a_file_is_refused_by_every_command() {
    let dir = tempfile::tempdir().expect("a directory");
    make_pipe(&dir.path().join("pipe"));
    std::fs::write(
        dir.path().join("font.toml"),
        "[audio]\nsoundfont = \"pipe\"\n",
    )
    .expect("a file");
    let charts = root("configs/charts/ferry-at-six.toml");
    let chart = charts.to_str().expect("a path");
    let cases: &[(&[&str], i32)] = &[
        (&["check", "pipe"], 65),
        (&["check", "font.toml"], 65),
        (&["symbols", "pipe"], 65),
        (&["targets", "pipe"], 65),
        (&["targets", chart, "--config", "pipe"], 78),
        (&["targets", chart, "--drill", "pipe"], 65),
        (&["import", "pipe"], 65),
        (&["export", "pipe"], 65),
        (&["listen", "pipe"], 65),
        (&["clock", "replay", "pipe"], 65),
        (&["render", "pipe", "--midi", "x.mid"], 65),
        (&["render", chart, "--midi", "x.mid", "--foot", "pipe"], 65),
        (
            &["render", chart, "--midi", "x.mid", "--soundfont", "pipe"],
            65,
        ),
        (
            &["render", chart, "--midi", "x.mid", "--config", "font.toml"],
            65,
        ),
        (
            &["render", chart, "--midi", "x.mid", "--guitar", "pipe"],
            65,
        ),
        (&["status", "--config", "pipe"], 78),
    ];
    for (arguments, code) in cases {
        let output = underfoot(dir.path(), arguments);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(*code), "{arguments:?}: {told}");
        assert!(
            told.contains("it is a pipe, no file"),
            "{arguments:?}: {told}"
        );
    }
}

#[test]
fn what_the_shell_hands_over_is_read_though_it_is_a_pipe() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_underfoot"))
        .args(["symbols", "/dev/stdin"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("underfoot");
    let input = child.stdin.take().expect("a pipe");
    std::io::Write::write_all(&mut { input }, b"C7\n").expect("a pipe");
    let output = child.wait_with_output().expect("underfoot");
    assert!(String::from_utf8_lossy(&output.stdout).contains("\"root\":\"C\""));
}

/// Starts the daemon and gives what it says until it says `last`, and is ended.
#[cfg(feature = "jack")]
fn told_by_daemon(mut run: Command, dir: &Path, last: &str) -> String {
    let log = dir.join("log");
    run.arg("run")
        .arg("--chart")
        .arg(root("configs/charts/ferry-at-six.toml"));
    run.env("JACK_NO_START_SERVER", "1")
        .stdin(Stdio::null())
        .stdout(Stdio::null());
    run.stderr(std::fs::File::create(&log).expect("a file"));
    let mut child = run.spawn().expect("underfoot");
    let said = || std::fs::read_to_string(&log).unwrap_or_default();
    let came = within(Duration::from_secs(20), || said().contains(last));
    let _ = child.kill();
    let _ = child.wait();
    assert!(came, "\"{last}\" was not said:\n{}", said());
    said()
}

#[cfg(feature = "jack")]
#[test]
fn pipes_hold_up_no_daemon() {
    let dir = tempfile::tempdir().expect("a directory");
    let at = |name: &str| dir.path().join(name);
    std::fs::create_dir(at("state")).expect("a directory");
    make_pipe(&at("state/place.json"));
    make_pipe(&at("font.sf2"));
    std::fs::write(at("box.toml"), "[audio]\nsoundfont = \"font.sf2\"\n").expect("a file");
    let mut run = command(dir.path());
    run.env("UNDERFOOT_CONFIG", at("box.toml"));
    run.env("STATE_DIRECTORY", at("state"));
    // That no server answers is told by the loop, which is what was never reached.
    let said = told_by_daemon(run, dir.path(), "jack:");
    assert!(
        said.contains("font.sf2: the SoundFont cannot be read (it is a pipe, no file)"),
        "{said}"
    );
    assert!(said.contains("place.json: not readable"), "{said}");
}

#[cfg(feature = "jack")]
#[test]
fn without_a_place_nothing_is_kept_and_that_is_told() {
    let dir = tempfile::tempdir().expect("a directory");
    let mut run = Command::new(env!("CARGO_BIN_EXE_underfoot"));
    run.env_clear()
        .env("TMPDIR", dir.path())
        .current_dir(dir.path());
    let said = told_by_daemon(run, dir.path(), "jack:");
    for line in [
        "no directory to keep the place and takes in",
        "no directory to keep what was spoken in",
        "no status socket",
    ] {
        assert_eq!(said.matches(line).count(), 1, "{line}: {said}");
    }
    let left: Vec<_> = std::fs::read_dir(dir.path())
        .expect("a directory")
        .filter_map(|entry| Some(entry.ok()?.file_name()))
        .collect();
    assert_eq!(left, ["log"], "nothing else was written");
    assert!(!said.contains("/tmp/.local"), "{said}");
}

#[test]
fn a_write_that_fails_leaves_the_old_file() {
    let dir = tempfile::tempdir().expect("a directory");
    let at = |name: &str| dir.path().join(name);
    let chart = root("configs/charts/ferry-at-six.toml");
    std::fs::copy(&chart, at("in.toml")).expect("a chart");
    let export = ["export", "in.toml", "-o", "score.musicxml"];
    assert!(underfoot(dir.path(), &export).status.success());
    for (from, to, word) in [
        ("in.toml", "out.musicxml", "export"),
        ("score.musicxml", "out.toml", "import"),
    ] {
        std::fs::write(at(to), "the old one").expect("a file");
        // No file may grow beyond one block, and the signal that says so is passed over.
        let limited = Command::new("sh")
            .args([
                "-c",
                "trap '' XFSZ; ulimit -f 1; exec \"$0\" \"$@\"",
                env!("CARGO_BIN_EXE_underfoot"),
            ])
            .args([word, from, "-o", to])
            .current_dir(dir.path())
            .output()
            .expect("sh");
        let told = String::from_utf8_lossy(&limited.stderr);
        assert_eq!(limited.status.code(), Some(65), "{told}");
        assert!(told.contains("cannot be written"), "{told}");
        assert_eq!(
            std::fs::read_to_string(at(to)).expect("a file"),
            "the old one"
        );
    }
    let left = std::fs::read_dir(dir.path()).expect("a directory").count();
    assert_eq!(left, 4, "nothing half-made is left");
}
