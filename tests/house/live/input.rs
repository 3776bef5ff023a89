//! An input that is heard for the first time: another client plays into `guitar_in` while nothing plays.
// Runs the program against a real server.

use crate::listen::ways::string::{Sounding, add, picked};
use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use jack::{AudioOut, Client, ClientOptions, Control, Port, ProcessHandler, ProcessScope};
use serde_json::Value;
use std::path::Path;
use std::time::Duration;

const RATE: u32 = 48_000;

/// Plays a sound round and round.
struct Loop {
    out: Port<AudioOut>,
    sound: Vec<f32>,
    at: usize,
}

impl ProcessHandler for Loop {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        for sample in self.out.as_mut_slice(scope) {
            *sample = self.sound[self.at % self.sound.len()];
            self.at += 1;
        }
        Control::Continue
    }
}

/// Plucked strings of a range, over a hum of 60 Hz, 26 dB under.
fn strings(from: f64) -> Vec<f32> {
    let mut sound = vec![0.0; 6 * RATE as usize];
    for (index, above) in [0.0, 7.0, 3.0, 10.0, 5.0, 2.0, 8.0, 12.0]
        .iter()
        .enumerate()
    {
        let note = Sounding {
            level: 0.2,
            ..picked(0.5 + 0.6 * index as f64, 0.45, from + above)
        };
        add(&mut sound, &note);
    }
    for (n, sample) in sound.iter_mut().enumerate() {
        let turn = std::f64::consts::TAU * 60.0 * n as f64 / f64::from(RATE);
        *sample += (0.012 * turn.sin() + 0.006 * (3.0 * turn).sin()) as f32;
    }
    sound
}

/// What is kept of inputs.
fn kept(home: &Path) -> Option<Value> {
    let text = std::fs::read_to_string(home.join("state/inputs.json")).ok()?;
    serde_json::from_str(&text).ok()
}

fn started(home: &Path) -> Daemon {
    let config = home.join("underfoot.toml");
    let text = "[audio]\nautoconnect = \"none\"\n[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
    std::fs::write(&config, text).expect("a file");
    let chart = crate::support::program::root("configs/charts/ferry-at-six.toml");
    let (config, chart) = (config.display().to_string(), chart.display().to_string());
    let daemon = Daemon::start(home, &["--config", &config, "--chart", &chart, "--fresh"]);
    daemon.wait_for_port("underfoot:guitar_in");
    daemon
}

#[test]
fn a_new_input_is_told_and_known_from_then_on() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let _server = Server::start(RATE, 256);
        let (client, _) = Client::new("bassist", ClientOptions::NO_START_SERVER).expect("a server");
        let out = client
            .register_port("out", AudioOut::default())
            .expect("a port");
        let hands = Loop {
            out,
            sound: strings(29.0),
            at: 0,
        };
        let client = client.activate_async((), hands).expect("an active client");
        let plug = || {
            let client = client.as_client();
            let plugged = client.connect_ports_by_name("bassist:out", "underfoot:guitar_in");
            plugged.expect("a connection");
        };
        let daemon = started(home);
        plug();
        let known = || kept(home).is_some_and(|kept| kept["bassist:out"]["bass"] == true);
        assert!(within(Duration::from_secs(40), known), "{:?}", kept(home));
        let input = kept(home).expect("the file")["bassist:out"].clone();
        assert_eq!(input["hum_hz"], 60, "{input}");
        let pages = daemon.pages();
        let is_told = ["hum 60 Hz", "bass"]
            .iter()
            .all(|words| pages.contains(words));
        assert!(is_told, "{pages}");
        drop(daemon);
        // Known, it is no news.
        let daemon = started(home);
        plug();
        std::thread::sleep(Duration::from_secs(8));
        let pages = daemon.pages();
        assert!(!pages.contains("hum 60 Hz"), "{pages}");
    });
}
