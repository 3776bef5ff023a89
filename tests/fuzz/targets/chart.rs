//! Charts: any text gives faults, or a chart whose form can be written out, looped and analysed.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::chart::{Chart, Form, MAX_BARS, form_lines, written_lines};
use underfoot::fault::Source;
use underfoot::harmony::{Habits, in_context};

fuzz_target!(|text: &str| {
    let tolerant = Chart::read_tolerant(&Source { name: "-", text });
    if let Ok(chart) = &tolerant {
        written_lines(chart, &Form::unroll(chart));
    }
    let Ok(chart) = Chart::read(&Source { name: "-", text }) else {
        return;
    };
    assert_eq!(tolerant.as_ref(), Ok(&chart));
    let form = Form::unroll(&chart);
    assert_eq!(form.bars.len(), Form::count_bars(&chart));
    assert!(form.bars.len() <= MAX_BARS);
    form_lines(&chart, &form);
    written_lines(&chart, &form);
    let chords = form.timed_chords();
    assert_eq!(in_context(&chords, &Habits::default()).len(), chords.len());
    for section in 0..chart.sections.len() {
        let lap = form.lap(
            &form
                .first_item_of(section)
                .map(|item| form.item_bars(item))
                .unwrap_or_default(),
        );
        assert!(lap.chords.iter().all(|chord| chord.len.0 > 0));
    }
});
