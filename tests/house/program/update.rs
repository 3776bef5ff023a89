//! Updates: packages that the real minisign signed (Debian package minisign), judged, and installed by the real dpkg below a
//! root of their own.

use crate::support::program::command;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use underfoot::daemon::update::{Noticing, left};

/// A directory with two keys, an empty system, and packages.
struct Workshop(tempfile::TempDir);

impl Workshop {
    /// None where there is no minisign; where `CI` is set that is a failure.
    fn new() -> Option<Workshop> {
        let is_there = Command::new("minisign").arg("-v").output().is_ok();
        assert!(
            is_there || std::env::var_os("CI").is_none(),
            "no minisign (Debian package)"
        );
        if !is_there {
            println!("SKIPPED: no minisign (Debian package)");
            return None;
        }
        let workshop = Workshop(tempfile::tempdir().expect("a directory"));
        for key in ["ours", "foreign"] {
            let (public, secret) = (format!("{key}.pub"), format!("{key}.key"));
            workshop.done("minisign", &["-G", "-W", "-p", &public, "-s", &secret]);
        }
        for dir in [
            "root/var/lib/dpkg/info",
            "root/var/lib/dpkg/updates",
            "spool",
            "keep",
        ] {
            fs::create_dir_all(workshop.at(dir)).expect("a directory");
        }
        fs::write(workshop.at("root/var/lib/dpkg/status"), "").expect("a file");
        Some(workshop)
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn done(&self, program: &str, args: &[&str]) {
        let done = Command::new(program)
            .args(args)
            .current_dir(self.0.path())
            .output();
        let done = done.unwrap_or_else(|error| panic!("{program}: {error}"));
        assert!(done.status.success(), "{program} {args:?}: {}", told(&done));
    }

    /// A package of this name, version and architecture, as the file NAME.deb; its script is asked whether it goes in.
    fn package(&self, file: &str, name: &str, version: &str, architecture: &str) {
        let tree = self.at(&format!("{file}.tree"));
        fs::create_dir_all(tree.join("DEBIAN")).expect("a directory");
        fs::create_dir_all(tree.join("usr/share/underfoot")).expect("a directory");
        fs::write(tree.join("usr/share/underfoot/version"), version).expect("a file");
        let control = format!(
            "Package: {name}\nVersion: {version}\nArchitecture: {architecture}\nMaintainer: Nobody <nobody@example.org>\n\
             Description: a test\n"
        );
        fs::write(tree.join("DEBIAN/control"), control).expect("a file");
        let tree = tree.display().to_string();
        self.done(
            "dpkg-deb",
            &[
                "--root-owner-group",
                "--build",
                &tree,
                &format!("{file}.deb"),
            ],
        );
    }

    fn sign(&self, file: &str, key: &str) {
        self.done("minisign", &["-S", "-W", "-s", key, "-m", file]);
    }

    fn underfoot(&self, args: &[&str]) -> Output {
        let mut command = command(self.0.path());
        command.current_dir(self.0.path()).args(args);
        command.args(["--key", "ours.pub", "--spool", "spool", "--root", "root"]);
        command.output().expect("underfoot")
    }

    fn installs(&self, runs: &str) -> Output {
        self.underfoot(&[
            "install-update",
            "--keep",
            "keep",
            "--settle",
            "0",
            "--outcome",
            "outcome",
            "--runs",
            runs,
        ])
    }

    fn version(&self) -> String {
        fs::read_to_string(self.at("root/usr/share/underfoot/version")).unwrap_or_default()
    }
}

fn told(output: &Output) -> String {
    let (out, errors) = (
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
    format!("{out}{errors}").trim().to_string()
}

fn architecture() -> String {
    let told = Command::new("dpkg")
        .arg("--print-architecture")
        .output()
        .expect("dpkg");
    String::from_utf8_lossy(&told.stdout).trim().to_string()
}

/// Changes one bit in the middle of a file.
fn flip(path: &Path) {
    let mut bytes = fs::read(path).expect("a file");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(path, bytes).expect("a file");
}

fn cut(path: &Path) {
    let bytes = fs::read(path).expect("a file");
    fs::write(path, &bytes[..bytes.len() - 100]).expect("a file");
}

#[test]
fn only_a_newer_package_that_is_whole_ours_and_for_this_box_is_taken() {
    let Some(shop) = Workshop::new() else { return };
    let here = architecture();
    let other = if here == "arm64" { "amd64" } else { "arm64" };
    shop.package("1", "underfoot", "1.0", &here);
    shop.sign("1.deb", "ours.key");
    let force = [
        "--root=root",
        "--force-not-root",
        "--force-script-chrootless",
        "--install",
        "1.deb",
    ];
    shop.done("dpkg", &force);
    shop.package("2", "underfoot", "2.0~rc1", &here);
    type Spoil<'a> = (&'a str, &'a dyn Fn(), &'a str);
    let sign = |key| move |shop: &Workshop| shop.sign("2.deb", key);
    let (ours, foreign) = (sign("ours.key"), sign("foreign.key"));
    let old = "1.deb: version 1.0 is not newer than 1.0, which is installed";
    let elsewhere = format!("o.deb: it is for {other}, and this box is {here}");
    let cases: [Spoil<'_>; 11] = [
        (
            "2.deb",
            &|| {},
            "2.deb.minisig: cannot be read (no such file or directory): a package needs its signature beside it",
        ),
        (
            "2.deb",
            &|| foreign(&shop),
            "2.deb: signed by somebody else than ours.pub says",
        ),
        (
            "2.deb",
            &|| fs::write(shop.at("2.deb.minisig"), "x").expect("a file"),
            "2.deb.minisig: no signature of minisign",
        ),
        (
            "2.deb",
            &|| {
                shop.done(
                    "minisign",
                    &["-S", "-l", "-W", "-s", "ours.key", "-m", "2.deb"],
                )
            },
            "2.deb.minisig: a signature of another kind (minisign -S makes the right one)",
        ),
        (
            "2.deb",
            &|| {
                ours(&shop);
                flip(&shop.at("2.deb"))
            },
            "2.deb: the signature does not fit: it was changed, or is not whole (copy it again)",
        ),
        (
            "2.deb",
            &|| {
                flip(&shop.at("2.deb"));
                cut(&shop.at("2.deb"))
            },
            "2.deb: the signature does not fit: it was changed, or is not whole (copy it again)",
        ),
        ("1.deb", &|| {}, old),
        (
            "o.deb",
            &|| {
                shop.package("o", "underfoot", "2.0", other);
                shop.sign("o.deb", "ours.key")
            },
            &elsewhere,
        ),
        (
            "f.deb",
            &|| {
                shop.package("f", "fiddle", "2.0", &here);
                shop.sign("f.deb", "ours.key")
            },
            "f.deb: it is a package of fiddle, not of underfoot",
        ),
        (
            "n.deb",
            &|| {
                fs::write(shop.at("n.deb"), "none").expect("a file");
                shop.sign("n.deb", "ours.key")
            },
            "n.deb: no Debian package",
        ),
        (
            "none.deb",
            &|| shop.done("cp", &["1.deb.minisig", "none.deb.minisig"]),
            "none.deb: cannot be read (no such file or directory)",
        ),
    ];
    for (file, spoil, words) in cases {
        spoil();
        for args in [&["update", file][..], &["update", "--check", file]] {
            let output = shop.underfoot(args);
            assert_eq!(
                (told(&output).as_str(), output.status.code()),
                (words, Some(65)),
                "{file}"
            );
        }
        // Whoever puts it into the spool all the same is not obeyed by root either.
        fs::copy(shop.at(file), shop.at("spool/package.deb")).ok();
        fs::copy(
            shop.at(&format!("{file}.minisig")),
            shop.at("spool/package.deb.minisig"),
        )
        .ok();
        let output = shop.installs("true");
        assert_eq!(output.status.code(), Some(65), "{file}: {}", told(&output));
        assert_eq!(shop.version(), "1.0");
        assert_eq!(
            fs::read_dir(shop.at("spool")).expect("a directory").count(),
            0,
            "{file}"
        );
    }
    // No key: nobody is trusted.
    fs::remove_file(shop.at("ours.pub")).expect("a file");
    let output = shop.underfoot(&["update", "1.deb"]);
    let words = "ours.pub: cannot be read (no such file or directory): there goes the public key (minisign's .pub) of whoever makes your packages";
    assert_eq!(told(&output), words);
}

#[test]
fn an_update_is_installed_the_old_one_is_kept_and_comes_back_where_the_new_one_does_not_run() {
    let Some(shop) = Workshop::new() else { return };
    let here = architecture();
    for version in ["0.9", "1.0", "2.0", "3.0"] {
        shop.package(version, "underfoot", version, &here);
        shop.sign(&format!("{version}.deb"), "ours.key");
    }
    let hand_over = |version: &str| {
        let output = shop.underfoot(&["update", &format!("{version}.deb")]);
        let words = format!(
            "OK (underfoot {version} for {here}); it is installed now, and the box begins again by itself"
        );
        assert_eq!(told(&output), words);
        // The signature is what root's unit waits for.
        assert!(
            shop.at("spool/package.deb").exists() && shop.at("spool/package.deb.minisig").exists()
        );
    };
    // The first was installed by hand: what is kept of it is made of its files (dpkg-repack, which wants to be root).
    shop.done(
        "dpkg",
        &[
            "--root=root",
            "--force-not-root",
            "--force-script-chrootless",
            "--install",
            "0.9.deb",
        ],
    );
    let can_repack = Command::new("dpkg-repack")
        .arg("--version")
        .output()
        .is_ok()
        && rustix::process::geteuid().is_root();
    let first = match can_repack {
        true => "1.0 is installed; 0.9 is kept",
        false => "1.0 is installed; no older version is kept",
    };
    // Update, whether it runs, what is told, what is installed then.
    let cases = [
        ("1.0", "true", first, "1.0"),
        ("2.0", "true", "2.0 is installed; 1.0 is kept", "2.0"),
        ("3.0", "false", "3.0 does not run here: back to 2.0", "2.0"),
        ("3.0", "true", "3.0 is installed; 2.0 is kept", "3.0"),
    ];
    for (version, runs, words, stands) in cases {
        hand_over(version);
        let output = shop.installs(runs);
        assert_eq!(told(&output), words, "{version}");
        assert_eq!(shop.version(), stands, "{version}");
        // The player is told the same.
        let left = left(&shop.at("outcome")).expect("an outcome");
        assert_eq!((left.told.as_str(), left.is_in), (words, stands == version));
        assert_eq!(
            fs::read_dir(shop.at("spool")).expect("a directory").count(),
            0
        );
    }
}

#[test]
fn the_newest_package_of_a_stick_is_offered_and_what_is_wrong_with_others_is_told_once() {
    let Some(shop) = Workshop::new() else { return };
    let here = architecture();
    let force = [
        "--root=root",
        "--force-not-root",
        "--force-script-chrootless",
        "--install",
        "1.deb",
    ];
    shop.package("1", "underfoot", "1.0", &here);
    shop.done("dpkg", &force);
    fs::create_dir_all(shop.at("stick/boxes")).expect("a directory");
    let put = |file: &str, version: &str, key: &str| {
        shop.package(file, "underfoot", version, &here);
        shop.sign(&format!("{file}.deb"), key);
        for name in [format!("{file}.deb"), format!("{file}.deb.minisig")] {
            fs::rename(shop.at(&name), shop.at(&format!("stick/boxes/{name}"))).expect("a file");
        }
    };
    let stick = shop.at("stick");
    let mut noticing = Noticing::of(
        std::slice::from_ref(&stick),
        &shop.at("ours.pub"),
        &shop.at("root"),
    );
    let mut look = |writing: &[&str]| {
        let writing = writing.iter().map(|name| stick.join("boxes").join(name));
        let noticed = noticing.look(&writing.collect::<BTreeSet<_>>());
        let newest = noticed.newest.map(|(path, package)| {
            let name = path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .to_string();
            format!("{name} {}", package.version)
        });
        (newest, noticed.refused.join("\n"))
    };
    let offered = |text: &str| (Some(text.to_string()), String::new());
    assert_eq!(look(&[]), (None, String::new()));
    // What is in, what is older, and what has no signature beside it say nothing.
    put("same", "1.0", "ours.key");
    put("older", "0.9", "ours.key");
    fs::copy(shop.at("1.deb"), shop.at("stick/plain.deb")).expect("a file");
    assert_eq!(look(&[]), (None, String::new()));
    put("a", "1.10", "ours.key");
    assert_eq!(
        look(&["a.deb"]),
        (None, String::new()),
        "it is being written"
    );
    assert_eq!(look(&[]), offered("a.deb 1.10"));
    put("b", "1.9", "ours.key");
    assert_eq!(look(&[]), offered("a.deb 1.10"));
    put("c", "2.0~rc1", "ours.key");
    assert_eq!(look(&[]), offered("c.deb 2.0~rc1"));
    // A foreign one is not offered, however new; why is told once, and again where it changed.
    put("d", "9.0", "foreign.key");
    let (newest, refused) = look(&[]);
    assert_eq!(newest.as_deref(), Some("c.deb 2.0~rc1"));
    assert!(
        refused.ends_with("ours.pub says") && refused.contains("d.deb: signed by somebody else"),
        "{refused}"
    );
    assert_eq!(look(&[]), offered("c.deb 2.0~rc1"));
    cut(&shop.at("stick/boxes/c.deb"));
    let (newest, refused) = look(&[]);
    assert_eq!(newest.as_deref(), Some("a.deb 1.10"));
    assert!(
        refused.contains("c.deb: the signature does not fit"),
        "{refused}"
    );
    // The stick is pulled out.
    fs::remove_dir_all(&stick).expect("a directory");
    assert_eq!(look(&[]), (None, String::new()));
}
