//! Trading: the band drops out and comes back, and the breath tells where the player was then.

use crate::support::practice::heard::{listen, summary};
use crate::support::practice::*;
use underfoot::audio::Played;
use underfoot::foot::Action;
use underfoot::practice::{EventKind, Record, Recorded};

/// The four bars of the plain tune twice, the band out every other two bars, then a breath.
const TRADING: &str = "title = 'Trading'\n[[stage]]\nname = 'twos'\ndegrees = ['1', '3', '5']\nfigure = []\n\
    band_out = 2\ncycle = { listen = 0, sing = 0, play = 2, breathe_bars = 2 }\n\
    help = { comping = 'full', bass = true, drums = 'ride', voice = 'off' }\n";
/// The same with a root asked for on the first beat of each bar, first played by the band alone.
const ROOTS: &str = "title = 'Trading'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\nplaces = ['1']\nband_out = 2\n\
    cycle = { listen = 1, sing = 0, play = 2, breathe_bars = 2 }\nhelp = { voice = 'off' }\n";

fn room(drill: &str) -> Room {
    let mut room = Room::new(library(&[CHART], drill), settings(2));
    room.handle(EventKind::Act(Action::Start));
    room
}

/// The quarters (from the first full bar) in which anything is struck, as stretches.
fn struck(room: &Room) -> Vec<(i64, i64)> {
    let mut bars: Vec<i64> = Vec::new();
    for played in room.notes() {
        if let Played::On { tick, .. } = played
            && tick.quarters() > -0.01
            && tick.quarters() < 31.9
        {
            bars.push((tick.quarters() + 0.01).floor() as i64 / 4);
        }
    }
    bars.dedup();
    bars.iter().map(|bar| (4 * bar, 4 * bar + 4)).collect()
}

/// How many beats late the player was each time.
fn backs(room: &Room) -> Vec<Option<i32>> {
    let back = |what: &Recorded| match what {
        Recorded::Reentry(back) => Some(back.beats),
        _ => None,
    };
    let records = room.records.iter();
    records.filter_map(|record| back(&record.what)).collect()
}

#[test]
fn the_band_drops_out_and_comes_back() {
    let mut room = room(TRADING);
    listen(&mut room, 36.0, &[]);
    assert_eq!(struck(&room), [(0, 4), (4, 8), (16, 20), (20, 24)]);
    // Nothing rings on, either.
    for (played, next) in room.notes().iter().zip(room.notes().iter().skip(1)) {
        if let (Played::Off { tick, .. }, Played::On { .. }) = (played, next) {
            let at = tick.quarters();
            assert!(
                !(8.01..16.0).contains(&at) && !(24.01..32.0).contains(&at),
                "{at}"
            );
        }
    }
    // Nobody played: nobody is told.
    assert_eq!(backs(&room), []);
}

#[test]
fn the_breath_tells_where_the_player_came_back() {
    // When the player comes in (in quarters; the band comes back on 16), and what is told.
    for (notes, beats, told) in [
        (
            &[(0.0, 48), (16.1, 48), (17.0, 52)][..],
            Some(0),
            "back in the right place",
        ),
        (
            &[(0.0, 48), (17.0, 48), (18.0, 52)],
            Some(1),
            "back a beat late",
        ),
        (
            &[(0.0, 48), (12.0, 48), (13.0, 52)],
            Some(-4),
            "back four beats early",
        ),
        (
            &[(15.0, 48), (15.5, 52), (16.0, 55)],
            Some(0),
            "back in the right place",
        ),
        (
            &[(0.0, 48), (1.0, 52), (28.0, 48)],
            None,
            "you weren't there when the band came back",
        ),
    ] {
        let mut room = room(TRADING);
        listen(&mut room, 34.5, notes);
        assert_eq!(backs(&room), [beats], "{notes:?}");
        assert_eq!(summary(&room)[..2], ["twos", told], "{notes:?}");
    }
}

/// Roots for a chorus with the band and one without.
const CHORUSES: &str = "title = 'Choruses'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\nplaces = ['1']\nband_out = 4\n\
    cycle = { listen = 0, play = 4 }\nhelp = { voice = 'off' }\n";

#[test]
fn who_rests_while_the_band_is_out_is_told_where_he_came_back_and_no_more() {
    let mut room = Room::new(library(&[CHART], CHORUSES), settings(2));
    room.handle(EventKind::Act(Action::Start));
    // Bars 5 to 8 are without the band; the player comes in with it on quarter 32.
    listen(
        &mut room,
        46.0,
        &[(0.0, 48), (4.0, 50), (8.0, 52), (12.0, 53), (32.0, 48)],
    );
    assert_eq!(backs(&room), [Some(0)]);
    let judged = |record: &&Record| matches!(record.what, Recorded::Judged { .. });
    assert_eq!(room.records.iter().filter(judged).count(), 1);
}

#[test]
fn notes_that_are_asked_for_are_judged_as_well() {
    let mut room = room(ROOTS);
    // The round's playing is from 16 to 48; the band is out from 24 to 32, and from 40 on.
    let roots = [48, 50, 52, 53, 48, 50, 52, 53];
    let mut notes: Vec<(f64, u8)> = (0..8)
        .map(|bar| (16.0 + 4.0 * f64::from(bar), roots[bar as usize]))
        .collect();
    notes[7].1 = 54;
    listen(&mut room, 50.5, &notes);
    assert_eq!(backs(&room), [Some(0)]);
    let told = [
        "roots",
        "back in the right place",
        "listen again to the root of Fmaj7",
    ];
    assert_eq!(summary(&room), told);
}
