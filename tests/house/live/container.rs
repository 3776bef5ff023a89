//! In a container: whoever started the daemon, leads its session and sends its signals is a process that it cannot number.
// Runs the program against a real server.

use crate::support::daemon::{Daemon, within};
use crate::support::jackd::{Server, isolated};
use crate::support::program::root;
use rustix::process::{Pid, Signal, kill_process};
use std::time::Duration;

/// A name space of process numbers of its own, in which the program is the first.
const CONTAINER: &[&str] = &["unshare", "-pf", "--kill-child"];

/// The one process that `parent` started.
fn child_of(parent: u32) -> Option<Pid> {
    let path = format!("/proc/{parent}/task/{parent}/children");
    let text = std::fs::read_to_string(path).ok()?;
    Pid::from_raw(text.trim().parse().ok()?)
}

#[test]
fn a_reload_from_outside_is_an_order() {
    isolated(|| {
        let home = tempfile::tempdir().expect("a directory");
        let home = home.path();
        let config = home.join("underfoot.toml");
        std::fs::write(&config, "[speech]\nengine = \"none\"\n").expect("a file");
        let _server = Server::start(48_000, 256);
        let (config_name, chart) = (
            config.display().to_string(),
            root("configs/charts/ferry-at-six.toml"),
        );
        let chart = chart.display().to_string();
        let args = ["--config", &config_name, "--chart", &chart, "--fresh"];
        let daemon = Daemon::start_within(CONTAINER, home, &args);
        daemon.wait_for_status(15, |status| status["jack"]["state"] == "present");
        let mut inner = None;
        let is_found = || {
            inner = child_of(daemon.pid());
            inner.is_some()
        };
        assert!(within(Duration::from_secs(5), is_found), "no process");
        let changed = "[speech]\nengine = \"none\"\n[levels]\nbass = -20\n";
        std::fs::write(&config, changed).expect("a file");
        kill_process(inner.expect("a process"), Signal::HUP).expect("a child of a child");
        let status = daemon.wait_for_status(10, |status| !status["reload"].is_null());
        let taken = serde_json::json!(["[levels]"]);
        assert_eq!(status["reload"]["taken"], taken, "{status}");
    });
}
