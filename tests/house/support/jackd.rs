//! A real jackd with the dummy driver, apart from every other one on the machine.
//!
//! JACK keeps its servers in a registry in /dev/shm with eight slots, and a killed server keeps its slot. So
//! a test runs itself anew in namespaces of its own (user and mount) with an empty /dev/shm, and the server's
//! name reaches all children by their environment.
// Starts programs and waits for them.

use super::daemon::within;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

const INSIDE: &str = "UNDERFOOT_TEST_INSIDE";
const SERVER_NAME: &str = "underfoot-test";
/// One server at a time: two would take each other's cycles.
static ALONE: Mutex<()> = Mutex::new(());

/// How to get name spaces of one's own: anybody where the kernel lets them, root elsewhere, and root in a root directory
/// that is no mount point.
const WAYS_APART: [&[&str]; 3] = [
    &["unshare", "-Urm"],
    &["unshare", "-m"],
    &["unshare", "-m", "--propagation", "unchanged"],
];

/// Whether `true` can be started in this way.
fn works(way: &[&str]) -> bool {
    let tried = Command::new(way[0]).args(&way[1..]).arg("true").output();
    tried.is_ok_and(|tried| tried.status.success())
}

/// The path of the test whose closure this is, as the test binary knows it.
fn name_of<F: FnOnce()>(_: &F) -> &'static str {
    let path = std::any::type_name::<F>();
    let path = path.strip_suffix("::{{closure}}").expect("a closure");
    path.split_once("::").expect("a test in a crate").1
}

/// Runs `body` in this process if it is the inner one, else the test that calls this in an inner process.
/// Needs `unshare` (util-linux) and unprivileged user namespaces or root.
pub fn isolated(body: impl FnOnce()) {
    if std::env::var(INSIDE).is_ok() {
        return body();
    }
    let name = name_of(&body);
    let _alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    let program = std::env::current_exe().expect("the test binary");
    let script = "mount --make-rprivate /dev 2>/dev/null; mount --make-rprivate /dev/shm 2>/dev/null; \
                  mount -t tmpfs none /dev/shm && exec \"$0\" \"$@\"";
    // Where it may be had, real-time priority, as a practising box has it: a busy machine then keeps up.
    let real_time = ["chrt", "-f", "10"];
    let mut words: Vec<&str> = if works(&real_time) {
        real_time.to_vec()
    } else {
        Vec::new()
    };
    let apart = WAYS_APART.iter().find(|way| works(way));
    words.extend(*apart.expect("name spaces: unprivileged ones, or root"));
    words.extend(["sh", "-c", script]);
    let output = Command::new(words[0])
        .args(&words[1..])
        .arg(program)
        .args(["--exact", name, "--nocapture", "--test-threads=1"])
        .envs([
            (INSIDE, "1"),
            ("JACK_DEFAULT_SERVER", SERVER_NAME),
            ("JACK_NO_AUDIO_RESERVATION", "1"),
            ("JACK_NO_START_SERVER", "1"),
        ])
        .output()
        .expect("unshare of util-linux");
    let text = String::from_utf8_lossy(&output.stdout);
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{text}\n{errors}");
    assert!(
        text.contains("1 passed"),
        "{name} did not run:\n{text}\n{errors}"
    );
    print!("{text}");
}

/// A server; killed when dropped.
pub struct Server {
    child: Child,
}

impl Server {
    /// Starts the server and waits until it answers.
    pub fn start(rate: u32, period: u32) -> Server {
        let child = Command::new("jackd")
            .args(["-r", "-p", "128", "-n", SERVER_NAME, "-d", "dummy"])
            .args(["-r", &rate.to_string(), "-p", &period.to_string()])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("jackd (Debian package jackd2)");
        let server = Server { child };
        let ready = || {
            let listing = Command::new("jack_lsp").stderr(Stdio::null()).output();
            listing
                .is_ok_and(|listing| String::from_utf8_lossy(&listing.stdout).contains("system:"))
        };
        assert!(
            within(Duration::from_secs(10), ready),
            "jackd does not answer"
        );
        server
    }

    /// Ends the server as a crash would.
    pub fn kill(mut self) {
        self.child.kill().expect("a running jackd");
        self.child.wait().expect("a child of ours");
    }

    /// Stops the server without ending it.
    pub fn freeze(&self) {
        self.signal(rustix::process::Signal::STOP);
    }

    /// Lets a stopped server go on.
    pub fn thaw(&self) {
        self.signal(rustix::process::Signal::CONT);
    }

    /// Lets the server go round as fast as all its clients can, without waiting for time to pass, or stops that. No
    /// cycle is lost then, however busy the machine is.
    pub fn unhurried(&self, is_unhurried: bool) {
        let word = if is_unhurried { "y" } else { "n" };
        let done = Command::new("jack_freewheel").arg(word).output();
        let done = done.expect("jack_freewheel (Debian package jackd2)");
        assert!(done.status.success(), "{done:?}");
    }

    fn signal(&self, signal: rustix::process::Signal) {
        let pid = rustix::process::Pid::from_raw(self.child.id() as i32).expect("a process id");
        rustix::process::kill_process(pid, signal).expect("a child of ours");
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
