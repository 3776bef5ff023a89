//! What a foot asks for and what is heard then: one line a case, through the core and a real player in virtual
//! time. What each action should do is common practice of teachers and bandleaders, no source; the bars are told
//! by the bass's first notes, so that the outcome is what sounds, not what the core believes.

mod practice_support;

use practice_support::*;

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
    ("this spot, early in a bar: the bar before and this one", "5 this spot; 31",                "n n C D C D C D C D"),
    ("this spot, late in a bar: this one and the next",  "7 this spot; 31",                      "n n C D E D E D E D"),
    ("this spot at the end: the seam",                   "15 this spot; 43",                     "n n C D E F C F C F C F C"),
    ("this spot at the top, the second time: the seam",  "17 this spot; 43",                     "n n C D E F C F C F C F C"),
    ("this spot is called off before it lands",          "5 this spot; 6 stay here; 31",         "n n C D E F C D E F"),
    ("this spot, left again",                            "7 this spot; 17 stay here; 47",        "n n C D E D E C D E F C D E"),
    ("this spot instead of what was armed",              "5 next section; 7 this spot; 31",      "n n C D E D E D E D"),
    ("a spot, then on to the next section",              "7 this spot; 17 next section; 35",     "n n C D E D E G A G A"),
    ("the top of the section is now",                    "6 top of section now; 19",             "n n C D | C D E"),
    ("the top, with the next section armed: that one",   "5 next section; 6 top of section now; 19", "n n C D | G A G"),
    ("the top of the section in the whole form",         "5 whole form; 34 top of section now; 47", "n n C D E F C D E F G | G A Bb"),
    ("a bar back",                                       "5 bar back; 31",                       "n n C D D E F C D E"),
    ("a bar on",                                         "5 bar on; 31",                         "n n C D F C D E F C"),
    ("a bar on at the end",                              "13 bar on; 31",                        "n n C D E F D E F C"),
    ("a bar back in the last bar keeps what is armed",   "5 next section; 13 bar back; 31",      "n n C D E F F G A G"),
    ("a bar on keeps what is armed",                     "1 next section; 2 bar on; 31",         "n n C E F G A G A G"),
    ("the next key, a fourth up",                        "5 next key; 31",                       "n n C D E F F G A Bb"),
    ("two keys on",                                      "5 next key; 6 next key; 31",           "n n C D E F Bb C D Eb"),
    ("key and section",                                  "5 next key; 6 next section; 31",       "n n C D E F C D C D"),
    ("the next chart",                                   "5 next chart; 31",                     "n n C D E F F G C F"),
    ("two charts on: the first again",                   "5 next chart; 6 next chart; 31",       "n n C D E F C D E F"),
    ("the next chart is called off",                     "5 next chart; 6 stay here; 31",        "n n C D E F C D E F"),
    ("the last time ends on the tonic",                  "5 last time; 15; +2",                  "n n C D E C ."),
    ("the last time is called off",                      "5 last time; 7 stay here; 31",         "n n C D E F C D E F"),
    ("the last time and a tempo in its last bar",        "5 last time; 13 tempo up; 15; +2",     "n n C D E C ."),
    ("the last time, after this section the next",       "5 next section; 6 last time; 15; +2",  "n n C D E C ."),
    ("tempo up leaves what is armed",                    "5 next section; 6 tempo up; 31",       "n n C D E F G A G A"),
    ("tempo up in the last bar leaves what is armed",    "5 next section; 13 tempo up; 31",      "n n C D E F G A G A"),
    ("tempo up leaves an armed spot",                    "7 this spot; 7.5 tempo up; 31",        "n n C D E D E D E D"),
    ("a muted part leaves an armed spot",                "7 this spot; 7.5 mute comping; 31",    "n n C D E D E D E D"),
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
    ("a bar back, then a section: still at its end",     "5 bar back; 9 next section; 31",       "n n C D D E F G A G"),
    ("listen back and again is nothing",                 "5 listen back; 6 listen back; 31",     "n n C D E F C D E F"),
    ("the whole form, and again, is nothing",            "5 whole form; 6 whole form; 31",       "n n C D E F C D E F"),
    ("the last time and again is nothing",               "5 last time; 6 last time; 31",         "n n C D E F C D E F"),
    ("tempo up right before a landing",                  "5 next section; 15.9 tempo up; 31",    "n n C D E F G A G A"),
    ("new charts at the section's end",                  "5 reload; 31",                         "n n C D E F Gb G Ab A"),
    ("new charts and a tempo before they come",          "5 reload; 6 tempo up; 31",             "n n C D E F Gb G Ab A"),
    ("new charts and a bar back before they come",       "5 reload; 6 bar back; 31",             "n n C D D E F Gb G Ab"),
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
        if heard.ends_with('.') && room.hanging() > 0 {
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
