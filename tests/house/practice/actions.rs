//! What a foot asks for and what is heard then: one line a case, through the core and a real player in virtual
//! time. What each action should do is common practice of teachers and bandleaders, no source; the bars are told
//! by the bass's first notes, so that the outcome is what sounds, not what the core believes.

use crate::support::practice::told::heard_like;
use crate::support::practice::*;
use underfoot::audio::Played;
use underfoot::display::Page;
use underfoot::foot::{Action, FootMap, FootState, GestureKind};
use underfoot::practice::{EventKind, Recorded, Settings, Spoken};
use underfoot::time::Part;

#[rustfmt::skip]
const HEARD: &[(&str, &str, &str)] = &[
    ("a take is counted in and goes round its section",  "31",                                   "n n C D E F C D E F"),
    ("the next section comes at the section's end",      "5 next section; 31",                   "n n C D E F G A G A"),
    ("pressed in the last bar it still does",            "13 next section; 31",                  "n n C D E F G A G A"),
    ("the section before, round the form's start",       "5 previous section; 31",               "n n C D E F Bb Eb Ab Bb"),
    ("the next stage comes at the section's end",        "5 next stage; 31",                     "n n C D E F (two) C D E F"),
    ("two stages on",                                    "5 next stage; 7 next stage; 31",       "n n C D E F (three) C D E F"),
    ("two armed changes land together",                  "5 next section; 7 next stage; 31",     "n n C D E F (two) G A G A"),
    ("two sections on",                                  "5 next section; 7 next section; 31",   "n n C D E F Bb Eb Ab Bb"),
    ("stay here calls off a section",                    "5 next section; 9 stay here; 31",      "n n C D E F C D E F"),
    ("stay here calls off two",                          "5 next section; 6 next stage; 9 stay here; 31", "n n C D E F C D E F"),
    ("called off and armed again",                       "5 next section; 6 stay here; 9 next stage; 31", "n n C D E F (two) C D E F"),
    ("the first stage is firm",                          "5 previous stage; 31",                 "n n C D E F C D E F"),
    ("the last stage is firm",                           "5 next stage; 6 next stage; 7 next stage; 31", "n n C D E F (three) C D E F"),
    ("forth and back is never gone",                     "5 next stage; 7 previous stage; 31",   "n n C D E F C D E F"),
    ("a section forth and back is never gone",           "5 next section; 7 previous section; 31", "n n C D E F C D E F"),
    ("the whole form, from its top",                     "5 whole form; 67",                     "n n C D E F C D E F G A Bb Eb Ab C D E F"),
    ("and back to a section: the one that sounds",       "5 whole form; 33 stay here; 63",       "n n C D E F C D E F G A G A G A G A"),
    ("a stage in the whole form comes at a section's end", "5 whole form; 17 next stage; 43",    "n n C D E F C D E F (two) G A Bb"),
    ("this spot, early in a bar: the bar before and this one", "5 loop here; 31",                "n n C D C D C D C D"),
    ("this spot, late in a bar: this one and the next",  "7 loop here; 31",                      "n n C D E D E D E D"),
    ("this spot at the end: the seam",                   "15 loop here; 43",                     "n n C D E F C F C F C F C"),
    ("this spot at the top, the second time: the seam",  "17 loop here; 43",                     "n n C D E F C F C F C F C"),
    ("this spot is called off before it lands",          "5 loop here; 6 stay here; 31",         "n n C D E F C D E F"),
    ("this spot, left again",                            "7 loop here; 17 stay here; 47",        "n n C D E D E C D E F C D E"),
    ("a loop of here instead of what was armed",              "5 next section; 7 loop here; 31",      "n n C D E D E D E D"),
    ("a spot, then on to the next section",              "7 loop here; 17 next section; 35",     "n n C D E D E G A G A"),
    ("the top of the section is now",                    "6 top of section now; 19",             "n n C D | C D E"),
    ("the top, with the next section armed: that one",   "5 next section; 6 top of section now; 19", "n n C D | G A G"),
    ("the top of the section in the whole form",         "5 whole form; 34 top of section now; 47", "n n C D E F C D E F G | G A Bb"),
    ("the section from the next bar",                    "6 section from here; 31",              "n n C D C D E F C D"),
    ("from the next bar, called off",                    "6 section from here; 7 stay here; 31", "n n C D E F C D E F"),
    ("from the next bar, with the next section armed",   "5 next section; 6 section from here; 23", "n n C D G A G A"),
    ("from the next bar, in the whole form",             "5 whole form; 34 section from here; 47", "n n C D E F C D E F G G A Bb"),
    ("from the next bar, and the tempo",                 "6 section from here; 6.5 tempo up; 31", "n n C D C D E F C D"),
    ("a bar back",                                       "5 back a bar; 31",                       "n n C D D E F C D E"),
    ("a bar on",                                         "5 forward a bar; 31",                         "n n C D F C D E F C"),
    ("a bar on at the end",                              "13 forward a bar; 31",                        "n n C D E F D E F C"),
    ("a bar back in the last bar keeps what is armed",   "5 next section; 13 back a bar; 31",      "n n C D E F F G A G"),
    ("a bar on keeps what is armed",                     "1 next section; 2 forward a bar; 31",         "n n C E F G A G A G"),
    ("a part muted in the last bar of the last time",    "13 mute bass; 13.2 last time; 19",     "n n C D E F ."),
    ("the next key, a fourth up",                        "5 next key; 31",                       "n n C D E F F G A Bb"),
    ("two keys on",                                      "5 next key; 6 next key; 31",           "n n C D E F Bb C D Eb"),
    ("key and section",                                  "5 next key; 6 next section; 31",       "n n C D E F C D C D"),
    ("weak spots asked for change nothing before they come", "5 weak spots; 31",           "n n C D E F C D E F"),
    ("the next chart",                                   "5 next chart; 31",                     "n n C D E F F G C F"),
    ("two charts on: the first again",                   "5 next chart; 6 next chart; 31",       "n n C D E F C D E F"),
    ("the next chart is called off",                     "5 next chart; 6 stay here; 31",        "n n C D E F C D E F"),
    ("the last time ends on the tonic",                  "5 last time; 15; +2",                  "n n C D E C ."),
    ("the last time is called off",                      "5 last time; 7 stay here; 31",         "n n C D E F C D E F"),
    ("the last time and a tempo in its last bar",        "5 last time; 13 tempo up; 15; +2",     "n n C D E C ."),
    ("the last time, after this section the next",       "5 next section; 6 last time; 15; +2",  "n n C D E C ."),
    ("tempo up leaves what is armed",                    "5 next section; 6 tempo up; 31",       "n n C D E F G A G A"),
    ("tempo up in the last bar leaves what is armed",    "5 next section; 13 tempo up; 31",      "n n C D E F G A G A"),
    ("tempo up leaves an armed spot",                    "7 loop here; 7.5 tempo up; 31",        "n n C D E D E D E D"),
    ("a muted part leaves an armed spot",                "7 loop here; 7.5 mute comping; 31",    "n n C D E D E D E D"),
    ("a muted part leaves an armed section",             "5 next section; 6 mute comping; 31",   "n n C D E F G A G A"),
    ("a muted part in the whole form leaves a section",  "5 whole form; 17 next section; 18 mute comping; 43", "n n C D E F C D E F G A G"),
    ("muted bass is silent from the next bar",           "5 mute bass; 15",                      "n n C D - -"),
    ("and comes back",                                   "5 mute bass; 9 mute bass; 15",         "n n C D - F"),
    ("stop",                                             "6 stop; +1",                           "n n C D ."),
    ("stop while counting in",                           "-6 stop; +1",                          "n ."),
    ("stop, and start again",                            "6 stop; +1 start; 7",                  "n n C D . | n n C D"),
    ("start while it plays is nothing",                  "6 start; 15",                          "n n C D E F"),
    ("panic",                                            "6 panic; +1",                          "n n C D ."),
    ("panic, and start again",                           "6 panic; +1 start; 7",                 "n n C D . | n n C D"),
    ("the section stays over a stop",                    "5 next section; 17 stop; +1 start; 7", "n n C D E F G . | n n G A"),
    ("armed is dropped by a stop",                       "5 next section; 6 stop; +1 start; 7",  "n n C D . | n n C D"),
    ("the menu kills the count",                         "-6 menu; +1",                          "n ."),
    ("lost in a bar: on from the start of it",           "6 audio lost; +3 audio back; 11",      "n n C D | D E"),
    ("lost with a section armed: still armed",           "5 next section; 6 audio lost; +3 audio back; 23", "n n C D | D E F G A"),
    ("lost on the last time: still the last",            "5 last time; 6 audio lost; +3 audio back; 15; +2", "n n C D | D E C ."),
    ("lost, stopped meanwhile",                          "6 audio lost; +1 stop; +1 audio back; +1", "n n C D"),
    ("lost, and armed meanwhile",                        "6 audio lost; +1 next section; +1 audio back; 23", "n n C D | D E F G A"),
    ("a tempo, then a section: still at its end",        "5 tempo up; 7 next section; 31",       "n n C D E F G A G A"),
    ("a bar back, then a section: still at its end",     "5 back a bar; 9 next section; 31",       "n n C D D E F G A G"),
    ("listen back and again is nothing",                 "5 listen chorus; 6 listen chorus; 31",     "n n C D E F C D E F"),
    ("the whole form, and again, is nothing",            "5 whole form; 6 whole form; 31",       "n n C D E F C D E F"),
    ("the last time and again is nothing",               "5 last time; 6 last time; 31",         "n n C D E F C D E F"),
    ("tempo up right before a landing",                  "5 next section; 15.9 tempo up; 31",    "n n C D E F G A G A"),
    ("new charts at the section's end",                  "5 reload; 31",                         "n n C D E F Gb G Ab A"),
    ("new charts and a tempo before they come",          "5 reload; 6 tempo up; 31",             "n n C D E F Gb G Ab A"),
    ("new charts and a bar back before they come",       "5 reload; 6 back a bar; 31",             "n n C D D E F Gb G Ab"),
    ("new charts and a section, both",                   "5 next section; 6 reload; 31",         "n n C D E F B Bb B Bb"),
    ("new charts stay when the section is called off",   "5 next section; 6 reload; 7 stay here; 31", "n n C D E F Gb G Ab A"),
    ("new charts, then stop: they are there",            "5 reload; 6 stop; +1 start; 7",        "n n C D . | n n Gb G"),
    ("new charts in the key that is played",             "-4 stop; +1 next key; +1 start; 5 reload; 31", "n n . | n n F G A Bb B C Db D"),
    ("new charts at rest",                               "5 stop; +1 reload; +1 start; 7",       "n n C D . | n n Gb G"),
    ("a key and a chart, in this order",                 "5 next key; 6 next chart; 31",         "n n C D E F F G C F"),
    ("a chart and a key, in this order",                 "5 next chart; 6 next key; 31",         "n n C D E F Bb C F Bb"),
];

#[test]
fn what_is_heard() {
    let mut wrong = Vec::new();
    for (what, script, expected) in HEARD {
        let mut room = Room::plain();
        room.reload = Some(library(&[RELOADED, OTHER], DRILL));
        let room = room.started(script);
        let heard = room.heard();
        if heard != *expected {
            wrong.push(format!(
                "{what}: {script}\n    heard    {heard}\n    expected {expected}"
            ));
        }
        let broken = room.broken();
        if !broken.is_empty() && !script.contains("audio") {
            wrong.push(format!("{what}: {script}\n    {broken:?}"));
        }
        if heard.ends_with('.') && !script.contains("audio") && room.hanging() > 0 {
            wrong.push(format!(
                "{what}: {script}\n    {} notes hang",
                room.hanging()
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        HEARD.len(),
        wrong.join("\n")
    );
}

/// A section with two endings.
const ENDINGS: &str = "title = 'Ends'\nkey = 'C major'\ntempo = 240\nfeel = 'swing'\nform = ['A', 'A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['Cmaj7', 'Dm7']\n\
    [[section.ending]]\npass = 1\nbars = ['Em7']\n\
    [[section.ending]]\npass = 2\nbars = ['Fmaj7']\n\
    [[section]]\nname = 'B'\nbars = ['G7', 'Am7']\n";

#[rustfmt::skip]
const ENDED: &[(&str, &str, &str)] = &[
    ("going round takes the first ending",                "23",                              "n n C D E C D E"),
    ("going on takes the one that leads on",              "1 next section; 23",              "n n C D F G A G"),
    ("too late for it in the last bar",                   "9 next section; 23",              "n n C D E G A G"),
    ("called off in time: the first ending",              "1 next section; 5 stay here; 23", "n n C D E C D E"),
    ("called off in the ending: round again after it",    "1 next section; 9 stay here; 23", "n n C D F C D E"),
    ("a tempo in the ending that leads on",               "1 next section; 9 tempo up; 23",  "n n C D F G A G"),
    ("a muted part before the ending that leads on",      "1 next section; 2 mute drums; 23", "n n C D F G A G"),
    ("the whole form plays both",                         "1 whole form; 47",                "n n C D E C D E C D F G A C"),
];

/// Two stages that go on by themselves, with a breath.
const CYCLES: &str = "title = 'Cycles'\n\
    [[stage]]\nname = 'one'\ndegrees = ['1']\nplaces = ['1']\npasses = 2\nadvance = 'passes'\n\
    cycle = { listen = 1, play = 1, breathe_bars = 2 }\n\
    help = { comping = 'full', bass = true, drums = 'ride' }\n\
    [[stage]]\nname = 'two'\ndegrees = ['1']\nplaces = ['1']\npasses = 1\nadvance = 'passes'\n\
    cycle = { listen = 0, play = 1 }\nhelp = { comping = 'full', bass = true, drums = 'ride' }\n";

#[rustfmt::skip]
const CYCLED: &[(&str, &str, &str)] = &[
    ("listen, play, breathe, go on; the last stage stays", "59",                          "n n C D E F C D E F - - (two) C D E F C"),
    ("a stage asked for leaves out the breath",            "17 next stage; 47",           "n n C D E F C D E F (two) C D E F"),
    ("a section asked for in the breath comes after it",   "33 next section; 51",         "n n C D E F C D E F - - (two) G A G"),
    ("the top now, in the breath: the next pass begins",   "33 top of section now; 47",   "n n C D E F C D E F - | (two) C D E"),
    ("listen back begins the cycle again",                 "17 listen chorus; 67",          "n n C D E F C D E F C D E F C D E F -"),
    ("a change of tempo is no new pass",                   "5 tempo up; 43",              "n n C D E F C D E F - - (two) C"),
];

/// A stage out of time, then one in time.
const HELD: &str = "title = 'Held'\n\
    [[stage]]\nname = 'wait'\npulse = false\ndegrees = ['1']\nplaces = ['1']\n\
    help = { comping = 'full', bass = true }\n\
    [[stage]]\nname = 'two'\ndegrees = ['1']\nplaces = ['1']\ncycle = { listen = 0, play = 1 }\n\
    help = { comping = 'full', bass = true, drums = 'ride' }\n";

#[rustfmt::skip]
const WAITED: &[(&str, &str, &str)] = &[
    ("a chord is held until the foot goes on",        "+0.5 next stage; +0.5", "C | D"),
    ("and back",                                      "+0.5 next stage; +0.5 previous stage; +0.5", "C | D | C"),
    ("after the last chord the next stage, counted in", "+0.5 next stage; +0.5 next stage; +0.5 next stage; +0.5 next stage; +3.5", "C | D | E | F | n n C D"),
    ("it can be stopped",                             "+0.5 stop; +0.5", "C ."),
    ("a section asked for is not lost with the chord", "+0.5 next section; +0.1 next stage; +2.3", "C | D - G"),
    ("the whole form goes on from the chord that is held", "+0.5 next section; +3 next stage; +0.1 whole form; +4.5 next stage; +0.5 previous stage; +0.1 previous stage; +0.1", "C - G - | A - A - A | Bb | A | G"),
    ("and so does the section when it goes round again", "+0.5 whole form; +3 next stage; +0.1 next stage; +0.1 stay here; +4.5 previous stage; +0.5", "C - C - | D | E - E - E | D"),
];

#[test]
fn endings_go_round_or_lead_on() {
    heard_like(ENDED, ENDINGS, DRILL);
}

#[test]
fn stages_go_on_by_themselves_and_breathe() {
    heard_like(CYCLED, CHART, CYCLES);
}

#[test]
fn a_stage_out_of_time_waits_for_the_foot() {
    heard_like(WAITED, CHART, HELD);
}

#[test]
fn tempo_changes_at_a_bar_line_and_never_moves_the_phase() {
    // The script, and the tempos with the quarter they begin on.
    #[rustfmt::skip]
    let cases: &[(&str, &[(f64, u32)])] = &[
        ("5 tempo up; 15",                        &[(-8.0, 240), (8.0, 244)]),
        ("5 tempo up; 6 tempo up; 15",            &[(-8.0, 240), (8.0, 248)]),
        ("5 tempo down; 15",                      &[(-8.0, 240), (8.0, 236)]),
        ("5 next section; 6 tempo up; 23",        &[(-8.0, 240), (8.0, 244)]),
        ("5 next chart; 23",                      &[(-8.0, 240), (16.0, 200)]),
        ("5 next chart; 6 tempo up; 23",          &[(-8.0, 240), (8.0, 244), (16.0, 200)]),
        ("5 next chart; 6 stay here; 23",         &[(-8.0, 240)]),
        ("5 next chart; 17 tempo up; 27",         &[(-8.0, 240), (16.0, 200), (20.0, 204)]),
        ("5 next chart; 6 next key; 23",          &[(-8.0, 240), (16.0, 200)]),
        ("5 next key; 23",                        &[(-8.0, 240)]),
        // Three taps and more, at 250 to 240: taken. At 150: more than 25 % off.
        ("5 tap tempo; +0.24 tap tempo; +0.24 tap tempo; 23", &[(-8.0, 240), (8.0, 250)]),
        ("5 tap tempo; +0.40 tap tempo; +0.40 tap tempo; 23", &[(-8.0, 240)]),
        ("5 tap tempo; +0.24 tap tempo; 23",      &[(-8.0, 240)]),
        // In the count a tapped tempo is taken over, however far.
        ("-7.9 tap tempo; +0.4 tap tempo; +0.4 tap tempo; 7", &[(-8.0, 240), (-4.0, 150)]),
        ("5 reload; 23",                          &[(-8.0, 240)]),
    ];
    for (script, expected) in cases {
        let mut room = Room::plain();
        room.reload = Some(library(&[RELOADED], DRILL));
        let room = room.started(script);
        assert_eq!(&room.tempos()[..], *expected, "{script}");
    }
}

#[test]
fn what_comes_back_at_the_next_start() {
    for (script, expected) in [
        ("5 next section; 17 stop", (0, 0, 1, 240, None)),
        ("5 next stage; 17 stop", (0, 1, 0, 240, None)),
        ("5 next key; 17 stop", (0, 0, 0, 240, Some("F major"))),
        ("5 next chart; 17 stop", (1, 0, 0, 200, None)),
        (
            "5 next chart; 6 next key; 17 stop",
            (1, 0, 0, 200, Some("Bb major")),
        ),
        ("5 next chart; 6 stop", (0, 0, 0, 240, None)),
        ("5 tempo up; 9 stop", (0, 0, 0, 244, None)),
        ("-4 stop; +1 next chart", (1, 0, 0, 200, None)),
    ] {
        let room = Room::plain().started(script);
        let saved = room.saved.as_ref().expect("a place");
        let told = (
            saved.chart,
            saved.stage,
            saved.item,
            saved.tempo_qpm.round() as u32,
            saved.key.as_deref(),
        );
        assert_eq!(told, expected, "{script}");
    }
}

#[test]
fn what_the_page_says_of_a_press() {
    #[rustfmt::skip]
    let cases = [
        ("5 next section; 5.2",                  "next section in 3 bars"),
        ("5 next section; 13",                   "next section in 1 bar"),
        ("5 next section; 6 next stage; 6.2",    "next section, next stage in 3 bars"),
        ("5 next section; 17",                   ""),
        ("5 next section; 6 stay here; 6.1",     "stay here "),
        ("5 next section; 6 stay here; 13",      ""),
        ("5 loop here; 5.2",                     "loop here in 1 bar"),
        ("5 louder; 5.2",                        "louder -17 dB"),
        ("5 mute bass; 5.2",                     "mute bass on"),
        ("5 mute bass; 6 mute bass; 6.2",        "mute bass off"),
        ("5 tempo up; 5.2",                      "tempo up 244"),
        ("5 tempo up; 13",                       ""),
        ("5 next section; 6 louder; 6.2",        "next section in 3 bars"),
    ];
    for (script, expected) in cases {
        let room = Room::plain().started(script);
        assert_eq!(room.armed(), expected, "{script}");
    }
    let room = Room::plain().started("6 stop; +0.1");
    assert!(
        matches!(room.page(), Page::Paused { bar: 2, .. }),
        "{:?}",
        room.page()
    );
    let room = Room::plain().started("-4 stop; +0.1");
    assert!(
        matches!(room.page(), Page::Ready { .. }),
        "{:?}",
        room.page()
    );
}

/// How a foot makes a gesture: a script of edges after some seconds.
pub fn gesture(switch: u8, kind: GestureKind) -> String {
    let edge = |after: f64, level: &str| format!("+{after} edge {switch} {level};");
    match kind {
        GestureKind::Press | GestureKind::Tap => edge(0.0, "down") + &edge(0.1, "up") + "+0.5",
        GestureKind::Hold => edge(0.0, "down") + &edge(0.9, "up") + "+0.1",
        GestureKind::Long => edge(0.0, "down") + &edge(2.3, "up") + "+0.1",
        GestureKind::Double => {
            edge(0.0, "down") + &edge(0.1, "up") + &edge(0.15, "down") + &edge(0.1, "up") + "+0.4"
        }
        GestureKind::Triple => {
            let again = edge(0.15, "down") + &edge(0.1, "up");
            edge(0.0, "down") + &edge(0.1, "up") + &again + &again + "+0.4"
        }
    }
}

/// A tempo at which a state lasts long enough for any gesture.
pub const SLOW: &str = "title = 'Slow'\nkey = 'C major'\ntempo = 60\nfeel = 'swing'\nform = ['A', 'B']\n\
    [[section]]\nname = 'A'\nbars = ['Cmaj7', 'Dm7', 'Em7', 'Fmaj7']\n\
    [[section]]\nname = 'B'\nbars = ['G7', 'Am7']\n";

pub fn in_state(switches: usize, state: FootState) -> Room {
    let mut room = Room::new(library(&[SLOW, OTHER], DRILL), settings(switches));
    room.seconds(0.1);
    match state {
        FootState::Stopped => {}
        FootState::CountingIn => room.play("+0 start; +0.3"),
        FootState::Playing => room.play("+0 start; +5"),
        FootState::Menu => room.play("+0 menu; +0.1"),
    }
    assert_eq!(room.core.foot_state(), state);
    room
}

#[test]
fn every_gesture_of_the_standard_maps_is_acknowledged_within_50_ms() {
    let mut checked = 0;
    for switches in [1, 2, 4] {
        for binding in FootMap::standard(switches).bindings() {
            let mut room = in_state(switches, binding.state);
            let (pages, records) = (room.pages.len(), room.records.len());
            room.play(&gesture(binding.switch, binding.kind));
            let foot = room.records[records..]
                .iter()
                .find_map(|record| match &record.what {
                    Recorded::Foot {
                        action: Some((action, ..)),
                        ..
                    } if *action == binding.action => Some(record.frame.0),
                    _ => None,
                });
            let foot =
                foot.unwrap_or_else(|| panic!("{switches} switches: {binding:?} does nothing"));
            let shown = room.pages[pages..].iter().find(|(at, _)| *at >= foot);
            let (shown, _) = shown.expect("a page");
            let ms = (shown - foot) as f64 * 1000.0 / f64::from(RATE);
            assert!(ms <= 50.0, "{switches} switches: {binding:?} after {ms} ms");
            checked += 1;
        }
    }
    assert!(checked >= 30, "{checked}");
}

#[test]
fn every_action_changes_the_page_at_once() {
    let silent = ["start", "menu move", "choose", "menu leave"];
    for (action, name, _) in Action::ALL {
        if silent.contains(&name) {
            continue;
        }
        let mut room = in_state(2, FootState::Playing);
        let before = room.core.page();
        room.handle(EventKind::Act(action));
        // A single tap counts, but is no tempo yet; the page tells it all the same.
        assert_ne!(before, *room.page(), "{name}");
    }
}

#[test]
fn one_switch_opens_the_menu_from_a_stage_out_of_time_too() {
    let mut room = Room::new(library(&[CHART], HELD), settings(1));
    room.seconds(0.1);
    room.play(&gesture(1, GestureKind::Hold));
    assert_eq!(room.core.foot_state(), FootState::Menu);
    assert_eq!(room.hanging(), 0);
    let mut room = Room::new(library(&[CHART], HELD), settings(1));
    room.seconds(0.1);
    room.play(&(gesture(1, GestureKind::Press) + ";" + &gesture(1, GestureKind::Hold)));
    assert_eq!(
        room.core.foot_state(),
        FootState::Stopped,
        "a hold stops it"
    );
    // What else the user wants of a hold at rest.
    let mut own = settings(1);
    let hold = (FootState::Stopped, 1, GestureKind::Hold);
    own.map
        .bind(hold.0, hold.1, hold.2, Some(Action::NextChart));
    let mut room = Room::new(library(&[CHART, OTHER], DRILL), own);
    room.seconds(0.1);
    room.play(&gesture(1, GestureKind::Hold));
    assert_eq!(room.core.foot_state(), FootState::Stopped);
    assert_eq!(room.core.status().chart.as_deref(), Some("Other"));
}

/// A press while something is spoken: `(script, what must be broken off)`.
#[test]
fn a_press_breaks_off_only_words_that_would_now_be_wrong() {
    let speaking = |room: &Room, text: &str| {
        let at = room.at;
        let mut said = room.said.iter().rev();
        said.any(|(from, end, word)| word == text && *from < at && at + 800 < *end)
    };
    // The word that is being said, the bar it is waited for in, the action, whether it is broken off.
    for (word, action, broken) in [
        ("E", "next section", false),
        ("E", "next key", false),
        ("E", "mute comping", false),
        ("E", "tempo up", false),
        ("C", "next section", true),
        ("C", "next stage", true),
        ("C", "tempo down", false),
        ("E", "stop", true),
        ("E", "top of section now", true),
    ] {
        let mut room = Room::new(library(&[SLOW, OTHER], DRILL), settings(2));
        room.act("start");
        room.until(2.0);
        let limit = room.at + 40 * u64::from(RATE);
        while !speaking(&room, word) {
            assert!(room.at < limit, "\"{word}\" is never said: {:?}", room.said);
            room.step();
        }
        room.act(action);
        let cut: Vec<&str> = room.hushed.iter().map(|(_, text)| text.as_str()).collect();
        assert_eq!(
            cut,
            if broken { vec![word] } else { vec![] },
            "{action} on \"{word}\""
        );
    }
}

#[test]
fn say_again_and_model_tones_and_levels() {
    let mut room = Room::plain().started("5");
    let said = room.said.len();
    room.play("+0 say again; +0.2");
    assert_eq!(room.said.len(), said + 1);
    let text = &room.said[said].2;
    // Short chords stand on the page in groups: the one that comes next is said.
    assert_eq!(text, "E");
    let models = |room: &Room| {
        let of_model = |played: &Played| {
            matches!(
                played,
                Played::On {
                    part: Part::Model,
                    ..
                }
            )
        };
        room.played().into_iter().filter(of_model).count()
    };
    let room = Room::plain().started("17");
    assert_eq!(models(&room), 0);
    let room = Room::plain().started("1 reference notes; 17");
    assert!(models(&room) >= 3, "{}", models(&room));
    let room = Room::plain().started("1 reference notes; 2 reference notes; 17");
    assert_eq!(models(&room), 0);
    for (script, db) in [("5 louder", -17.0), ("5 softer; 6 softer", -26.0)] {
        let room = Room::plain().started(script);
        assert_eq!(
            room.saved.as_ref().map(|saved| saved.master_db),
            Some(db),
            "{script}"
        );
    }
}

#[test]
fn what_is_said_is_what_was_asked_for() {
    // Texts said in the first half minute, and after "say again" in it.
    let said = |spoken: Spoken, script: &str| {
        let settings = Settings {
            spoken,
            ..settings(2)
        };
        let room = Room::new(library(&[SLOW, OTHER], DRILL), settings).started(script);
        room.said.len()
    };
    let everything = said(Spoken::Drill, "30");
    let names = said(Spoken::Sections, "30");
    assert!(0 < names && names < everything, "{names} of {everything}");
    assert_eq!(said(Spoken::Asked, "30"), 0);
    assert_eq!(said(Spoken::Asked, "5 say again; 30"), 1);
}
