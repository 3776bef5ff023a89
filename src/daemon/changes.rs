//! What of a new configuration a running daemon takes, and what needs a restart.

use super::config::Config;

/// What a new configuration changes, by table or key.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// In force now, or at the moment that belongs to it.
    pub taken: Vec<&'static str>,
    /// As it was, until the next start.
    pub needs_restart: Vec<&'static str>,
    /// Every fault for which a chart of a folder was not taken.
    pub fault: Option<String>,
}

/// Only of interest where there is a terminal.
pub const KEYS: &str = "[foot] keys";

/// The names of what differs.
macro_rules! differing {
    ($old:expr, $new:expr; $($name:expr => $($field:ident).+;)+) => {{
        let mut names = Vec::new();
        $(if $old.$($field).+ != $new.$($field).+ {
            names.push($name);
        })+
        names
    }};
}

/// Takes back what differs; gives its names.
macro_rules! hold {
    ($old:expr, $new:expr; $($name:expr => $($field:ident).+;)+) => {{
        let mut names = Vec::new();
        $(if $old.$($field).+ != $new.$($field).+ {
            $new.$($field).+ = $old.$($field).+.clone();
            names.push($name);
        })+
        names
    }};
}

impl Config {
    /// The new configuration as far as a running daemon takes it, and what it changes. What the server's client, the
    /// synthesizers, the ear's thread and the kept files were begun with stays; everything else is taken.
    pub fn reloaded(&self, mut new: Config) -> (Config, Changes) {
        let needs_restart = hold!(self, new;
            "[audio] client" => audio.client;
            "[audio] autoconnect" => audio.autoconnect;
            "[audio.connect]" => audio.connect;
            "[audio] soundfont" => audio.soundfont;
            "[audio] sound" => audio.sound;
            "[audio] reverb" => audio.reverb;
            "[audio] chorus" => audio.chorus;
            "[audio] a4_hz" => audio.a4_hz;
            "[audio] cue_to" => audio.cue_to;
            "[clock] send_to" => clock.send_to;
            KEYS => foot.keys;
            "[ear] on" => ear.on;
            "[journal] on" => journal.on;
            "[journal] path" => journal.path;
            "[paths]" => paths;
        );
        let taken = differing!(self, new;
            "charts" => charts;
            "chart_folders" => chart_folders;
            "set" => set;
            "drill" => drill;
            "seed" => seed;
            "[audio] latency_ms" => audio.latency_ms;
            "[levels]" => levels;
            "[clock]" => clock;
            "[foot]" => foot;
            "[neck]" => instrument;
            "[display]" => display;
            "[speech]" => speech;
            "[practice]" => practice;
            "[ear]" => ear;
            "[judging]" => judging;
            "[journal]" => journal;
            "[harmony]" => harmony;
        );
        let changes = Changes {
            taken,
            needs_restart,
            fault: None,
        };
        (new, changes)
    }

    /// Whether other switches, pins, pedals, lines or ports are to be listened to than before.
    pub fn has_other_sources(&self, before: &Config) -> bool {
        let (foot, clock) = (&self.foot, &self.clock);
        let of_foot = differing!(foot, before.foot;
            "" => switches;
            "" => serial;
            "" => midi;
            "" => midi_ports;
            "" => pedals;
            "" => gpio;
        );
        let of_clock = differing!(clock, before.clock;
            "" => follow.order;
            "" => serial;
            "" => baud;
            "" => midi;
        );
        !of_foot.is_empty() || !of_clock.is_empty()
    }

    /// Whether there are other screens or lamps than before.
    pub fn has_other_screens(&self, before: &Config) -> bool {
        self.display.screens != before.display.screens || self.foot.lamps != before.foot.lamps
    }
}

impl Changes {
    /// In one line, for whoever asked for them.
    pub fn words(&self) -> String {
        let list = |names: &[&str]| names.join(", ");
        match (&self.taken[..], &self.needs_restart[..]) {
            ([], []) => "nothing has changed".to_string(),
            (taken, []) => format!("taken over: {}", list(taken)),
            ([], held) => format!("needs a restart: {}", list(held)),
            (taken, held) => {
                let (taken, held) = (list(taken), list(held));
                format!("taken over: {taken}; needs a restart: {held}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::config::Audio;
    use super::*;
    use crate::fault::Source;

    #[rustfmt::skip]
    const CASES: &[(&str, &str)] = &[
        ("charts = [\"a.toml\"]", "taken over: charts"),
        ("chart_folders = [\"/c\"]", "taken over: chart_folders"),
        ("set = \"s.toml\"", "taken over: set"),
        ("drill = \"d.toml\"", "taken over: drill"),
        ("seed = 2", "taken over: seed"),
        ("[audio]\nclient = \"a\"", "needs a restart: [audio] client"),
        ("[audio]\nautoconnect = \"none\"", "needs a restart: [audio] autoconnect"),
        ("[audio.connect]\ncue = [\"a\"]", "needs a restart: [audio.connect]"),
        ("[audio]\nsoundfont = \"a.sf2\"", "needs a restart: [audio] soundfont"),
        ("[audio]\nreverb = false", "needs a restart: [audio] reverb"),
        ("[audio]\nchorus = true", "needs a restart: [audio] chorus"),
        ("[audio]\na4_hz = 442", "needs a restart: [audio] a4_hz"),
        ("[audio]\ncue_to = \"cue\"", "needs a restart: [audio] cue_to"),
        ("[audio]\nlatency_ms = 1", "taken over: [audio] latency_ms"),
        ("[levels]\nmaster = -20", "taken over: [levels]"),
        ("[levels]\nbass = -20", "taken over: [levels]"),
        ("[clock]\nfollow = [\"jack\"]", "taken over: [clock]"),
        ("[clock]\nmute_band = false", "taken over: [clock]"),
        ("[clock]\nsend = true", "taken over: [clock]"),
        ("[foot]\nkeys = [\"x\"]", "needs a restart: [foot] keys"),
        ("[foot.serial]\nport = \"/dev/x\"", "taken over: [foot]"),
        ("[foot.map.stopped]\n\"1 tap\" = \"tuner\"", "taken over: [foot]"),
        ("[[foot.lamp]]\nshows = \"beat\"\nline = \"x\"", "taken over: [foot]"),
        ("[neck]\ncapo = 2", "taken over: [neck]"),
        ("[display]\nnames = \"German\"", "taken over: [display]"),
        ("[display]\nleft_handed = true", "taken over: [display]"),
        ("[[display.screen]]\nkind = \"terminal\"", "taken over: [display]"),
        ("[speech]\nengine = \"none\"", "taken over: [speech]"),
        ("[speech]\nwhen = \"asked\"", "taken over: [speech]"),
        ("[practice]\ntempo_per_cent = 60", "taken over: [practice]"),
        ("[ear]\non = false", "needs a restart: [ear] on"),
        ("[ear]\ninstrument = \"bass\"", "taken over: [ear]"),
        ("[judging]\nspoken = true", "taken over: [judging]"),
        ("[harmony]\nminor_tonic = \"natural sixth\"", "taken over: [harmony]"),
        ("[paths]\nsocket = \"/run/x\"", "needs a restart: [paths]"),
        ("[journal]\nplayer = \"Ada\"\non = false", "taken over: [journal]; needs a restart: [journal] on"),
        ("", "nothing has changed"),
        ("[clock]\nsend = true\nsend_to = \"a\"", "taken over: [clock]; needs a restart: [clock] send_to"),
        ("[foot]\nswitches = 2", "taken over: [foot]; needs a restart: [foot] keys"),
    ];

    /// A setting that comes along later does not compile here until it is thought of above.
    fn none_is_forgotten(config: Config) {
        let Config {
            charts: _,
            chart_folders: _,
            set: _,
            drill: _,
            seed: _,
            audio,
            levels: _,
            clock: _,
            foot: _,
            instrument: _,
            display: _,
            speech: _,
            practice: _,
            ear: _,
            judging: _,
            journal: _,
            harmony: _,
            paths: _,
        } = config;
        let Audio {
            client: _,
            autoconnect: _,
            connect: _,
            soundfont: _,
            sound: _,
            reverb: _,
            chorus: _,
            a4_hz: _,
            cue_to: _,
            latency_ms: _,
        } = audio;
    }

    #[test]
    fn every_setting_is_taken_or_told() {
        none_is_forgotten(Config::default());
        let read = |text: &str| Config::read(&Source { name: "t", text }).unwrap();
        let before = Config::default();
        for (text, told) in CASES {
            let wanted = read(text);
            let (got, changes) = before.reloaded(wanted.clone());
            assert_eq!(changes.words(), *told, "{text}");
            // What is in force is what was asked for, but for what was told.
            assert_eq!(got == wanted, changes.needs_restart.is_empty(), "{text}");
            assert_eq!(got == before, changes.taken.is_empty(), "{text}");
        }
    }
}
