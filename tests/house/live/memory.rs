//! What audio servers leave in the daemon's memory when they come and go.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::root;
use std::process::Command;
use std::time::Duration;

/// Servers that come and go; each brings a player, an ear, and 90 s of what is heard.
const SERVERS: usize = 5;
/// Memory may be so much more at the end, in KiB: small things vary by some hundreds, what a server's blocks left behind was nine
/// thousand.
const MOST_KIB: u64 = 2_048;

/// RssAnon (proc_pid_status(5)), in KiB.
fn private_kib(daemon: &Daemon) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", daemon.pid())).expect("proc");
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("RssAnon:"));
    let kib = line.and_then(|rest| rest.split_whitespace().next()?.parse().ok());
    kib.expect("a number")
}

/// The band into the guitar's input: something is heard.
fn connect() -> bool {
    let made = Command::new("jack_connect")
        .args(["underfoot:out_l", "underfoot:guitar_in"])
        .output();
    made.expect("jack_connect (Debian package jackd2)")
        .status
        .success()
}

#[test]
fn servers_that_come_and_go_leave_nothing_behind() {
    isolated(|| {
        let dir = tempfile::tempdir().expect("a directory");
        let file = |name: &str| dir.path().join(name).display().to_string();
        std::fs::write(dir.path().join("foot.txt"), "").expect("a file");
        let settings = "[speech]\nengine = \"none\"\n[[display.screen]]\nkind = \"terminal\"\n";
        std::fs::write(dir.path().join("underfoot.toml"), settings).expect("a file");
        let chart = root("configs/charts/ferry-at-six.toml");
        let daemon = Daemon::start(
            &dir.path().join("home"),
            &[
                "--config",
                &file("underfoot.toml"),
                "--chart",
                chart.to_str().expect("a name"),
                "--foot",
                &file("foot.txt"),
                "--fresh",
            ],
        );
        let mut after = Vec::new();
        for _ in 0..SERVERS {
            let server = Server::start(48_000, 256);
            daemon.wait_for_status(15, |status| status["state"] == "playing");
            assert!(
                within(Duration::from_secs(5), connect),
                "{}",
                daemon.errors()
            );
            // The band plays, and is heard.
            std::thread::sleep(Duration::from_secs(3));
            server.kill();
            daemon.wait_for_status(5, |status| status["jack"]["state"] == "retrying");
            after.push(private_kib(&daemon));
        }
        println!("RssAnon after each server: {after:?} KiB");
        // The first ones bring what is made once.
        let settled = after[1];
        let last = after[SERVERS - 1];
        assert!(last <= settled + MOST_KIB, "{after:?} KiB");
    });
}
