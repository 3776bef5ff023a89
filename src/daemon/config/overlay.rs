//! What lies over the file: flags over environment; and the usual places of files and directories.

use crate::fault::settings::{path, settings};
use std::path::PathBuf;

/// Settings from flags or environment; what is `None` or empty leaves the file's.
#[derive(Debug, Clone, PartialEq, Eq, Default, clap::Args)]
pub struct Overlay {
    /// A chart instead of the configured ones (may be given several times)
    #[arg(long = "chart", value_name = "FILE")]
    pub charts: Vec<PathBuf>,
    /// A set list instead of the configured charts
    #[arg(long, value_name = "FILE")]
    pub set: Option<PathBuf>,
    /// A drill instead of the configured one
    #[arg(long, value_name = "FILE")]
    pub drill: Option<PathBuf>,
    /// Chooses where the band has a choice
    #[arg(long)]
    pub seed: Option<u64>,
    /// Where to keep what comes back at the next start
    #[arg(long, value_name = "DIR")]
    pub state_dir: Option<PathBuf>,
    /// Where to keep rendered phrases.
    #[arg(skip)]
    pub cache_dir: Option<PathBuf>,
    /// The socket that `status` asks
    #[arg(long, value_name = "PATH")]
    pub socket: Option<PathBuf>,
}

impl Overlay {
    /// From the environment: `UNDERFOOT_CHART`, `UNDERFOOT_SET`, `UNDERFOOT_DRILL`, `UNDERFOOT_STATE_DIR`,
    /// `UNDERFOOT_CACHE_DIR`, `UNDERFOOT_SOCKET`; empty ones count as not set. `variable` looks one up.
    pub fn from_environment(variable: impl Fn(&str) -> Option<String>) -> Overlay {
        let path = |name| {
            let text = variable(name).filter(|text| !text.is_empty());
            text.map(PathBuf::from)
        };
        Overlay {
            charts: path("UNDERFOOT_CHART").into_iter().collect(),
            set: path("UNDERFOOT_SET"),
            drill: path("UNDERFOOT_DRILL"),
            seed: None,
            state_dir: path("UNDERFOOT_STATE_DIR"),
            cache_dir: path("UNDERFOOT_CACHE_DIR"),
            socket: path("UNDERFOOT_SOCKET"),
        }
    }
}

settings! {
    /// Where things are kept; what is `None` is found by [`Directories`].
    #[derive(Debug, Clone, PartialEq, Eq)]
    pub struct Paths {
        /// What comes back at the next start.
        state_dir: Option<PathBuf> = None, path;
        cache_dir: Option<PathBuf> = None, path;
        /// The socket of `status`.
        socket: Option<PathBuf> = None, path;
    }
}

/// Where a configuration is looked for when no flag names one, the first that is there: `UNDERFOOT_CONFIG`
/// alone if set, else the user's, then the machine's (XDG Base Directory Specification 0.8).
pub fn config_places(variable: impl Fn(&str) -> Option<String>) -> Vec<PathBuf> {
    let set = |name| variable(name).filter(|text| !text.is_empty());
    if let Some(named) = set("UNDERFOOT_CONFIG") {
        return vec![PathBuf::from(named)];
    }
    let home = || set("HOME").map(|home| PathBuf::from(home).join(".config"));
    let user = set("XDG_CONFIG_HOME").map(PathBuf::from).or_else(home);
    let machine = PathBuf::from("/etc");
    let places = user.into_iter().chain([machine]);
    places
        .map(|dir| dir.join("underfoot/underfoot.toml"))
        .collect()
}

/// The directories in use; `None`: nobody named one, so nothing is kept there. Never the temporary directory: it is
/// everybody's, and another user could have taken the name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Directories {
    /// What comes back at the next start.
    pub state: Option<PathBuf>,
    pub cache: Option<PathBuf>,
    /// The socket of `status`.
    pub socket: Option<PathBuf>,
}

impl Directories {
    /// The configured ones; else those that systemd made for the unit (`STATE_DIRECTORY` and so on, see
    /// systemd.exec(5)); else the user's (XDG Base Directory Specification 0.8). A socket without a runtime
    /// directory stands with the state.
    pub fn of(paths: &Paths, variable: impl Fn(&str) -> Option<String>) -> Directories {
        let set = |name| variable(name).filter(|text: &String| !text.is_empty());
        let below_home = |dir| set("HOME").map(|home| PathBuf::from(home).join(dir));
        let find = |unit, user| {
            // systemd parts several directories by colons; the first is ours.
            let unit = set(unit).and_then(|list| list.split(':').next().map(PathBuf::from));
            let user = || set(user).map(|dir| PathBuf::from(dir).join("underfoot"));
            unit.or_else(user)
        };
        let (state, cache) = (".local/state/underfoot", ".cache/underfoot");
        let paths = paths.clone();
        let state = paths
            .state_dir
            .or_else(|| find("STATE_DIRECTORY", "XDG_STATE_HOME"))
            .or_else(|| below_home(state));
        let runtime = find("RUNTIME_DIRECTORY", "XDG_RUNTIME_DIR").or_else(|| state.clone());
        Directories {
            cache: paths
                .cache_dir
                .or_else(|| find("CACHE_DIRECTORY", "XDG_CACHE_HOME"))
                .or_else(|| below_home(cache)),
            socket: paths
                .socket
                .or_else(|| runtime.map(|dir| dir.join("status.sock"))),
            state,
        }
    }

    /// Where the practice journal is kept, if it is.
    pub fn journal(&self, journal: &super::Journal) -> Option<PathBuf> {
        let usual = || self.state.as_ref().map(|dir| dir.join("journal.db"));
        let path = journal.path.clone().or_else(usual);
        path.filter(|_| journal.on)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Config;
    use super::*;

    type Variables = &'static [(&'static str, &'static str)];

    fn look_up(variables: Variables) -> impl Fn(&str) -> Option<String> {
        move |name| {
            let found = variables.iter().find(|(known, _)| *known == name);
            found.map(|(_, value)| (*value).to_string())
        }
    }

    #[test]
    fn flags_lie_over_environment_over_file_over_built_in() {
        let flag = |drill: &str| Overlay {
            drill: Some(PathBuf::from(drill)),
            ..Overlay::default()
        };
        let none = Overlay::default;
        let environment =
            || Overlay::from_environment(look_up(&[("UNDERFOOT_DRILL", "e"), ("OTHER", "x")]));
        let empty = || Overlay::from_environment(look_up(&[("UNDERFOOT_DRILL", "")]));
        let cases = [
            // file, environment, flags, drill in use
            (None, none(), none(), None),
            (Some("f"), none(), none(), Some("f")),
            (Some("f"), empty(), none(), Some("f")),
            (Some("f"), environment(), none(), Some("e")),
            (Some("f"), environment(), flag("g"), Some("g")),
            (Some("f"), none(), flag("g"), Some("g")),
            (None, none(), flag("g"), Some("g")),
        ];
        for (file, environment, flags, used) in cases {
            let mut config = Config {
                drill: file.map(PathBuf::from),
                ..Config::default()
            };
            config.overlay(environment);
            config.overlay(flags);
            assert_eq!(config.drill, used.map(PathBuf::from));
        }
    }

    #[test]
    fn a_configuration_is_looked_for_at_these_places() {
        let cases: [(Variables, &[&str]); 4] = [
            (&[], &["/etc/underfoot/underfoot.toml"]),
            (
                &[("HOME", "/home/a")],
                &[
                    "/home/a/.config/underfoot/underfoot.toml",
                    "/etc/underfoot/underfoot.toml",
                ],
            ),
            (
                &[("HOME", "/home/a"), ("XDG_CONFIG_HOME", "/c")],
                &[
                    "/c/underfoot/underfoot.toml",
                    "/etc/underfoot/underfoot.toml",
                ],
            ),
            (
                &[("HOME", "/home/a"), ("UNDERFOOT_CONFIG", "b.toml")],
                &["b.toml"],
            ),
        ];
        for (variables, places) in cases {
            let places: Vec<PathBuf> = places.iter().map(PathBuf::from).collect();
            assert_eq!(config_places(look_up(variables)), places);
        }
    }

    #[test]
    fn directories_are_configured_or_the_unit_s_or_the_user_s() {
        // configured state, variables, state, cache, socket; "": none
        let cases: [(Option<&str>, Variables, [&str; 3]); 7] = [
            (None, &[], ["", "", ""]),
            (None, &[("HOME", "")], ["", "", ""]),
            (
                None,
                &[("XDG_RUNTIME_DIR", "/run/user/9")],
                ["", "", "/run/user/9/underfoot/status.sock"],
            ),
            (
                None,
                &[("HOME", "/h")],
                [
                    "/h/.local/state/underfoot",
                    "/h/.cache/underfoot",
                    "/h/.local/state/underfoot/status.sock",
                ],
            ),
            (
                None,
                &[("XDG_STATE_HOME", "/s"), ("XDG_RUNTIME_DIR", "/run/user/9")],
                ["/s/underfoot", "", "/run/user/9/underfoot/status.sock"],
            ),
            (
                None,
                &[
                    ("STATE_DIRECTORY", "/var/lib/underfoot:/x"),
                    ("XDG_STATE_HOME", "/s"),
                    ("CACHE_DIRECTORY", "/var/cache/underfoot"),
                    ("RUNTIME_DIRECTORY", "/run/underfoot"),
                ],
                [
                    "/var/lib/underfoot",
                    "/var/cache/underfoot",
                    "/run/underfoot/status.sock",
                ],
            ),
            (
                Some("/data"),
                &[("STATE_DIRECTORY", "/var/lib/underfoot")],
                ["/data", "", "/data/status.sock"],
            ),
        ];
        for (configured, variables, expected) in cases {
            let paths = Paths {
                state_dir: configured.map(PathBuf::from),
                ..Paths::default()
            };
            let found = Directories::of(&paths, look_up(variables));
            let found = [found.state, found.cache, found.socket];
            let expected = expected.map(|dir| (!dir.is_empty()).then(|| PathBuf::from(dir)));
            assert_eq!(found, expected, "{configured:?} {variables:?}");
        }
    }
}
