//! Calls to the server: each may block for ever, and each says in words why it failed.
// Needs threads and clocks.
#![allow(clippy::disallowed_methods)]

use crate::audio::synth::SynthError;
use jack::{Client, ClientOptions, ClientStatus};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::time::Duration;

/// How long a call to the server may take.
pub const DEADLINE: Duration = Duration::from_secs(3);
/// The longest client name: JACK's 64 bytes with the ending zero, less room for a suffix such as "-01".
pub const NAME_BYTES: usize = 60;

/// Why there is no device.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum JackError {
    /// The client library is not installed.
    #[error("libjack cannot be loaded (Debian packages libjack-jackd2-0 or pipewire-jack): {0}")]
    NoLibrary(String),
    /// No server runs, or it belongs to another user.
    #[error("no JACK server answers: {0}")]
    NoServer(String),
    /// The server refused something.
    #[error("JACK refused: {0}")]
    Refused(String),
    /// The name cannot be used.
    #[error("a JACK client name has 1 to {NAME_BYTES} bytes and no colon: {0:?}")]
    BadName(String),
    /// The server has the same name. jackd 2 names the sockets of server and client alike
    /// (`jack_NAME_UID_0`), so that such a client would take the server's away from everybody else.
    #[error("the JACK server is named {0:?} too; give the client another name")]
    ServersName(String),
    /// The synthesizer refused the server's rate.
    #[error(transparent)]
    Synth(#[from] SynthError),
    /// The server did not answer within the deadline. Nothing in this process can mend that: the library's
    /// lock is held by the call that hangs.
    #[error("the JACK server hangs: {0} took more than 3 s")]
    Hung(&'static str),
}

/// Runs `call` on a thread of its own.
///
/// # Errors
/// [`JackError::Hung`] when it takes longer than `limit`; the thread is left behind, and what the call
/// gives later is dropped there.
pub fn with_deadline<T: Send + 'static>(
    what: &'static str,
    limit: Duration,
    call: impl FnOnce() -> T + Send + 'static,
) -> Result<T, JackError> {
    let (answer, answered) = sync_channel(1);
    let run = move || {
        let _ = answer.send(call());
    };
    let thread = std::thread::Builder::new()
        .name("jack-call".into())
        .spawn(run);
    if let Err(error) = thread {
        return Err(JackError::Refused(format!("no thread: {error}")));
    }
    match answered.recv_timeout(limit) {
        Ok(value) => Ok(value),
        Err(RecvTimeoutError::Timeout) => Err(JackError::Hung(what)),
        Err(RecvTimeoutError::Disconnected) => Err(JackError::Refused(format!("{what} panicked"))),
    }
}

/// Whether JACK takes a name, and it is not the server's own.
pub(super) fn check_name(name: &str) -> Result<(), JackError> {
    if name.is_empty() || name.len() > NAME_BYTES || name.contains([':', '\0']) {
        return Err(JackError::BadName(name.to_string()));
    }
    let server = std::env::var("JACK_DEFAULT_SERVER").unwrap_or_else(|_| "default".into());
    if *name == server {
        return Err(JackError::ServersName(server));
    }
    Ok(())
}

/// Joins the server; never starts one.
pub(super) fn join(name: &str) -> Result<Client, JackError> {
    check_name(name)?;
    let joined = Client::new(name, ClientOptions::NO_START_SERVER);
    let (client, _) = joined.map_err(|error| match error {
        jack::Error::LibraryError(why) => JackError::NoLibrary(why),
        jack::Error::ClientError(status) => JackError::NoServer(in_words(status)),
        other => refused(other),
    })?;
    Ok(client)
}

/// What the server refused, in words.
pub(super) fn refused(error: jack::Error) -> JackError {
    JackError::Refused(match error {
        jack::Error::ClientError(status) => in_words(status),
        other => other.to_string(),
    })
}

/// What the server's library answers, in words (jack/types.h, `JackStatus`).
fn in_words(status: ClientStatus) -> String {
    let all = [
        (ClientStatus::SERVER_FAILED, "none was found to connect to"),
        (ClientStatus::SERVER_ERROR, "the talk with it failed"),
        (
            ClientStatus::SHM_FAILURE,
            "its shared memory cannot be reached",
        ),
        (
            ClientStatus::VERSION_ERROR,
            "its version is another than the library's",
        ),
        (ClientStatus::NAME_NOT_UNIQUE, "the name is taken"),
        (ClientStatus::INVALID_OPTION, "an option is not known to it"),
        (ClientStatus::INIT_FAILURE, "the client could not be set up"),
        (ClientStatus::CLIENT_ZOMBIE, "the client was thrown out"),
        (ClientStatus::BACKEND_ERROR, "its driver failed"),
    ];
    let said: Vec<&str> = all
        .into_iter()
        .filter(|(flag, _)| status.contains(*flag))
        .map(|(_, words)| words)
        .collect();
    match said.is_empty() {
        true => "no reason was given".to_string(),
        false => said.join(", "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_server_answers_is_said_in_words() {
        let gone = ClientStatus::FAILURE | ClientStatus::SERVER_FAILED;
        for (status, told) in [
            (gone, "none was found to connect to"),
            (
                gone | ClientStatus::SHM_FAILURE,
                "none was found to connect to, its shared memory cannot be reached",
            ),
            (ClientStatus::FAILURE, "no reason was given"),
        ] {
            assert_eq!(in_words(status), told);
        }
    }

    #[test]
    fn a_call_that_hangs_is_left_behind() {
        let (release, released) = sync_channel::<()>(0);
        let hang = move || released.recv().is_ok();
        let limit = Duration::from_millis(5);
        assert_eq!(
            with_deadline("waiting", limit, hang),
            Err(JackError::Hung("waiting"))
        );
        drop(release);
        assert_eq!(with_deadline("adding", DEADLINE, || 1 + 1), Ok(2));
    }

    #[test]
    fn names_that_jack_would_refuse_are_refused_before() {
        for name in ["", "a:b", "a\0b", &"x".repeat(61)] {
            let refused = Err(JackError::BadName(name.to_string()));
            assert_eq!(check_name(name), refused, "{name}");
        }
    }
}
