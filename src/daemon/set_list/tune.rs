//! A tune of a set list: its chart as it is played there.

use super::named::{Beside, Files};
use crate::chart::Chart;
use crate::drill::{Drill, GoesRound};
use crate::fault::TableView;
use crate::harmony::{Key, KeyDeclaration, Mode};
use crate::practice::{Leads, Tune};

const LEADS: [(&str, Leads); 2] = [("lead", Leads::We), ("follow", Leads::They)];

/// The most bars that are counted in.
const MOST_COUNT_IN_BARS: i64 = 4;

/// A tune, its chart in the key and at the tempo of the set.
pub(super) struct TuneLine {
    pub(super) chart: Chart,
    pub(super) tune: Tune,
}

/// Reads a `[[tune]]`; `usual` is its drill where it names none.
pub(super) fn read_tune(
    view: &TableView<'_, '_>,
    place: usize,
    files: &Files<'_>,
    usual: Option<&Drill>,
    beside: &Beside,
) -> Option<TuneLine> {
    let named = view.need_string("chart", "\"ferry-at-six.toml\"");
    let chart = named.and_then(|named| beside.good(view, "chart", (files.charts)(named.value)));
    let drill = view.string("drill");
    let has_drill = drill.is_some();
    let drill = drill.and_then(|drill| beside.good(view, "drill", (files.drills)(drill.value)));
    let key = named_key(view);
    let tempo_qpm = view.number("tempo", 30.0..=300.0, "quarter notes a minute");
    let count_in_bars = view.integer("count_in", 0..=MOST_COUNT_IN_BARS, "bars");
    let leads = view.one_of("clock", &LEADS);
    let number = view.integer("number", 0..=127, "(as in the message)");
    let segue = view.boolean("segue").unwrap_or(false);
    let mut chart = chart?;
    if count_in_bars == Some(0) && has_pickup(&chart) {
        let rule = "count_in is 0, but the chart has a pickup, which is played in the count";
        view.fault("count_in", rule);
    }
    if let Some(key) = key {
        chart = in_key(view, chart, key);
    }
    chart.tempo_qpm = tempo_qpm.unwrap_or(chart.tempo_qpm);
    let drill = match has_drill {
        true => drill?,
        false => usual.cloned().unwrap_or_else(|| just_play(&chart.title)),
    };
    Some(TuneLine {
        tune: Tune {
            drill,
            count_in_bars,
            leads,
            number: number.unwrap_or(place as u8),
            segue,
        },
        chart,
    })
}

/// The key to play in: by its name, for the chart is moved there.
fn named_key(view: &TableView<'_, '_>) -> Option<Key> {
    match view.parsed::<KeyDeclaration>("key")? {
        KeyDeclaration::Key(key) => Some(key),
        KeyDeclaration::Signature(_) => {
            let rule = "a key to play in is named by its tonic (\"G minor\"), not by its signature";
            view.fault("key", rule);
            None
        }
    }
}

fn in_key(view: &TableView<'_, '_>, chart: Chart, key: Key) -> Chart {
    let home = chart.home();
    if let Some(home) = home.filter(|home| home.mode != key.mode) {
        let mode = match home.mode {
            Mode::Major => "major",
            Mode::Minor => "minor",
        };
        let rule = format!("the chart is in {home}: it can be played in another {mode} key");
        view.fault("key", rule);
    }
    match home == Some(key) {
        true => chart,
        false => chart.transposed(key),
    }
}

fn has_pickup(chart: &Chart) -> bool {
    let sings = |melody: &crate::chart::Melody| !melody.pickup.is_empty();
    chart.pickup.is_some() || chart.melody.as_ref().is_some_and(sings)
}

/// Without a drill the whole tune is played; the stage has its title, so that page and voice name it.
fn just_play(title: &str) -> Drill {
    let mut drill = Drill::just_play();
    for stage in &mut drill.stages {
        stage.name = title.to_string();
        stage.over = Some(GoesRound::Form);
    }
    drill
}
