//! The daemon keeps a journal: what is played into `guitar_in` is there after a stop, and "weak spots" makes a drill of it.
// Runs the program against a real server.

use crate::support::calm::{Disturbed, undisturbed};
use crate::support::daemon::Daemon;
use crate::support::guitarist::Guitarist;
use crate::support::jackd::{Server, isolated};
use crate::support::player;
use crate::support::program::command;
use rustix::process::Signal;
use serde_json::Value;
use std::path::Path;

const RATE: u32 = 48_000;
const QPM: i64 = 200;

/// One chord all the time: whoever plays its root on each one is right, wherever that is.
const CHART: &str = "title = \"One Chord\"\nkey = \"C major\"\ntempo = 200\nfeel = \"swing\"\nform = [\"A\"]\n\
    [[section]]\nname = \"A\"\nbars = [\"G7\", \"G7\", \"G7\", \"G7\"]\n";
const DRILL: &str = "title = \"roots\"\n[[stage]]\nname = \"roots on one\"\ndegrees = [\"1\"]\nfigure = [\"1\"]\nplaces = [\"1\"]\n\
    help = { comping = \"full\", bass = true, drums = \"ride\", model = \"off\", voice = \"off\" }\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 2 }\n";
/// At rest a press of the second switch asks for weak spots.
const CONFIG: &str = "[audio]\nautoconnect = \"none\"\n[speech]\nengine = \"none\"\n[journal]\nplayer = \"Ada\"\n[foot]\nswitches = 2\n\
    [foot.map.stopped]\n\"2 press\" = \"weak spots\"\n\"2 tap\" = \"nothing\"\n\"2 double\" = \"nothing\"\n\"2 triple\" = \"nothing\"\n\
    \"2 hold\" = \"nothing\"\n";
/// Beats: the first switch held stops; five seconds later the second is pressed.
const FOOT: &str = "28 1 down\n32 1 up\n48 2 down\n48.5 2 up\n";

/// The root of the chord on each first beat, from the first count on.
fn roots() -> Vec<f32> {
    let bar = i64::from(RATE) * 60 * 4 / QPM;
    let struck: Vec<player::Struck> = (0..16).map(|n| (n * bar, bar * 2 / 3, 43)).collect();
    player::sound(&player::font(), &struck, (16 * bar) as usize, RATE)
}

/// What the journal has, by `journal export`.
fn exported(home: &Path) -> Vec<Value> {
    let done = command(home)
        .args(["journal", "export", "--json", "--journal"])
        .arg(home.join("state/journal.db"))
        .output()
        .expect("underfoot");
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let lines = String::from_utf8_lossy(&done.stdout).into_owned();
    let rows = lines.lines().map(serde_json::from_str);
    rows.collect::<Result<_, _>>().expect("JSON lines")
}

/// One session; what was heard of it needs a machine that has time.
fn session() -> Result<(), Disturbed> {
    let home = tempfile::tempdir().expect("a directory");
    let home = home.path();
    let file = |name: &str, text: &str| {
        let path = home.join(name);
        std::fs::write(&path, text).expect("a file");
        path.display().to_string()
    };
    let (chart, drill) = (file("chart.toml", CHART), file("drill.toml", DRILL));
    let (config, foot) = (file("underfoot.toml", CONFIG), file("foot.txt", FOOT));
    let _server = Server::start(RATE, 256);
    let daemon = Daemon::start(
        home,
        &[
            "--config", &config, "--chart", &chart, "--drill", &drill, "--foot", &foot, "--fresh",
        ],
    );
    daemon.wait_for_port("underfoot:guitar_in");
    let guitarist = Guitarist::start(roots());
    daemon.wait_for_status(60, |status| status["counters"]["journal_takes_kept"] == 1);
    // What is weak is found by what was played; the rest of the session stays.
    let is_weak = |status: &Value| {
        let stage = status["stage"].as_str().unwrap_or_default();
        stage.ends_with(" over dominant")
    };
    let status = daemon.wait_for_status(30, is_weak);
    assert_eq!(
        (&status["chart"], &status["state"]),
        (&"One Chord".into(), &"stopped".into())
    );
    assert!(status["reload"].is_null(), "{status}");
    assert_eq!(status["counters"]["journal_lost"], 0, "{status}");
    let (gaps, began) = guitarist.finish();
    daemon.signal(Signal::TERM);
    let ended = daemon.wait(14);
    assert_eq!((ended.code, began), (Some(0), true), "{}", ended.errors);
    let rows = exported(home);
    let of = |kind: &str| {
        rows.iter()
            .filter(|row| row["kind"] == kind)
            .collect::<Vec<_>>()
    };
    let takes = of("take");
    assert_eq!(takes.len(), 1, "{rows:?}");
    assert_eq!(
        (&takes[0]["ended"], &takes[0]["player"]),
        (&true.into(), &"Ada".into())
    );
    assert_eq!(
        (&takes[0]["chart"], &takes[0]["drill"]),
        (&"One Chord".into(), &"roots".into())
    );
    let right = of("verdict")
        .into_iter()
        .filter(|row| row["result"] == "right");
    let right: Vec<&Value> = right.collect();
    if right.len() < 3 {
        return Err(Disturbed::by(
            gaps,
            format!("{} right verdicts", right.len()),
        ));
    }
    for verdict in right {
        let told = ["degree", "quality", "root", "place"].map(|key| verdict[key].as_str());
        assert_eq!(told, ["1", "dominant", "G", "1"].map(Some), "{verdict}");
    }
    let stops = of("foot").into_iter().filter(|row| row["action"] == "stop");
    assert_eq!(stops.count(), 1);
    Ok(())
}

#[test]
fn a_take_is_kept_and_weak_spots_make_a_drill_of_it() {
    isolated(|| {
        undisturbed("journal", session);
    });
}
