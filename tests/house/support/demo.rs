//! The demo charts and drills, as they are shipped.
// Reads files.

/// The charts.
pub const CHARTS: [&str; 4] = [
    "ferry-at-six",
    "gasworks-corner",
    "nine-lanterns",
    "tram-to-the-salt-pans",
];

/// The drills, the ladder last: it takes longest.
pub const DRILLS: [&str; 8] = [
    "first-evening",
    "guide-tones",
    "roots",
    "three-notes",
    "turning",
    "ladder-bass",
    "ladder-voice",
    "ladder",
];

/// The text of one: `kind` is `charts` or `drills`.
pub fn read(kind: &str, name: &str) -> String {
    let root = env!("CARGO_MANIFEST_DIR");
    std::fs::read_to_string(format!("{root}/configs/{kind}/{name}.toml")).expect("a demo file")
}
