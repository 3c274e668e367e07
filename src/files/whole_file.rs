//! Whole files: read at once and bounded, or put in the place of another whole or not at all.

use std::fmt;
use std::fs::{self, File};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};

use super::project_file::ReadError;
use crate::plan::validate::Problem;

/// Largest file that is read, bytes: a project of a thousand rows is far smaller.
pub const LARGEST: u64 = 64 << 20;

/// Why a file was not written; the file that was there is as before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WriteError(pub Problem);

impl WriteError {
    pub(super) fn new(place: impl Into<String>, what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self(Problem { place: place.into(), what: what.into(), advice: advice.into() })
    }
}

impl fmt::Display for WriteError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(out)
    }
}

impl std::error::Error for WriteError {}

/// The text of a file of at most [`LARGEST`] bytes.
pub(super) fn read_file(path: &Path) -> Result<String, ReadError> {
    let failed = |error: &io::Error| {
        let advice = match error.kind() {
            io::ErrorKind::NotFound => "check the name and the folder",
            io::ErrorKind::PermissionDenied => {
                "ask for the right to read it, or copy it to a folder of your own"
            }
            _ => "check that it is a file on a disk that can be read",
        };
        ReadError::one("file", format!("it can't be read: {error}"), advice)
    };
    let too_large = || {
        ReadError::one(
            "file",
            format!("it is larger than {} MiB", LARGEST >> 20),
            "choose another file; a project or a table of rows is far smaller",
        )
    };
    let file = File::open(path).map_err(|error| failed(&error))?;
    let known = file.metadata().map_err(|error| failed(&error))?;
    if known.is_dir() {
        return Err(ReadError::one("file", "it is a folder", "choose a file in it"));
    }
    if known.len() > LARGEST {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    file.take(LARGEST + 1).read_to_end(&mut bytes).map_err(|error| failed(&error))?;
    if bytes.len() as u64 > LARGEST {
        return Err(too_large());
    }
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

/// Puts bytes in the place of a file, whole or not at all. Permissions are kept, links are followed.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    stage(path, bytes)?.take_place()
}

/// The same for several files: none is touched before all of them are on the disk under other names.
pub(super) fn write_all_whole(files: &[(PathBuf, Vec<u8>)]) -> Result<(), WriteError> {
    let staged = files.iter().map(|(path, bytes)| stage(path, bytes)).collect::<Result<Vec<_>, _>>()?;
    staged.into_iter().try_for_each(Staged::take_place)
}

fn cannot_write(path: &Path, error: &io::Error) -> WriteError {
    let advice = match error.kind() {
        io::ErrorKind::NotFound => "choose a folder that exists",
        io::ErrorKind::PermissionDenied => "save it under another name in a folder of your own",
        io::ErrorKind::StorageFull => "make room on the disk, or save it on another",
        _ => "save it under another name",
    };
    WriteError::new(path.display().to_string(), format!("it can't be written: {error}"), advice)
}

/// Bytes on the disk that have not taken their place yet; dropped, they go.
struct Staged {
    path: PathBuf,
    target: PathBuf,
    file: tempfile::NamedTempFile,
}

impl Staged {
    fn take_place(self) -> Result<(), WriteError> {
        let Self { path, target, file } = self;
        file.persist(&target).map_err(|error| cannot_write(&path, &error.error))?;
        // So that the new name itself survives a power cut; where a folder can't be synced there is nothing to do.
        #[cfg(unix)]
        let _ = File::open(folder_of(&target)).and_then(|folder| folder.sync_all());
        Ok(())
    }
}

fn folder_of(target: &Path) -> &Path {
    target.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes bytes beside the file whose place they shall take.
fn stage(path: &Path, bytes: &[u8]) -> Result<Staged, WriteError> {
    let failed = |error: &io::Error| cannot_write(path, error);
    let target =
        if path.exists() { fs::canonicalize(path).map_err(|error| failed(&error))? } else { path.to_owned() };
    let permissions = match fs::metadata(&target) {
        Ok(known) if known.is_dir() => {
            return Err(WriteError::new(
                path.display().to_string(),
                "it is a folder",
                "give a file name in it",
            ));
        }
        Ok(known) if known.permissions().readonly() => {
            return Err(WriteError::new(
                path.display().to_string(),
                "it is write-protected",
                "save it under another name",
            ));
        }
        Ok(known) => Some(known.permissions()),
        Err(_) => None,
    };
    // Removed by itself when an error leaves this function before it has its name.
    let mut beside = tempfile::Builder::new();
    beside.prefix(".equirow-").suffix(".part");
    #[cfg(unix)]
    beside.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666)); // less the user's mask
    let mut file = beside.tempfile_in(folder_of(&target)).map_err(|error| failed(&error))?;
    file.write_all(bytes).map_err(|error| failed(&error))?;
    if let Some(permissions) = permissions {
        file.as_file().set_permissions(permissions).map_err(|error| failed(&error))?;
    }
    file.as_file().sync_all().map_err(|error| failed(&error))?;
    Ok(Staged { path: path.to_owned(), target, file })
}
