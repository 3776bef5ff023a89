//! `underfoot journal`: what is kept, from outside.

use crate::support::dice::Dice;
use crate::support::practised::{at_ms, moment, take};
use crate::support::program::{command, root};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Output;
use underfoot::journal::{self, Entry, Now, Writer};

/// Weeks of practice of these players, which end now.
fn make(path: &Path, players: &[&str]) {
    let opened = path.to_path_buf();
    let mut writer = Writer::new(Box::new(move |now| journal::open(&opened, now)));
    let wall_ms = std::time::UNIX_EPOCH
        .elapsed()
        .expect("after 1970")
        .as_millis() as i64;
    let mut dice = Dice(9);
    for (number, player) in players.iter().enumerate() {
        for day in 0..20i64 {
            let begins = day * 86_400_000 + number as i64 * 600_000;
            let mut entries = take("Ferry & \"Six\"", begins, 40, 2_000, &mut dice);
            for entry in &mut entries {
                if let Entry::Begin(begin) = entry {
                    begin.player = (*player).to_string();
                }
            }
            let ended = at_ms(entries.last().expect("entries"));
            entries.into_iter().for_each(|entry| writer.add(entry));
            writer.turn(&Now {
                boot: "box".into(),
                boot_ms: ended + 1_000,
                wall_ms: wall_ms - 20 * 86_400_000 + ended,
                synced: true,
            });
        }
    }
}

fn run(home: &Path, arguments: &[&str]) -> Output {
    let mut command = command(home);
    command.args(["journal"]).args(arguments).current_dir(home);
    command.output().expect("the program")
}

fn out(output: &Output) -> String {
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn home_with(players: &[&str]) -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a directory");
    let path = dir.path().join(".local/state/underfoot/journal.db");
    make(&path, players);
    (dir, path)
}

#[test]
fn everything_can_be_had_as_lines_and_for_a_spreadsheet() {
    let (dir, _) = home_with(&["=Ada"]);
    let lines = out(&run(dir.path(), &["export", "--json"]));
    let rows: Vec<Value> = lines
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    let count = |kind: &str| rows.iter().filter(|row| row["kind"] == kind).count();
    assert_eq!(
        (
            count("take"),
            count("verdict"),
            count("choice"),
            count("stage")
        ),
        (20, 800, 20, 20)
    );
    // RFC 4180: CRLF, quotes doubled; what a spreadsheet would reckon with is marked as text.
    let table = out(&run(dir.path(), &["export", "--csv"]));
    let mut table = table.split("\r\n");
    let head = table.next().expect("a head");
    assert!(
        head.starts_with("take,player,at,chart,drill,at_ms,stage,degree,quality,"),
        "{head}"
    );
    let first = table.next().expect("a line");
    assert!(first.contains(",'=Ada,"), "{first}");
    assert!(first.contains(",\"Ferry & \"\"Six\"\"\","), "{first}");
    assert_eq!(table.count(), 800);
}

#[test]
fn a_report_is_had_as_text_json_page_and_pictures() {
    let (dir, _) = home_with(&["Ada <b>"]);
    let text = out(&run(dir.path(), &["report"]));
    assert!(text.starts_with("Ada <b>, "), "{text}");
    assert!(
        text.contains("in 20 takes on 20 days; 800 notes asked for"),
        "{text}"
    );
    assert!(text.contains("3 over half-diminished"), "{text}");
    let report: Value =
        serde_json::from_str(&out(&run(dir.path(), &["report", "--json"]))).expect("JSON");
    assert_eq!(report["skills"].as_array().map(Vec::len), Some(20));
    for skill in report["skills"].as_array().expect("skills") {
        let (low, high) = (skill["between"][0].as_f64(), skill["between"][1].as_f64());
        assert!(
            low < skill["right"].as_f64() && skill["right"].as_f64() < high,
            "{skill}"
        );
        // Eight of ten were right.
        assert!(
            (0.55..0.95).contains(&skill["right"].as_f64().expect("a share")),
            "{skill}"
        );
    }
    let written = out(&run(
        dir.path(),
        &[
            "report", "--html", "a.html", "--svg", "a.svg", "--png", "a.png",
        ],
    ));
    assert_eq!(written, "");
    let page = std::fs::read_to_string(dir.path().join("a.html")).expect("a page");
    // For `tests/outside/page.py`, which looks at it in a browser.
    if let Ok(kept) = std::env::var("UNDERFOOT_JOURNAL_PAGE") {
        let kept = Path::new(&kept);
        std::fs::create_dir_all(kept.parent().expect("a directory")).expect("a directory");
        std::fs::write(kept, &page).expect("a file");
    }
    assert!(page.contains("Ada &lt;b&gt;") && !page.contains("<b>"));
    // Nothing is asked of any other place, and nothing runs.
    for foreign in [
        "<script",
        "http://www.w3.org/1999/xlink",
        "src=",
        "@import",
        "url(",
    ] {
        assert!(!page.contains(foreign), "{foreign}");
    }
    let picture = std::fs::read(dir.path().join("a.png")).expect("a picture");
    assert!(picture.starts_with(b"\x89PNG"));
    let svg = std::fs::read_to_string(dir.path().join("a.svg")).expect("a picture");
    assert!(roxmltree::Document::parse(&svg).is_ok());
    let none = out(&run(dir.path(), &["report", "--since", "2999-01-01"]));
    assert!(none.contains("0 min in 0 takes"), "{none}");
}

/// Weeks in which notes in G minor are right four times of five, others nineteen times of twenty.
fn make_with_a_hard_key(path: &Path, hard: u64) {
    let opened = path.to_path_buf();
    let mut writer = Writer::new(Box::new(move |now| journal::open(&opened, now)));
    let mut dice = Dice(5);
    for day in 0..20i64 {
        let mut entries = take("Ferry at Six", day * 86_400_000, 80, 2_000, &mut dice);
        for entry in &mut entries {
            if let Entry::Verdict(verdict) = entry {
                let wrong_of_20 = if verdict.key == "G minor" { hard } else { 1 };
                let is_right = dice.below(20) >= wrong_of_20;
                verdict.result = if is_right { "right" } else { "missed" };
            }
        }
        let ended = at_ms(entries.last().expect("entries"));
        entries.into_iter().for_each(|entry| writer.add(entry));
        writer.turn(&moment(ended + 1_000));
    }
}

#[test]
fn a_key_that_is_harder_is_told_by_as_much_as_it_is() {
    let dir = tempfile::tempdir().expect("a directory");
    for (name, hard, range) in [("hard.db", 4, -10.5..-4.5), ("same.db", 1, 0.0..0.0)] {
        make_with_a_hard_key(&dir.path().join(name), hard);
        let told = out(&run(dir.path(), &["report", "--json", "--journal", name]));
        let report: Value = serde_json::from_str(&told).expect("JSON");
        let around = report["around"].as_array().expect("a list");
        let minor = around.iter().find(|row| row["name"] == "G minor");
        match minor {
            None => assert!(range.is_empty(), "{name}: {around:?}"),
            // In G minor 80 of 100 are right (from 77 to 83 with so many notes), of all notes 87 or 88.
            Some(row) => {
                let by = row["easier_in_100"].as_f64().expect("a number");
                assert!(range.contains(&by), "{name}: {around:?}");
                let text = out(&run(dir.path(), &["report", "--journal", name]));
                assert!(text.contains(" fewer right notes in 100\n"), "{text}");
            }
        }
    }
}

#[test]
fn players_without_a_name_are_not_made_one() {
    let dir = tempfile::tempdir().expect("a directory");
    let own = |name: &str| dir.path().join(name);
    for (number, name) in ["ada.db", "bo.db"].into_iter().enumerate() {
        let opened = own(name);
        let mut writer = Writer::new(Box::new(move |now| journal::open(&opened, now)));
        let entries = take("Ferry at Six", 0, 10, 2_000, &mut Dice(number as u64));
        entries.into_iter().for_each(|entry| writer.add(entry));
        writer.finish(&Now {
            boot: format!("box {number}"),
            ..moment(30_000)
        });
    }
    // The directory is made where the daemon never ran.
    let journal = ["--journal", "new/all.db"];
    let merge = |arguments: &[&str]| {
        let all = [&["merge"], arguments, &journal].concat();
        run(dir.path(), &all)
    };
    assert_eq!(out(&merge(&["ada.db"])), "1 new takes, 10 new verdicts\n");
    assert_eq!(out(&merge(&["ada.db"])), "0 new takes, 0 new verdicts\n");
    let told = merge(&["bo.db"]);
    assert_eq!(told.status.code(), Some(65));
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(
        told.contains("whose practice is it? Say it by --player NAME"),
        "{told}"
    );
    assert_eq!(
        out(&merge(&["bo.db", "--player", "Bo"])),
        "1 new takes, 10 new verdicts\n"
    );
    // A name may be given afterwards.
    assert_eq!(
        out(&merge(&["ada.db", "--player", "Ada"])),
        "0 new takes, 0 new verdicts\n"
    );
    let names = out(&run(dir.path(), &["report", "--journal", "new/all.db"]));
    let names: Vec<&str> = names
        .lines()
        .skip(1)
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert_eq!(names, ["Ada", "Bo"]);
    // Two players in one file are no one's alone.
    let told = run(
        dir.path(),
        &[
            "merge",
            "new/all.db",
            "--player",
            "Cy",
            "--journal",
            "ada.db",
        ],
    );
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(
        told.contains("it holds several players (Ada, Bo), and --player Cy is for one"),
        "{told}"
    );
}

#[test]
fn several_players_stand_in_a_table_and_can_be_forgotten() {
    let (dir, path) = home_with(&["Ada", "Bo"]);
    let text = out(&run(dir.path(), &["report"]));
    assert!(text.contains("Ada") && text.contains("Bo"), "{text}");
    assert!(out(&run(dir.path(), &["report", "--player", "Bo"])).starts_with("Bo, "));
    let told = run(dir.path(), &["report", "--player", "Bob"]);
    assert_eq!(told.status.code(), Some(65));
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(
        told.contains("no player \"Bob\" in the journal (there are: "),
        "{told}"
    );
    // A backup keeps what is forgotten.
    out(&run(dir.path(), &["backup", "kept.db"]));
    assert_eq!(
        out(&run(dir.path(), &["forget", "--player", "Bo"])),
        "20 takes forgotten\n"
    );
    assert!(!out(&run(dir.path(), &["export", "--json"])).contains("Bo"));
    let bytes = std::fs::read(&path).expect("a file");
    assert!(
        !bytes.windows(2).any(|two| two == b"Bo"),
        "the name lies in the file still"
    );
    assert_eq!(
        out(&run(dir.path(), &["merge", "kept.db"])),
        "20 new takes, 800 new verdicts\n"
    );
    assert_eq!(
        out(&run(dir.path(), &["merge", "kept.db"])),
        "0 new takes, 0 new verdicts\n"
    );
    assert_eq!(
        out(&run(dir.path(), &["forget", "--everything"])),
        "40 takes forgotten\n"
    );
    assert_eq!(out(&run(dir.path(), &["export", "--json"])), "");
}

/// `underfoot next`.
fn next(home: &Path, arguments: &[&str]) -> Output {
    let mut command = command(home);
    command.arg("next").args(arguments).current_dir(home);
    command.output().expect("the program")
}

#[test]
fn what_comes_next_is_proposed_with_its_reason() {
    let chart = root("configs/charts/ferry-at-six.toml");
    let chart = chart.to_str().expect("a path");
    // Nothing is known: roots and thirds of the commonest chords.
    let dir = tempfile::tempdir().expect("a directory");
    let told = out(&next(dir.path(), &[chart, "--items", "4"]));
    assert_eq!(told.lines().count(), 4, "{told}");
    for line in told.lines() {
        assert!(line.ends_with(": not asked for yet"), "{told}");
        assert!(
            [" 1 over ", " 3 over ", " b3 over "]
                .iter()
                .any(|root| line.contains(root)),
            "{told}"
        );
    }
    // Something is: the chart's own, and the drill of it asks over its chords alone.
    let (dir, _) = home_with(&["me"]);
    let told = out(&next(dir.path(), &[chart, "-o", "next.toml", "--json"]));
    let items: Vec<Value> = told
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(items.len(), 3);
    let first = items[0]["name"].as_str().expect("a name").to_string();
    let checked = command(dir.path())
        .args(["check", "next.toml"])
        .current_dir(dir.path())
        .output();
    out(&checked.expect("the program"));
    let mut targets = command(dir.path());
    targets
        .args(["targets", chart, "--drill", "next.toml", "--json"])
        .current_dir(dir.path());
    let lines = out(&targets.output().expect("the program"));
    let asked = lines
        .lines()
        .filter(|line| !line.contains("\"target\":[]"))
        .count() as u64;
    assert!(asked > 0 && asked < lines.lines().count() as u64, "{lines}");
    // What is skipped comes no more today.
    let told = out(&next(dir.path(), &[chart, "--skip", &first]));
    assert!(!told.contains(&first), "{told}");
    assert!(!out(&next(dir.path(), &[chart])).contains(&first));
    let strange = next(dir.path(), &[chart, "--skip", "9 over nothing"]);
    assert_eq!(strange.status.code(), Some(64));
}

#[test]
fn what_is_no_journal_is_told_and_not_touched() {
    let dir = tempfile::tempdir().expect("a directory");
    std::fs::write(dir.path().join("x.db"), "not one").expect("a file");
    let cases: [(&[&str], &str); 5] = [
        (&["report"], "there is no journal here yet"),
        (&["report", "--journal", "x.db"], "it is no journal"),
        (&["merge", "x.db", "--journal", "y.db"], "it is no journal"),
        (&["backup", "z.db", "--journal", "x.db"], "it is no journal"),
        (
            &["forget", "--everything", "--journal", "x.db"],
            "it is no journal",
        ),
    ];
    for (arguments, expected) in cases {
        let told = run(dir.path(), arguments);
        assert_eq!(told.status.code(), Some(65), "{arguments:?}");
        let told = String::from_utf8_lossy(&told.stderr).into_owned();
        assert!(told.contains(expected), "{arguments:?}: {told}");
    }
    assert_eq!(
        std::fs::read(dir.path().join("x.db")).expect("a file"),
        b"not one"
    );
    assert!(!dir.path().join("z.db").exists());
}
