//! Many pages on one picture, to be looked at beside each other.

use super::bitmap::{Area, Bitmap};
use super::glyphs::{Type, shorten};
use super::screens::magnified;

/// As wide as a sheet may be, in pixels: a screen shows it, A4 across prints it.
const WIDTH: u32 = 1400;
/// Narrower pages are magnified, so that small ones can be looked at beside large ones.
const PAGE_WIDTH: u32 = 256;
/// Between pages, and around them.
const GAP: u32 = 10;
const HEADING: Type = Type::Large(12);

/// Pages under headings, row by row.
pub fn contact_sheet(title: &str, groups: &[(String, Vec<Bitmap>)]) -> Bitmap {
    let heading = HEADING.line() as u32 + GAP;
    let groups: Vec<(&String, Vec<Bitmap>)> = groups
        .iter()
        .map(|(name, pages)| (name, pages.iter().map(enlarged).collect()))
        .collect();
    let rows_of = |pages: &[Bitmap]| {
        let columns = columns(pages);
        pages.len().div_ceil(columns) as u32 * cell(pages).1
    };
    let height: u32 = groups
        .iter()
        .map(|(_, pages)| heading + rows_of(pages))
        .sum();
    let mut sheet = Bitmap::new(WIDTH, heading + height + GAP);
    let write = |sheet: &mut Bitmap, text: &str, y: u32| {
        let text = shorten(text, HEADING, (WIDTH - 2 * GAP) as i32);
        HEADING.draw(sheet, &text, GAP as i32, (y + GAP / 2) as i32, true);
    };
    write(&mut sheet, title, 0);
    let mut y = heading;
    for (name, pages) in &groups {
        write(&mut sheet, name, y);
        y += heading;
        let (wide, high) = cell(pages);
        for (place, page) in pages.iter().enumerate() {
            let (column, row) = (place % columns(pages), place / columns(pages));
            let x = GAP + column as u32 * wide;
            paste(&mut sheet, page, (x as i32, (y + row as u32 * high) as i32));
        }
        y += rows_of(pages);
    }
    sheet
}

fn enlarged(page: &Bitmap) -> Bitmap {
    magnified(page, PAGE_WIDTH / page.width().max(1))
}

/// The room of one page with the gap after it.
fn cell(pages: &[Bitmap]) -> (u32, u32) {
    let size = pages
        .first()
        .map_or((0, 0), |page| (page.width(), page.height()));
    (size.0 + GAP, size.1 + GAP)
}

fn columns(pages: &[Bitmap]) -> usize {
    ((WIDTH - GAP) / cell(pages).0).max(1) as usize
}

/// The page, with a thin line around it.
fn paste(sheet: &mut Bitmap, page: &Bitmap, (x, y): (i32, i32)) {
    let (w, h) = (page.width() as i32, page.height() as i32);
    for edge in [
        Area::new(x - 2, y - 2, w + 4, 1),
        Area::new(x - 2, y + h + 1, w + 4, 1),
        Area::new(x - 2, y - 2, 1, h + 4),
        Area::new(x + w + 1, y - 2, 1, h + 4),
    ] {
        sheet.fill(edge, true);
    }
    for (dx, dy) in (0..h).flat_map(|dy| (0..w).map(move |dx| (dx, dy))) {
        sheet.set(x + dx, y + dy, page.get(dx, dy));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_page_stands_there_whole() {
        let page = |number: i32| {
            let mut page = Bitmap::new(128, 64);
            page.fill(Area::new(number, 0, 1, 64), true);
            page
        };
        let groups = [("a", 7), ("b", 1)];
        let groups = groups.map(|(name, count)| (name.to_string(), (0..count).map(page).collect()));
        let sheet = contact_sheet("", &groups);
        // Twice as large: 5 in a row of 266, so two rows and one.
        let heading = HEADING.line() as u32 + GAP;
        assert_eq!(sheet.height(), 3 * heading + 3 * (128 + GAP) + GAP);
        let at = |place: u32, row: u32| (GAP + place * 266, 2 * heading + row * 138);
        for (number, (x, y)) in [(0, at(0, 0)), (4, at(4, 0)), (6, at(1, 1))] {
            let lit = |dx: u32| sheet.get((x + dx) as i32, y as i32 + 20);
            assert!(lit(2 * number) && !lit(2 * number + 2), "{number}");
        }
    }
}
