//! Forms as words, and the order in which their bars are played.

use super::road;
use crate::sheet::lead::{Act, Backward, Flow};

/// Bars written as words: `|:` `:|` `:|3` `:|!` (after a jump too) `[1` `[1,2` `]` `$` segno, `@` coda sign,
/// `>@` to coda, `fine`, `dc`, `ds`, `dc@` and `ds@` al coda; bars are parted by semicolons with spaces.
fn flows(text: &str) -> Vec<Flow> {
    let bar = |words: &str| {
        let mut flow = Flow::default();
        for word in words.split_whitespace() {
            let act = |to_coda| {
                Some(Act {
                    to_coda,
                    ..Act::default()
                })
            };
            match word {
                "-" => {}
                "|:" => flow.forward = true,
                "]" => flow.ending_stop = true,
                "$" => flow.segno = true,
                "@" => flow.coda = true,
                ">@" => flow.to_coda = act(false),
                "fine" => flow.fine = act(false),
                "dc" => flow.da_capo = act(false),
                "ds" => flow.dal_segno = act(false),
                "dc@" => flow.da_capo = act(true),
                "ds@" => flow.dal_segno = act(true),
                _ if word.starts_with('[') => {
                    flow.ending = Some(word[1..].split(',').map(|n| n.parse().unwrap()).collect());
                }
                _ => {
                    let rest = word.strip_prefix(":|").unwrap_or_else(|| panic!("{word}"));
                    flow.backward = Some(Backward {
                        times: rest.parse().ok(),
                        after_jump: rest == "!",
                    });
                }
            }
        }
        flow
    };
    text.split(" ; ").map(bar).collect()
}

fn order(text: &str, pickup: bool) -> String {
    let flows = flows(text);
    let flows: Vec<&Flow> = flows.iter().collect();
    let road = road(&flows, pickup).unwrap();
    let order: Vec<String> = road.order.iter().map(usize::to_string).collect();
    order.join(" ")
}

#[test]
fn signs_are_played_out() {
    // MusicXML 4.0: repeat, ending and sound elements; common practice where it is silent.
    let cases = [
        ("- ; - ; -", "0 1 2"),
        ("- ; |: ; :|", "0 1 2 1 2"),
        ("- ; :| ; -", "0 1 0 1 2"),
        ("|: :|4 ; -", "0 0 0 0 1"),
        ("- ; :| ; - ; :|", "0 1 0 1 2 3 2 3"),
        ("|: ; [1 ] :| ; [2 ] ; -", "0 1 0 2 3"),
        ("|: ; [1,2 ] :| ; [3 ]", "0 1 0 1 0 2"),
        ("|: ; [1 ] :| ; [2 ] :| ; [3 ]", "0 1 0 2 0 3"),
        // A bracket drawn shorter than its ending.
        ("|: ; [1 ] ; :| ; [2 ]", "0 1 2 0 3"),
        // Only the first ending is bracketed.
        ("|: ; [1 ] :| ; -", "0 1 0 2"),
        // No ending for the second of three passes.
        ("|: ; [1 ] :| ; [3 ]", "0 1 0 1 0 2"),
        // Nested repeats; nested endings: the inner ones begin anew.
        ("|: ; |: :| ; :|", "0 1 1 2 0 1 1 2"),
        (
            "|: ; |: ; [1 ] :| ; [2 ] ; - ; [1 ] :| ; [2 ]",
            "0 1 2 1 3 4 5 0 1 2 1 3 4 6",
        ),
        // Jumps: no repeat is taken after one, and the last ending is.
        ("- ; - ; dc", "0 1 2 0 1 2"),
        ("- fine ; - ; dc", "0 1 2 0"),
        ("- ; $ ; - fine ; ds", "0 1 2 3 1 2"),
        ("- ; |: :| ; - fine ; dc", "0 1 1 2 3 0 1 2"),
        ("- ; |: :|! ; - fine ; dc", "0 1 1 2 3 0 1 1 2"),
        ("|: ; [1 ] :| ; [2 ] ; - fine ; dc", "0 1 0 2 3 4 0 2 3"),
        ("|: ; [1 fine ] :| ; [2 ] ; dc", "0 1 0 2 3 0 1"),
        ("- ; $ ; >@ ; ds@ ; @ ; -", "0 1 2 3 1 2 4 5"),
        ("- ; $ ; @ ; ds@ ; @ ; -", "0 1 2 3 1 2 4 5"),
        ("- ; >@ ; dc@ ; @ |: :|", "0 1 2 0 1 3 3"),
        // The end counts for nothing on the way to the coda.
        ("- fine ; >@ ; dc@ ; @", "0 1 2 0 1 3"),
        // A coda sign and a segno that lead nowhere.
        ("- ; >@ ; ds", "0 1 2 0 1 2"),
    ];
    for (text, wanted) in cases {
        assert_eq!(order(text, false), wanted, "{text}");
    }
}

#[test]
fn a_pickup_is_played_once() {
    let cases = [
        ("- ; - ; :|", "0 1 2 1 2"),
        ("- ; - ; dc", "0 1 2 1 2"),
        ("- ; |: ; :|", "0 1 2 1 2"),
    ];
    for (text, wanted) in cases {
        assert_eq!(order(text, true), wanted, "{text}");
    }
}

#[test]
fn strange_signs_are_remarked() {
    let cases = [
        ("- ; ds", 1, "there is no segno"),
        ("- ; >@ ; dc", 1, "a coda that is nowhere"),
        ("- ; dc@", 1, "no sign says where"),
        ("|: ; [1 ] :| ; [3 ]", 1, "no ending is for pass 2"),
        ("- fine ; dc ; -", 2, "never reached"),
    ];
    for (text, bar, what) in cases {
        let flows = flows(text);
        let flows: Vec<&Flow> = flows.iter().collect();
        let remarks = road(&flows, false).unwrap().remarks;
        let found = remarks
            .iter()
            .any(|one| one.0 == bar && one.1.contains(what));
        assert!(found, "{text}: {remarks:?}");
    }
}

#[test]
fn the_cap_ends_every_walk() {
    let cases = ["|: :|1000000", "|: ; |: :|2000 ; :|2000"];
    for text in cases {
        let flows = flows(text);
        let flows: Vec<&Flow> = flows.iter().collect();
        let told = road(&flows, false).unwrap_err().to_string();
        assert!(told.contains("more than 10000 bars"), "{told}");
    }
}
