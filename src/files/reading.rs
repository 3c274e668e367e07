//! Files opened without waiting, and read with a bound.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read as _};
use std::path::Path;

use super::read_error::ReadError;
use crate::plan::problems::Problem;

/// What something is that is no file, if it is none.
pub(super) fn no_file(known: &Metadata) -> Option<&'static str> {
    let kind = known.file_type();
    if kind.is_file() {
        return None;
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt as _;
        if kind.is_fifo() {
            return Some("it is a pipe, not a file");
        }
        if kind.is_socket() {
            return Some("it is a socket, not a file");
        }
        if kind.is_char_device() || kind.is_block_device() {
            return Some("it is a device, not a file");
        }
    }
    Some(if kind.is_dir() { "it is a folder" } else { "it is not a file" })
}

/// Options that never wait: between a look at a name and its opening a pipe may have taken the file's place.
pub(super) fn without_waiting() -> OpenOptions {
    #[cfg_attr(not(unix), expect(unused_mut, reason = "only Unix has pipes among the files"))]
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    {
        use rustix::fs::OFlags;
        use std::os::unix::fs::OpenOptionsExt as _;
        options.custom_flags((OFlags::NONBLOCK | OFlags::NOCTTY).bits().cast_signed());
    }
    options
}

/// Opens a file of at most so many bytes for reading. Folders, pipes, devices and sockets are refused at once.
pub(super) fn open_to_read(path: &Path, largest: u64) -> Result<File, Problem> {
    let problem = |what: &str, advice: &str| Problem {
        place: "file".to_owned(),
        what: what.to_owned(),
        advice: advice.to_owned(),
    };
    let failed = |error: io::Error| cannot_read(&error);
    let check = |known: &Metadata| match no_file(known) {
        Some(what) if known.is_dir() => Err(problem(what, "choose a file in it")),
        Some(what) => Err(problem(what, "save what it gives as a file, and choose that")),
        None if known.len() > largest => Err(too_large(largest)),
        None => Ok(()),
    };
    check(&fs::metadata(path).map_err(failed)?)?;
    let file = without_waiting().read(true).open(path).map_err(failed)?;
    check(&file.metadata().map_err(failed)?)?;
    Ok(file)
}

/// The bytes of a file, at most so many.
pub(super) fn read_bytes(path: &Path, largest: u64) -> Result<Vec<u8>, Problem> {
    let file = open_to_read(path, largest)?;
    let mut bytes = Vec::new();
    file.take(largest + 1).read_to_end(&mut bytes).map_err(|error| cannot_read(&error))?;
    if bytes.len() as u64 > largest { Err(too_large(largest)) } else { Ok(bytes) }
}

pub(super) fn too_large(largest: u64) -> Problem {
    Problem {
        place: "file".to_owned(),
        what: format!("it is {}", larger_than(largest)),
        advice: "choose another file; a project, a table of rows or a network is far smaller".to_owned(),
    }
}

pub(super) fn cannot_read(error: &io::Error) -> Problem {
    use io::ErrorKind as Kind;
    let other = error.to_string();
    let (what, advice) = match error.kind() {
        Kind::NotFound => ("it is not there", "check the name and the folder"),
        Kind::NotADirectory => ("a folder of its path is a file", "check the name and the folder"),
        Kind::PermissionDenied => {
            ("you have no right to", "ask for the right to read it, or copy it to a folder of your own")
        }
        Kind::InvalidFilename => ("its name is too long for a file", "check the name and the folder"),
        _ => (other.as_str(), "check that it is a file on a disk that can be read"),
    };
    Problem { place: "file".to_owned(), what: format!("it can't be read: {what}"), advice: advice.to_owned() }
}

/// How a file is that is larger than so many bytes.
pub(super) fn larger_than(largest: u64) -> String {
    format!("larger than {} MiB", largest >> 20)
}

/// The text of a file of at most so many bytes.
pub(super) fn read_file(path: &Path, largest: u64) -> Result<String, ReadError> {
    let bytes =
        read_bytes(path, largest).map_err(|problem| ReadError { file: None, problems: problem.into() })?;
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..good].split(|byte| *byte == b'\n').count();
        ReadError::one(
            format!("line {line}"),
            "it is not UTF-8 text",
            "choose a file that was saved as UTF-8 text",
        )
    })
}
