//! What a file is, told by what stands in it.

use super::config::Config;
use super::files::is_score;
use super::set_list;
use crate::chart::read_chart;
use crate::drill::read_drill;
use crate::fault::{keys_of, nearest};
use std::path::Path;
use toml::de::DeTable;

/// What a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FileKind {
    Chart,
    SetList,
    Drill,
    Config,
    Foot,
    SoundFont,
    /// What `import` reads.
    Score,
    /// Nothing stands in it.
    Empty,
}

/// What a file with these bytes at its start is.
pub(super) fn kind(path: &Path, bytes: &[u8]) -> FileKind {
    let named = |end: &str| {
        path.extension()
            .is_some_and(|ext| ext.eq_ignore_ascii_case(end))
    };
    if bytes.starts_with(b"RIFF") || named("sf2") {
        return FileKind::SoundFont;
    }
    if is_score(bytes) {
        return FileKind::Score;
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = String::from_utf8_lossy(bytes);
    if text.trim().is_empty() {
        return FileKind::Empty;
    }
    if is_foot_script(&text) {
        return FileKind::Foot;
    }
    let (table, _) = DeTable::parse_recoverable(&text);
    let keys: Vec<&str> = table
        .get_ref()
        .keys()
        .map(|key| key.get_ref().as_ref())
        .collect();
    let score = |known: Vec<&str>| -> usize {
        let one = |key: &&str| match nearest(key, known.iter().copied()) {
            Some(near) if near == *key => 4,
            Some(_) => 1,
            None => 0,
        };
        keys.iter().map(one).sum()
    };
    // The last of equals is taken: a chart, if only the title can be read.
    let scored = [
        (
            score(keys_of(|view| Config::default().over(view))),
            FileKind::Config,
        ),
        (score(keys_of(read_drill)), FileKind::Drill),
        (score(set_list::keys()), FileKind::SetList),
        (score(keys_of(read_chart)), FileKind::Chart),
    ];
    let best = scored.into_iter().max_by_key(|(score, _)| *score);
    match best {
        Some((1.., kind)) => kind,
        // All commented out, or a word we do not know: the configuration is the one file that may say nothing.
        _ => FileKind::Config,
    }
}

/// Whether the first line that says something begins with a number: beats of the foot. In TOML a key is followed
/// by `=` or `.`.
fn is_foot_script(text: &str) -> bool {
    let mut lines = text.lines().map(str::trim);
    let first = lines.find(|line| !line.is_empty() && !line.starts_with('#'));
    let mut words = first.unwrap_or_default().split_whitespace();
    let is_beat = words.next().is_some_and(|word| word.parse::<f64>().is_ok());
    is_beat && !words.next().is_some_and(|word| word.starts_with('='))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_known_by_what_stands_in_it() {
        let cases = [
            ("", FileKind::Empty),
            (" \n\n", FileKind::Empty),
            ("# all commented out\n#seed = 1\n", FileKind::Config),
            ("seed = 1", FileKind::Config),
            ("[foot]\nswitches = 2", FileKind::Config),
            ("sede = 1", FileKind::Config),
            (
                "title = 'x'\n[[section]]\nname = 'A'\nbars = ['C']",
                FileKind::Chart,
            ),
            ("title = 'x'\n[[sectoin]]\nname = 'A'", FileKind::Chart),
            ("title = 'x'", FileKind::Chart),
            // A chart may have habits of harmony, as a configuration may.
            (
                "titel = 'x'\n[[sectoin]]\n[harmony]\nthree_chord = 'Aeolian'",
                FileKind::Chart,
            ),
            (
                "title = 'x'\n[[stage]]\nname = 'bars of the form'",
                FileKind::Drill,
            ),
            ("title = 'x'\n[[stgae]]\nname = 'x'", FileKind::Drill),
            // A word of another kind in a text or a comment says nothing.
            (
                "title = '[[stage]]'\n# [[stage]]\nform = ['A']",
                FileKind::Chart,
            ),
            (
                "[audio]\n# bars of sound\nsoundfont = 'form.sf2'",
                FileKind::Config,
            ),
            ("# a comment\n0 1 down\n0.5 1 up", FileKind::Foot),
            ("-4 1 dwon", FileKind::Foot),
            ("\u{feff}0 1 down", FileKind::Foot),
            ("title = 'x'\n[[tune]]\nchart = 'a.toml'", FileKind::SetList),
            ("title = 'x'\n[[tnue]]\nchart = 'a.toml'", FileKind::SetList),
            ("[clock]\nsend = true", FileKind::Config),
            ("1 = 2", FileKind::Config),
            ("RIFF\0\0", FileKind::SoundFont),
            ("\u{feff}\n<?xml version='1.0'?>", FileKind::Score),
            ("PK\u{3}\u{4}", FileKind::Score),
            ("MThd", FileKind::Score),
        ];
        for (text, expected) in cases {
            assert_eq!(kind(Path::new("x"), text.as_bytes()), expected, "{text:?}");
        }
        assert_eq!(kind(Path::new("a.SF2"), b"x"), FileKind::SoundFont);
        assert_eq!(
            kind(Path::new("x"), b"title = '\xff'\n[[stage]]\n"),
            FileKind::Drill
        );
    }
}
