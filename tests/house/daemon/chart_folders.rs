//! Folders of charts: what is put there, edited, half written or mounted is noticed by the real kernel, and read as `check` reads it.

use crate::support::jackd::isolated;
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;
use underfoot::daemon::chart_folders::ChartFolders;
use underfoot::daemon::config::Config;
use underfoot::device::folders::{FolderWatch, Wanted};
use underfoot::drill::Drill;
use underfoot::practice::Library;

type Told = Receiver<BTreeSet<PathBuf>>;

fn watch(folder: &Path, file: &Path) -> (FolderWatch, Told) {
    let (sender, told) = channel();
    let wanted = Wanted {
        folders: vec![folder.to_path_buf()],
        files: vec![file.to_path_buf()],
        endings: &["toml"],
    };
    let watch = FolderWatch::start(wanted, move |writing| sender.send(writing).is_ok());
    (watch.expect("a watch"), told)
}

/// Waits until it is told that these are still being written and all else is whole. On a busy machine what was done in one go
/// may be told in two.
fn wait_for(told: &Told, writing: &[&str], what: &str) {
    let name = |path: &PathBuf| {
        path.file_name()
            .map(|name| name.to_string_lossy().into_owned())
    };
    loop {
        let paths = told.recv_timeout(Duration::from_secs(20));
        let paths = paths.unwrap_or_else(|_| panic!("{what} is not told"));
        if paths
            .iter()
            .filter_map(name)
            .eq(writing.iter().map(|name| (*name).to_string()))
        {
            return;
        }
    }
}

#[test]
fn what_happens_in_a_folder_is_told_when_it_is_whole() {
    let dir = tempfile::tempdir().expect("a directory");
    let at = |name: &str| dir.path().join(name);
    fs::create_dir(at("beside")).expect("a folder");
    // The folder itself is not there yet.
    let (watch, told) = watch(&at("card/charts"), &at("beside/named"));
    wait_for(&told, &[], "the beginning");
    let mut half = None;
    type Step<'a> = (&'a str, &'a [&'a str], &'a mut dyn FnMut());
    let write = |name: &str| fs::write(at(name), "x").expect("a file");
    let mut half_in = |is_open: bool| match is_open {
        true => {
            let mut file = File::create(at("card/charts/half.toml")).expect("a file");
            file.write_all(b"title =").expect("a disk");
            half = Some(file);
            write("card/charts/another.toml");
        }
        false => half = None,
    };
    let steps: [Step<'_>; 7] = [
        ("a folder that comes", &[], &mut || {
            fs::create_dir_all(at("card/charts/x")).expect("a folder")
        }),
        ("a file", &[], &mut || write("card/charts/a.toml")),
        ("one in a folder below", &[], &mut || {
            write("card/charts/x/b.toml")
        }),
        ("one renamed over", &[], &mut || {
            write("card/charts/a.toml~");
            fs::rename(at("card/charts/a.toml~"), at("card/charts/a.toml")).expect("a name");
        }),
        ("one by its name", &[], &mut || write("beside/named")),
        ("one taken away", &[], &mut || {
            fs::remove_file(at("card/charts/a.toml")).expect("a file")
        }),
        ("the folder taken away and made anew", &[], &mut || {
            fs::remove_dir_all(at("card")).expect("a folder");
            fs::create_dir_all(at("card/charts")).expect("a folder");
        }),
    ];
    for (what, writing, step) in steps {
        step();
        wait_for(&told, writing, what);
    }
    half_in(true);
    wait_for(&told, &["half.toml"], "one beside a half one");
    half_in(false);
    wait_for(&told, &[], "the whole one");
    // It ends at once, and tells nothing any more.
    drop(watch);
    assert!(told.into_iter().all(|writing| writing.is_empty()));
}

#[test]
fn a_stick_that_is_mounted_over_a_folder_is_told() {
    isolated(|| {
        let dir = tempfile::tempdir().expect("a directory");
        let at = |name: &str| dir.path().join(name);
        let mount = |args: &[&str]| {
            let done = Command::new(args[0])
                .args(&args[1..])
                .current_dir(dir.path())
                .status();
            assert!(done.expect("mount of util-linux").success(), "{args:?}");
        };
        fs::create_dir_all(at("plugged/a-stick")).expect("a folder");
        fs::write(at("plugged/a-stick/a.toml"), GOOD).expect("a file");
        fs::create_dir(at("sticks")).expect("a folder");
        let (_watch, told) = watch(&at("sticks"), &at("none"));
        wait_for(&told, &[], "the beginning");
        mount(&["mount", "--bind", "plugged", "sticks"]);
        wait_for(&told, &[], "the mount");
        assert_eq!(
            titles(&at("sticks"), &ChartFolders::default(), &[]),
            (vec!["Good".to_string()], vec![])
        );
        mount(&["umount", "sticks"]);
        wait_for(&told, &[], "the stick taken out");
        assert_eq!(
            titles(&at("sticks"), &ChartFolders::default(), &[]),
            (vec![], vec![])
        );
    });
}

const GOOD: &str = "title = 'Good'\nkey = 'C major'\n[[section]]\nname = 'A'\nbars = ['C6']\n";
const FAULTY: &str =
    "title = 'Good'\nkey = 'C major'\n[[section]]\nname = 'A'\nbars = ['C6', 'H7']\ntempi = 9\n";
const DRILL: &str = "title = 'D'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\n";
/// Of another program.
const FOREIGN: &str = "[package]\nname = 'x'\n";

/// Titles of the charts in a folder, and what is told of it below the folder's name.
fn titles(folder: &Path, folders: &ChartFolders, writing: &[&str]) -> (Vec<String>, Vec<String>) {
    let config = Config {
        chart_folders: vec![folder.to_path_buf()],
        ..Config::default()
    };
    let mut library = Library {
        charts: Vec::new(),
        drill: Drill::just_play(),
        set: None,
    };
    let writing = writing.iter().map(|name| folder.join(name)).collect();
    let faults = folders.add_to(&mut library, &config, &writing);
    let prefix = format!("{}/", folder.display());
    let faults = faults.iter().map(|line| line.replace(&prefix, ""));
    (
        library
            .charts
            .into_iter()
            .map(|chart| chart.title)
            .collect(),
        faults.collect(),
    )
}

#[test]
fn charts_are_taken_and_faults_are_told_by_file_and_line() {
    let other = GOOD.replace("Good", "Other");
    let h7 = "a.toml:5:16: ";
    type Case<'a> = (
        &'a str,
        &'a [(&'a str, &'a str)],
        &'a [&'a str],
        &'a [&'a str],
        &'a [&'a str],
    );
    // Files that are written (an empty name: taken away), files that are still open, titles, how the faults begin.
    let cases: [Case<'_>; 7] = [
        ("a chart", &[("a.toml", GOOD)], &[], &["Good"], &[]),
        (
            "what is no chart",
            &[
                ("d.toml", DRILL),
                ("f.toml", FOREIGN),
                ("e.toml", ""),
                ("n.txt", GOOD),
            ],
            &[],
            &["Good"],
            &[],
        ),
        (
            "a second one",
            &[("b/o.toml", &other)],
            &[],
            &["Good", "Other"],
            &[],
        ),
        (
            "faults: the last good one stays",
            &[("a.toml", FAULTY)],
            &[],
            &["Good", "Other"],
            &[h7, "a.toml:6:1: "],
        ),
        (
            "one half written",
            &[("a.toml", "title = 'Go")],
            &["a.toml"],
            &["Good", "Other"],
            &[],
        ),
        ("mended", &[("a.toml", GOOD)], &[], &["Good", "Other"], &[]),
        (
            "a new one with faults",
            &[("c.toml", FAULTY)],
            &[],
            &["Good", "Other"],
            &["c.toml:5:16: ", "c.toml:6:1: "],
        ),
    ];
    let dir = tempfile::tempdir().expect("a directory");
    let folders = ChartFolders::default();
    for (what, files, writing, charts, begin) in cases {
        for (name, text) in files {
            let path = dir.path().join(name);
            fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
            fs::write(path, text).expect("a file");
        }
        let (got, faults) = titles(dir.path(), &folders, writing);
        assert_eq!(got, charts, "{what}");
        assert_eq!(faults.len(), begin.len(), "{what}: {faults:?}");
        for (fault, begin) in faults.iter().zip(begin) {
            assert!(fault.starts_with(begin), "{what}: {fault}");
        }
    }
    fs::remove_file(dir.path().join("a.toml")).expect("a file");
    assert_eq!(titles(dir.path(), &folders, &[]).0, ["Other"]);
}
