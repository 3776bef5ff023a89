//! The daemon as a user runs it, apart from the user's own files.
// Starts the program and waits for it.

use super::program::{command, command_within};
use serde_json::Value;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A daemon that runs; killed when dropped.
pub struct Daemon {
    child: Child,
    home: PathBuf,
}

/// How a daemon ended.
pub struct Ended {
    /// The exit code; none after a signal.
    pub code: Option<i32>,
    /// What it wrote to standard error.
    pub errors: String,
}

impl Daemon {
    /// Starts `run` with these arguments; its log goes to the file `stderr` in `home`, pages in words to `stdout`.
    pub fn start(home: &Path, args: &[&str]) -> Daemon {
        Daemon::start_with(home, args, &[])
    }

    /// The same with these variables in its environment.
    pub fn start_with(home: &Path, args: &[&str], variables: &[(&str, &Path)]) -> Daemon {
        let mut command = command(home);
        command.envs(variables.iter().copied());
        Daemon::start_as(command, home, args)
    }

    /// The same as the child of a program that starts the one that its arguments end with.
    pub fn start_within(outer: &[&str], home: &Path, args: &[&str]) -> Daemon {
        Daemon::start_as(command_within(outer, home), home, args)
    }

    fn start_as(mut command: Command, home: &Path, args: &[&str]) -> Daemon {
        let file = |name: &str| std::fs::File::create(home.join(name)).expect("a file");
        let (pages, log) = (file("stdout"), file("stderr"));
        let child = command
            .arg("run")
            .args(args)
            .arg("--socket")
            .arg(home.join("socket"))
            .arg("--state-dir")
            .arg(home.join("state"))
            .stdin(Stdio::null())
            .stdout(pages)
            .stderr(log)
            .spawn()
            .expect("underfoot");
        Daemon {
            child,
            home: home.to_path_buf(),
        }
    }

    /// The process.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// What it wrote to standard error so far.
    pub fn errors(&self) -> String {
        std::fs::read_to_string(self.home.join("stderr")).unwrap_or_default()
    }

    /// The pages in words, of a screen of the kind "terminal".
    pub fn pages(&self) -> String {
        std::fs::read_to_string(self.home.join("stdout")).unwrap_or_default()
    }

    /// Waits until its log says `text`.
    pub fn wait_for_log(&self, text: &str, seconds: u64) {
        let said = within(Duration::from_secs(seconds), || {
            self.errors().contains(text)
        });
        assert!(said, "\"{text}\" is not in the log:\n{}", self.errors());
    }

    /// Waits until a JACK port is there.
    pub fn wait_for_port(&self, port: &str) {
        let there = within(Duration::from_secs(10), || {
            let listing = Command::new("jack_lsp").stderr(Stdio::null()).output();
            listing.is_ok_and(|listing| String::from_utf8_lossy(&listing.stdout).contains(port))
        });
        assert!(there, "no port {port}:\n{}", self.errors());
    }

    /// What `status --json` tells, as the program prints it.
    pub fn status(&self) -> Option<Value> {
        let output = command(&self.home)
            .args(["status", "--json", "--socket"])
            .arg(self.home.join("socket"))
            .output()
            .ok()?;
        serde_json::from_slice(&output.stdout).ok()
    }

    /// Waits until the status is as wanted, and gives it.
    pub fn wait_for_status(&self, seconds: u64, wanted: impl Fn(&Value) -> bool) -> Value {
        let mut last = Value::Null;
        let found = within(Duration::from_secs(seconds), || {
            last = self.status().unwrap_or_default();
            wanted(&last)
        });
        assert!(found, "status {last}\n{}", self.errors());
        last
    }

    /// Sends a signal.
    pub fn signal(&self, signal: rustix::process::Signal) {
        let pid = rustix::process::Pid::from_raw(self.child.id() as i32).expect("a process id");
        rustix::process::kill_process(pid, signal).expect("a child of ours");
    }

    /// Waits for its end.
    pub fn wait(mut self, seconds: u64) -> Ended {
        let mut code = None;
        let ended = within(Duration::from_secs(seconds), || {
            match self.child.try_wait().expect("a child of ours") {
                Some(status) => {
                    code = status.code();
                    true
                }
                None => false,
            }
        });
        assert!(ended, "still running after {seconds} s:\n{}", self.errors());
        let mut errors = String::new();
        if let Ok(mut file) = std::fs::File::open(self.home.join("stderr")) {
            let _ = file.read_to_string(&mut errors);
        }
        Ended { code, errors }
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Whether `test` comes true within `limit`.
pub fn within(limit: Duration, mut test: impl FnMut() -> bool) -> bool {
    let start = Instant::now();
    loop {
        if test() {
            return true;
        }
        if start.elapsed() > limit {
            return false;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}
