//! The tune itself: a chart's melody sounds where a stage asks for it, in the time and the key of the band.

use crate::support::practice::*;
use underfoot::audio::Played;
use underfoot::time::{Part, Tick};

/// Two sections of two bars, straight, with a pickup and a note tied over a bar line.
const TUNE: &str = "title = 'Tune'\nkey = 'C major'\ntime = '4/4'\ntempo = 240\nfeel = 'straight'\nform = ['A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['C', 'F']\n[[section]]\nname = 'B'\nbars = ['G', 'C']\n\
    [melody]\npickup = '-:3 G4:1'\n\
    [[melody.section]]\nname = 'A'\nbars = ['E4:1.5 D4:0.5 C4:2~', 'C4:1 -:3']\n\
    [[melody.section]]\nname = 'B'\nbars = ['D4:4', 'E4:4']\n";

/// One stage with its help; played round and round.
fn drill(keys: &str) -> String {
    format!(
        "title = 'x'\n[[stage]]\nname = 'under the tune'\ndegrees = ['1']\n{keys}\n\
         cycle = {{ listen = 0, sing = 0, play = 2, breathe_bars = 0 }}\n"
    )
}

/// The melody that sounds in a script, as `quarter:key+length`.
fn tune(chart: &str, drill: &str, script: &str) -> String {
    let room = Room::new(library(&[chart], drill), settings(2)).started(script);
    let mut told: Vec<(Tick, u8, Option<Tick>)> = Vec::new();
    for played in room.notes() {
        match played {
            Played::On {
                tick,
                part: Part::Melody,
                key,
                ..
            } => told.push((tick, key, None)),
            Played::Off {
                tick,
                part: Part::Melody,
                key,
            } => {
                let on = told
                    .iter_mut()
                    .rfind(|note| note.1 == key && note.2.is_none());
                on.expect("it was struck").2 = Some(tick);
            }
            _ => {}
        }
    }
    let note = |(at, key, off): &(Tick, u8, Option<Tick>)| {
        let len = off.map_or("?".to_string(), |off| (off - *at).quarters().to_string());
        format!("{}:{key}+{len}", at.quarters())
    };
    told.iter().map(note).collect::<Vec<_>>().join(" ")
}

#[test]
fn the_melody_sounds_where_a_stage_asks_for_it() {
    let with = drill("help = { melody = true, voice = 'off' }");
    let without = drill("help = { voice = 'off' }");
    let swung = TUNE.replace("straight", "swing").replace("240", "120");
    let faded = drill("help = { voice = 'off' }\nfade = [{ melody = true }]");
    let whole = "-1:67+1 0:64+1.5 1.5:62+0.5 2:60+3 8:64+1.5 9.5:62+0.5 10:60+3 16:62+4 20:64+4";
    // 120 a minute: an off-beat of the band stands 660 ticks after its beat, as `band::swing` says.
    let (long, short) = (1.0 + 660.0 / 960.0, 300.0 / 960.0);
    #[rustfmt::skip]
    let cases = [
        ("the pickup once, then round",  TUNE,   &with,    "9.9",                   "-1:67+1 0:64+1.5 1.5:62+0.5 2:60+3 8:64+1.5 9.5:62+?".to_string()),
        ("not unasked",                  TUNE,   &without, "9.9",                   String::new()),
        ("from the second pass on",      TUNE,   &faded,   "15.9",                  "8:64+1.5 9.5:62+0.5 10:60+3".to_string()),
        ("the whole form",               TUNE,   &with,    "1 whole form; 24.5",    format!("{whole} 24:64+?")),
        ("in the next key",              TUNE,   &with,    "1 next key; 9.9",       "-1:67+1 0:64+1.5 1.5:62+0.5 2:60+3 8:69+1.5 9.5:67+?".to_string()),
        ("muted by foot",                TUNE,   &with,    "1 mute melody; 15.9",   "-1:67+1 0:64+1.5 1.5:62+0.5 2:60+3".to_string()),
        ("silent under longer chords",   TUNE,   &with,    "1 chord length; 15.9",  "-1:67+1 0:64+1.5 1.5:62+0.5 2:60+3".to_string()),
        ("its eighths swing",            &swung, &with,    "7.9",                   format!("-1:67+1 0:64+{long} {long}:62+{short} 2:60+3")),
    ];
    for (what, chart, drill, script, heard) in cases {
        assert_eq!(tune(chart, drill, script), heard, "{what}");
    }
}
