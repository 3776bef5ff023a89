//! The gesture engine in virtual time: what the foot does, what comes out.
//!
//! Times are ms. Expected values follow from the rules in the module's own text; the 20 ms ghosts of a stomped
//! switch are a public report (soundforums.net, thread 11977), the 300 ms double and the range of the hold
//! time are those of a public settings table (AOSP `ViewConfiguration`).

use proptest::prelude::*;
use underfoot::foot::{
    Gesture, GestureKind, Gestures, Kinds, Polarity, SwitchKind, SwitchSettings,
};
use underfoot::pedal::Edge;
use underfoot::time::Frame;

/// One switch a word: p, t, d, h, T (triple), l (long) are the gestures in use, L is latching, C normally closed.
fn engine(switches: &str, rate: u32) -> Gestures {
    let words: Vec<&str> = switches.split_whitespace().collect();
    let settings: Vec<SwitchSettings> = words
        .iter()
        .map(|word| SwitchSettings {
            kind: if word.contains('L') {
                SwitchKind::Latching
            } else {
                SwitchKind::Momentary
            },
            polarity: if word.contains('C') {
                Polarity::NormallyClosed
            } else {
                Polarity::NormallyOpen
            },
            ..SwitchSettings::default()
        })
        .collect();
    let mut engine = Gestures::new(&settings, rate);
    for (index, word) in words.iter().enumerate() {
        let letters = [
            ('p', GestureKind::Press),
            ('t', GestureKind::Tap),
            ('d', GestureKind::Double),
            ('h', GestureKind::Hold),
            ('T', GestureKind::Triple),
            ('l', GestureKind::Long),
        ];
        let uses: Kinds = letters
            .iter()
            .filter(|(letter, _)| word.contains(*letter))
            .map(|(_, kind)| *kind)
            .collect();
        engine.set_uses(index as u8 + 1, uses);
    }
    engine
}

/// `1v@0 1^@120`: switch 1 goes down at 0 ms and up at 120 ms.
fn edges(text: &str) -> Vec<Edge> {
    text.split_whitespace()
        .map(|word| {
            let (what, at) = word.split_once('@').unwrap();
            Edge {
                switch: what[..1].parse().unwrap(),
                down: what.ends_with('v'),
                at: Frame(at.parse().unwrap()),
            }
        })
        .collect()
}

fn tell(gestures: &[Gesture]) -> String {
    let words: Vec<String> = gestures
        .iter()
        .map(|g| format!("{}{}@{}", g.kind.name(), g.switch, g.at.0))
        .collect();
    words.join(" ")
}

fn run(engine: &mut Gestures, edges: &[Edge]) -> Vec<Gesture> {
    let mut all: Vec<Gesture> = edges.iter().flat_map(|edge| engine.edge(*edge)).collect();
    while let Some(deadline) = engine.next_deadline() {
        all.extend(engine.until(deadline));
    }
    all
}

#[rustfmt::skip]
const TABLE: &[(&str, &str, &str, &str)] = &[
    // one momentary switch
    ("a tap without a double is certain at the release", "t",    "1v@0 1^@120",                          "tap1@120"),
    ("a tap with a double waits for it",                 "td",   "1v@0 1^@120",                          "tap1@420"),
    ("a double is certain at its second press",          "td",   "1v@0 1^@120 1v@300 1^@400",            "double1@300"),
    ("too late for a double: two taps",                  "td",   "1v@0 1^@100 1v@450 1^@550",            "tap1@400 tap1@850"),
    ("the last moment of a double",                      "td",   "1v@0 1^@100 1v@399 1^@500",            "double1@399"),
    ("the deadline itself is too late",                  "td",   "1v@0 1^@100 1v@400 1^@500",            "tap1@400 tap1@800"),
    ("without a double in use: two taps",                "t",    "1v@0 1^@100 1v@200 1^@300",            "tap1@100 tap1@300"),
    ("a double alone gives no tap",                      "d",    "1v@0 1^@100",                          ""),
    ("three quick ones: a double and a tap",             "td",   "1v@0 1^@80 1v@200 1^@280 1v@400 1^@480", "double1@200 tap1@780"),
    ("four quick ones: two doubles",                     "td",   "1v@0 1^@80 1v@200 1^@280 1v@400 1^@480 1v@600 1^@680", "double1@200 double1@600"),
    ("a hold comes while the foot is down",              "tdh",  "1v@0 1^@2000",                         "hold1@700"),
    ("a hold that was not let go",                       "h",    "1v@0",                                 "hold1@700"),
    ("let go at the hold time is a hold",                "th",   "1v@0 1^@700",                          "hold1@700"),
    ("just short of a hold is a tap",                    "th",   "1v@0 1^@699",                          "tap1@699"),
    ("a slow tap where no hold is in use",               "t",    "1v@0 1^@1500",                         "tap1@1500"),
    ("a short touch where only a hold is in use",        "h",    "1v@0 1^@200",                          ""),
    ("the second press of a double may stay",            "tdh",  "1v@0 1^@100 1v@200 1^@2000",           "double1@200"),
    ("a hold after a tap that had no double",            "th",   "1v@0 1^@100 1v@200 1^@1500",           "tap1@100 hold1@900"),
    ("a press is its edge",                              "p",    "1v@50 1^@900",                         "press1@50"),
    ("a press, and the hold that follows",               "ph",   "1v@0 1^@800",                          "press1@0 hold1@700"),
    ("taps in time",                                     "p",    "1v@0 1^@90 1v@500 1^@590 1v@1000 1^@1090", "press1@0 press1@500 press1@1000"),
    ("nothing in use, nothing comes",                    "-",    "1v@0 1^@900",                          ""),
    // three quick ones
    ("a triple is certain at its third press",           "tdT",  "1v@0 1^@80 1v@200 1^@280 1v@400 1^@480", "triple1@400"),
    ("with a triple in use a double waits for it",       "tdT",  "1v@0 1^@80 1v@200 1^@280",             "double1@580"),
    ("and a tap only as long as for a double",           "tdT",  "1v@0 1^@120",                          "tap1@420"),
    ("too late for a triple: a double and a tap",        "tdT",  "1v@0 1^@80 1v@200 1^@280 1v@600 1^@680", "double1@580 tap1@980"),
    ("too late for a double: a tap and a double",        "tdT",  "1v@0 1^@80 1v@400 1^@480 1v@600 1^@680", "tap1@380 double1@980"),
    ("four quick ones: a triple and a tap",              "tdT",  "1v@0 1^@80 1v@200 1^@280 1v@400 1^@480 1v@600 1^@680", "triple1@400 tap1@980"),
    ("without a double in use two are two taps",         "tT",   "1v@0 1^@80 1v@200 1^@280",             "tap1@580 tap1@580"),
    ("a triple alone gives nothing less",                "T",    "1v@0 1^@80 1v@200 1^@280",             ""),
    ("the third press may stay: no hold follows",        "tdhT", "1v@0 1^@80 1v@200 1^@280 1v@400 1^@2000", "triple1@400"),
    ("the second that stays is the double's",            "tdhT", "1v@0 1^@80 1v@200 1^@2000",            "double1@900"),
    ("without a double it is a tap and a hold",          "thT",  "1v@0 1^@80 1v@200 1^@2000",            "tap1@900 hold1@900"),
    ("a ghost makes no triple",                          "tdT",  "1v@0 1^@18 1v@21 1^@160 1v@300 1^@400", "double1@700"),
    ("latching: no triple either",                       "tTL",  "1v@0 1^@200 1v@400",                   "tap1@0 tap1@200 tap1@400"),
    ("a triple waits for the stomp window",              "tT t", "1v@0 1^@80 1v@200 1^@280 1v@400 1^@480", "triple1@460"),
    ("the third press of a triple is a stomp",           "tT t", "1v@0 1^@80 1v@200 1^@280 1v@400 2v@420 1^@500 2^@500", "tap1@420 tap1@420"),
    ("the second press of a triple is a stomp",          "tT t", "1v@0 1^@80 1v@200 2v@220 1^@300 2^@300", "tap1@220"),
    // held on
    ("a long press is a hold first",                     "phl",  "1v@0 1^@2200",                         "press1@0 hold1@700 long1@2100"),
    ("let go between the two is a hold",                 "hl",   "1v@0 1^@2099 1v@2200 1^@2300",         "hold1@700"),
    ("a long press that was not let go comes once",      "hl",   "1v@0",                                 "hold1@700 long1@2100"),
    ("without a hold in use only the long one",          "tl",   "1v@0 1^@3000",                         "long1@2100"),
    ("a tap where a long press is in use",               "tl",   "1v@0 1^@1500",                         "tap1@1500"),
    ("no long press in use: nothing more",               "h",    "1v@0 1^@3000",                         "hold1@700"),
    ("held on while another is pressed",                 "hl t", "1v@0 2v@1000 2^@1100 1^@2500",         "hold1@700 tap2@1100 long1@2100"),
    ("latching: no long press either",                   "tlL",  "1v@0 1^@3000",                         "tap1@0 tap1@3000"),
    // bounce and ghosts
    ("bounce at the press",                              "t",    "1v@0 1^@1 1v@2 1^@4 1v@7 1^@150",      "tap1@150"),
    ("bounce at the release",                            "t",    "1v@0 1^@150 1v@151 1^@153 1v@155 1^@158", "tap1@150"),
    ("a 20 ms ghost after the stomp",                    "p",    "1v@0 1^@18 1v@20 1^@200",              "press1@0"),
    ("a 20 ms ghost after the release",                  "p",    "1v@0 1^@200 1v@218 1^@221",            "press1@0"),
    ("a ghost makes no double",                          "td",   "1v@0 1^@18 1v@21 1^@160",              "tap1@460"),
    ("a ghost over the end of the lock-out",             "p",    "1v@0 1^@38 1v@45 1^@200",              "press1@0"),
    ("a touch shorter than the lock-out",                "t",    "1v@0 1^@25",                           "tap1@40"),
    ("the level settles late",                           "t",    "1v@0 1^@36",                           "tap1@46"),
    ("a touch shorter than the lock-out is no hold",     "h",    "1v@0 1^@5",                            ""),
    ("the next press right after the lock-out",          "p",    "1v@0 1^@60 1v@101 1^@200",             "press1@0 press1@101"),
    ("repeated downs are one press",                     "p",    "1v@0 1v@250 1v@280 1^@400",            "press1@0"),
    // start
    ("held from the start: the release says nothing",    "tdh",  "1^@500 1v@900 1^@1000",                "tap1@1300"),
    ("normally closed: open is a foot",                  "tC",   "1^@0 1v@120",                          "tap1@120"),
    ("normally closed, held from the start",             "tC",   "1v@500 1^@900 1v@1000",                "tap1@1000"),
    ("an unknown switch is nobody's",                    "t",    "2v@0 2^@100 0v@200 9v@300",            ""),
    // latching
    ("latching: every edge is a press",                  "pL",   "1v@0 1^@900 1v@1700",                  "press1@0 press1@900 press1@1700"),
    ("latching: the first edge may go up",               "pL",   "1^@0 1v@900",                          "press1@0 press1@900"),
    ("latching: a tap comes at the edge, no hold",       "thL",  "1v@0",                                 "tap1@0"),
    ("latching: no double either",                       "tdL",  "1v@0 1^@200",                          "tap1@0 tap1@200"),
    ("latching: bounce",                                 "pL",   "1v@0 1^@2 1v@5 1^@800 1v@803 1^@806",  "press1@0 press1@800"),
    ("latching: bounce that ends the wrong way",         "pL",   "1v@0 1^@30 1v@600",                    "press1@0 press1@600"),
    // several switches
    ("two switches, one after the other",                "t t",  "1v@0 1^@100 2v@200 2^@300",            "tap1@100 tap2@300"),
    ("one stomp over two counts as nothing",             "t t",  "1v@0 2v@30 1^@150 2^@160",             ""),
    ("one stomp over two, held, counts as nothing",      "th th", "1v@0 2v@59 1^@1500 2^@1600",          ""),
    ("just apart enough to be two",                      "t t",  "1v@0 2v@60 1^@150 2^@160",             "tap1@150 tap2@160"),
    ("a short tap waits for the stomp window",           "t t",  "1v@0 1^@45",                           "tap1@60"),
    ("a short tap, then the rest of the stomp",          "t t",  "1v@0 1^@45 2v@55 2^@150",              ""),
    ("a stomp over three",                               "t t t", "1v@0 2v@30 3v@55 1^@150 2^@150 3^@150", ""),
    ("a press cannot wait: the first stands",            "p p",  "1v@0 2v@30 1^@150 2^@150",             "press1@0"),
    ("a press stands, the neighbour's tap does not",     "p t",  "1v@0 2v@30 1^@150 2^@150",             "press1@0"),
    ("a tap falls to a stomp, and so does the press",    "t p",  "1v@0 2v@30 1^@150 2^@150",             ""),
    ("the second press of a double is a stomp",          "td t", "1v@0 1^@100 1v@250 2v@270 1^@400 2^@400", "tap1@270"),
    ("a double waits for the stomp window",              "td t", "1v@0 1^@100 1v@250 1^@350",            "double1@310"),
    ("after a stomp all is as before",                   "t t",  "1v@0 2v@10 1^@90 2^@95 1v@500 1^@600", "tap1@600"),
    ("both held, not together",                          "h h",  "1v@0 2v@200 1^@1500 2^@1500",          "hold1@700 hold2@900"),
];

#[test]
fn what_the_foot_does_and_what_comes_of_it() {
    for (what, switches, feet, expected) in TABLE {
        let mut engine = engine(switches, 1000);
        let told = tell(&run(&mut engine, &edges(feet)));
        assert_eq!(&told, expected, "{what}: [{switches}] {feet}");
    }
    assert!(TABLE.len() >= 40);
}

#[test]
fn a_gesture_is_judged_by_what_was_in_use_at_its_press() {
    let mut engine = engine("p", 1000);
    assert_eq!(tell(&engine.edge(edges("1v@0")[0])), "press1@0");
    engine.set_uses(1, Kinds::NONE.with(GestureKind::Tap));
    assert_eq!(
        tell(&run(&mut engine, &edges("1^@100 1v@300 1^@400"))),
        "tap1@400"
    );
}

#[test]
fn an_edge_that_comes_late_counts_by_its_own_stamp() {
    // What was asked first, the edges that come then, and what they give.
    for (switches, asked, feet, told) in [
        ("p", 500, "1v@480", "press1@480"),
        ("t", 500, "1v@300 1^@420", "tap1@420"),
        ("td", 500, "1v@300 1^@420", "tap1@720"),
        ("th", 2000, "1v@300 1^@1200", "hold1@1000"),
        (
            "t t",
            500,
            "2v@450 1v@300 1^@440 2^@600",
            "tap1@440 tap2@600",
        ),
    ] {
        let mut engine = engine(switches, 1000);
        assert!(engine.until(Frame(asked)).is_empty());
        assert_eq!(tell(&run(&mut engine, &edges(feet))), told, "{feet}");
    }
}

fn feet() -> impl Strategy<Value = Vec<Edge>> {
    prop::collection::vec((1u8..=3, any::<bool>(), 0u64..4000), 0..80).prop_map(|steps| {
        let mut at = 0;
        let edges = steps.into_iter().map(|(switch, down, wait)| {
            // Mostly short waits, some long.
            at += if wait % 3 == 0 { wait * 12 } else { wait };
            let at = Frame(at);
            Edge { switch, down, at }
        });
        edges.collect()
    })
}

const MIXES: [&str; 6] = [
    "tdh",
    "p",
    "tdh pth",
    "th td pL",
    "dhC tdh t",
    "ptdh ptdh ptdh",
];

proptest! {
    #[test]
    fn the_same_edges_give_the_same_gestures_whenever_one_asks(
        feet in feet(),
        asks in prop::collection::vec(0u64..400_000, 0..60),
        mix in 0usize..MIXES.len(),
    ) {
        let expected = run(&mut engine(MIXES[mix], 48_000), &feet);
        let mut engine = engine(MIXES[mix], 48_000);
        let mut asks = asks;
        asks.sort_unstable();
        let mut asks = asks.into_iter().peekable();
        let mut all = Vec::new();
        for edge in &feet {
            while let Some(ask) = asks.next_if(|ask| *ask <= edge.at.0) {
                all.extend(engine.until(Frame(ask)));
            }
            all.extend(engine.edge(*edge));
        }
        all.extend(run(&mut engine, &[]));
        prop_assert_eq!(all, expected);
    }

    #[test]
    fn gestures_are_in_order_of_certainty_and_never_before_their_press(
        feet in feet(),
        mix in 0usize..MIXES.len(),
    ) {
        let all = run(&mut engine(MIXES[mix], 48_000), &feet);
        prop_assert!(all.windows(2).all(|pair| pair[0].at <= pair[1].at), "{}", tell(&all));
        prop_assert!(all.iter().all(|gesture| gesture.pressed <= gesture.at));
        let downs = feet.len();
        prop_assert!(all.len() <= 2 * downs, "more gestures than edges allow");
    }

    #[test]
    fn presses_are_never_closer_than_the_lock_out(feet in feet()) {
        let all = run(&mut engine("p p p", 48_000), &feet);
        for switch in 1..=3 {
            let at: Vec<u64> = all.iter().filter(|g| g.switch == switch).map(|g| g.at.0).collect();
            prop_assert!(at.windows(2).all(|pair| pair[1] - pair[0] >= 1920));
        }
    }
}
