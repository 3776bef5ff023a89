//! The program and lead sheets: what `import` writes and how it refuses; hostile files of up to eight
//! megabytes under limits of memory and processor time, where it ends by itself, with a chart or a reason.

// These tests write files and start the program.

use std::path::{Path, PathBuf};
use std::process::Command;
use underfoot::sheet::{from_midi, from_musicxml};

/// Address space in KiB and processor time in seconds.
const MEMORY_KIB: u32 = 200 << 10;
const SECONDS: u32 = 2;
/// The largest file that is read.
const LARGEST: usize = 8 << 20;

const HARMONY: &str = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>";

/// Repeats a piece as often as it fits between a head and a tail, at most `most` times.
fn filled(head: &str, piece: &str, tail: &str, most: usize) -> Vec<u8> {
    let room = (LARGEST - head.len() - tail.len()) / piece.len();
    format!("{head}{}{tail}", piece.repeat(room.min(most))).into_bytes()
}

fn score(inside: &str, piece: &str, after: &str, most: usize) -> Vec<u8> {
    let head = format!("<score-partwise><part id=\"P1\">{inside}");
    filled(
        &head,
        piece,
        &format!("{after}</part></score-partwise>"),
        most,
    )
}

/// Pieces numbered from 0, as many as fit.
fn numbered(head: &str, piece: impl Fn(usize) -> String, tail: &str, most: usize) -> Vec<u8> {
    let mut text = head.to_string();
    for number in 0..most {
        let next = piece(number);
        if text.len() + next.len() + tail.len() > LARGEST {
            break;
        }
        text += &next;
    }
    (text + tail).into_bytes()
}

/// A Standard MIDI File of one track (or as many as its body says), filled with one event.
fn midi(event: &[u8]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xe0MTrk".to_vec();
    let count = (LARGEST - bytes.len() - 8) / event.len();
    bytes.extend(((count * event.len() + 4) as u32).to_be_bytes());
    bytes.extend(event.repeat(count));
    bytes.extend(b"\0\xff\x2f\0");
    bytes
}

fn cases() -> Vec<(&'static str, Vec<u8>)> {
    let bar = "<measure>";
    let full = format!("<measure>{HARMONY}</measure>");
    let signs = format!(
        "<measure>{HARMONY}<barline location=\"left\"><repeat direction=\"forward\"/></barline><sound segno=\"s\" \
         tocoda=\"c\" dacapo=\"yes\" time-only=\"1,2,3,4,5,6,7,8,9\"/><barline><repeat direction=\"backward\" \
         times=\"9\"/></barline></measure>"
    );
    let ending = format!(
        "<measure>{HARMONY}<barline location=\"left\"><ending number=\"1-99\" type=\"start\"/></barline><barline>\
         <ending type=\"stop\"/><repeat direction=\"backward\" times=\"99\"/></barline></measure>"
    );
    let note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>";
    let wrong = "<harmony><function>V</function></harmony>";
    let bomb = std::fs::read("tests/fixtures/leadsheets/hostile/zip-bomb.mxl").unwrap();
    let mut noise: Vec<u8> = b"PK\x03\x04".to_vec();
    noise.extend((4..LARGEST).map(|at| ((at * at) >> 3) as u8));
    vec![
        ("elements", score("", "<a/>", "", usize::MAX)),
        (
            "as many elements as are allowed",
            score("", "<a/>", "", 899_000),
        ),
        ("attributes", score("", "<a b=\"\" c=\"\"/>", "", 224_000)),
        ("deep", score("", "<a>", "", 890_000)),
        ("deep and closed", {
            let (open, close) = ("<a>".repeat(440_000), "</a>".repeat(440_000));
            format!("{open}{close}").into_bytes()
        }),
        (
            "name spaces",
            numbered("", |n| format!("<a xmlns:n{n}=\"{n}\">"), "", usize::MAX),
        ),
        (
            "attributes of one",
            numbered("<a ", |n| format!("b{n}=\"\" "), "/>", 449_000),
        ),
        ("text", filled("<a>", "text ", "</a>", usize::MAX)),
        ("references", filled("<a>", "&#65;", "</a>", usize::MAX)),
        (
            "sections of characters",
            filled("<a>", "<![CDATA[a]]>", "</a>", usize::MAX),
        ),
        ("comments", filled("<a>", "<!-- a -->", "</a>", usize::MAX)),
        ("bars", score("", &full, "", 10_000)),
        (
            "chords of one bar",
            score(bar, HARMONY, "</measure>", 110_000),
        ),
        (
            "notes of one bar",
            score(&format!("{bar}{HARMONY}"), note, "</measure>", 89_000),
        ),
        (
            "faulty chords",
            score(&format!("{bar}{HARMONY}"), wrong, "</measure>", usize::MAX),
        ),
        ("signs", score("", &signs, "", 10_000)),
        ("endings", score("", &ending, "", 10_000)),
        (
            "parts",
            numbered(
                "<score-timewise><measure>",
                |n| format!("<part id=\"{n}\">{HARMONY}</part>"),
                "</measure></score-timewise>",
                usize::MAX,
            ),
        ),
        ("archive bomb", bomb),
        ("no archive", noise),
        ("midi events", midi(b"\0\xc0\0")),
        ("midi running status", midi(b"\0\0")),
        ("midi markers", midi(b"\0\xff\x06\x01C")),
        ("midi long markers", midi(b"\x83\x60\xff\x06\x02C7")),
        ("midi texts", midi(b"\0\xff\x01\x01?")),
        ("midi far", midi(b"\xff\xff\xff\x7f\xff\x06\x01C")),
        ("midi meters", midi(b"\x01\xff\x58\x04\x01\x04\x18\x08")),
        ("midi tracks", {
            let mut bytes = b"MThd\0\0\0\x06\0\x01\xff\xff\x01\xe0".to_vec();
            bytes.extend(b"MTrk\0\0\0\0".repeat((LARGEST - 14) / 8));
            bytes
        }),
    ]
}

#[test]
fn no_file_takes_more_than_its_share() {
    let work = tempfile::tempdir().unwrap();
    let mut wrong = String::new();
    for (name, bytes) in cases() {
        assert!(bytes.len() <= LARGEST, "{name}");
        let file = work.path().join("sheet");
        std::fs::write(&file, bytes).unwrap();
        let limits = format!(
            "ulimit -v {MEMORY_KIB} && ulimit -t {SECONDS} && exec \"$0\" import \"$1\" >/dev/null"
        );
        let output = Command::new("sh")
            .args(["-c", &limits, env!("CARGO_BIN_EXE_underfoot")])
            .arg(&file)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        let last = said.lines().last().unwrap_or_default();
        println!("{name}: {:?} {last}", output.status.code());
        if !matches!(output.status.code(), Some(0 | 65)) {
            wrong += &format!("{name}: {:?} {last}\n", output.status);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn a_chart_is_written_whole_or_not_at_all() {
    let work = tempfile::tempdir().unwrap();
    let chart = work.path().join("chart.toml");
    let import = |file: &std::path::Path| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_underfoot"));
        let output = command
            .arg("import")
            .arg(file)
            .arg("-o")
            .arg(&chart)
            .output();
        let output = output.unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code(), said)
    };
    let broken = work.path().join("broken.xml");
    std::fs::write(&broken, "<score-partwise><part>").unwrap();
    let (code, said) = import(&broken);
    assert_eq!(code, Some(65), "{said}");
    assert!(
        said.contains("broken.xml: it is no well-formed XML"),
        "{said}"
    );
    assert!(!chart.exists());

    let (code, said) = import("tests/fixtures/leadsheets/d28dd828873c.mxl".as_ref());
    assert_eq!(code, Some(0), "{said}");
    assert!(
        said.contains("bar 31: \"maj69\" is no kind of chord"),
        "{said}"
    );
    let text = std::fs::read_to_string(&chart).unwrap();
    assert!(
        text.starts_with("# Made from d28dd828873c.mxl.\n"),
        "{text}"
    );
    assert!(text.contains("#   bar 31: \"maj69\" is no kind"), "{text}");
}

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/leadsheets")
}

#[test]
fn hostile_files_are_refused_with_their_reason() {
    let repeat =
        |bars: &str| format!("<score-partwise><part id=\"P1\">{bars}</part></score-partwise>");
    let harmony = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>";
    let million = repeat(&format!(
        "<measure number=\"1\">{harmony}<barline><repeat direction=\"backward\" times=\"1000000\"/></barline></measure>"
    ));
    let long = repeat(&format!("<measure>{harmony}</measure>").repeat(10_001));
    let mut entities = String::from("<!DOCTYPE a [<!ENTITY x0 \"boom\">");
    for level in 1..20 {
        let inner = format!("&x{};", level - 1).repeat(10);
        entities += &format!("<!ENTITY x{level} \"{inner}\">");
    }
    entities += "]><score-partwise>&x19;</score-partwise>";
    let sections = repeat(
        &(0..201)
            .map(|mark| format!("<measure>{harmony}<direction><direction-type><rehearsal>x{mark}</rehearsal></direction-type></direction></measure>"))
            .collect::<String>(),
    );
    let ended = repeat(&format!(
        "<measure><attributes><divisions>1</divisions></attributes>{harmony}<forward><duration>1</duration></forward>\
         <sound fine=\"yes\" time-only=\"1\"/></measure><measure><forward><duration>4</duration></forward></measure>\
         <measure><forward><duration>4</duration></forward></measure>"
    ));
    let cases: [(Vec<u8>, &str); 11] = [
        (ended.into_bytes(), "nothing but a pickup"),
        (
            million.into_bytes(),
            "repeats and jumps play more than 10000 bars",
        ),
        (
            long.into_bytes(),
            "it has 10001 bars, a chart at most 10000",
        ),
        (entities.into_bytes(), "declares entities"),
        (sections.into_bytes(), "make 201 sections"),
        (
            std::fs::read(fixtures().join("hostile/zip-bomb.mxl")).unwrap(),
            "unpacks to more than",
        ),
        (
            std::fs::read(fixtures().join("hostile/many-entries.mxl")).unwrap(),
            "has 65 entries",
        ),
        (b"<score-partwise>".to_vec(), "no well-formed XML"),
        (b"<html/>".to_vec(), "its root is <html>"),
        (repeat("<measure/>").into_bytes(), "no chord symbol"),
        (vec![b' '; (8 << 20) + 1], "larger than 8 MiB"),
    ];
    for (bytes, rule) in cases {
        let told = from_musicxml(&bytes, "t").unwrap_err().to_string();
        assert!(told.contains(rule), "{told}");
    }
    let cases: [(&[u8], &str); 4] = [
        (b"MThd\0\0\0\x06\0\0\0\x01\xe7\x28", "counts time in frames"),
        // The corpus' frames-of-none.mid.
        (b"MThd\0\0\0\x06\0\0\0\x01\x80\0", "counts time in frames"),
        (b"MThd\0\0\0\x06\0\0\0\x01\x01\xe0", "no chord names"),
        (b"MThd", "no Standard MIDI File"),
    ];
    for (bytes, rule) in cases {
        let told = from_midi(bytes, "t").unwrap_err().to_string();
        assert!(told.contains(rule), "{told}");
    }
}
