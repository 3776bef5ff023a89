//! Where the daemon may be asked.

use super::overlay::{Directories, Paths};
use std::path::PathBuf;

/// The machine's daemon, the unit's, listens there.
const OF_THE_MACHINE: &str = "/run/underfoot/status.sock";

/// Where the machine's daemon listens.
pub fn machine_socket() -> PathBuf {
    PathBuf::from(OF_THE_MACHINE)
}

/// The places where a daemon may listen, in the order in which they are tried. Where one is configured it is the only
/// one; else the daemon of the own session comes first, then the machine's. So the same command finds the daemon for its
/// own user, for the members of its group, and for root.
pub fn socket_places(paths: &Paths, variable: impl Fn(&str) -> Option<String>) -> Vec<PathBuf> {
    if let Some(configured) = &paths.socket {
        return vec![configured.clone()];
    }
    let own = Directories::of(paths, variable).socket;
    let of_the_machine = machine_socket();
    let own = own.filter(|own| *own != of_the_machine);
    own.into_iter().chain([of_the_machine]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_session_s_daemon_is_asked_before_the_machine_s() {
        type Variables = &'static [(&'static str, &'static str)];
        let cases: [(Option<&str>, Variables, &[&str]); 5] = [
            (Some("/x/sock"), &[("HOME", "/h")], &["/x/sock"]),
            (
                None,
                &[("HOME", "/home/a")],
                &["/home/a/.local/state/underfoot/status.sock", OF_THE_MACHINE],
            ),
            (
                None,
                &[("HOME", "/h"), ("XDG_RUNTIME_DIR", "/run/user/9")],
                &["/run/user/9/underfoot/status.sock", OF_THE_MACHINE],
            ),
            (None, &[], &[OF_THE_MACHINE]),
            (
                None,
                &[("RUNTIME_DIRECTORY", "/run/underfoot")],
                &[OF_THE_MACHINE],
            ),
        ];
        for (socket, variables, places) in cases {
            let paths = Paths {
                socket: socket.map(PathBuf::from),
                ..Paths::default()
            };
            let look_up = |name: &str| {
                let found = variables.iter().find(|(known, _)| *known == name);
                found.map(|(_, value)| (*value).to_string())
            };
            let places: Vec<PathBuf> = places.iter().map(PathBuf::from).collect();
            assert_eq!(socket_places(&paths, look_up), places);
        }
    }
}
