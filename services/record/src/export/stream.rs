//! What is written, sent while it is being written.

use crate::failure::Failure;
use futures_core::Stream;
use selachron_schemas::limits::{EXPORT_CHUNK_BYTES, EXPORT_CHUNKS_WAITING_MAX};
use std::io::{self, BufWriter, Write};
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use tokio::sync::mpsc;

/// What `write` writes, chunk by chunk, as fast as it is taken: so much is held at once, however long
/// it becomes. Where `write` fails or panics the stream ends with an error, so that nobody takes half
/// of it for the whole.
pub fn produced(
    write: impl FnOnce(&mut dyn Write) -> Result<(), Failure> + Send + 'static,
) -> impl Stream<Item = Result<Vec<u8>, io::Error>> + Send + 'static {
    let (sender, pieces) = mpsc::channel(EXPORT_CHUNKS_WAITING_MAX);
    tokio::task::spawn_blocking(move || {
        let mut out = BufWriter::with_capacity(EXPORT_CHUNK_BYTES, Chunks(sender.clone()));
        let written = write(&mut out).and_then(|()| out.flush().map_err(|error| crate::failure::io("sending an export", &error)));
        match written {
            Ok(()) => drop(sender.blocking_send(Piece::End)),
            Err(_) if sender.is_closed() => tracing::debug!("whoever took an export went away"),
            Err(failure) => tracing::error!(%failure, "an export broke off"),
        }
    });
    Receiving { pieces, ended: false }
}

/// What goes from whoever writes to whoever sends.
enum Piece {
    Chunk(Vec<u8>),
    /// All has been written. Without it a channel that closes has broken off: of a panic nothing else tells.
    End,
}

struct Chunks(mpsc::Sender<Piece>);

impl Write for Chunks {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        // One large write is several chunks, or it would be held whole.
        let bytes = &bytes[..bytes.len().min(EXPORT_CHUNK_BYTES)];
        let sent = self.0.blocking_send(Piece::Chunk(bytes.to_vec()));
        sent.map_err(|_| io::Error::from(io::ErrorKind::BrokenPipe))?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

struct Receiving {
    pieces: mpsc::Receiver<Piece>,
    ended: bool,
}

impl Stream for Receiving {
    type Item = Result<Vec<u8>, io::Error>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        if self.ended {
            return Poll::Ready(None);
        }
        let piece = ready!(self.pieces.poll_recv(context));
        self.ended = !matches!(piece, Some(Piece::Chunk(_)));
        Poll::Ready(match piece {
            Some(Piece::Chunk(bytes)) => Some(Ok(bytes)),
            Some(Piece::End) => None,
            None => Some(Err(io::Error::other("the export broke off"))),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::pin::pin;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    async fn next(stream: &mut Pin<&mut impl Stream<Item = Result<Vec<u8>, io::Error>>>) -> Option<Result<Vec<u8>, io::Error>> {
        std::future::poll_fn(|context| stream.as_mut().poll_next(context)).await
    }

    /// Everything that comes, and whether it came to its end.
    async fn all(stream: impl Stream<Item = Result<Vec<u8>, io::Error>>) -> (Vec<u8>, bool) {
        let (mut stream, mut bytes) = (pin!(stream), Vec::new());
        loop {
            match next(&mut stream).await {
                Some(Ok(chunk)) => bytes.extend(chunk),
                Some(Err(_)) => {
                    assert!(next(&mut stream).await.is_none(), "after the error there is nothing");
                    return (bytes, false);
                }
                None => return (bytes, true),
            }
        }
    }

    fn say(out: &mut dyn Write, words: &str) -> Result<(), Failure> {
        out.write_all(words.as_bytes()).map_err(|error| crate::failure::io("writing", &error))
    }

    #[tokio::test]
    async fn what_is_written_comes_and_ends() {
        assert_eq!(all(produced(|out| say(out, "whole"))).await, (b"whole".to_vec(), true));
        assert_eq!(all(produced(|_| Ok(()))).await, (Vec::new(), true));
    }

    #[tokio::test]
    async fn a_fault_and_a_panic_end_with_an_error() {
        let failing = |out: &mut dyn Write| say(out, "half").and(Err(crate::failure::Broken::new("a fault").into()));
        assert!(!all(produced(failing)).await.1);
        let panicking = |out: &mut dyn Write| {
            say(out, "half")?;
            panic!("a fault of ours, made by a test")
        };
        assert!(!all(produced(panicking)).await.1, "half of it must not pass for the whole");
    }

    /// Memory is bounded by what lies between whoever writes and whoever takes, so that is measured: chunks
    /// that wait, one on its way into the channel and one that is being filled.
    #[tokio::test]
    async fn whoever_writes_is_never_far_ahead_of_whoever_takes() {
        let written = Arc::new(AtomicUsize::new(0));
        let counted = written.clone();
        let endless = move |out: &mut dyn Write| loop {
            say(out, "a line of an export that never ends\n")?;
            counted.fetch_add("a line of an export that never ends\n".len(), Ordering::SeqCst);
        };
        let (mut stream, mut taken) = (pin!(produced(endless)), 0);
        for _ in 0..2 {
            for _ in 0..5 {
                taken += next(&mut stream).await.expect("more").expect("no fault").len();
            }
            let ahead = settled(&written).await - taken;
            assert!(ahead <= (EXPORT_CHUNKS_WAITING_MAX + 2) * EXPORT_CHUNK_BYTES, "{ahead} bytes ahead");
            assert!(ahead >= EXPORT_CHUNKS_WAITING_MAX * EXPORT_CHUNK_BYTES, "it does write ahead: {ahead} bytes");
        }
    }

    /// The count, once it grows no more.
    async fn settled(count: &AtomicUsize) -> usize {
        let mut before = usize::MAX;
        loop {
            let now = count.load(Ordering::SeqCst);
            if now == before {
                return now;
            }
            before = now;
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    }

    #[tokio::test]
    async fn one_large_write_comes_in_chunks() {
        let large = vec![7; 3 * EXPORT_CHUNK_BYTES + 1];
        let mut stream = pin!(produced(move |out| out.write_all(&large).map_err(|error| crate::failure::io("writing", &error))));
        let mut sizes = Vec::new();
        while let Some(chunk) = next(&mut stream).await {
            sizes.push(chunk.expect("no fault").len());
        }
        assert!(sizes.iter().all(|size| *size <= EXPORT_CHUNK_BYTES), "{sizes:?}");
        assert_eq!(sizes.iter().sum::<usize>(), 3 * EXPORT_CHUNK_BYTES + 1);
    }
}
