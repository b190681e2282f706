//! How does the user see how far the work is?

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::check::Progress;

/// Work that is over sooner shows nothing.
const PATIENCE: Duration = Duration::from_secs(1);

/// A bar on stderr, where that is a terminal, for work that takes longer than a second.
pub struct Bar {
    began: Instant,
    bar: ProgressBar,
    shown: AtomicBool,
}

impl Bar {
    /// A bar that does not show yet.
    pub fn new() -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{msg} [{bar:40}] {pos}/{len}") {
            bar.set_style(style.progress_chars("=> "));
        }
        Self { began: Instant::now(), bar, shown: AtomicBool::new(false) }
    }

    fn show_if_slow(&self) {
        if self.began.elapsed() > PATIENCE && !self.shown.swap(true, Ordering::Relaxed) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
}

impl Progress for Bar {
    fn begin(&self, task: &str, units: u64) {
        self.bar.reset();
        self.bar.set_length(units);
        self.bar.set_message(task.to_owned());
        self.show_if_slow();
    }

    fn advance(&self) {
        self.bar.inc(1);
        self.show_if_slow();
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
