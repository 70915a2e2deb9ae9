//! The job file on the disk: locked while the job runs, added to and never changed, on the disk before anything is said.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Largest job file, in bytes: what could not be read again is not written.
const LARGEST: u64 = crate::document::LARGEST as u64;

/// How often a file that was taken away meanwhile is opened anew.
const TRIES: usize = 3;

/// A job file that this process holds.
pub(super) struct Journal {
    file: File,
    path: PathBuf,
    /// Bytes that are whole and on the disk.
    len: u64,
    /// Records that are not.
    pending: String,
    /// Bytes of a write that failed may stand behind `len`.
    ragged: bool,
    /// This process made the file.
    new: bool,
}

/// Why a job file cannot be used.
pub(super) enum Refused {
    /// Another process holds it.
    Locked,
    /// The system says why.
    Failed(io::Error),
}

impl Journal {
    /// Opens or makes a job file and locks it; with what stands in it. The lock goes with the process, however that ends.
    pub(super) fn open(path: &Path) -> Result<(Self, Vec<u8>), Refused> {
        for _ in 0..TRIES {
            let new = !path.exists();
            let file = OpenOptions::new().read(true).append(true).create(true).open(path);
            let held = Self::hold(file.map_err(Refused::Failed)?, path.to_owned(), new)?;
            // Another process may have taken its empty file away before the lock was ours.
            if path.exists() {
                return Ok(held);
            }
        }
        Err(Refused::Locked)
    }

    /// Makes a job file that was not there.
    pub(super) fn create(path: &Path) -> Result<Self, Refused> {
        let file = OpenOptions::new().read(true).append(true).create_new(true).open(path);
        Self::hold(file.map_err(Refused::Failed)?, path.to_owned(), true).map(|(journal, _)| journal)
    }

    fn hold(mut file: File, path: PathBuf, new: bool) -> Result<(Self, Vec<u8>), Refused> {
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Err(Refused::Locked),
            // A file system without locks still keeps a job.
            Err(TryLockError::Error(error)) if error.kind() == io::ErrorKind::Unsupported => {}
            Err(TryLockError::Error(error)) => return Err(Refused::Failed(error)),
        }
        let about = file.metadata().map_err(Refused::Failed)?;
        if !about.is_file() {
            return Err(Refused::Failed(io::Error::other("this is no file that can be added to")));
        }
        if about.len() > LARGEST {
            return Err(Refused::Failed(io::ErrorKind::FileTooLarge.into()));
        }
        let mut bytes = Vec::new();
        let read = file.seek(SeekFrom::Start(0)).and_then(|_| file.read_to_end(&mut bytes));
        read.map_err(Refused::Failed)?;
        let len = bytes.len() as u64;
        Ok((Self { file, path, len, pending: String::new(), ragged: false, new }, bytes))
    }

    /// The file.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Records that are not on the disk.
    pub(super) fn unsaved(&self) -> usize {
        self.pending.lines().count()
    }

    /// Cuts a torn end off: what is whole ends at this byte.
    pub(super) fn cut(&mut self, whole: usize) -> io::Result<()> {
        self.len = whole as u64;
        self.ragged = true;
        self.mend()
    }

    /// Adds a line to what is to be saved.
    pub(super) fn add(&mut self, line: &str) {
        self.pending.push_str(line);
    }

    /// Brings all that was added onto the disk, or nothing of it.
    pub(super) fn save(&mut self) -> io::Result<()> {
        if self.pending.is_empty() {
            return Ok(());
        }
        self.mend()?;
        let size = self.pending.len() as u64;
        if self.len.saturating_add(size) > LARGEST {
            return Err(io::ErrorKind::FileTooLarge.into());
        }
        self.ragged = true;
        let written = self.file.write_all(self.pending.as_bytes()).and_then(|()| self.file.sync_data());
        if let Err(error) = written {
            // Half a line must not stand before the next one. Where this fails too it is tried again before the next write.
            let _ = self.mend();
            return Err(error);
        }
        if self.len == 0 {
            self.sync_folder();
        }
        self.ragged = false;
        self.len = self.len.saturating_add(size);
        self.pending.clear();
        Ok(())
    }

    /// Takes away what a failed write left behind.
    fn mend(&mut self) -> io::Result<()> {
        if self.ragged {
            self.file.set_len(self.len)?;
            self.ragged = false;
        }
        Ok(())
    }

    /// A new file is only there for good when its folder is on the disk. Some systems cannot do that to a folder; the file's
    /// own text is on the disk in any case.
    fn sync_folder(&self) {
        let folder = self.path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let _ = File::open(folder).and_then(|folder| folder.sync_all());
    }

    /// Takes a file away again that this process made and in which nobody has written anything yet.
    pub(super) fn discard(self) {
        if self.new {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}
