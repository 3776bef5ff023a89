//! Foot scripts, and the words of the foot: any text gives steps in order, or faults.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::fault::Source;
use underfoot::foot::Action;
use underfoot::pedal::midi::Control;
use underfoot::pedal::script::{self, StepKind};

fuzz_target!(|text: &str| {
    match script::parse(&Source { name: "-", text }) {
        Ok(steps) => {
            assert!(steps.iter().all(|step| match step.what {
                StepKind::Edge { switch, .. } => (1..=8).contains(&switch),
                StepKind::Song(number) => number <= 127,
            }));
            assert!(steps.is_sorted_by_key(|step| step.at));
        }
        Err(faults) => assert!(!faults.0.is_empty()),
    }
    if let Ok(control) = text.parse::<Control>() {
        assert_eq!(control.to_string().parse::<Control>().ok(), Some(control));
    }
    if let Ok(action) = text.parse::<Action>() {
        assert_eq!(action.name(), text);
    }
});
