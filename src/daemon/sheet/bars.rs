//! The bars of a sheet.

use crate::chart::Chart;
use crate::engrave::SheetBar;
use crate::plan::Material;
use crate::time::Tick;

/// The bars, as played or each section once; each bar comes as often as chords last longer.
pub fn bars(material: &Material, form: bool, only: Option<usize>, times: i64) -> Vec<SheetBar> {
    let chart = &material.chart;
    let mut bars = Vec::new();
    if let Some(pickup) = chart.pickup.as_ref().filter(|_| only.is_none()) {
        bars.push(SheetBar {
            start: Tick(-pickup.meter.bar_ticks().0),
            meter: pickup.meter,
            key: pickup.key,
            mark: None,
            number: 0,
        });
    }
    if form {
        bars.extend(form_bars(material));
    } else {
        bars.extend(section_bars(chart, only));
    }
    let copies = |bar: SheetBar| {
        let len = bar.meter.bar_ticks().0;
        (0..times).map(move |copy| SheetBar {
            start: Tick(bar.start.0 * times + copy * len),
            mark: bar.mark.clone().filter(|_| copy == 0),
            ..bar.clone()
        })
    };
    bars.into_iter().flat_map(copies).collect()
}

/// The bars as the form plays them.
fn form_bars(material: &Material) -> Vec<SheetBar> {
    let mut last = None;
    let mut bars = Vec::new();
    for (number, bar) in (1..).zip(&material.form.bars) {
        let begins = last.replace(bar.item) != Some(bar.item);
        bars.push(SheetBar {
            start: bar.start,
            meter: bar.meter,
            key: bar.key,
            mark: begins.then(|| material.chart.sections[bar.section].name.clone()),
            number,
        });
    }
    bars
}

/// The bars of each section once, all its endings among them.
fn section_bars(chart: &Chart, only: Option<usize>) -> Vec<SheetBar> {
    let mut bars = Vec::new();
    let mut start = Tick(0);
    for (index, section) in chart.sections.iter().enumerate() {
        let begin = std::iter::once((section.name.clone(), &section.bars));
        let endings = section.endings.iter().map(|ending| {
            let mark = format!("{}, ending of pass {}", section.name, ending.pass);
            (mark, &ending.bars)
        });
        let mut number = 0;
        for (mark, list) in begin.chain(endings) {
            for (at, bar) in list.iter().enumerate() {
                number += 1;
                if only.is_none_or(|only| only == index) {
                    bars.push(SheetBar {
                        start,
                        meter: bar.meter,
                        key: bar.key,
                        mark: (at == 0).then(|| mark.clone()),
                        number,
                    });
                }
                start += bar.meter.bar_ticks();
            }
        }
    }
    bars
}
