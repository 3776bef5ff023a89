//! Characters that a terminal would obey: refused in files of ours, taken out of lead sheets, never printed.
//!
//! Which they are: the control characters C0 and C1 of ISO 6429 and the embeddings, overrides and isolates of Unicode
//! Standard Annex 9.

use crate::support::program::{command, root};
use std::path::Path;
use std::process::Output;

/// Escape, bell, backspace, a control sequence introducer of one character, an override, an isolate.
const OBEYED: [char; 6] = ['\u{1b}', '\u{7}', '\u{8}', '\u{9b}', '\u{202e}', '\u{2066}'];

fn run(home: &Path, arguments: &[&str]) -> Output {
    command(home)
        .args(arguments)
        .current_dir(home)
        .output()
        .expect("underfoot")
}

/// Everything that was printed, which holds nothing that a terminal would obey.
#[track_caller]
fn printed(output: &Output) -> String {
    let both = [&output.stdout[..], &output.stderr[..]].concat();
    let text = String::from_utf8(both).expect("text");
    let obeyed = |c: char| {
        (c.is_control() && !matches!(c, '\n' | '\t'))
            || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    assert!(!text.contains(obeyed), "{text:?}");
    text
}

/// A TOML string with a character in it, escaped.
fn quoted(c: char) -> String {
    format!("\"a\\u{:04x}[2Jb\"", u32::from(c))
}

#[test]
fn they_are_refused_in_every_text_of_a_file() {
    let home = tempfile::tempdir().expect("a directory");
    for c in OBEYED {
        let text = quoted(c);
        let section = "form = [\"A\"]\n[[section]]\nname = \"A\"\nbars = [\"C6\"]\n";
        let stage = "degrees = [\"1\"]\nfigure = [\"1\"]\nplaces = [\"1\"]\n";
        let cases = [
            (format!("title = {text}\n{section}"), "title", 65),
            (
                format!(
                    "title = \"x\"\nform = [\"A\"]\n[[section]]\nname = \"A\"\nbars = [{text}]\n"
                ),
                "bars",
                65,
            ),
            (
                format!(
                    "title = \"x\"\nform = [{text}]\n[[section]]\nname = {text}\nbars = [\"C6\"]\n"
                ),
                "name",
                65,
            ),
            (
                format!("title = {text}\n[[stage]]\nname = \"x\"\n{stage}"),
                "title",
                65,
            ),
            (
                format!("title = \"x\"\n[[stage]]\nname = {text}\n{stage}"),
                "name",
                65,
            ),
            (format!("[audio]\nclient = {text}\n"), "client", 78),
            (format!("[audio.connect]\nout_l = [{text}]\n"), "out_l", 78),
            (format!("[foot]\nmidi_ports = [{text}]\n"), "midi_ports", 78),
        ];
        for (file, key, code) in cases {
            std::fs::write(home.path().join("file.toml"), &file).expect("a file");
            let output = run(home.path(), &["check", "file.toml"]);
            let told = printed(&output);
            assert_eq!(output.status.code(), Some(code), "{file}: {told}");
            // A bar says it in its own way.
            if key == "bars" {
                continue;
            }
            let rule = format!("{key} has a control character (U+{:04X})", u32::from(c));
            assert!(told.contains(&rule), "{file}: {told}");
        }
    }
}

#[test]
fn they_are_never_printed_of_a_file_s_name() {
    let home = tempfile::tempdir().expect("a directory");
    let chart = std::fs::read(root("configs/charts/ferry-at-six.toml")).expect("a chart");
    for c in OBEYED {
        let name = |end: &str| format!("a{c}[2J.{end}");
        let (good, bad, none) = (name("toml"), name("bad.toml"), name("none"));
        std::fs::write(home.path().join(&good), &chart).expect("a file");
        std::fs::write(home.path().join(&bad), "title = 3\n").expect("a file");
        for (arguments, code) in [
            (vec!["check", &good], 0),
            (vec!["check", &good, &bad], 65),
            (vec!["check", &none], 65),
            (vec!["symbols", &none], 65),
            (vec!["import", &good], 65),
            (vec!["listen", &good], 65),
            (
                vec!["render", &good, "--midi", "x", "--soundfont", &none],
                65,
            ),
            (vec!["render", &good, "--midi", "/nowhere/\u{1b}"], 65),
            (vec!["status", "--socket", &none], 69),
        ] {
            let output = run(home.path(), &arguments);
            let told = printed(&output);
            assert_eq!(output.status.code(), Some(code), "{arguments:?}: {told}");
        }
    }
}

#[test]
fn they_are_taken_out_of_lead_sheets() {
    let home = tempfile::tempdir().expect("a directory");
    // XML has no C0 (XML 1.0, section 2.2), but all others.
    for c in ['\u{9b}', '\u{7f}', '\u{202e}', '\u{2066}'] {
        let score = format!(
            "<score-partwise version=\"4.0\"><work><work-title>Lamp{c} Oil</work-title></work>\
             <part-list><score-part id=\"P1\"><part-name>x</part-name></score-part></part-list><part id=\"P1\">\
             <measure number=\"1{c}\"><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time>\
             </attributes><direction><direction-type><rehearsal>B{c}1</rehearsal></direction-type></direction>\
             <harmony><root><root-step>C</root-step></root><kind text=\"{c}\">strange</kind></harmony>\
             <harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>\
             <note><rest/><duration>4</duration></note></measure></part></score-partwise>"
        );
        std::fs::write(home.path().join("sheet.musicxml"), score).expect("a file");
        let output = run(home.path(), &["import", "sheet.musicxml"]);
        let told = printed(&output);
        assert_eq!(output.status.code(), Some(0), "{told}");
        assert!(told.contains("title = \"Lamp Oil\""), "{told}");
        assert!(told.contains("name = \"B 1\""), "{told}");
    }
}
