//! A set of eight tunes walked through by foot and by song select, with a real server: the events are the renderer's. The clock is
//! followed where the tune says so (an independent master, `jack_midi_clock`, Debian package jack-midi-clock), and led where not.
#![cfg(feature = "serial")]
// Runs programs against a real server.

use crate::support::calm::{Disturbed, undisturbed};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::{events, in_background, root};
use crate::support::sender::Sender;
use crate::support::tape::Tape;
use serde_json::Value;
use serialport::TTYPort;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

const RATE: f64 = 48_000.0;
/// Two switches; what a set needs lies on taps.
const CONFIG: &str = "[practice]\nquiet_start = false\n[speech]\nengine = \"none\"\n[foot]\nswitches = 2\n\
    [foot.map.playing]\n\"1 tap\" = \"last time\"\n\"2 tap\" = \"next chart\"\n\"2 triple\" = \"nothing\"\n";

/// Each tune is started and its last time asked for; the third leads into the fourth. Beats at 240: four a second.
const BY_FOOT: &str = "
    2    1 down
    2.4  1 up      # the last time of the first
    18   1 down
    18.4 1 up      # the second begins
    26   1 down
    26.4 1 up
    52   1 down
    52.4 1 up      # the third, which goes on into the fourth
    64   1 down
    64.4 1 up
    82   1 down
    82.4 1 up
    94   1 down
    94.4 1 up      # the fifth, without a clock to follow
    114  1 down
    114.4 1 up
    130  1 down
    130.4 1 up
    144  1 down
    144.4 1 up
    160  1 down
    160.4 1 up
    164  1 down
    164.4 1 up
    176  1 down
    176.4 1 up
    188  1 down
    188.4 1 up     # the last time of the last
";

struct Files(tempfile::TempDir);

impl Files {
    fn new(config: &str, foot: &str) -> Files {
        let dir = tempfile::tempdir().expect("a directory");
        std::fs::write(dir.path().join("underfoot.toml"), config).expect("a file");
        std::fs::write(dir.path().join("foot.txt"), foot).expect("a file");
        Files(dir)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).display().to_string()
    }

    fn daemon(&self, more: &[&str]) -> Daemon {
        let set = root("tests/fixtures/sets/eight/set.toml")
            .display()
            .to_string();
        let (config, log) = (self.text("underfoot.toml"), self.text("live.jsonl"));
        let mut args = vec![
            "--config", &config, "--set", &set, "--events", &log, "--fresh",
        ];
        args.extend(more);
        let daemon = Daemon::start(&self.path("home"), &args);
        daemon.wait_for_port("underfoot:midi_out");
        daemon
    }

    fn render(&self, what: &Path, more: &[&str]) -> Vec<Value> {
        let log = self.path("offline.jsonl");
        let done = in_background(self.0.path())
            .arg("render")
            .arg(what)
            .arg("--config")
            .arg(self.path("underfoot.toml"))
            .args(more)
            .arg("--events")
            .arg(&log)
            .status()
            .expect("underfoot");
        assert!(done.success());
        events(&log)
    }
}

/// What happens in the music before a frame, as frame and words, in order.
fn told(lines: &[Value], until: f64) -> Vec<(i64, String)> {
    let words = |line: &Value| {
        let frame = line["frame"].as_i64()?;
        let text = match line["kind"].as_str()? {
            "note" => format!(
                "{} {} {} {}",
                line["part"], line["midi"], line["velocity"], line["end_frame"]
            ),
            // At rest its frame hangs on when the loop looks.
            "tune" if !line["beat"].is_null() => {
                format!("tune {} {}", line["index"], line["title"])
            }
            "take" => format!("take {}", line["take"]),
            "section" => format!("section {}", line["section"]),
            "stage" => format!("stage {}", line["stage"]),
            "change" => format!(
                "change {} {} {}",
                line["what"], line["index"], line["value"]
            ),
            "foot" => format!("foot {} {}", line["gesture"], line["action"]),
            _ => return None,
        };
        let ends = line["end_frame"].as_i64().unwrap_or(frame);
        ((ends as f64) < until).then_some((frame, text))
    };
    let mut all: Vec<(i64, String)> = lines.iter().filter_map(words).collect();
    all.sort();
    all
}

fn compare(live: &[Value], offline: &[Value], seconds: f64) -> Result<usize, Disturbed> {
    let until = seconds * RATE;
    let (live, offline) = (told(live, until), told(offline, until));
    if let Some((one, two)) = live.iter().zip(&offline).find(|(one, two)| one != two) {
        return Err(Disturbed::Amiss(format!("live {one:?}, offline {two:?}")));
    }
    match live.len() == offline.len() && live.len() > 200 {
        true => Ok(live.len()),
        false => Err(Disturbed::Amiss(format!(
            "{} events live, {} offline",
            live.len(),
            offline.len()
        ))),
    }
}

/// The tunes that were played; one that only stood ready is told without a beat.
fn tunes(lines: &[Value]) -> Vec<String> {
    let titles = lines
        .iter()
        .filter(|line| line["kind"] == "tune" && !line["beat"].is_null());
    titles
        .filter_map(|line| line["title"].as_str().map(str::to_string))
        .collect()
}

#[test]
fn a_set_is_walked_through_by_foot_as_the_renderer_does() {
    isolated(|| {
        let seconds = 52.0;
        let files = Files::new(CONFIG, BY_FOOT);
        let set = root("tests/fixtures/sets/eight/set.toml");
        let foot = files.text("foot.txt");
        let offline = files.render(&set, &["--foot", &foot, "--seconds", "54"]);
        assert_eq!(tunes(&offline).len(), 8, "{:?}", tunes(&offline));
        let done = undisturbed("a set by foot", || {
            let _server = Server::start(48_000, 1_024);
            let daemon = files.daemon(&["--foot", &foot, "--seconds", "53"]);
            let output = daemon.wait(90);
            assert_eq!(output.code, Some(0), "{}", output.errors);
            compare(&events(&files.path("live.jsonl")), &offline, seconds)
        });
        println!("{done:?} events of eight tunes the same");
    });
}

#[test]
fn a_song_select_leads_to_its_tune_as_the_renderer_does() {
    isolated(|| {
        let done = undisturbed("a set by song select", by_song_select);
        println!("{done:?} events of seven tunes the same");
    });
}

fn by_song_select() -> Result<usize, Disturbed> {
    // The take begins by itself, for there is a script; it ends with the run.
    let files = Files::new(CONFIG, "900 1 down\n900.4 1 up\n");
    let log = files.path("live.jsonl");
    let _server = Server::start(48_000, 1_024);
    let foot = files.text("foot.txt");
    let daemon = files.daemon(&["--foot", &foot]);
    const SONGS: [(&str, &[u8]); 6] = [
        ("song-5", &[0xf3, 5]),
        ("song-40", &[0xf3, 40]),
        // A program change chooses as well.
        ("song-1", &[0xc2, 1]),
        ("song-7", &[0xf3, 7]),
        ("song-3", &[0xf3, 3]),
        ("song-2", &[0xc0, 2]),
    ];
    let is_there = |count: usize| {
        within(Duration::from_secs(20), || {
            std::thread::sleep(Duration::from_millis(200));
            let lines = events(&log);
            lines
                .iter()
                .filter(|line| line["kind"] == "tune" && !line["beat"].is_null())
                .count()
                >= count
        })
    };
    assert!(is_there(1), "{}", daemon.errors());
    for (count, (name, message)) in SONGS.into_iter().enumerate() {
        let sender = Sender::start(name, message);
        assert!(sender.connect("underfoot:midi_in"));
        sender.send();
        assert!(is_there(count + 2), "{name}: {}", daemon.errors());
    }
    std::thread::sleep(Duration::from_secs(3));
    drop(daemon);
    let live = events(&log);
    // Each song at the beat at which it came: four a second, after a bar that is counted in.
    let songs = live
        .iter()
        .filter(|line| line["kind"] == "song")
        .map(|line| {
            let beat = line["frame"].as_f64().expect("a frame") / RATE * 4.0 - 4.0;
            format!("{beat} song {}\n", line["number"])
        });
    std::fs::write(files.path("songs.txt"), songs.collect::<String>()).expect("a file");
    let last = live
        .iter()
        .filter(|line| line["kind"] == "note")
        .filter_map(|line| line["frame"].as_f64());
    let seconds = last.fold(0.0, f64::max) / RATE;
    let songs = files.text("songs.txt");
    let whole = (seconds + 2.0).to_string();
    let set = root("tests/fixtures/sets/eight/set.toml");
    let offline = files.render(&set, &["--foot", &songs, "--seconds", &whole]);
    assert_eq!(tunes(&live).len(), 7, "{:?}", tunes(&live));
    compare(&live, &offline, seconds - 1.0)
}

/// Beat, part and key of each note from the first full bar on, up to a beat.
fn notes(lines: &[Value], until: f64) -> Vec<(i64, String, i64)> {
    let notes = lines.iter().filter(|line| line["kind"] == "note");
    let note = |line: &Value| {
        let beat = line["beat"].as_f64()?;
        let tick = (beat * 960.0).round() as i64;
        let part = line["part"].as_str()?.to_string();
        (beat >= 0.0 && beat < until).then_some((tick, part, line["midi"].as_i64()?))
    };
    let mut notes: Vec<_> = notes.filter_map(note).collect();
    notes.sort();
    notes
}

#[test]
fn the_clock_is_followed_where_the_tune_says_so_and_led_where_not() {
    isolated(|| {
        let done = undisturbed("a set with a clock", with_a_clock);
        println!("{done:?} notes to another's clock the same");
    });
}

fn with_a_clock() -> Result<usize, Disturbed> {
    let (mut foot, line) = TTYPort::pair().expect("a pseudo terminal");
    let port = serialport::SerialPort::name(&line).expect("its name");
    let clock = "[clock]\nfollow = [\"jack\"]\nmute_band = false\nsend = true\n";
    let files = Files::new(
        &format!("{CONFIG}{clock}[foot.serial]\nport = \"{port}\"\n"),
        "",
    );
    let log = files.path("live.jsonl");
    let _server = Server::start(48_000, 1_024);
    let daemon = files.daemon(&[]);
    let tape = Tape::start(1);
    tape.listen("underfoot:midi_out", 1);
    let choose = |name: &str, message: &'static [u8], title: &str| {
        let sender = Sender::start(name, message);
        assert!(sender.connect("underfoot:midi_in"));
        sender.send();
        daemon.wait_for_status(10, |status| status["chart"] == title);
    };
    choose("song-4", &[0xf3, 4], "Ferry Bell");
    let mut master = Command::new("jack_midi_clock")
        .args(["-B", "-b", "120", "underfoot:midi_in"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("jack_midi_clock (Debian package jack-midi-clock)");
    daemon.wait_for_port("jack_midi_clock:mclk_out");
    std::thread::sleep(Duration::from_millis(300));
    tape.roll(true);
    daemon.wait_for_status(10, |status| {
        status["clock"]["state"] == "locked" && status["state"] == "playing"
    });
    std::thread::sleep(Duration::from_secs(8));
    let sent_while_following = tape.tick_count();
    tape.roll(false);
    daemon.wait_for_status(10, |status| status["state"] == "stopped");
    let followed = events(&log);
    let _ = master.kill();
    let _ = master.wait();
    choose("song-5", &[0xf3, 5], "Gravel Shuffle");
    foot.write_all(b"1 down\n").expect("a line");
    std::thread::sleep(Duration::from_millis(60));
    foot.write_all(b"1 up\n").expect("a line");
    daemon.wait_for_status(10, |status| status["state"] == "playing");
    std::thread::sleep(Duration::from_secs(4));
    let sent_while_leading = tape.tick_count() - sent_while_following;
    drop(daemon);
    assert_eq!(
        sent_while_following, 0,
        "ours is not sent where theirs leads"
    );
    // 220 quarters a minute, 24 ticks each: 88 a second.
    assert!(
        (200..900).contains(&sent_while_leading),
        "{sent_while_leading} ticks sent"
    );
    let offline = files.render(
        &root("tests/fixtures/sets/eight/ferry-bell.toml"),
        &["--form", "--seconds", "20"],
    );
    let (live, offline) = (notes(&followed, 12.0), notes(&offline, 12.0));
    match live == offline && live.len() > 20 {
        true => Ok(live.len()),
        false => Err(Disturbed::Amiss(format!(
            "{} notes live, {} offline",
            live.len(),
            offline.len()
        ))),
    }
}
