//! How far a batch is, on a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::app::cli::diagnostics::Line;

/// How much there is to do.
pub(super) enum Total {
    /// A number of files.
    Files(usize),
    /// A number of bytes, in lines.
    Octets(u64),
    /// Not known.
    Unknown,
}

/// A bar on a terminal, or nothing.
pub(super) struct Progress {
    bar: ProgressBar,
    octets: bool,
    count: u64,
}

impl Progress {
    /// Begins at nothing; `visible`: someone looks.
    pub(super) fn new(total: Total, visible: bool) -> Self {
        let target = match visible {
            true => ProgressDrawTarget::stderr_with_hz(5),
            false => ProgressDrawTarget::hidden(),
        };
        let (length, template) = match total {
            Total::Files(count) => (
                Some(u64::try_from(count).unwrap_or(u64::MAX)),
                "{wide_bar} {human_pos} of {human_len} flights, {per_sec}, {eta} left",
            ),
            Total::Octets(count) => (
                Some(count),
                "{wide_bar} {msg} flights, {binary_bytes} of {binary_total_bytes}, {binary_bytes_per_sec}, {eta} left",
            ),
            Total::Unknown => (None, "{human_pos} flights, {per_sec}, {elapsed}"),
        };
        let bar = ProgressBar::with_draw_target(length, target);
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        Self {
            bar,
            octets: matches!(total, Total::Octets(_)),
            count: 0,
        }
    }

    /// One more is done, of this size in bytes.
    pub(super) fn done(&mut self, octets: u64) {
        self.count += 1;
        if self.octets {
            self.bar.set_message(self.count.to_string());
            self.bar.inc(octets);
        } else {
            self.bar.inc(1);
        }
    }

    /// Lines to standard error, above the bar.
    pub(super) fn print(&self, lines: &[Line]) {
        if !lines.is_empty() {
            self.bar.suspend(|| lines.iter().for_each(Line::print));
        }
    }

    /// Does something, such as writing to standard output, above the bar.
    pub(super) fn above<T>(&self, work: impl FnOnce() -> T) -> T {
        self.bar.suspend(work)
    }

    /// The bar goes.
    pub(super) fn end(&self) {
        self.bar.finish_and_clear();
    }
}
