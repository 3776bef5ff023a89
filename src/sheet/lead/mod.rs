//! Lead sheets from other programs' files: what the formats have in common.
//!
//! A reader of a format fills a `Sheet`: bars with chords, notes and signs, as written. `road` works out the
//! order of playing, `bars` gives every bar its meter and fills it with chords, `fold` finds the sections and
//! endings, and the result is a chart with the melody beside it.

mod bars;
mod blocks;
mod fold;
mod parts;
mod road;
mod warnings;
mod written;

pub(super) use warnings::short;
pub use warnings::{ImportError, Imported, Warning};
pub(super) use written::{Act, Backward, Flow, Measure, Sheet};

/// Makes the chart. `fallback` is its title where the file has none.
pub(super) fn into_chart(mut sheet: Sheet, fallback: &str) -> Result<Imported, ImportError> {
    if sheet.measures.iter().all(|one| one.chords.is_empty()) {
        let rule = "there is no chord symbol in it, so it makes no chart";
        return Err(ImportError(rule.to_string()));
    }
    let ready = bars::ready(&mut sheet);
    let labels: Vec<String> = sheet.measures.iter().map(|one| one.label.clone()).collect();
    let flows: Vec<&Flow> = sheet.measures.iter().map(|one| &one.flow).collect();
    let road = road::road(&flows, ready.has_pickup())?;
    let chart = fold::fold(&mut sheet, ready, road, fallback)?;
    Ok(Imported {
        chart,
        warnings: sheet.warnings.into_list(&labels),
    })
}
