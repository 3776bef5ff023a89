//! The ticks that count at present, and the straight line through them.

/// The most ticks that are kept: 21 s at 120 quarters a minute.
pub(super) const KEPT: usize = 1024;

/// A tick that came.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sample {
    /// Which tick of the master it is.
    pub(super) index: i64,
    /// When it came, in seconds.
    pub(super) at_s: f64,
    /// It lies far off: it is kept, but it does not bend the line.
    pub(super) odd: bool,
}

/// The last ticks, newest first; of these the first `open` make the window.
#[derive(Debug, Clone)]
pub(super) struct Window {
    ring: [Sample; KEPT],
    head: usize,
    len: usize,
    open: usize,
}

/// Sums of a stretch of samples, counted from the newest: `x` in ticks, `u` in seconds.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    n: f64,
    x: f64,
    u: f64,
    xx: f64,
    xu: f64,
}

impl Sums {
    pub(super) fn add(&mut self, x: f64, u: f64) {
        self.n += 1.0;
        self.x += x;
        self.u += u;
        self.xx += x * x;
        self.xu += x * u;
    }

    fn minus(&self, other: &Sums) -> Sums {
        Sums {
            n: self.n - other.n,
            x: self.x - other.x,
            u: self.u - other.u,
            xx: self.xx - other.xx,
            xu: self.xu - other.xu,
        }
    }

    /// The least-squares line: needs two different ticks.
    pub(super) fn line(&self) -> Option<FittedLine> {
        if self.n < 2.0 {
            return None;
        }
        let spread = self.xx - self.x * self.x / self.n;
        if spread < 0.25 {
            return None;
        }
        let slope = (self.xu - self.x * self.u / self.n) / spread;
        let middle = self.x / self.n;
        Some(FittedLine {
            n: self.n,
            middle,
            height: self.u / self.n,
            slope,
            spread,
        })
    }
}

/// A line through samples, by their distance from the newest.
#[derive(Debug, Clone, Copy)]
pub(super) struct FittedLine {
    /// How many samples made it.
    pub(super) n: f64,
    middle: f64,
    height: f64,
    /// Seconds a tick.
    pub(super) slope: f64,
    spread: f64,
}

impl FittedLine {
    /// The line's time at `x` ticks from the newest.
    pub(super) fn at(&self, x: f64) -> f64 {
        self.height + self.slope * (x - self.middle)
    }

    /// The variance of [`FittedLine::at`] for samples that scatter with variance 1.
    pub(super) fn variance(&self, x: f64) -> f64 {
        1.0 / self.n + (x - self.middle).powi(2) / self.spread
    }

    /// The variance of the slope for samples that scatter with variance 1.
    pub(super) fn slope_variance(&self) -> f64 {
        1.0 / self.spread
    }
}

impl Window {
    pub(super) fn new() -> Window {
        Window {
            ring: [Sample::default(); KEPT],
            head: 0,
            len: 0,
            open: 0,
        }
    }

    pub(super) fn clear(&mut self) {
        (self.len, self.open) = (0, 0);
    }

    pub(super) fn push(&mut self, sample: Sample) {
        self.head = (self.head + 1) % KEPT;
        self.ring[self.head] = sample;
        self.len = (self.len + 1).min(KEPT);
        self.open = (self.open + 1).min(KEPT);
    }

    /// Takes the newest tick back.
    pub(super) fn pop(&mut self) {
        if self.len > 0 {
            self.head = (self.head + KEPT - 1) % KEPT;
            self.len -= 1;
            self.open = self.open.saturating_sub(1);
        }
    }

    /// Moves all ticks in time.
    pub(super) fn shift(&mut self, by_s: f64) {
        for back in 0..self.len {
            self.get_mut(back).at_s += by_s;
        }
    }

    /// Forgets all but the last `count` ticks.
    pub(super) fn forget(&mut self, count: usize) {
        self.len = self.len.min(count);
        self.open = self.len;
    }

    /// How many ticks are kept.
    pub(super) fn len(&self) -> usize {
        self.len
    }

    /// How many ticks the window holds.
    pub(super) fn open(&self) -> usize {
        self.open
    }

    /// Narrows or widens the window to the last `count` ticks, those far off among them taken for good.
    pub(super) fn reopen(&mut self, count: usize, trust: bool) {
        self.open = count.min(self.len);
        if trust {
            for back in 0..self.open {
                self.get_mut(back).odd = false;
            }
        }
    }

    /// The tick `back` before the newest.
    pub(super) fn get(&self, back: usize) -> Option<Sample> {
        (back < self.len).then(|| self.ring[(self.head + KEPT - back) % KEPT])
    }

    pub(super) fn get_mut(&mut self, back: usize) -> &mut Sample {
        &mut self.ring[(self.head + KEPT - back % KEPT) % KEPT]
    }

    /// The samples of the window, newest first, as distances from the newest in ticks and seconds.
    pub(super) fn samples(&self) -> impl Iterator<Item = (f64, f64, bool)> + '_ {
        let newest = self.get(0).unwrap_or_default();
        (0..self.open).filter_map(move |back| {
            let sample = self.get(back)?;
            let x = (sample.index - newest.index) as f64;
            Some((x, sample.at_s - newest.at_s, sample.odd))
        })
    }

    /// The sums of the whole window, and of its last `marks` samples for each of the marks.
    pub(super) fn sums<const N: usize>(&self, marks: &[usize; N]) -> (Sums, [Sums; N]) {
        let mut total = Sums::default();
        let mut at_marks = [Sums::default(); N];
        let mut next = 0;
        for (back, (x, u, odd)) in self.samples().enumerate() {
            if next < N && back == marks[next] {
                at_marks[next] = total;
                next += 1;
            }
            if !odd {
                total.add(x, u);
            }
        }
        (total, at_marks)
    }

    /// The sums without the last `mark` samples.
    pub(super) fn before(total: &Sums, last: &Sums) -> Sums {
        total.minus(last)
    }

    /// The mean square of what the window's samples are off `line`, with their number.
    pub(super) fn scatter(&self, line: &FittedLine) -> (f64, f64) {
        let kept = self.samples().filter(|(_, _, odd)| !odd);
        kept.fold((0.0, 0.0), |(sum, n), (x, u, _)| {
            (sum + (u - line.at(x)).powi(2), n + 1.0)
        })
    }
}
