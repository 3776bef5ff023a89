//! How far a long piece of work is, and how long it will take: on a terminal, and only where it takes more than a moment.
// It looks at the clock.
#![allow(clippy::disallowed_methods)]

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Work that is over sooner shows nothing.
const QUIET: Duration = Duration::from_secs(2);

/// The bar of a piece of work. Threads may share it.
pub struct Progress {
    bar: ProgressBar,
    since: Instant,
    shown: AtomicBool,
}

impl Progress {
    /// Work of so many steps begins.
    pub fn new(steps: u64) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template("{bar:30} {percent:>3} %  {eta} left");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        Progress {
            bar,
            since: Instant::now(),
            shown: AtomicBool::new(false),
        }
    }

    /// So many more steps are done.
    pub fn done(&self, steps: u64) {
        self.bar.inc(steps);
        if self.since.elapsed() >= QUIET && !self.shown.swap(true, Ordering::Relaxed) {
            // Where standard error is no terminal nothing is drawn.
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }

    /// The work is over: the bar leaves.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}
