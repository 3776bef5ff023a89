//! `underfoot set`: what a set list comes to, a line a tune.

use super::output::write_text;
use crate::chart::{Chart, Form};
use crate::daemon::args::SetArgs;
use crate::daemon::files::Failure;
use crate::daemon::set_list;
use crate::practice::{Leads, Library, Tune};
use serde_json::{Value, json};

/// `underfoot set`.
///
/// # Errors
/// Every fault of the list and of the files that it names (65).
pub fn set(args: &SetArgs) -> Result<(), Failure> {
    let library = set_list::load(&args.list, None)?;
    let text = match args.json {
        true => lines(&library),
        false => table(&library),
    };
    write_text(None, &text)
}

/// The tunes with what is played of them.
fn tunes(library: &Library) -> impl Iterator<Item = (&Chart, &Tune)> {
    let tunes = library.set.iter().flat_map(|set| &set.tunes);
    library.charts.iter().zip(tunes)
}

/// How long a chorus takes, in seconds.
fn chorus_s(chart: &Chart) -> f64 {
    let form = Form::unroll(chart);
    let end = form.bars.last().map_or(0.0, |bar| bar.end().quarters());
    end * 60.0 / chart.tempo_qpm
}

fn key(chart: &Chart) -> String {
    chart.home().map_or(String::new(), |key| key.to_string())
}

fn leads(tune: &Tune) -> &'static str {
    match tune.leads {
        Some(Leads::We) => "lead",
        Some(Leads::They) => "follow",
        None => "",
    }
}

fn lines(library: &Library) -> String {
    let line = |(chart, tune): (&Chart, &Tune)| -> Value {
        json!({
            "number": tune.number, "title": chart.title, "key": key(chart), "tempo_qpm": chart.tempo_qpm,
            "time": chart.meter.to_string(), "bars": Form::count_bars(chart), "chorus_s": chorus_s(chart),
            "count_in_bars": tune.count_in_bars, "clock": leads(tune), "drill": tune.drill.title, "segue": tune.segue,
        })
    };
    let lines: Vec<String> = tunes(library)
        .map(|tune| format!("{}\n", line(tune)))
        .collect();
    lines.concat()
}

fn table(library: &Library) -> String {
    let title = library.set.as_ref().map_or("", |set| set.title.as_str());
    let width = |chart: &Chart| chart.title.chars().count();
    let widest = library.charts.iter().map(width).max().unwrap_or(0);
    let mut text = format!("{title}\n\n");
    for (chart, tune) in tunes(library) {
        let seconds = chorus_s(chart).round() as u64;
        let (minutes, seconds) = (seconds / 60, seconds % 60);
        let count_in = match tune.count_in_bars {
            None => String::new(),
            Some(0) => "no count-in".to_string(),
            Some(1) => "count-in 1 bar".to_string(),
            Some(bars) => format!("count-in {bars} bars"),
        };
        let clock = match tune.leads {
            None => "",
            Some(Leads::We) => "we lead the clock",
            Some(Leads::They) => "follows the clock",
        };
        let more = [
            count_in.as_str(),
            clock,
            if tune.segue { "segue" } else { "" },
        ];
        let more: Vec<&str> = more.into_iter().filter(|word| !word.is_empty()).collect();
        let line = format!(
            "{:>3}  {:widest$}  {:9} {:>3}  {:>3} bars {minutes}:{seconds:02}  {}",
            tune.number,
            chart.title,
            key(chart),
            chart.tempo_qpm.round(),
            Form::count_bars(chart),
            more.join(", ")
        );
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
