//! Lead sheets from other programs' files: what the formats have in common.
//!
//! A reader of a format fills a `Sheet`: bars with chords, notes and signs, as written. `road` works out the
//! order of playing, `bars` gives every bar its meter and fills it with chords, `fold` finds the sections and
//! endings, and the result is a chart with the melody beside it.
//!
//! # Why are repeats and jumps played out first and folded into sections afterwards?
//!
//! Signs can be combined in ways that no
//! section with endings tells: a coda out of a repeat, an end in a first ending. Played out, the order is right whatever
//! the signs were; folded, it is short and can be practised by sections. Where folding would change the order, a part of
//! a bar range becomes a section of its own.
//!
//! # Why do chords at one place share the time to the next chord?
//!
//! Files that lost the places of their chords are common.
//! Half a bar each is what is nearly always meant; it is told with the bar, so that it can be mended.

mod bars;
mod blocks;
mod fold;
mod merge;
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
