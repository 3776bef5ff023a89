//! A picture as the controllers keep it, and what is different between two.

use super::super::bitmap::Bitmap;
use super::controller::Geometry;

/// What it costs to begin a new stretch, in bytes on an I2C bus: the address, three commands with their control
/// bytes, and the control byte of the pixels. A shorter gap is sent along instead.
pub const RUN_OVERHEAD: usize = 8;

/// The picture in pages: rows of eight pixel lines, a byte a column, the upper line in the lowest bit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Memory {
    width: usize,
    bytes: Vec<u8>,
}

impl Memory {
    /// The upper left of `bitmap`; dark where it is too small.
    pub fn of(bitmap: &Bitmap, geometry: Geometry) -> Memory {
        let width = usize::from(geometry.width);
        let mut bytes = vec![0; width * geometry.pages()];
        for y in 0..i32::from(geometry.height) {
            let row = y as usize / 8 * width;
            for x in 0..i32::from(geometry.width) {
                bytes[row + x as usize] |= u8::from(bitmap.get(x, y)) << (y % 8);
            }
        }
        Memory { width, bytes }
    }

    /// A page's columns.
    pub fn page(&self, page: usize) -> &[u8] {
        &self.bytes[page * self.width..(page + 1) * self.width]
    }

    /// How many pages there are.
    pub fn pages(&self) -> usize {
        self.bytes.len().checked_div(self.width).unwrap_or(0)
    }
}

/// A stretch of columns in a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PageRun {
    /// The page, from the top.
    pub page: usize,
    pub from: usize,
    /// The column after its last.
    pub to: usize,
}

/// The stretches in which `new` differs from `old`; without an old one, everything. Gaps that would cost more to
/// leave out than to send are sent.
pub fn runs(old: Option<&Memory>, new: &Memory) -> Vec<PageRun> {
    let mut all: Vec<PageRun> = Vec::new();
    for page in 0..new.pages() {
        let fresh = new.page(page);
        let Some(old) = old.filter(|old| old.width == new.width && page < old.pages()) else {
            let (from, to) = (0, new.width);
            all.push(PageRun { page, from, to });
            continue;
        };
        let stale = old.page(page);
        for column in (0..new.width).filter(|column| fresh[*column] != stale[*column]) {
            match all.last_mut() {
                Some(run) if run.page == page && column - run.to <= RUN_OVERHEAD => {
                    run.to = column + 1;
                }
                _ => all.push(PageRun {
                    page,
                    from: column,
                    to: column + 1,
                }),
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn memory(lit: &[(i32, i32)]) -> Memory {
        let mut bitmap = Bitmap::new(128, 32);
        for (x, y) in lit {
            bitmap.set(*x, *y, true);
        }
        Memory::of(&bitmap, Geometry::new(128, 32))
    }

    fn told(old: &[(i32, i32)], new: &[(i32, i32)]) -> String {
        let runs = runs(Some(&memory(old)), &memory(new));
        let words = runs
            .iter()
            .map(|run| format!("{}:{}-{}", run.page, run.from, run.to));
        words.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn only_what_changed_is_sent() {
        assert_eq!(told(&[(3, 3)], &[(3, 3)]), "");
        assert_eq!(told(&[], &[(3, 3)]), "0:3-4");
        assert_eq!(told(&[(3, 3)], &[]), "0:3-4");
        assert_eq!(told(&[], &[(3, 3), (12, 0)]), "0:3-13", "a gap of eight");
        assert_eq!(told(&[], &[(3, 3), (13, 0)]), "0:3-4 0:13-14", "of nine");
        assert_eq!(told(&[], &[(127, 7), (0, 8)]), "0:127-128 1:0-1");
        assert_eq!(runs(None, &memory(&[])).len(), 4, "nothing is known");
    }

    #[test]
    fn the_upper_line_of_a_page_is_the_lowest_bit() {
        let memory = memory(&[(0, 0), (1, 7), (2, 8), (0, 9)]);
        assert_eq!(memory.page(0)[..3], [0x01, 0x80, 0]);
        assert_eq!(memory.page(1)[..3], [0x02, 0, 0x01]);
    }

    proptest! {
        #[test]
        fn the_runs_carry_every_difference(
            old in prop::collection::vec((0i32..128, 0i32..32), 0..60),
            new in prop::collection::vec((0i32..128, 0i32..32), 0..60),
        ) {
            let (old, new) = (memory(&old), memory(&new));
            let mut held = old.clone();
            for run in runs(Some(&old), &new) {
                let row = run.page * 128;
                held.bytes[row + run.from..row + run.to].copy_from_slice(&new.page(run.page)[run.from..run.to]);
            }
            prop_assert_eq!(held, new);
        }
    }
}
