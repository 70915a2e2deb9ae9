//! `halfsplit history`: the job files of a folder, of most of which the end alone is read.

use super::Ending;
use super::args::{Diagnose, History};
use super::output::Output;
use crate::job::past::{self, Past};
use crate::job::record::whole_lines;
use crate::knowledge::Knowledge;
use crate::show;
use crate::suspects::Learnt;
use std::fs::{self, File};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

/// Bytes that are read off the end of a file first: a closing record has some hundreds.
const TAIL: u64 = 8 * 1024;
/// Bytes by which a job file is known.
const HEAD: u64 = 8;
/// Largest job file that is read as a whole, in bytes.
const LARGEST: u64 = crate::document::LARGEST as u64;
/// Folders inside folders that are looked into.
const DEEPEST: usize = 16;

pub(super) fn run(args: &History, output: &mut Output) -> Ending {
    let past = match gather(&args.folder) {
        Ok(past) => past,
        Err(message) => {
            output.say(&format!("error: {message}"));
            return Ending::BadInput;
        }
    };
    if output.is_json() {
        output.json(&show::history::json(&past, &args.folder.display().to_string()));
    } else {
        output.print(&show::history::report(&past, &Knowledge::built_in()));
    }
    Ending::Good
}

/// What the jobs of the folder that the arguments name teach, beside the weights of the knowledge base.
///
/// # Errors
/// The folder cannot be read, which has been said.
pub(super) fn learnt(args: &Diagnose, knowledge: &Knowledge, output: &Output) -> Result<Option<Learnt>, Ending> {
    let Some(folder) = &args.history else { return Ok(None) };
    match gather(folder) {
        Ok(past) => Ok(Some(past.learnt(knowledge.tolerances.history_strength))),
        Err(message) => {
            output.say(&format!("error: {message}"));
            Err(Ending::BadInput)
        }
    }
}

/// All jobs of a folder and the folders in it.
///
/// # Errors
/// That the folder itself cannot be read.
fn gather(folder: &Path) -> Result<Past, String> {
    let mut past = Past::default();
    let entries = fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    look_into(entries, folder, DEEPEST, &mut past);
    Ok(past)
}

/// Hidden files are left alone, and links are not followed: they may lead anywhere, or in a circle.
fn look_into(entries: fs::ReadDir, root: &Path, deeper: usize, past: &mut Past) {
    let mut all: Vec<_> = entries.filter_map(Result::ok).collect();
    all.sort_by_key(fs::DirEntry::file_name);
    for entry in all.into_iter().filter(|e| !e.file_name().as_encoded_bytes().starts_with(b".")) {
        let path = entry.path();
        let name = path.strip_prefix(root).unwrap_or(&path).display().to_string();
        let found = match entry.file_type() {
            Ok(kind) if kind.is_dir() && deeper == 0 => Err("too many folders inside one another".to_owned()),
            Ok(kind) if kind.is_dir() => match fs::read_dir(&path) {
                Ok(inner) => {
                    look_into(inner, root, deeper - 1, past);
                    continue;
                }
                Err(error) => Err(error.to_string()),
            },
            Ok(kind) if kind.is_file() => end_of(&path),
            Ok(_) => Err("no plain file".to_owned()),
            Err(error) => Err(error.to_string()),
        };
        match found {
            Ok(ending) => past.add(name, ending),
            Err(why) => past.skipped.push((name, why)),
        }
    }
}

/// How a job file ends.
fn end_of(path: &Path) -> Result<past::Ending, String> {
    let says = |error: io::Error| error.to_string();
    let mut file = File::open(path).map_err(says)?;
    let size = file.metadata().map_err(says)?.len();
    if size == 0 {
        return Err("empty".to_owned());
    }
    let head = part(&mut file, 0, HEAD).map_err(says)?;
    if whole_lines(&head).is_none() {
        return Err("no job file".to_owned());
    }
    let tail = part(&mut file, size.saturating_sub(TAIL), TAIL).map_err(says)?;
    if let Some(ending) = past::ending(&tail)? {
        return Ok(ending);
    }
    if size > LARGEST {
        return Err("too large to be read as a whole".to_owned());
    }
    past::whole(&part(&mut file, 0, LARGEST).map_err(says)?)
}

fn part(file: &mut File, from: u64, most: u64) -> io::Result<Vec<u8>> {
    file.seek(SeekFrom::Start(from))?;
    let mut bytes = Vec::new();
    file.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}
