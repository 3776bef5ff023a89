//! Terminal keys as switches: `1` to `8`, or those that the configuration names.
//!
//! A terminal usually tells presses only. Where it can tell releases (the keyboard enhancement of some
//! terminals) a key is a switch that can be held. Elsewhere a digit is a short tap of 60 ms, and the keys
//! `a s d f` hold switches 1 to 4 for 1.2 s.

use super::{Edge, SWITCHES};
use crate::time::Frame;
use arrayvec::ArrayVec;
use crossterm::event::{KeyCode, KeyEvent, KeyEventKind};

/// How long a tap without a release lasts, in ms.
pub const TAP_MS: f64 = 60.0;
/// The keys that hold switches 1 to 4.
pub const HOLD_KEYS: &str = "asdf";
/// How long a hold key holds, in ms.
pub const HOLD_MS: f64 = 1200.0;

/// Turns key events into edges.
#[derive(Debug, Clone)]
pub struct Keys {
    /// When a switch that is down goes up by itself; `None` beyond: it waits for its release.
    down: [Option<Option<Frame>>; SWITCHES],
    /// The key of each switch.
    names: ArrayVec<char, SWITCHES>,
    hold_ms: f64,
    rate: u32,
    /// Whether the terminal tells releases.
    releases: bool,
}

impl Keys {
    /// Keys on a clock of `rate` frames a second. `releases`: the terminal tells releases.
    pub fn new(releases: bool, rate: u32) -> Keys {
        Keys {
            down: [None; SWITCHES],
            names: ('1'..='9').take(SWITCHES).collect(),
            hold_ms: HOLD_MS,
            rate,
            releases,
        }
    }

    /// Other keys than the digits, from the first switch on; those beyond the most switches there can be are
    /// left out.
    #[must_use]
    pub fn named(mut self, keys: &[char]) -> Keys {
        self.names = keys.iter().copied().take(SWITCHES).collect();
        self
    }

    /// Holds a little longer than the longest hold time that is set.
    #[must_use]
    pub fn holding_ms(mut self, hold_ms: f64) -> Keys {
        self.hold_ms = HOLD_MS.max(hold_ms + 200.0);
        self
    }

    /// The terminal tells releases, as it turned out.
    pub fn told_releases(&mut self) {
        self.releases = true;
    }

    /// The clock runs at another rate from now on, in frames a second.
    pub fn set_rate(&mut self, rate: u32) {
        self.rate = rate;
    }

    /// Takes a key event; gives the edges up to and with it. Other keys are none of its business.
    pub fn key(&mut self, key: &KeyEvent, at: Frame) -> ArrayVec<Edge, { SWITCHES + 1 }> {
        let mut edges = ArrayVec::new();
        edges.extend(self.until(at));
        let Some((index, hold)) = self.switch_of(key.code) else {
            return edges;
        };
        let was_down = self.down[index].is_some();
        let down = match key.kind {
            KeyEventKind::Press => true,
            KeyEventKind::Repeat => return edges,
            KeyEventKind::Release => false,
        };
        if !down {
            // A hold key has its own time.
            if !hold && was_down {
                self.down[index] = None;
                edges.push(edge(index, false, at));
            }
            return edges;
        }
        let ms = if hold { self.hold_ms } else { TAP_MS };
        let waits = self.releases && !hold;
        self.down[index] = Some((!waits).then(|| at.plus_ms(ms, self.rate)));
        if !was_down {
            edges.push(edge(index, true, at));
        }
        edges
    }

    /// Lets go what is due by `at`, in order.
    pub fn until(&mut self, at: Frame) -> ArrayVec<Edge, SWITCHES> {
        let mut edges: ArrayVec<Edge, SWITCHES> = ArrayVec::new();
        for (index, down) in self.down.iter_mut().enumerate() {
            if let Some(Some(due)) = *down
                && due <= at
            {
                *down = None;
                edges.push(edge(index, false, due));
            }
        }
        edges.sort_by_key(|edge| edge.at);
        edges
    }

    /// When the next switch goes up by itself.
    pub fn next_deadline(&self) -> Option<Frame> {
        self.down.iter().filter_map(|down| down.flatten()).min()
    }

    /// The switch (from 0) of a key, and whether it is a hold key.
    fn switch_of(&self, code: KeyCode) -> Option<(usize, bool)> {
        let KeyCode::Char(key) = code else {
            return None;
        };
        if let Some(index) = self.names.iter().position(|name| *name == key) {
            return Some((index, false));
        }
        let held = HOLD_KEYS.find(key.to_ascii_lowercase())?;
        Some((held, true))
    }
}

/// What the keys do, in a line for below the page: the key of each switch, and which keys hold one where a
/// terminal tells no releases.
pub fn legend(keys: &[char]) -> String {
    let list = |keys: &mut dyn Iterator<Item = char>| {
        let keys: Vec<String> = keys.map(String::from).collect();
        keys.join(", ")
    };
    let one = if keys.len() == 1 {
        "switch"
    } else {
        "switches"
    };
    let taps = list(&mut keys.iter().copied());
    // A key that is a switch's own is no hold key.
    let pairs = HOLD_KEYS.chars().zip(keys);
    let holds = list(
        &mut pairs
            .map(|(hold, _)| hold)
            .filter(|hold| !keys.contains(hold)),
    );
    let holds = match holds.is_empty() {
        true => String::new(),
        false => format!("   {holds}: hold"),
    };
    format!("{taps}: {one}{holds}   up, down: louder, softer   p: panic   q: end")
}

fn edge(index: usize, down: bool, at: Frame) -> Edge {
    Edge {
        switch: index as u8 + 1,
        down,
        at,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crossterm::event::KeyModifiers;

    #[test]
    fn the_legend_names_the_keys_there_are() {
        let rest = "   up, down: louder, softer   p: panic   q: end";
        for (keys, told) in [
            ("1", "1: switch   a: hold"),
            ("12", "1, 2: switches   a, s: hold"),
            ("12345", "1, 2, 3, 4, 5: switches   a, s, d, f: hold"),
            ("sa", "s, a: switches"),
        ] {
            let keys: Vec<char> = keys.chars().collect();
            assert_eq!(legend(&keys), format!("{told}{rest}"));
        }
    }

    /// `1@0` is a press, `1r@50` a repeat, `1^@90` a release.
    fn run(releases: bool, keys: &str) -> String {
        run_on(Keys::new(releases, 1000), keys)
    }

    fn run_on(mut engine: Keys, keys: &str) -> String {
        let mut edges = Vec::new();
        for word in keys.split_whitespace() {
            let (what, at) = word.split_once('@').unwrap();
            let kind = match what.get(1..) {
                Some("^") => KeyEventKind::Release,
                Some("r") => KeyEventKind::Repeat,
                _ => KeyEventKind::Press,
            };
            let code = KeyCode::Char(what.chars().next().unwrap());
            let key = KeyEvent::new_with_kind(code, KeyModifiers::NONE, kind);
            edges.extend(engine.key(&key, Frame(at.parse().unwrap())));
        }
        while let Some(due) = engine.next_deadline() {
            edges.extend(engine.until(due));
        }
        let words: Vec<String> = edges
            .iter()
            .map(|e| format!("{}{}@{}", e.switch, if e.down { 'v' } else { '^' }, e.at.0))
            .collect();
        words.join(" ")
    }

    #[test]
    fn keys_are_switches() {
        let cases = [
            ("a digit is a tap", false, "1@0", "1v@0 1^@60"),
            (
                "a terminal that tells releases",
                true,
                "1@0 1r@300 1r@330 1^@900",
                "1v@0 1^@900",
            ),
            ("a hold key", false, "a@0", "1v@0 1^@1200"),
            (
                "a hold key tells no release of its own",
                true,
                "s@0 s^@90",
                "2v@0 2^@1200",
            ),
            (
                "repeats that look like presses stretch the tap",
                false,
                "2@0 2@30 2@50",
                "2v@0 2^@110",
            ),
            ("two keys", false, "1@0 4@20", "1v@0 4v@20 1^@60 4^@80"),
            (
                "what is due comes before what is new",
                false,
                "1@0 1@500",
                "1v@0 1^@60 1v@500 1^@560",
            ),
            ("other keys are nothing", false, "0@0 9@1 q@2 é@3", ""),
            ("a release of nothing", true, "1^@0", ""),
        ];
        for (what, releases, keys, told) in cases {
            assert_eq!(run(releases, keys), told, "{what}");
        }
    }

    #[test]
    fn the_configuration_names_keys() {
        let cases = [
            ("a key of its own", "x@0", "1v@0 1^@60"),
            ("a name goes before a hold key", "a@0", "2v@0 2^@60"),
            ("the other hold keys hold", "s@0", "2v@0 2^@1200"),
            ("digits are no switches then", "1@0", ""),
        ];
        for (what, keys, told) in cases {
            let engine = Keys::new(false, 1000).named(&['x', 'a']);
            assert_eq!(run_on(engine, keys), told, "{what}");
        }
    }
}
