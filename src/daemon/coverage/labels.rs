//! What is counted, in the words of text and picture.

/// The eight eighths of a bar of four.
pub(super) const EIGHTHS: [&str; 8] = ["1", "1&", "2", "2&", "3", "3&", "4", "4&"];
/// The keys by their tonics.
pub(super) const KEYS: [&str; 12] = [
    "C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B",
];
/// How many figures there are of each length, in words.
pub(super) fn figures_of(notes: usize) -> &'static str {
    match notes {
        1 => "one note",
        2 => "two notes",
        3 => "three notes",
        _ => "four notes and more",
    }
}
