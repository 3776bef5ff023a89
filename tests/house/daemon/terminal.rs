//! A terminal that vanishes: its keys end, its page is given up, and it asks for nothing.

use crate::support::daemon::within;
use crate::support::program::command;
use serde_json::Value;
use std::fs::File;
use std::os::fd::{FromRawFd, OwnedFd};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command};
use std::time::Duration;

/// The two ends of a new terminal: the window's and the program's.
fn terminal() -> (OwnedFd, OwnedFd) {
    let (mut window, mut program) = (-1, -1);
    let none = std::ptr::null_mut();
    // SAFETY: the two numbers are written; nothing else is asked for.
    let made = unsafe { libc::openpty(&mut window, &mut program, none, none.cast(), none.cast()) };
    assert_eq!(made, 0, "no terminal");
    // SAFETY: both are new and nobody else's.
    let (window, program) =
        unsafe { (OwnedFd::from_raw_fd(window), OwnedFd::from_raw_fd(program)) };
    for end in [&window, &program] {
        let closed = rustix::io::fcntl_setfd(end, rustix::io::FdFlags::CLOEXEC);
        closed.expect("a descriptor");
    }
    (window, program)
}

struct Running {
    child: Child,
    home: tempfile::TempDir,
}

impl Running {
    /// A daemon whose terminal leads its session, as in a window that was opened for it. Gives the window, too.
    fn start() -> (Running, OwnedFd) {
        let home = tempfile::tempdir().expect("a directory");
        let (window, program) = terminal();
        let copy = || program.try_clone().expect("a descriptor");
        let chart = home.path().join("chart.toml");
        write_chart(&chart, "One");
        let mut start = command(home.path());
        start.args(["run", "--terminal", "--chart"]).arg(&chart);
        start.arg("--socket").arg(home.path().join("socket"));
        start.env("TERM", "xterm").env("JACK_NO_START_SERVER", "1");
        start.stdin(copy()).stdout(copy()).stderr(copy());
        // SAFETY: two calls of the system, nothing of ours.
        unsafe {
            start.pre_exec(|| {
                libc::setsid();
                libc::ioctl(0, libc::TIOCSCTTY, 0);
                Ok(())
            });
        }
        let child = start.spawn().expect("underfoot");
        (Running { child, home }, window)
    }

    fn status(&self) -> Value {
        let mut ask = command(self.home.path());
        ask.args(["status", "--json", "--socket"]);
        let answer = ask.arg(self.home.path().join("socket")).output();
        serde_json::from_slice(&answer.expect("underfoot").stdout).unwrap_or_default()
    }

    fn device(&self, name: &str) -> Value {
        let status = self.status();
        let devices = status["devices"].as_array().cloned().unwrap_or_default();
        let found = devices.into_iter().find(|device| device["name"] == name);
        found.unwrap_or_default()["state"].clone()
    }

    fn threads(&self) -> Vec<String> {
        let tasks = format!("/proc/{}/task", self.child.id());
        let entries = std::fs::read_dir(tasks).expect("a running process");
        let name = |entry: std::io::Result<std::fs::DirEntry>| {
            std::fs::read_to_string(entry.ok()?.path().join("comm")).ok()
        };
        entries
            .filter_map(name)
            .map(|name| name.trim().to_string())
            .collect()
    }

    #[track_caller]
    fn wait(&self, what: &str, test: impl FnMut() -> bool) {
        assert!(
            within(Duration::from_secs(20), test),
            "{what}: {}",
            self.status()
        );
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn write_chart(path: &Path, title: &str) {
    let text = format!(
        "title = \"{title}\"\nform = [\"A\"]\n[[section]]\nname = \"A\"\nbars = [\"C6\", \"G7\"]\n"
    );
    std::fs::write(path, text).expect("a chart");
}

#[test]
fn a_terminal_that_vanished_ends_its_keys_and_is_no_reload() {
    let (running, window) = Running::start();
    running.wait("no chart", || running.status()["chart"] == "One");
    running.wait("no keys", || {
        running.threads().contains(&"keys".to_string())
    });
    let chart = running.home.path().join("chart.toml");
    write_chart(&chart, "Two");
    drop(window);
    running.wait("keys", || {
        running.device("keys of the terminal") == "absent"
    });
    running.wait("a thread", || {
        !running.threads().contains(&"keys".to_string())
    });
    running.wait("screen", || running.device("terminal") == "absent");
    let taken = within(Duration::from_secs(1), || {
        running.status()["chart"] == "Two"
    });
    assert!(
        !taken,
        "a vanished terminal was taken for the order to read anew"
    );
    let pid = running.child.id().to_string();
    let ordered = Command::new("kill").args(["-HUP", &pid]).status();
    assert!(ordered.expect("kill").success());
    running.wait("no reload", || running.status()["chart"] == "Two");
}

#[test]
fn a_key_of_the_terminal_ends_the_program() {
    let (mut running, window) = Running::start();
    running.wait("no keys", || {
        running.threads().contains(&"keys".to_string())
    });
    let mut window = File::from(window);
    std::io::Write::write_all(&mut window, b"q").expect("a terminal");
    let ended = within(Duration::from_secs(20), || {
        // A window reads what is shown.
        let mut bytes = [0; 4096];
        let _ = rustix::fs::fcntl_setfl(&window, rustix::fs::OFlags::NONBLOCK);
        while matches!(std::io::Read::read(&mut window, &mut bytes), Ok(count) if count > 0) {}
        running.child.try_wait().expect("a child").is_some()
    });
    assert!(ended, "still there");
}
