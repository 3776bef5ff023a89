//! Set lists as a user meets them: listed, checked, rendered by foot and by song select.

use crate::support::program::{command, events, root};
use serde_json::Value;
use std::path::Path;
use std::process::Output;

fn run(home: &Path, args: &[&str]) -> Output {
    command(home).args(args).output().expect("underfoot")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_set_list_is_listed() {
    let home = tempfile::tempdir().expect("a directory");
    let list = root("tests/fixtures/sets/eight/set.toml")
        .display()
        .to_string();
    let listed = run(home.path(), &["set", &list]);
    let wanted = "Eight for a Friday\n\n\
        \u{20} 0  Tin Kettle      C major   240    4 bars 0:04  count-in 1 bar\n\
        \u{20} 1  Copper Roofs    A major   220    6 bars 0:07  count-in 1 bar\n\
        \u{20} 2  Wet Ledger      Bb major  220    4 bars 0:04  count-in 2 bars, segue\n\
        \u{20} 3  Corner Hat      F major   240    4 bars 0:03\n\
        \u{20} 4  Ferry Bell      D minor   120    2 bars 0:04  follows the clock\n\
        \u{20} 5  Gravel Shuffle  D major   220    4 bars 0:04  we lead the clock\n\
        \u{20}40  Six Gates       A minor   240    4 bars 0:03  no count-in\n\
        \u{20} 7  Last Lamp       Eb major  220    4 bars 0:04\n";
    assert_eq!(text(&listed.stdout), wanted);
    let lines = text(&run(home.path(), &["set", &list, "--json"]).stdout);
    let lines: Vec<Value> = lines
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(lines.len(), 8);
    assert_eq!(
        (&lines[4]["clock"], &lines[6]["number"]),
        (&Value::from("follow"), &Value::from(40))
    );
}

#[test]
fn check_reads_a_set_list_with_all_that_it_names() {
    let home = tempfile::tempdir().expect("a directory");
    let good = run(
        home.path(),
        &[
            "check",
            &root("configs/sets/two-evenings.toml").display().to_string(),
        ],
    );
    assert!(
        text(&good.stdout).contains("OK (set list, 4 tunes)"),
        "{}",
        text(&good.stdout)
    );
    let list = home.path().join("set.toml");
    std::fs::write(
        &list,
        "title = \"S\"\n[[tune]]\nchart = \"none.toml\"\ntempo = 1\n",
    )
    .expect("a file");
    let bad = run(home.path(), &["check", &list.display().to_string()]);
    assert_eq!(bad.status.code(), Some(65));
    let told = text(&bad.stderr);
    assert!(
        told.contains("set.toml:3:9: chart: ") && told.contains("set.toml:4:9: tempo is 1"),
        "{told}"
    );
}

#[test]
fn a_rendering_goes_through_the_set() {
    let home = tempfile::tempdir().expect("a directory");
    let foot = home.path().join("foot.txt");
    // Two switches by the standard map: stopped, a press starts.
    std::fs::write(
        &foot,
        "6 song 2\n40 1 down\n43.5 1 up\n46 song 0\n50 1 down\n50.2 1 up\n",
    )
    .expect("a file");
    let log = home.path().join("events.jsonl");
    let config = home.path().join("underfoot.toml");
    std::fs::write(
        &config,
        "[foot]\nswitches = 2\n[speech]\nengine = \"none\"\n",
    )
    .expect("a file");
    let path = |path: &Path| path.display().to_string();
    let list = path(&root("tests/fixtures/sets/eight/set.toml"));
    let args = [
        "render",
        &list,
        "--config",
        &path(&config),
        "--foot",
        &path(&foot),
        "--seconds",
        "16",
        "--events",
        &path(&log),
    ];
    let done = run(home.path(), &args);
    assert!(done.status.success(), "{}", text(&done.stderr));
    let lines = events(&log);
    let told: Vec<String> = lines
        .iter()
        .filter_map(|line| match line["kind"].as_str()? {
            "tune" => Some(line["title"].as_str()?.to_string()),
            "take" => Some(line["take"].as_str()?.to_string()),
            "song" => Some(format!("song {}", line["number"])),
            _ => None,
        })
        .collect();
    let wanted = [
        "start",
        "Tin Kettle",
        "song 2",
        "Wet Ledger",
        "stop",
        "song 0",
        "Tin Kettle",
        "start",
        "Tin Kettle",
        "stop",
    ];
    assert_eq!(told, wanted);
}
