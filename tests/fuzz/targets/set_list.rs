//! Set lists: any text gives the tunes as they are played there, or faults.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::chart::Chart;
use underfoot::daemon::set_list::{Files, read};
use underfoot::drill::Drill;
use underfoot::fault::Source;

const MAJOR: &str = "title = 'x'\nkey = 'C major'\npickup = '/ / / G7'\n[[section]]\nname = 'A'\nbars = ['C6', 'F7 Dm7b5/Gb']\n";
const MINOR: &str = "title = 'y'\nkey = 'Bb minor'\n[[section]]\nname = 'A'\nbars = ['Bbm6', '%', 'N.C.', 'Cm7b5 F7']\n";
const DRILL: &str = "title = 'd'\n[[stage]]\nname = 'roots'\ndegrees = ['1']\n";

/// Every name is one of a few files: what is in it is the other targets' matter.
fn chart(name: &str) -> Result<Chart, String> {
    let text = match name.len() % 3 {
        0 => MAJOR,
        1 => MINOR,
        _ => return Err(format!("{name}: cannot be read")),
    };
    Chart::read(&Source { name, text }).map_err(|faults| faults.to_string())
}

fn drill(name: &str) -> Result<Drill, String> {
    let source = Source { name, text: DRILL };
    Drill::read(&source).map_err(|faults| faults.to_string())
}

fuzz_target!(|text: &str| {
    let files = Files {
        charts: &chart,
        drills: &drill,
        usual: None,
    };
    match read(&Source { name: "-", text }, &files) {
        Ok(library) => {
            let set = library.set.as_ref().expect("a set is what was read");
            assert_eq!(set.tunes.len(), library.charts.len());
            assert!((1..=128).contains(&set.tunes.len()));
            for (place, tune) in set.tunes.iter().enumerate() {
                // A song select finds each of them, and nobody else.
                assert_eq!(library.place_of_number(tune.number), Some(place));
                assert!((30.0..=300.0).contains(&library.charts[place].tempo_qpm));
            }
        }
        Err(told) => assert!(!told.trim().is_empty()),
    }
});
