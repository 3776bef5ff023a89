//! A rendering without sound: the same music as with it.

use crate::support::program::{command, root};

#[test]
fn what_is_not_heard_changes_no_note_and_no_line() {
    let home = tempfile::tempdir().expect("a directory");
    let render = |name: &str, sound: &[&str]| {
        let [midi, events] =
            ["mid", "jsonl"].map(|kind| home.path().join(format!("{name}.{kind}")));
        let output = command(home.path())
            .arg("render")
            .arg(root("configs/charts/nine-lanterns.toml"))
            .arg("--drill")
            .arg(root("configs/drills/guide-tones.toml"))
            .args(["--silent-voice", "--seconds", "40", "--midi"])
            .arg(&midi)
            .arg("--events")
            .arg(&events)
            .args(sound)
            .current_dir(home.path())
            .output()
            .expect("underfoot");
        assert!(output.status.success(), "{output:?}");
        [midi, events].map(|path| std::fs::read(path).expect("what was rendered"))
    };
    let [midi, events] = render("quiet", &[]);
    assert!(midi.len() > 1000, "{} bytes of MIDI", midi.len());
    let with_sound = render("sound", &["--wav", "sound.wav", "--wav-cue", "cue.wav"]);
    assert!(midi == with_sound[0], "other MIDI");
    assert!(events == with_sound[1], "other lines");
}
