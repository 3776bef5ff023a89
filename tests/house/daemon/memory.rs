//! The daemon's memory is locked where that may be, and where it may not, that is told.

use crate::support::daemon::Daemon;
use crate::support::program::root;
use rustix::process::{Resource, getrlimit};

#[test]
fn memory_is_locked_or_it_is_told_why_not() {
    let home = tempfile::tempdir().expect("a directory");
    let chart = root("configs/charts/ferry-at-six.toml");
    let daemon = Daemon::start(home.path(), &["--chart", chart.to_str().expect("a path")]);
    daemon.wait_for_status(20, |status| status["state"] == "stopped");
    let status = std::fs::read_to_string(format!("/proc/{}/status", daemon.pid())).expect("proc");
    // proc_pid_status(5): VmLck, in kB.
    let locked = status.lines().find_map(|line| line.strip_prefix("VmLck:"));
    let locked: u64 = locked
        .and_then(|rest| rest.trim().trim_end_matches(" kB").parse().ok())
        .expect("a number");
    // A child has the limits of this process.
    if getrlimit(Resource::Memlock).current.is_none() {
        assert!(locked > 10_000, "{locked} kB are locked");
    } else {
        daemon.wait_for_log("memory is not locked: at most", 5);
    }
}
