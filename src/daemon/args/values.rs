//! Values of the command line that have a rule of their own.

use crate::display::Panel;
use std::ops::RangeInclusive;

/// A length of time: more than nothing, at most a day.
pub(super) fn seconds(text: &str) -> Result<f64, String> {
    within(text, 0.001..=86_400.0, "seconds")
}

/// A day.
#[cfg(feature = "journal")]
pub(super) fn date(text: &str) -> Result<jiff::civil::Date, String> {
    text.parse()
        .map_err(|_| "a day as year-month-day (2026-11-30)".to_string())
}

/// A tempo that the player knows.
pub(super) fn tempo(text: &str) -> Result<f64, String> {
    within(text, 30.0..=300.0, "quarter notes a minute")
}

/// A panel by its pixels and its diagonal.
pub(super) fn panel(text: &str) -> Result<Panel, String> {
    let rule =
        || "pixels from 96x32 to 800x600, then perhaps @ and inches (\"128x64@2.42\")".to_string();
    let (pixels, inches) = match text.split_once('@') {
        Some((pixels, inches)) => (pixels, Some(within(inches, 0.4..=40.0, "inches")?)),
        None => (text, None),
    };
    let (width, height) = pixels.split_once('x').ok_or_else(rule)?;
    let size = |text: &str, range: RangeInclusive<u32>| {
        let size = text.parse::<u32>().ok();
        size.filter(|size| range.contains(size)).ok_or_else(rule)
    };
    Ok(Panel {
        panel_mm: inches.map(|inches| (inches * 25.4) as f32),
        ..Panel::new(size(width, 96..=800)?, size(height, 32..=600)?)
    })
}

pub(super) fn within(text: &str, range: RangeInclusive<f64>, unit: &str) -> Result<f64, String> {
    let number = text.parse::<f64>().ok();
    let rule = || format!("a number from {} to {} {unit}", range.start(), range.end());
    number
        .filter(|number| range.contains(number))
        .ok_or_else(rule)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panel_is_its_pixels_and_its_diagonal() {
        let read = |text: &str| {
            panel(text)
                .ok()
                .map(|panel| (panel.width, panel.height, panel.panel_mm))
        };
        let cases = [
            ("128x64@2.42", Some((128, 64, Some(61.468)))),
            ("320x240", Some((320, 240, None))),
            ("128", None),
            ("128x6400", None),
            ("128x64@", None),
            ("128x64@99", None),
        ];
        for (text, expected) in cases {
            assert_eq!(read(text), expected, "{text}");
        }
    }
}
