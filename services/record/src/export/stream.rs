//! A folder as a tar, sent while it is being packed.

use super::Scratch;
use futures_core::Stream;
use selachron_schemas::limits::{EXPORT_CHUNK_BYTES, EXPORT_CHUNKS_WAITING_MAX};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::sync::mpsc;

type Chunk = Result<Vec<u8>, io::Error>;

/// The tar of a folder, chunk by chunk. The folder is removed when the last chunk was taken, or
/// when nobody listens any more.
pub fn tar(folder: Scratch) -> impl Stream<Item = Chunk> + Send + 'static {
    produced(move |out| pack(folder.path(), out))
}

/// One file of a folder, chunk by chunk; the folder goes as that of [`tar()`] does.
pub fn file(folder: Scratch, name: &'static str) -> impl Stream<Item = Chunk> + Send + 'static {
    produced(move |mut out| {
        io::copy(&mut File::open(folder.path().join(name))?, &mut out)?;
        out.flush()
    })
}

/// What `write` writes, chunk by chunk, as fast as it is taken: so much is held at once, however long
/// it becomes.
pub fn produced(write: impl FnOnce(&mut dyn Write) -> io::Result<()> + Send + 'static) -> impl Stream<Item = Chunk> + Send + 'static {
    let (sender, chunks) = mpsc::channel(EXPORT_CHUNKS_WAITING_MAX);
    tokio::task::spawn_blocking(move || {
        let mut out = BufWriter::with_capacity(EXPORT_CHUNK_BYTES, Chunks(sender.clone()));
        if let Err(error) = write(&mut out).and_then(|()| out.flush()) {
            // The stream ends with an error, so that nobody takes half of it for the whole.
            let _ = sender.blocking_send(Err(error));
        }
    });
    Receiving(chunks)
}

/// Packs the files of `folder` in the order of their names, with nothing in the headers that
/// depends on when or by whom.
fn pack(folder: &Path, out: impl Write) -> io::Result<()> {
    let mut tar = tar::Builder::new(out);
    tar.mode(tar::HeaderMode::Deterministic);
    for name in files(folder, Path::new(""))? {
        tar.append_file(&name, &mut File::open(folder.join(&name))?)?;
    }
    tar.into_inner()?.flush()
}

fn files(folder: &Path, under: &Path) -> io::Result<Vec<std::path::PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder.join(under))? {
        let entry = entry?;
        let name = under.join(entry.file_name());
        if entry.file_type()?.is_dir() {
            found.extend(files(folder, &name)?);
        } else {
            found.push(name);
        }
    }
    found.sort();
    Ok(found)
}

struct Chunks(mpsc::Sender<Chunk>);

impl Write for Chunks {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let sent = self.0.blocking_send(Ok(bytes.to_vec()));
        sent.map_err(|_| io::Error::from(io::ErrorKind::BrokenPipe))?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

struct Receiving(mpsc::Receiver<Chunk>);

impl Stream for Receiving {
    type Item = Chunk;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Chunk>> {
        self.0.poll_recv(context)
    }
}
