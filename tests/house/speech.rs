//! Speech with the real espeak-ng (Debian 12's 1.51), and with engines that are missing, broken or slow.

// These tests run programs, which is what they are about.

use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Duration;
use underfoot::audio::CueForm;
use underfoot::speech::spoken::bare;
use underfoot::speech::{
    Engine, EngineError, EngineSettings, FormLimit, PhraseSet, Speaker, SpeakerThread,
    SpeechSettings,
};

fn espeak() -> Engine {
    Engine::find(EngineSettings::default()).expect("espeak-ng is installed (apt install espeak-ng)")
}

fn command(line: &[&str]) -> EngineSettings {
    EngineSettings {
        command: Some(line.iter().map(ToString::to_string).collect()),
        ..EngineSettings::default()
    }
}

fn speech(engine: EngineSettings) -> SpeechSettings {
    SpeechSettings {
        engine: Some(engine),
        cache_dir: None,
    }
}

/// What espeak-ng says when it is told, by the standard's markup (W3C SSML 1.1, `say-as`), to read a text as
/// characters: another way to the same sound than the one the phrases take.
fn spelled(letter: char) -> String {
    let mut child = Command::new("espeak-ng")
        .args(["-q", "-x", "-m", "-v", "en", "--stdin"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("espeak-ng is installed");
    let text = format!("<say-as interpret-as=\"characters\">{letter}</say-as>");
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(text.as_bytes()).unwrap();
    drop(stdin);
    bare(&String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap())
}

#[test]
fn every_root_is_said_right_with_every_quality() {
    // Phonemes of the words as espeak-ng 1.51 says them alone; in a phrase some vowels are weakened, so only
    // words that keep theirs stand here.
    let words = [
        ("major", "meIdZ3"),
        ("minor", "maIn3"),
        ("seven", "sEv@n"),
        ("minor seven", "maIn3sEv@n"),
        ("major seven", "meIdZ3sEv@n"),
        ("seven flat nine", "sEv@nflatnaIn"),
        ("six", "sIks"),
        ("half diminished", "hA:fdI2mInISt"),
        ("diminished", "dI2mInISt"),
        ("suspended", "s@spEndI2d"),
    ];
    let engine = espeak();
    for letter in 'A'..='G' {
        let letter_said = spelled(letter);
        for (accidental, accidental_said) in [("", ""), (" flat", "flat"), (" sharp", "SA@p")] {
            for (quality, quality_said) in words {
                let text = format!("{letter}{accidental} {quality}");
                let said = bare(&engine.phonemes(&text).unwrap());
                let wanted = format!("{letter_said}{accidental_said}{quality_said}");
                assert_eq!(said, wanted, "{text}");
            }
        }
    }
}

#[test]
fn bass_notes_degrees_and_targets_are_said_right() {
    let engine = espeak();
    for (text, wanted) in [
        ("C major over A flat", "si:meIdZ3r-oUv3r-eIflat"),
        ("A, third, under the root", "eIT3:dVnd3D@ru:t"),
        ("B flat, flat second", "bi:flatflatsEk@nd"),
        ("G, A, B flat", "dZi:eIbi:flat"),
        ("section A", "sEkS@neI"),
        ("E flat minor", "i:flatmaIn3"),
    ] {
        assert_eq!(bare(&engine.phonemes(text).unwrap()), wanted, "{text}");
    }
}

#[test]
fn german_names_are_said_right_by_a_german_voice() {
    let settings = EngineSettings {
        voice: "de".to_string(),
        ..EngineSettings::default()
    };
    let engine = Engine::find(settings).unwrap();
    // Phonemes of espeak-ng 1.51; that Cis and Ces begin with ts, as Zettel does, and that As and Es are short,
    // is common practice, no source.
    for (name, wanted) in [
        ("C", "tse:"),
        ("Cis", "tsIs"),
        ("Ces", "tsEs"),
        ("As", "as"),
        ("Es", "Es"),
        ("H", "hA:"),
        ("B", "be:"),
        ("Fis Moll", "fi:smOl"),
    ] {
        assert_eq!(bare(&engine.phonemes(name).unwrap()), wanted, "{name}");
    }
    assert_eq!(engine.self_test(), [""; 0]);
}

#[test]
fn the_installed_engine_passes_its_self_test() {
    assert_eq!(espeak().self_test(), [""; 0]);
}

#[test]
fn the_self_test_notices_another_pronunciation() {
    let settings = EngineSettings {
        voice: "en-gb-scotland".to_string(),
        ..EngineSettings::default()
    };
    let scottish = Engine::find(settings).unwrap();
    let told = scottish.self_test();
    assert!(
        told.iter()
            .any(|line| line.starts_with("\"F sharp\" is said as")),
        "{told:?}"
    );
}

#[test]
fn clips_are_short_and_without_silence() {
    // Lengths in ms at 175 words a minute, measured by us with espeak-ng 1.51, silence cut; a tenth more or
    // less is another build of the same engine.
    let mut speaker = Speaker::new(&speech(EngineSettings::default()));
    assert_eq!(speaker.take_warnings(), [""; 0]);
    for (text, ms) in LENGTHS_MS {
        let measured = speaker.length_ms(text).unwrap();
        assert!(
            (measured - ms).abs() < ms * 0.1,
            "{text}: {measured} ms, not {ms}"
        );
        assert!(
            (measured - ms).abs() < ms * 0.1,
            "{text}: {measured} ms, not {ms}"
        );
    }
}

const LENGTHS_MS: [(&str, f64); 8] = [
    ("D", 240.0),
    ("D minor", 500.0),
    ("D major", 520.0),
    ("F sharp", 590.0),
    ("A flat", 490.0),
    ("E flat minor", 770.0),
    ("D, F sharp, A", 1040.0),
    ("B flat, flat second", 1210.0),
];

#[test]
fn a_phrase_is_rendered_once_and_kept_over_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let settings = SpeechSettings {
        engine: Some(EngineSettings::default()),
        cache_dir: Some(dir.path().to_path_buf()),
    };
    let set = PhraseSet {
        full: "D, F sharp, A".into(),
        short: "D major".into(),
        root: "D".into(),
    };
    let mut first = Speaker::new(&settings);
    let clips = first.clips_now(&set, FormLimit::Full, 48_000);
    let forms: Vec<CueForm> = clips.iter().map(|clip| clip.form).collect();
    assert_eq!(forms, [CueForm::Full, CueForm::Short, CueForm::Root]);
    let longer_first = clips
        .windows(2)
        .all(|pair| pair[0].samples.len() > pair[1].samples.len());
    assert!(longer_first);
    let peak = clips[0]
        .samples
        .iter()
        .fold(0f32, |peak, s| peak.max(s.abs()));
    // As loud as cues are to be: the cue level, -12 dB when built in, brings it down to below full scale.
    assert!((0.45..3.4).contains(&peak), "{peak}");
    assert_eq!(first.clips_now(&set, FormLimit::Short, 48_000).len(), 2);
    assert_eq!(first.rendered(), 3);
    let mut second = Speaker::new(&settings);
    let again = second.clips_now(&set, FormLimit::Full, 48_000);
    assert_eq!(second.rendered(), 0);
    for (one, other) in clips.iter().zip(&again) {
        assert_eq!(one.samples, other.samples);
    }
}

#[test]
fn a_short_form_that_takes_longer_is_no_choice() {
    let mut speaker = Speaker::new(&speech(EngineSettings::default()));
    let set = PhraseSet {
        full: "D, F".into(),
        short: "D half diminished".into(),
        root: "D".into(),
    };
    let forms = |clips: &[underfoot::audio::CueChoice]| -> Vec<(CueForm, bool)> {
        clips
            .iter()
            .map(|clip| (clip.form, clip.samples.len() > 30_000))
            .collect()
    };
    let clips = speaker.clips_now(&set, FormLimit::Full, 48_000);
    assert_eq!(
        forms(&clips),
        [(CueForm::Full, false), (CueForm::Root, false)]
    );
    let clips = speaker.clips_now(&set, FormLimit::Short, 48_000);
    assert_eq!(
        forms(&clips),
        [(CueForm::Short, true), (CueForm::Root, false)]
    );
}

#[test]
fn another_engine_can_be_named_by_a_command() {
    for line in [
        &["espeak-ng", "--stdout", "{text}"][..],
        &["espeak-ng", "--stdout", "--stdin"][..],
    ] {
        let mut speaker = Speaker::new(&speech(command(line)));
        assert!(speaker.length_ms("D minor").unwrap() > 300.0, "{line:?}");
    }
}

#[test]
fn a_missing_or_broken_engine_is_one_warning_and_silence() {
    let missing = EngineSettings {
        program: "no-such-speech-engine".to_string(),
        ..EngineSettings::default()
    };
    let bad_voice = EngineSettings {
        voice: "no-such-voice".to_string(),
        ..EngineSettings::default()
    };
    for (settings, told) in [
        (
            missing,
            "speech engine \"no-such-speech-engine\" cannot be started",
        ),
        (
            command(&["false"]),
            "speech engine \"false\" failed (exit status: 1)",
        ),
        (
            command(&["echo", "hello"]),
            "speech engine: not a sound that can be read: no RIFF WAVE header",
        ),
        (
            command(&[]),
            "speech engine \"\" cannot be started (the command is empty)",
        ),
        (
            bad_voice,
            "speech engine \"espeak-ng\" does not know the voice \"no-such-voice\"",
        ),
    ] {
        let mut speaker = Speaker::new(&speech(settings));
        let set = PhraseSet {
            full: "D, A".into(),
            short: "D minor".into(),
            root: "D".into(),
        };
        assert!(speaker.clips_now(&set, FormLimit::Full, 48_000).is_empty());
        assert!(speaker.clips_now(&set, FormLimit::Full, 48_000).is_empty());
        let warnings = speaker.take_warnings();
        assert!(
            warnings.len() == 1 && warnings[0].starts_with(told),
            "{warnings:?}"
        );
    }
    assert!(!Speaker::silent().can_speak());
    let slow = EngineSettings {
        patience: Duration::from_millis(100),
        ..command(&["sleep", "30"])
    };
    let engine = Engine::find(slow).unwrap();
    assert_eq!(
        engine.render("D"),
        Err(EngineError::TooSlow("sleep".to_string()))
    );
    let found = Engine::find(EngineSettings {
        program: "no-such-speech-engine".to_string(),
        ..EngineSettings::default()
    });
    assert!(matches!(found, Err(EngineError::Missing { .. })));
}

#[test]
fn the_thread_answers_what_it_is_asked() {
    let thread = SpeakerThread::start(speech(EngineSettings::default())).unwrap();
    let phrases = ["C minor", "F seven", "B flat major"];
    thread
        .prepare(phrases.map(PhraseSet::plain).to_vec())
        .unwrap();
    for (id, text) in phrases.iter().enumerate() {
        assert!(thread.ask(id as u32, PhraseSet::plain(*text), FormLimit::Full, 44_100));
    }
    for id in 0..3 {
        let answer = thread.wait(Duration::from_secs(20)).expect("an answer");
        assert_eq!((answer.id, answer.clips.len()), (id, 1));
    }
    // Left with questions open: dropping it ends it all the same.
    for id in 0..40 {
        thread.ask(id, PhraseSet::plain("D"), FormLimit::Full, 48_000);
    }
    drop(thread);
}
