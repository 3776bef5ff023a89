//! Sheets to print: laid out without one mark over another, and saying what `targets` says.

mod laid_out;
mod said;

use crate::support::program::root;
use underfoot::chart::Chart;
use underfoot::daemon::config::Config;
use underfoot::daemon::sheet::{Wanted, model};
use underfoot::daemon::targets::Asked;
use underfoot::drill::Drill;
use underfoot::engrave::SheetModel;
use underfoot::fault::Source;
use underfoot::plan::Material;

const CHARTS: [&str; 4] = [
    "ferry-at-six",
    "gasworks-corner",
    "nine-lanterns",
    "tram-to-the-salt-pans",
];

/// Players that are not all alike: names of notes, hands, instruments, capos.
const PLAYERS: [&str; 5] = [
    "",
    "[display]\nnames = \"German\"\n",
    "[display]\nnames = \"solfège\"\nleft_handed = true\n",
    "[neck]\ntuning = [\"E1\", \"A1\", \"D2\", \"G2\"]\n",
    "[neck]\ncapo = 3\n",
];

/// A chart that ships.
fn chart(name: &str) -> Chart {
    let path = root(&format!("configs/charts/{name}.toml"));
    let text = std::fs::read_to_string(path).unwrap();
    Chart::read(&Source { name, text: &text }).unwrap()
}

/// All drills that ship, with their names.
fn drills() -> Vec<(String, Drill)> {
    let mut drills = Vec::new();
    for entry in std::fs::read_dir(root("configs/drills")).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let drill = Drill::read(&Source {
            name: &name,
            text: &text,
        })
        .unwrap();
        drills.push((name, drill));
    }
    drills.sort_by(|one, other| one.0.cmp(&other.0));
    drills
}

fn config(text: &str) -> Config {
    Config::read(&Source {
        name: "player.toml",
        text,
    })
    .unwrap()
}

/// The first, the middle and the last stage, by number from 1.
fn stages(drill: &Drill) -> Vec<usize> {
    let count = drill.stages.len();
    let mut all = vec![1, count.div_ceil(2), count];
    all.dedup();
    all
}

/// What a sheet says.
fn sheet(
    chart: &Chart,
    drill: &Drill,
    stage: usize,
    player: &Config,
    (over, is_chorus): (Option<&str>, bool),
) -> SheetModel {
    let material = Material::new(chart.clone(), drill.clone(), player.harmony.clone());
    let wanted = Wanted {
        over: over.map(str::to_string),
        is_chorus,
        names: player.display.names,
    };
    model(&material, drill, asked(stage, player), &wanted).unwrap()
}

fn asked(stage: usize, player: &Config) -> Asked {
    Asked {
        stage: Some(stage.to_string()),
        pass: 1,
        seed: 1,
        neck: player.neck(),
        ..Asked::default()
    }
}
