//! Set lists: what they say, and every fault of one at its line, together with those of the files that it names.

use crate::support::program::root;
use underfoot::chart::Chart;
use underfoot::daemon::set_list::{Files, load, read};
use underfoot::drill::Drill;
use underfoot::fault::Source;
use underfoot::practice::{Leads, Library};

const MAJOR: &str = "title = 'Major'\nkey = 'C major'\ntempo = 100\npickup = '/ / / G7'\n[[section]]\nname = 'A'\nbars = ['C6']\n";
const MINOR: &str =
    "title = 'Minor'\nkey = 'A minor'\ntempo = 90\n[[section]]\nname = 'A'\nbars = ['Am6']\n";
const BROKEN: &str = "title = 'Broken'\ntempo = 9\n[[section]]\nname = 'A'\nbars = ['H7']\n";

fn chart(file: &str) -> Result<Chart, String> {
    let text = match file {
        "major.toml" => MAJOR,
        "minor.toml" => MINOR,
        "broken.toml" => BROKEN,
        _ => {
            return Err(format!(
                "{file}: cannot be read (no such file or directory)"
            ));
        }
    };
    Chart::read(&Source { name: file, text }).map_err(|faults| faults.to_string())
}

fn drill(file: &str) -> Result<Drill, String> {
    Err(format!(
        "{file}: cannot be read (no such file or directory)"
    ))
}

fn list(text: &str) -> Result<Library, String> {
    let files = Files {
        charts: &chart,
        drills: &drill,
        usual: None,
    };
    read(
        &Source {
            name: "s.toml",
            text,
        },
        &files,
    )
}

#[test]
fn a_tune_is_played_as_the_list_says() {
    let text = "title = 'S'\n[[tune]]\nchart = 'major.toml'\nkey = 'Eb major'\ntempo = 120\ncount_in = 2\nclock = 'follow'\nnumber = 9\n\
        segue = true\n[[tune]]\nchart = 'minor.toml'\n";
    let library = list(text).expect("a set");
    let (first, second) = (&library.charts[0], &library.charts[1]);
    assert_eq!(
        first.home().map(|key| key.to_string()).as_deref(),
        Some("Eb major")
    );
    assert_eq!((first.tempo_qpm, second.tempo_qpm), (120.0, 90.0));
    let set = library.set.as_ref().expect("a set");
    assert_eq!(set.title, "S");
    let tune = |place: usize| {
        let tune = &set.tunes[place];
        let drill = (
            tune.drill.title.as_str(),
            tune.drill.stages[0].name.as_str(),
        );
        (
            tune.count_in_bars,
            tune.leads,
            tune.number,
            tune.segue,
            drill,
        )
    };
    let just_play = |name| ("just play", name);
    assert_eq!(
        tune(0),
        (Some(2), Some(Leads::They), 9, true, just_play("Major"))
    );
    assert_eq!(tune(1), (None, None, 1, false, just_play("Minor")));
    assert_eq!(
        (library.place_of_number(9), library.place_of_number(0)),
        (Some(0), None)
    );
}

#[test]
fn every_fault_is_told_at_its_line() {
    #[rustfmt::skip]
    let cases = [
        ("", "s.toml:1:1: the key \"title\" is missing (such as title = \"Friday\")\n\
              s.toml:1:1: there is no tune (write [[tune]], then chart = \"ferry-at-six.toml\")"),
        ("title = ' '\n[[tune]]\n", "s.toml:1:9: the title is empty\n\
              s.toml:2:1: the key \"chart\" is missing (such as chart = \"ferry-at-six.toml\")"),
        ("title = 's'\n[[tune]]\nchart = 'none.toml'\n", "s.toml:3:9: chart: none.toml: cannot be read (no such file or directory)"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\ndrill = 'no.toml'\n", "s.toml:4:9: drill: no.toml: cannot be read (no such file or directory)"),
        ("title = 's'\n[[tune]]\nchart = 'broken.toml'\n[[tune]]\nchart = 'broken.toml'\ntempo = 500\n",
            "s.toml:3:9: chart: the file has 2 faults, told below\n\
             s.toml:5:9: chart: the file has 2 faults, told below\n\
             s.toml:6:9: tempo is 500, but must lie between 30 and 300 quarter notes a minute\n\
             broken.toml:2:9: tempo is 9, but must lie between 30 and 300 quarter notes a minute\n\
             broken.toml:5:10: \"H7\" is no chord symbol: a chord starts with its root, a capital letter A to G (nearest: B7)"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nkey = 'C major'\n", "s.toml:4:7: the chart is in A minor: it can be played in another minor key"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nkey = '2 flats'\n", "s.toml:4:7: a key to play in is named by its tonic (\"G minor\"), not by its signature"),
        ("title = 's'\n[[tune]]\nchart = 'major.toml'\ncount_in = 0\n", "s.toml:4:12: count_in is 0, but the chart has a pickup, which is played in the count"),
        ("title = 's'\n[[tune]]\nchart = 'major.toml'\ncount_in = 5\n", "s.toml:4:12: count_in is 5, but must lie between 0 and 4 bars"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nclock = 'folow'\n", "s.toml:4:9: clock is \"folow\", but must be one of: \"lead\", \"follow\" (nearest: \"follow\")"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nsegue = true\n", "s.toml:4:9: segue leads into the next tune, but this is the last one"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nnumber = 1\n[[tune]]\nchart = 'minor.toml'\n",
            "s.toml:4:10: number 1 chooses both tune 1 and tune 2 (left out, it is the place of the tune, from 0)"),
        ("title = 's'\n[[tune]]\nchart = 'minor.toml'\nnumber = 128\nkeys = 'A minor'\n",
            "s.toml:4:10: number is 128, but must lie between 0 and 127 (as in the message)\n\
             s.toml:5:1: unknown key \"keys\" (nearest: \"key\")"),
        ("title = 's'\ntune = 3\n", "s.toml:2:8: tune must be a list of tables ([[tune]]), not integer"),
    ];
    for (text, told) in cases {
        assert_eq!(
            list(text)
                .map(|_| String::new())
                .unwrap_or_else(|told| told),
            told,
            "{text}"
        );
    }
}

#[test]
fn the_sets_that_ship_and_the_manual_s_example_are_good() {
    for (file, tunes) in [
        ("configs/sets/two-evenings.toml", 4),
        ("tests/fixtures/sets/eight/set.toml", 8),
    ] {
        let library = load(&root(file), None).unwrap_or_else(|failure| panic!("{failure}"));
        assert_eq!(library.charts.len(), tunes, "{file}");
    }
}
