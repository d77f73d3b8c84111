//! How far something is that takes a while: on standard error, and only where that is a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar over so many facts; it is cleared away when it is dropped.
pub(crate) struct Bar(ProgressBar);

impl Bar {
    /// Begins at nothing.
    pub(crate) fn over(facts: u64, what: &'static str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(facts), ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len} facts, {eta} left") {
            bar.set_style(style);
        }
        bar.set_message(what);
        Self(bar)
    }

    /// So many are done, of so many.
    pub(crate) fn reached(&self, done: i64, all: i64) {
        self.0.set_length(all.unsigned_abs());
        self.0.set_position(done.unsigned_abs());
    }

    /// One more is done.
    pub(crate) fn one(&self) {
        self.0.inc(1);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
