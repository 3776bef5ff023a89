//! Changes as plain text: any text gives faults, or a chart that its own file tells again, and that its text does where it leaves
//! nothing out.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::chart::{Chart, Form, MAX_BARS};
use underfoot::fault::Source;

fuzz_target!(|text: &str| {
    let Ok(chart) = Chart::read_text(&Source { name: "-", text }, "untitled") else {
        return;
    };
    assert!(Form::count_bars(&chart) <= MAX_BARS);
    let file = chart.to_toml();
    assert_eq!(
        Chart::read(&Source {
            name: "-",
            text: &file
        })
        .as_ref(),
        Ok(&chart),
        "{file}"
    );
    let (text, left_out) = chart.to_text();
    if left_out.is_empty() {
        assert_eq!(
            Chart::read_text(
                &Source {
                    name: "-",
                    text: &text
                },
                ""
            )
            .as_ref(),
            Ok(&chart),
            "{text}"
        );
    }
});
