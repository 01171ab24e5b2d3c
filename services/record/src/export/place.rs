//! Where the files of an export go, one after the other: into a folder, or into a tar that is sent while
//! it is made.

use super::Scratch;
use crate::failure::{Failure, io};
use selachron_schemas::limits::EXPORT_CHUNK_BYTES;
use std::cell::Cell;
use std::fs::{self, File};
use std::io::{BufWriter, Read, Seek as _, Write};
use std::path::Path;
use std::rc::Rc;

/// What writes a file.
pub type Writing<'w> = &'w mut dyn FnMut(&mut dyn Write) -> Result<(), Failure>;

/// See the module.
pub trait Place {
    /// A file that is whole already. Whatever is small goes this way and first, so that whoever waits
    /// soon has something.
    ///
    /// # Errors
    /// It cannot be made or written, or is there already.
    fn put(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        self.written(name, &mut |out| out.write_all(bytes).map_err(|error| io(format!("writing {name}"), &error)))
    }

    /// A file that `write` writes.
    ///
    /// # Errors
    /// As [`Self::put`], or what `write` returns.
    fn written(&mut self, name: &str, write: Writing<'_>) -> Result<(), Failure>;
}

/// A folder, which is there.
pub struct Folder<'f>(pub &'f Path);

impl Place for Folder<'_> {
    fn written(&mut self, name: &str, write: Writing<'_>) -> Result<(), Failure> {
        let path = self.0.join(name);
        let made = path.parent().map_or(Ok(()), fs::create_dir_all).and_then(|()| File::create_new(&path));
        let mut file = BufWriter::new(made.map_err(|error| io(format!("making {name}"), &error))?);
        write(&mut file)?;
        file.flush().map_err(|error| io(format!("writing {name}"), &error))
    }
}

/// What lies beneath an archive that is sent while it is made. Whatever writes an archive writes its end mark also
/// when it is dropped in the middle, by a fault or a panic, and half an archive would pass for a whole one; so
/// nothing is sent any more once the [`Stop`] of this is gone, or once something could not be sent.
pub struct UntilStopped<'o> {
    out: &'o mut dyn Write,
    stopped: Rc<Cell<bool>>,
}

/// Stops what it belongs to when it is dropped: it must go before what writes the archive does.
pub struct Stop(Rc<Cell<bool>>);

impl<'o> UntilStopped<'o> {
    /// Lets everything through to `out`, as long as there is the other.
    #[must_use]
    pub fn new(out: &'o mut dyn Write) -> (Self, Stop) {
        let stopped = Rc::new(Cell::new(false));
        (Self { out, stopped: stopped.clone() }, Stop(stopped))
    }
}

impl Drop for Stop {
    fn drop(&mut self) {
        self.0.set(true);
    }
}

impl Write for UntilStopped<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if self.stopped.get() {
            return Ok(bytes.len());
        }
        self.out.write(bytes).inspect_err(|_| self.stopped.set(true))
    }

    fn flush(&mut self) -> std::io::Result<()> {
        if self.stopped.get() { Ok(()) } else { self.out.flush() }
    }
}

/// A tar. It says how long a file is before the file begins, so what is not whole already is written
/// beside first, into one file that serves them all in turn: never more than the longest of them takes
/// room on the disk. Nothing in a header depends on when or by whom.
pub struct Tar<'o> {
    // Stands before the tar, for fields are dropped in their order.
    _stop: Stop,
    tar: tar::Builder<UntilStopped<'o>>,
    beside: File,
    // Gone with this value, whatever became of it.
    _scratch: Scratch,
}

impl<'o> Tar<'o> {
    /// A tar that goes to `out`; what is written beside lies under `scratch`.
    ///
    /// # Errors
    /// The file beside cannot be made.
    pub fn begun(out: &'o mut dyn Write, scratch: &Path) -> Result<Self, Failure> {
        let scratch = Scratch::filled(scratch, |_| Ok(()))?;
        let beside = File::options().read(true).write(true).create_new(true).open(scratch.path().join("next"));
        let beside = beside.map_err(|error| io("making a file for an export", &error))?;
        let (out, stop) = UntilStopped::new(out);
        Ok(Self { _stop: stop, tar: tar::Builder::new(out), beside, _scratch: scratch })
    }

    /// Its end.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn finish(self) -> Result<(), Failure> {
        self.tar.into_inner().and_then(|mut out| out.flush()).map_err(|error| io("ending an archive", &error))
    }

    fn append(&mut self, name: &str, size: u64, content: impl Read) -> std::io::Result<()> {
        let mut header = tar::Header::new_gnu();
        header.set_metadata_in_mode(&self.beside.metadata()?, tar::HeaderMode::Deterministic);
        header.set_size(size);
        self.tar.append_data(&mut header, name, content)
    }

    fn write_beside(&mut self, name: &str, write: Writing<'_>) -> Result<u64, Failure> {
        let failed = |error: std::io::Error| io(format!("writing {name}"), &error);
        self.beside.set_len(0).and_then(|()| self.beside.rewind()).map_err(failed)?;
        let mut out = BufWriter::with_capacity(EXPORT_CHUNK_BYTES, &self.beside);
        write(&mut out)?;
        out.flush().map_err(failed)?;
        drop(out);
        let size = self.beside.stream_position().map_err(failed)?;
        self.beside.rewind().map_err(failed)?;
        Ok(size)
    }
}

impl Place for Tar<'_> {
    fn put(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        self.append(name, bytes.len() as u64, bytes).map_err(|error| io(format!("sending {name}"), &error))
    }

    fn written(&mut self, name: &str, write: Writing<'_>) -> Result<(), Failure> {
        // What is ready goes out before something that may take long.
        self.tar.get_mut().flush().map_err(|error| io("sending an archive", &error))?;
        let size = self.write_beside(name, write)?;
        let beside = self.beside.try_clone().map_err(|error| io(format!("reading {name}"), &error))?;
        self.append(name, size, beside.take(size)).map_err(|error| io(format!("sending {name}"), &error))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(place: &mut dyn Place) -> Result<(), Failure> {
        place.put("small.txt", b"at once")?;
        place.written("of/lines.txt", &mut |out| {
            (0..3).try_for_each(|line| writeln!(out, "{line}")).map_err(|error| io("writing", &error))
        })?;
        place.written("shorter.txt", &mut |out| out.write_all(b"x").map_err(|error| io("writing", &error)))
    }

    fn tar_of(scratch: &Path) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut tar = Tar::begun(&mut bytes, scratch).expect("a tar");
        told(&mut tar).expect("three files");
        tar.finish().expect("an end");
        bytes
    }

    #[test]
    fn a_tar_holds_what_a_folder_would_and_is_the_same_twice() {
        let scratch = tempfile::tempdir().expect("a folder");
        let folder = scratch.path().join("folder");
        fs::create_dir(&folder).expect("a folder");
        told(&mut Folder(&folder)).expect("three files");
        let bytes = tar_of(scratch.path());
        let mut archive = tar::Archive::new(&bytes[..]);
        let mut count = 0;
        for entry in archive.entries().expect("a tar") {
            let mut entry = entry.expect("an entry");
            let path = entry.path().expect("a name").into_owned();
            let mut content = Vec::new();
            entry.read_to_end(&mut content).expect("its content");
            assert_eq!(content, fs::read(folder.join(&path)).expect("a file"), "{}", path.display());
            count += 1;
        }
        assert_eq!(count, 3);
        assert_eq!(tar_of(scratch.path()), bytes, "the same bytes");
        assert_eq!(fs::read_dir(scratch.path()).expect("a folder").count(), 1, "nothing is left beside");
    }

    /// Two files, and a third that `third` writes.
    fn broken_off(out: &mut dyn Write, scratch: &Path, third: Writing<'_>) -> Result<(), Failure> {
        let mut tar = Tar::begun(out, scratch)?;
        tar.put("small.txt", b"at once")?;
        tar.written("lines.txt", &mut |out| out.write_all(b"a line\n").map_err(|error| io("writing", &error)))?;
        tar.written("third.txt", third)?;
        tar.finish()
    }

    /// An archive that breaks off has no end mark, or it would pass for a whole one.
    #[test]
    fn half_a_tar_does_not_end_as_a_whole_one_does() {
        let scratch = tempfile::tempdir().expect("a folder");
        let ends = |bytes: &[u8]| bytes.ends_with(&[0; 1024]);
        let mut whole = Vec::new();
        broken_off(&mut whole, scratch.path(), &mut |_| Ok(())).expect("three files");
        assert!(ends(&whole), "two blocks of zeros end a tar");
        let mut failed = Vec::new();
        let fault = broken_off(&mut failed, scratch.path(), &mut |_| Err(crate::failure::Broken::new("a fault").into()));
        assert!(fault.is_err() && !ends(&failed) && whole.starts_with(&failed), "it ends where it broke off");
        let mut panicked = Vec::new();
        let caught = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            broken_off(&mut panicked, scratch.path(), &mut |_| panic!("a fault of ours, made by a test"))
        }));
        assert!(caught.is_err() && panicked == failed, "nor does one whose writer panics");
        assert_eq!(fs::read_dir(scratch.path()).expect("a folder").count(), 0, "nothing is left beside");
    }

    /// Whoever could not send a part sends nothing after it.
    #[test]
    fn after_what_could_not_be_sent_nothing_is() {
        struct Once(usize);
        impl Write for Once {
            fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
                self.0 += 1;
                if self.0 == 1 { Err(std::io::ErrorKind::BrokenPipe.into()) } else { Ok(bytes.len()) }
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let mut once = Once(0);
        let (mut out, _stop) = UntilStopped::new(&mut once);
        assert!(out.write_all(b"a part").is_err() && out.write_all(b"its end").is_ok());
        assert_eq!(once.0, 1, "the end was not sent");
    }

    /// What is ready is sent before a table that takes long is begun, and only one file lies beside.
    #[test]
    fn what_is_small_goes_out_before_a_table_is_written() {
        struct Sent<'b>(&'b mut Vec<u8>);
        impl Write for Sent<'_> {
            fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
                self.0.extend(bytes);
                Ok(bytes.len())
            }
            fn flush(&mut self) -> std::io::Result<()> {
                self.0.extend(b"flushed");
                Ok(())
            }
        }
        let scratch = tempfile::tempdir().expect("a folder");
        let mut bytes = Vec::new();
        let mut sent = Sent(&mut bytes);
        let mut tar = Tar::begun(&mut sent, scratch.path()).expect("a tar");
        tar.put("datapackage.json", b"{}").expect("a descriptor");
        let refused = tar.written("eggs.csv", &mut |_| Err(crate::failure::Broken::new("a fault").into()));
        assert!(refused.is_err());
        drop(tar);
        assert_eq!(fs::read_dir(scratch.path()).expect("a folder").count(), 0, "nothing is left of one that broke off");
        let flushed = bytes.windows(b"flushed".len()).position(|part| part == b"flushed").expect("it is flushed");
        assert!(bytes[..flushed].windows(2).any(|part| part == b"{}"), "the descriptor went before");
    }
}
