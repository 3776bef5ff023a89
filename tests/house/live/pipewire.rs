//! PipeWire in JACK's place, as in a user's session: started by the user's unit, a press plays, and its sound is captured.
//! Needs Debian's packages pipewire and pipewire-jack; the server is one of the test's own.
#![cfg(feature = "serial")]
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::isolated;
use crate::support::program::root;
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Quieter than this is no band, in dB of full scale. The first take after a start is 12 dB quieter.
const SOUNDS_DB: f64 = -50.0;

/// The words before the program in the unit's ExecStart.
fn way_of_the_unit() -> Vec<String> {
    let unit = std::fs::read_to_string(root("systemd/user/underfoot.service")).expect("the unit");
    let start = unit
        .lines()
        .find_map(|line| line.strip_prefix("ExecStart="))
        .expect("a start");
    let (way, run) = start.split_once("/usr/bin/underfoot").expect("the program");
    assert_eq!(run, " run");
    way.split_whitespace().map(str::to_string).collect()
}

struct PipeWire(Child);

impl PipeWire {
    /// A server whose sockets are in `home`.
    fn start(home: &Path) -> PipeWire {
        let server = Command::new("pipewire")
            .env("HOME", home)
            .env("XDG_RUNTIME_DIR", home)
            .env_remove("DBUS_SESSION_BUS_ADDRESS")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        let server = PipeWire(server.expect("pipewire (Debian package)"));
        assert!(
            within(Duration::from_secs(10), || home.join("pipewire-0").exists()),
            "no socket"
        );
        server
    }
}

impl Drop for PipeWire {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn loudest_db(path: &Path) -> f64 {
    let mut reader = hound::WavReader::open(path).expect("a WAV file");
    let samples: Vec<f64> = reader
        .samples::<i16>()
        .map(|sample| f64::from(sample.expect("a sample")) / 32768.0)
        .collect();
    let power = |block: &[f64]| {
        block.iter().map(|sample| sample * sample).sum::<f64>() / block.len() as f64
    };
    let loudest = samples.chunks_exact(9600).map(power).fold(0.0, f64::max);
    10.0 * loudest.log10()
}

#[test]
fn in_a_session_with_pipewire_a_press_plays() {
    if Command::new("pw-jack").arg("-h").output().is_err() {
        assert!(
            std::env::var_os("CI").is_none(),
            "no pw-jack (Debian package pipewire-jack)"
        );
        return println!("SKIPPED: no pw-jack (Debian package pipewire-jack)");
    }
    isolated(|| {
        let dir = tempfile::tempdir().expect("a directory");
        let home = dir.path();
        let _server = PipeWire::start(home);
        let (mut foot, line) = TTYPort::pair().expect("a pseudo terminal");
        let port = line.name().expect("a name");
        let config = format!("[speech]\nengine = \"none\"\n[foot.serial]\nport = \"{port}\"\n");
        std::fs::write(home.join("underfoot.toml"), config).expect("a file");
        let chart = root("configs/charts/ferry-at-six.toml")
            .display()
            .to_string();
        let config = home.join("underfoot.toml").display().to_string();
        let way = way_of_the_unit();
        let way: Vec<&str> = way.iter().map(String::as_str).collect();
        let daemon = Daemon::start_within(
            &way,
            home,
            &["--config", &config, "--chart", &chart, "--fresh"],
        );
        daemon.wait_for_status(20, |status| {
            let devices = status["devices"].as_array().into_iter().flatten();
            let is_open = devices
                .clone()
                .any(|device| device["name"] == port.as_str() && device["state"] == "present");
            is_open && status["jack"]["state"] == "present" && status["state"] == "stopped"
        });
        foot.write_all(b"1 down\n1 up\n").expect("a line");
        daemon.wait_for_status(15, |status| status["state"] == "playing");
        let wav = home.join("heard.wav");
        let recorded = Command::new(way[0])
            .env("XDG_RUNTIME_DIR", home)
            .env("HOME", home)
            .args(["jack_rec", "-d", "3", "-b", "16", "-f"])
            .arg(&wav)
            .args(["underfoot:out_l", "underfoot:out_r"])
            .output();
        let recorded = recorded.expect("jack_rec of jackd2");
        assert!(
            wav.exists(),
            "{}",
            String::from_utf8_lossy(&recorded.stderr)
        );
        let loudest = loudest_db(&wav);
        println!("through PipeWire: loudest tenth of a second {loudest:.1} dB of full scale");
        assert!(loudest > SOUNDS_DB, "{loudest}");
        let status = daemon.status().expect("a status");
        assert_eq!(status["state"], "playing", "{status}");
        assert_eq!(status["counters"]["starved"], 0, "{status}");
    });
}
