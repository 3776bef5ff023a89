//! The status socket: one line of JSON for whoever connects.
// Talks to a socket on a thread of its own.
#![allow(clippy::disallowed_methods)]

use super::changes::Changes;
use super::files::{self, Failure, exit};
use crate::device::DeviceState;
use crate::practice::CoreStatus;
use serde_json::{Map, Value, json};
use std::io::{ErrorKind, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// How long a client may take.
const PATIENCE: Duration = Duration::from_secs(2);
/// The longest answer that is read.
const LONGEST_BYTES: u64 = 1 << 20;

/// What the daemon publishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Status {
    pub core: CoreStatus,
    /// JACK: state, rate, block, xruns.
    pub jack: JackStatus,
    /// Other devices: name, state, last error.
    pub devices: Vec<(String, DeviceState, Option<String>)>,
    /// Counters by name; zero is good.
    pub counters: Vec<(&'static str, u64)>,
    /// What came of the last reload, if there was one.
    pub reload: Option<Reload>,
}

/// What came of a reload: what it changed, or every fault for which nothing was taken over.
pub type Reload = Result<Changes, String>;

/// The audio server.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JackStatus {
    /// present, retrying, hung.
    pub state: String,
    /// Frames a second.
    pub rate: Option<u32>,
    /// Frames of a block.
    pub period_frames: Option<u32>,
    /// Xruns since the start.
    pub xruns: u64,
}

impl Status {
    /// The JSON object that programs read.
    pub fn json(&self) -> Value {
        let device = |(name, state, error): &(String, DeviceState, Option<String>)| json!({"name": name, "state": state.name(), "last_error": error});
        let counters: Map<String, Value> = self
            .counters
            .iter()
            .map(|(name, count)| ((*name).to_string(), json!(count)))
            .collect();
        json!({
            "state": self.core.state,
            "chart": self.core.chart,
            "stage": self.core.stage,
            "section": self.core.section,
            "bar": self.core.bar,
            "bpm": self.core.qpm,
            "dotted_bpm": self.core.dotted_qpm,
            "clock": {
                "source": self.core.clock.source,
                "state": self.core.clock.state,
                "jitter_ms": self.core.clock.jitter_ms,
                "lost": self.core.clock.lost,
            },
            "jack": {
                "state": self.jack.state,
                "rate": self.jack.rate,
                "period_frames": self.jack.period_frames,
                "xruns": self.jack.xruns,
            },
            "devices": self.devices.iter().map(device).collect::<Vec<_>>(),
            "counters": counters,
            "reload": self.reload.as_ref().map(|reload| match reload {
                Ok(changes) => json!({
                    "taken": changes.taken,
                    "needs_restart": changes.needs_restart,
                    "fault": changes.fault,
                }),
                Err(fault) => json!({"taken": [], "needs_restart": [], "fault": fault}),
            }),
        })
    }

    /// The same keys while the daemon is still starting, when nothing is known yet.
    fn starting() -> Value {
        json!({
            "state": "starting",
            "chart": null,
            "stage": null,
            "section": null,
            "bar": null,
            "bpm": null,
            "dotted_bpm": null,
            "clock": {"source": "internal", "state": "running", "jitter_ms": 0.0, "lost": 0},
            "jack": {"state": "retrying", "rate": null, "period_frames": null, "xruns": 0},
            "devices": [],
            "counters": {},
            "reload": null,
        })
    }
}

/// Serves the newest status on a Unix socket; the socket's file goes with it.
#[derive(Debug)]
pub struct Server {
    path: PathBuf,
    newest: Arc<Mutex<Option<Status>>>,
}

impl Server {
    /// Listens at `path`. A socket left by a daemon that died is replaced; one that answers is not.
    ///
    /// # Errors
    /// When the path cannot be used or a daemon already answers there.
    pub fn start(path: &Path) -> std::io::Result<Server> {
        if UnixStream::connect(path).is_ok() {
            return Err(std::io::Error::new(
                std::io::ErrorKind::AddrInUse,
                "another daemon answers there",
            ));
        }
        if let Some(dir) = path.parent() {
            std::fs::create_dir_all(dir)?;
        }
        let _ = std::fs::remove_file(path);
        let listener = UnixListener::bind(path)?;
        // To ask is to write: the group may, whatever the umask; who else may not is told so.
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(0o660))?;
        let newest = Arc::new(Mutex::new(None));
        let shared = Arc::clone(&newest);
        std::thread::Builder::new()
            .name("status".into())
            .spawn(move || {
                for stream in listener.incoming().flatten() {
                    answer(stream, &shared);
                }
            })?;
        Ok(Server {
            path: path.to_path_buf(),
            newest,
        })
    }

    /// Publishes a status.
    pub fn publish(&self, status: Status) {
        if let Ok(mut newest) = self.newest.lock() {
            *newest = Some(status);
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

fn answer(mut stream: UnixStream, newest: &Mutex<Option<Status>>) {
    let _ = stream.set_write_timeout(Some(PATIENCE));
    let text = match newest.lock().ok().and_then(|newest| newest.clone()) {
        Some(status) => status.json().to_string(),
        None => Status::starting().to_string(),
    };
    // A client that went away is no fault of ours.
    let _ = writeln!(stream, "{text}");
}

/// Asks the first daemon that is there, of the places where one may listen.
///
/// # Errors
/// When nobody answers, or whoever asks may not, exit code 69.
pub fn ask(places: &[PathBuf]) -> Result<Value, Failure> {
    let mut tried = Vec::new();
    for path in places {
        match UnixStream::connect(path) {
            Ok(stream) => return read(stream, path),
            Err(error) if error.kind() == ErrorKind::PermissionDenied => {
                return Err(Failure::new(exit::UNAVAILABLE, not_allowed(path)));
            }
            Err(error) => tried.push(format!("{} ({})", path.display(), files::why(&error))),
        }
    }
    let told = format!("no daemon answers at {}", tried.join(", nor at "));
    Err(Failure::new(exit::UNAVAILABLE, told))
}

/// For whoever is neither the daemon's user nor of its group.
fn not_allowed(path: &Path) -> String {
    format!(
        "an underfoot is at {}, but only root and the group underfoot may ask it: \
         sudo usermod -aG underfoot $USER, then log in again",
        path.display()
    )
}

fn read(stream: UnixStream, path: &Path) -> Result<Value, Failure> {
    let nobody = |error: std::io::Error| {
        let (place, why) = (path.display(), files::why(&error));
        let told = format!("the daemon at {place} does not answer ({why})");
        Failure::new(exit::UNAVAILABLE, told)
    };
    stream.set_read_timeout(Some(PATIENCE)).map_err(nobody)?;
    let mut text = String::new();
    stream
        .take(LONGEST_BYTES)
        .read_to_string(&mut text)
        .map_err(nobody)?;
    parse(&text).map_err(|error| {
        Failure::new(
            exit::UNAVAILABLE,
            format!("{}: no status of ours ({error})", path.display()),
        )
    })
}

/// Reads an answer.
///
/// # Errors
/// When it is no JSON object.
pub fn parse(text: &str) -> Result<Value, String> {
    match serde_json::from_str(text.trim()) {
        Ok(Value::Object(object)) => Ok(Value::Object(object)),
        Ok(_) => Err("no object".to_string()),
        Err(error) => Err(error.to_string()),
    }
}
