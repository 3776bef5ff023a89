//! `underfoot calibrate` through a real server: delays made on purpose are found.
// Runs the program against a real server.

use crate::support::calm::{Disturbed, strict, undisturbed};
use crate::support::delay::Delay;
use crate::support::jackd::{Server, isolated};
use crate::support::program::command;
use serde_json::Value;
use std::path::Path;

const RATE: f64 = 48_000.0;
const PERIOD: u32 = 256;
const CONFIG: &str = "[audio]\nautoconnect = \"none\"\n[audio.connect]\nout_l = [\"delay:in\"]\nguitar_in = [\"delay:out\"]\n";

/// Runs the command; gives its exit code and what it printed.
fn calibrate(home: &Path, more: &[&str]) -> (Option<i32>, String, String) {
    let config = home.join("underfoot.toml");
    let mut command = command(home);
    let output = command
        .args(["calibrate", "--clicks", "3", "--config"])
        .arg(&config)
        .args(more)
        .output()
        .expect("underfoot");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        output.status.code(),
        text(&output.stdout),
        text(&output.stderr),
    )
}

/// How far off the way round was found with each delay (in frames), in ms.
fn measure(home: &Path, delays: &[usize]) -> Result<Vec<f64>, Disturbed> {
    let _server = Server::start(RATE as u32, PERIOD);
    let delay = Delay::start();
    let mut found = Vec::new();
    let mut amiss = None;
    for frames in delays {
        delay.set(*frames);
        let (code, out, errors) = calibrate(home, &["--json"]);
        let line: Value = serde_json::from_str(&out).unwrap_or_default();
        let ms = line["way_round_ms"].as_f64().unwrap_or(f64::MAX);
        let off = ms - block_ms() - *frames as f64 * 1000.0 / RATE;
        found.push(off);
        if code != Some(0) || off.abs() >= 0.3 {
            amiss = Some(format!("{frames} frames: {out} {errors}"));
            break;
        }
    }
    // A few lost cycles do no harm where most clicks agree.
    match (delay.finish(), amiss) {
        (_, None) => Ok(found),
        (gaps, Some(why)) => Err(Disturbed::by(gaps, why)),
    }
}

/// Two clients that hear each other are a block apart.
fn block_ms() -> f64 {
    f64::from(PERIOD) * 1000.0 / RATE
}

#[test]
fn a_delay_of_one_to_eighty_ms_is_found() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        std::fs::write(home.path().join("underfoot.toml"), CONFIG).expect("a file");
        let some: &[usize] = &[0, 48, 1_001, 3_840];
        let many: &[usize] = &[0, 48, 100, 333, 1_001, 1_777, 2_400, 3_083, 3_840];
        let delays = if strict() { many } else { some };
        let Some(found) = undisturbed("the way round", || measure(home.path(), delays)) else {
            return;
        };
        let most = found.iter().fold(0.0_f64, |most, off| most.max(off.abs()));
        println!(
            "{} delays found, off by {most:.4} ms at the most",
            found.len()
        );
        assert!(found.len() == delays.len() && most < 0.3);
    });
}

#[test]
fn what_is_missing_is_told() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        std::fs::write(home.path().join("underfoot.toml"), CONFIG).expect("a file");
        let (code, out, errors) = calibrate(home.path(), &[]);
        assert_eq!((code, out.as_str()), (Some(69), ""));
        assert!(errors.contains("no JACK server answers"), "{errors}");
        let _server = Server::start(RATE as u32, 1_024);
        let (code, out, errors) = calibrate(home.path(), &[]);
        assert_eq!((code, out.as_str()), (Some(69), ""));
        assert!(errors.contains("nothing is connected to out_l"), "{errors}");
        std::fs::write(home.path().join("underfoot.toml"), "").expect("a file");
        let (code, out, errors) = calibrate(home.path(), &[]);
        assert_eq!((code, out.as_str()), (Some(69), ""));
        assert!(errors.contains("no click came back"), "{errors}");
    });
}
