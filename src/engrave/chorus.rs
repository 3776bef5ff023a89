//! "One way to play it": a whole chorus written out, four bars to the line, a new line for each section.

use super::accidentals::{fifths, shown};
use super::canvas::{Block, LaidOut};
use super::model::SheetModel;
use super::paper::{Flow, MARGIN, Paper, head};
use super::score::{Measure, lead_in, measures};
use super::spacing::{Spaced, spaced};
use super::system::{SystemStyle, head_width, lead, system};

/// Bars of a line, as lead sheets have them.
const BARS: usize = 4;
/// Distances of staff lines that are tried, the roomiest first, and the pages that are to do.
const SPACES: [f32; 5] = [1.7, 1.55, 1.4, 1.25, 1.1];
const PAGES: usize = 2;

/// A chorus on pages.
pub fn chorus_on_paper(model: &SheetModel, paper: Paper) -> LaidOut {
    let mut whole = model.clone();
    if let Some(bar) = lead_in(model) {
        whole.bars.insert(0, bar);
    }
    let measures = measures(&whole);
    let width = paper.millimetres().0 - 2.0 * MARGIN;
    let head = head(model, width);
    let on_pages = |space: f32| {
        let mut flow = Flow::new(paper, 1, head.clone());
        for block in systems(&whole, &measures, (width, space)) {
            flow.put(vec![block], 2.6 * space);
        }
        flow.finish(&model.title)
    };
    let fits = SPACES
        .iter()
        .map(|space| on_pages(*space))
        .find(|sheet| sheet.pages.len() <= PAGES);
    fits.unwrap_or_else(|| on_pages(SPACES[SPACES.len() - 1]))
}

/// The lines of a chorus.
fn systems<'m>(
    model: &SheetModel,
    measures: &'m [Measure<'m>],
    (width, space): (f32, f32),
) -> Vec<Block> {
    let mut blocks = Vec::new();
    let mut start = 0;
    while start < measures.len() {
        let section = measures[start + 1..]
            .iter()
            .position(|next| next.bar.mark.is_some());
        // What leads in stands with the bars that it leads to.
        let first = usize::from(measures[start].bar.number == 0);
        let section = match (first, section) {
            (1, Some(0)) => measures[start + 2..]
                .iter()
                .position(|next| next.bar.mark.is_some())
                .map(|at| at + 1),
            (_, section) => section,
        };
        let end = section.map_or(measures.len(), |at| start + 1 + at);
        let mut lines = end - start - first;
        lines = lines.div_ceil(BARS).max(1);
        let per_line = (end - start - first).div_ceil(lines).max(1);
        let mut at = start;
        while at < end {
            let most = (at + per_line + if at == start { first } else { 0 }).min(end);
            let (block, next) = line(model, measures, (at, most), (width, space));
            blocks.push(block);
            at = next;
        }
        start = end;
    }
    blocks
}

/// A line from bar `at` to at most `most`: fewer where they have no room. Gives it and the next bar.
fn line<'m>(
    model: &SheetModel,
    measures: &'m [Measure<'m>],
    (at, most): (usize, usize),
    (width, space): (f32, f32),
) -> (Block, usize) {
    let mut style = SystemStyle {
        model,
        space,
        width,
        fifths: fifths(measures[at].bar.key),
        meter: (at == 0 || measures[at - 1].bar.meter != measures[at].bar.meter)
            .then_some(measures[at].bar.meter),
        ends: false,
        section_ends: false,
    };
    let bars: Vec<Spaced<'_>> = (at..most)
        .map(|index| bar(model, measures, index, (index == at, space)))
        .collect();
    let mut used = lead(&style);
    let mut count = 0;
    for bar in &bars {
        used += bar.fixed(space) + bar.elastic();
        if count > 0 && used > width {
            break;
        }
        count += 1;
    }
    let next = at + count;
    style.ends = next == measures.len();
    style.section_ends = measures
        .get(next)
        .is_some_and(|next| next.bar.mark.is_some());
    (system(&bars[..count], &style), next)
}

fn bar<'m>(
    model: &SheetModel,
    measures: &'m [Measure<'m>],
    index: usize,
    (is_first, space): (bool, f32),
) -> Spaced<'m> {
    let measure = &measures[index];
    let key = fifths(measure.bar.key);
    let before = index.checked_sub(1).map(|before| measures[before].bar);
    let new_key = before
        .filter(|before| fifths(before.key) != key && !is_first)
        .map(|_| key);
    let new_meter = before
        .filter(|before| before.meter != measure.bar.meter && !is_first)
        .map(|_| measure.bar.meter);
    let head = head_width(space, new_key, new_meter);
    spaced(model, measure, shown(measure, key), (space, head))
}
