//! How far something is that comes over the wire; drawn on stderr where somebody looks at it.

use indicatif::{ProgressBar, ProgressStyle};
use selachron_schemas::limits::PROGRESS_TICK_MS;
use std::io::Read;
use std::time::Duration;

/// How much there will be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// So many bytes.
    Bytes(u64),
    /// So many notes, one a line.
    Notes(u64),
}

/// See the module. It is gone from the screen with this value.
pub struct Progress {
    bar: ProgressBar,
    lines: bool,
}

const WAITING: &str = "{spinner} waiting for the service, {elapsed}";
const COMING: &str = "{spinner} {bytes} in {elapsed}, {bytes_per_sec}";
const OF_BYTES: &str = "{wide_bar} {bytes} of {total_bytes}, {eta} more";
const OF_NOTES: &str = "{wide_bar} {pos} of {len} notes, {eta} more";

fn style(template: &str) -> ProgressStyle {
    ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_spinner())
}

impl Progress {
    /// Nothing has come yet. It moves by itself, so that a long wait does not look like a standstill.
    #[must_use]
    pub fn waiting() -> Self {
        let bar = ProgressBar::new_spinner().with_style(style(WAITING));
        bar.enable_steady_tick(Duration::from_millis(PROGRESS_TICK_MS));
        Self { bar, lines: false }
    }

    /// The answer begins, and is so long, where that is known.
    #[must_use]
    pub fn of(mut self, of: Option<Of>) -> Self {
        let (length, template) = match of {
            None => (None, COMING),
            Some(Of::Bytes(bytes)) => (Some(bytes), OF_BYTES),
            Some(Of::Notes(notes)) => (Some(notes), OF_NOTES),
        };
        self.lines = matches!(of, Some(Of::Notes(_)));
        self.bar.reset();
        self.bar.set_style(style(template));
        if let Some(length) = length {
            self.bar.set_length(length);
        }
        self
    }

    /// What is read of `stream` is counted.
    pub fn reading<R: Read>(self, stream: R) -> Counted<R> {
        Counted { progress: self, stream }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

/// A stream that shows how far it is.
pub struct Counted<R> {
    progress: Progress,
    stream: R,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let read = self.stream.read(into)?;
        let lines = || into[..read].iter().filter(|byte| **byte == b'\n').count();
        self.progress.bar.inc(if self.progress.lines { lines() } else { read } as u64);
        Ok(read)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(of: Option<Of>) -> (u64, Option<u64>) {
        let mut counted = Progress::waiting().of(of).reading(&b"one\ntwo\nthree\n"[..]);
        std::io::copy(&mut counted, &mut std::io::sink()).expect("bytes");
        (counted.progress.bar.position(), counted.progress.bar.length())
    }

    #[test]
    fn lines_are_counted_against_notes_and_bytes_against_bytes() {
        assert_eq!(after(Some(Of::Notes(3))), (3, Some(3)));
        assert_eq!(after(Some(Of::Bytes(14))), (14, Some(14)));
        assert_eq!(after(None), (14, None));
    }

    /// A template with a slip in it would fall back to a spinner without a word.
    #[test]
    fn templates_can_be_drawn() {
        for template in [WAITING, COMING, OF_BYTES, OF_NOTES] {
            assert!(ProgressStyle::with_template(template).is_ok(), "{template}");
        }
    }
}
