//! How the newest samples go with those before them, at every lag: sums of products, block by block.
//!
//! A window that ends with the newest sample is a number of whole blocks, and each block's products are worked out once, when they are
//! first asked for, instead of once for each window in which they lie: a tenth of the work.

use super::history::History;

/// Lags that are worked out side by side.
pub(super) const LANES: usize = 32;

/// Sums over all blocks are begun anew after so many, some five seconds: differences of them stay exact to some 1e-9.
const RENEWED_AFTER: usize = 4096;

/// Sums of products of the newest blocks.
#[derive(Debug, Clone)]
pub(super) struct Products {
    /// In samples.
    block: usize,
    groups: usize,
    /// A row for each block that is kept, and for the one before them, a ring: the sums over all blocks up to it, so that those over
    /// the newest few are a difference. In a row the longest lag comes first.
    rows: Vec<[f64; LANES]>,
    kept: usize,
    newest: usize,
    /// Blocks since the sums were begun.
    summed: usize,
    /// Blocks that came and are not summed yet.
    missing: usize,
}

impl Products {
    /// For lags and windows up to so many samples.
    pub(super) fn new(block: usize, lag_max: usize, window_max: usize) -> Products {
        let (block, groups) = (block.max(1), (lag_max + 1).div_ceil(LANES));
        let kept = window_max.div_ceil(block) + 1;
        Products {
            block,
            groups,
            rows: vec![[0.0; LANES]; groups * (kept + 1)],
            kept,
            newest: 0,
            summed: 0,
            missing: kept,
        }
    }

    /// How many samples are needed.
    pub(super) fn needed(&self) -> usize {
        self.kept * self.block + self.groups * LANES
    }

    /// How many samples a block has.
    pub(super) fn block(&self) -> usize {
        self.block
    }

    /// How many blocks a window of about so many samples has.
    pub(super) fn blocks(&self, window: usize) -> usize {
        ((window + self.block / 2) / self.block).clamp(1, self.kept)
    }

    /// The groups of lags: the place of each, and its longest lag.
    pub(super) fn groups(&self) -> impl Iterator<Item = (usize, usize)> + use<> {
        let groups = self.groups;
        (0..groups).map(move |group| (group, (groups - group) * LANES - 1))
    }

    /// A block has come.
    pub(super) fn pass(&mut self) {
        self.missing = (self.missing + 1).min(self.kept);
    }

    /// The samples are others from now on.
    pub(super) fn forget(&mut self) {
        self.missing = self.kept;
    }

    /// Works out what is missing of a sound that ends with the newest block.
    pub(super) fn catch_up(&mut self, sound: &History) {
        let all = sound.newest(self.needed());
        while self.missing > 0 {
            self.missing -= 1;
            let before = self.newest;
            self.newest = (self.newest + 1) % (self.kept + 1);
            let until = all.len() - self.missing * self.block;
            let from = until - self.block;
            for group in 0..self.groups {
                let longest = (self.groups - group) * LANES - 1;
                let new = products(&all[from..until], &all[from - longest..]);
                let mut sums = self.rows[before * self.groups + group];
                for (sum, new) in sums.iter_mut().zip(new) {
                    *sum += f64::from(new);
                }
                self.rows[self.newest * self.groups + group] = sums;
            }
            self.renew();
        }
    }

    /// Takes what is long over out of the sums now and then.
    fn renew(&mut self) {
        self.summed += 1;
        if self.summed < RENEWED_AFTER {
            return;
        }
        self.summed = 0;
        for group in 0..self.groups {
            let newest = self.rows[self.newest * self.groups + group];
            for row in self.rows.iter_mut().skip(group).step_by(self.groups) {
                row.iter_mut()
                    .zip(newest)
                    .for_each(|(sum, newest)| *sum -= newest);
            }
        }
    }

    /// The sums of a group over the newest `blocks`, its longest lag first.
    pub(super) fn sums(&self, group: usize, blocks: usize) -> [f32; LANES] {
        let rows = self.kept + 1;
        let before = (self.newest + rows - blocks.min(self.kept)) % rows;
        let [newest, before] =
            [self.newest, before].map(|row| &self.rows[row * self.groups + group]);
        let mut sums = [0.0; LANES];
        for (sum, (newest, before)) in sums.iter_mut().zip(newest.iter().zip(before)) {
            *sum = (newest - before) as f32;
        }
        sums
    }
}

/// The sums of products of the new samples with what was before, which moves with them.
#[inline(never)]
fn products(new: &[f32], old: &[f32]) -> [f32; LANES] {
    let mut sums = [0.0; LANES];
    for (new, old) in new.iter().zip(old.windows(LANES)) {
        let Some(old) = old.first_chunk::<LANES>() else {
            break;
        };
        for lane in 0..LANES {
            sums[lane] += new * old[lane];
        }
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_those_of_the_definition_however_late_they_are_asked_for() {
        let (block, lag_max, window_max) = (21, 60, 100);
        let mut products = Products::new(block, lag_max, window_max);
        let mut sound = History::new(products.needed());
        let mut all = vec![0.0; 400];
        for asked in [1, 1, 3, 2, 9, 1] {
            for _ in 0..asked {
                let new: Vec<f32> = (0..block)
                    .map(|n| ((all.len() + n) as f32 * 0.37).sin() + 0.1 * (n % 5) as f32)
                    .collect();
                sound.extend(&new);
                all.extend(new);
                products.pass();
            }
            products.catch_up(&sound);
            let end = all.len();
            for (group, longest) in products.groups() {
                for blocks in [1, 3, 5] {
                    let sums = products.sums(group, blocks);
                    for (lane, sum) in sums.iter().enumerate() {
                        let lag = longest - lane;
                        let window = end - blocks * block..end;
                        let wanted: f32 = window.map(|n| all[n] * all[n - lag]).sum();
                        assert!((sum - wanted).abs() < 1e-3, "{lag}: {sum} {wanted}");
                    }
                }
            }
        }
    }
}
