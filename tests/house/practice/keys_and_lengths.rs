//! The tune as a stage or the foot wants it: in another key each round, with chords that last longer. What is heard is
//! told by the bass's first note of each bar. Common practice of teachers, no source.

use crate::support::practice::told::heard_like;
use crate::support::practice::*;
use underfoot::display::Page;

#[rustfmt::skip]
const BY_FOOT: &[(&str, &str, &str)] = &[
    ("each chord twice as long",                         "5 chord length; 47",                   "n n C D E F C C D D E E F F"),
    ("four times as long",                               "5 chord length; 6 chord length; 47",   "n n C D E F C C C C D D D D"),
    ("as written again",                                 "5 chord length; 6 chord length; 7 chord length; 31", "n n C D E F C D E F"),
    ("longer chords, called off",                        "5 chord length; 9 stay here; 31",      "n n C D E F C D E F"),
    ("longer chords of a spot",                          "7 loop here; 17 chord length; 47",     "n n C D E D E D D E E D D E"),
    ("a spot among longer chords is two bars of the chart", "5 chord length; 23 loop here; 63",  "n n C D E F C C D D C C D D C C D D"),
    ("a spot where the tempo changed within its bar",    "5 chord length; 17 tempo up; 23 loop here; 63", "n n C D E F C C D D C C D D C C D D"),
    ("a spot among longer chords, called off",             "5 chord length; 23 loop here; 24 stay here; 47", "n n C D E F C C D D E E F F"),
    ("longer chords last till another stage",            "5 chord length; 17 next stage; 63",    "n n C D E F C C D D E E F F (two) C D E F"),
    ("longer chords of the next section",                "5 chord length; 17 next section; 63",  "n n C D E F C C D D E E F F G G A A"),
    ("longer chords in the next key",                    "5 chord length; 6 next key; 39",       "n n C D E F F F G G A A"),
    ("a bar back among longer chords",                   "5 chord length; 21 back a bar; 39",      "n n C D E F C C C D D E"),
];

/// A stage that walks through keys, one with longer chords, one as written.
const STAGES: &str = "title = 'x'\n\
    [[stage]]\nname = 'keys'\ndegrees = ['1']\nkeys = ['F', 'G']\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\n\
    [[stage]]\nname = 'long'\ndegrees = ['1']\nchords_last = 2\n\
    cycle = { listen = 0, sing = 0, play = 1, breathe_bars = 0 }\n\
    [[stage]]\nname = 'written'\ndegrees = ['1']\n";

#[rustfmt::skip]
const BY_STAGE: &[(&str, &str, &str)] = &[
    ("another key each round",                           "47",                                   "n n F G A Bb G A B C F G A Bb"),
    ("the next stage is in the tune's own key at once",  "5 next stage; 6 next stage; 47",       "n n F G A Bb (written) C D E F C D E F"),
    ("a stage with longer chords",                       "5 next stage; 47",                     "n n F G A Bb (long) C C D D E E F F"),
    ("the foot's length goes on top of the stage's",     "-4 next stage; 17 chord length; 63",   "n n C C D D E E F F C C C C D D D D"),
    ("and ends with the stage",                          "5 next stage; 6 chord length; 17 next stage; 95", "n n F G A Bb (long) C C C C D D D D E E E E F F F F (written) C D E F"),
    ("new charts land though a stage walks",             "5 reload; 47",                         "n n F G A Bb B C Db D Db D Eb E"),
];

#[test]
fn the_foot_lets_chords_last_longer() {
    heard_like(BY_FOOT, CHART, DRILL);
}

#[test]
fn a_stage_wants_the_tune_in_its_way() {
    heard_like(BY_STAGE, CHART, STAGES);
}

/// The bars of a section of four from which on the page tells the key that comes.
#[test]
fn a_new_key_stands_on_the_page_a_bar_ahead() {
    let room = Room::new(library(&[CHART], STAGES), settings(2)).started("47");
    let mut told: Vec<(u32, String)> = Vec::new();
    for (_, page) in &room.pages {
        let Page::Practice(page) = page else { continue };
        let key = page.then.iter().find(|part| part.starts_with("in "));
        let last = told.last().map(|(_, key)| key);
        if let Some(key) = key.filter(|key| last != Some(*key)) {
            told.push((page.bar, key.clone()));
        }
    }
    let keys: Vec<&str> = told.iter().map(|(_, key)| key.as_str()).collect();
    assert_eq!(keys[..2], ["in G", "in F"], "{told:?}");
    assert!(told.iter().all(|(bar, _)| *bar <= 3), "{told:?}");
}

/// 4,000 bars: four times as long they would be more than a chart may have, so they are twice as long.
#[test]
fn chords_never_last_longer_than_a_chart_may_be() {
    let form = vec!["'A'"; 500].join(", ");
    let tune = format!(
        "title = 'Long'\nkey = 'C major'\ntempo = 240\nfeel = 'swing'\nform = [{form}]\n\
         [[section]]\nname = 'A'\nbars = ['Cmaj7', 'Dm7', 'Em7', 'Fmaj7', 'Cmaj7', 'Dm7', 'Em7', 'Fmaj7']\n"
    );
    #[rustfmt::skip]
    let cases = [
        ("twice as long fits",            "5 chord length; 43",                 "n n C D E F C D E F C C D"),
        ("four times as long does not",   "5 chord length; 6 chord length; 47", "n n C D E F C D E F C C D D"),
    ];
    heard_like(&cases, &tune, DRILL);
}
