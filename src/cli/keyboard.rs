//! Lines of standard input, and Ctrl-C beside them.
//!
//! A terminal that redraws its line gives Ctrl-C as a key; everywhere else, and while the engine computes, it is a signal. Where
//! a line is waited for it ends the wait, so that the person can be asked; where nothing can be asked it is noted, and the next
//! prompt asks. Pressed once more before that, it leaves at once: every answer is on the disk by then. It deliberately knows no
//! job.

use crate::show::text::wrapped;
use std::io::{self, BufRead, IsTerminal, Write};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, MutexGuard, Once, OnceLock, PoisonError};

/// What came of waiting for a line.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Heard {
    /// A line, as its bytes.
    Line(Vec<u8>),
    /// No more input.
    End,
    /// Ctrl-C.
    Interrupted,
}

/// What Ctrl-C does now.
struct Watch {
    /// Somebody waits for a line, and is told here.
    waits: Option<Sender<Heard>>,
    /// It was pressed where nothing could be asked.
    noted: bool,
}

static WATCH: Mutex<Watch> = Mutex::new(Watch { waits: None, noted: false });

/// The one reader of standard input. It reads a line when one is wanted, not before: what is typed ahead stays with the terminal.
struct Reader {
    wanted: Sender<()>,
    heard: Receiver<Heard>,
    sender: Sender<Heard>,
    /// A line was wanted and has not come: Ctrl-C came first.
    owes: bool,
}

static READER: OnceLock<Option<Mutex<Reader>>> = OnceLock::new();

/// The exit code of a program that Ctrl-C has ended, as shells have it: 128 and the number of the signal.
const INTERRUPTED: i32 = 130;

/// From here on Ctrl-C asks before it leaves, where there is somebody to ask. Where it cannot be had, or somebody has it ignored,
/// it stays what it was.
pub(super) fn heed() {
    static ONCE: Once = Once::new();
    if io::stdin().is_terminal() {
        ONCE.call_once(|| {
            let _ = ctrlc::try_set_handler(pressed);
        });
    }
}

/// Whether Ctrl-C was pressed since the last prompt, where nothing could be asked. The question takes it away.
pub(super) fn was_pressed() -> bool {
    std::mem::take(&mut watch().noted)
}

/// Waits for a line, or for Ctrl-C.
pub(super) fn line() -> Heard {
    let reader = READER.get_or_init(|| Reader::new().ok().map(Mutex::new));
    let Some(reader) = reader else { return Heard::End };
    held(reader).next()
}

impl Reader {
    fn new() -> io::Result<Self> {
        let (wanted, wants) = channel();
        let (sender, heard) = channel();
        let tell = sender.clone();
        let read = move || {
            while wants.recv().is_ok() {
                if tell.send(read_line()).is_err() {
                    break;
                }
            }
        };
        std::thread::Builder::new().spawn(read)?;
        Ok(Self { wanted, heard, sender, owes: false })
    }

    fn next(&mut self) -> Heard {
        if !self.owes && self.wanted.send(()).is_err() {
            return Heard::End;
        }
        self.owes = true;
        {
            let mut watch = watch();
            if std::mem::take(&mut watch.noted) {
                return Heard::Interrupted;
            }
            watch.waits = Some(self.sender.clone());
        }
        let heard = self.heard.recv().unwrap_or(Heard::End);
        // A Ctrl-C that comes just behind the line is not lost: nobody waits any more, so that it is noted.
        watch().waits = None;
        self.owes = heard == Heard::Interrupted;
        heard
    }
}

fn read_line() -> Heard {
    let mut line = Vec::new();
    match io::stdin().lock().read_until(b'\n', &mut line) {
        Ok(0) | Err(_) => Heard::End,
        Ok(_) => Heard::Line(line),
    }
}

/// Ctrl-C, in a thread of its own.
fn pressed() {
    let mut watch = watch();
    if let Some(waits) = watch.waits.take()
        && waits.send(Heard::Interrupted).is_ok()
    {
        return;
    }
    if watch.noted {
        std::process::exit(INTERRUPTED);
    }
    watch.noted = true;
    let text = wrapped("It is still working. The next prompt asks whether to leave; Ctrl-C once more leaves at once.");
    // A closed standard error must not end the job.
    let _ = write!(io::stderr().lock(), "\n{text}");
}

fn watch() -> MutexGuard<'static, Watch> {
    held(&WATCH)
}

/// A thread that has panicked leaves nothing half done here.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
