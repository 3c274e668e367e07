//! Whole files: put in the place of another whole or not at all.
//!
//! A file is written beside the one whose place it takes, flushed to the disk, renamed, and its folder flushed. While
//! it is written the file beside is held by a lock of the system, which ends with the program however that ends: one
//! whose lock is free was abandoned, and is removed at the next save into that folder.

use std::fs::{self, File, Metadata};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::attributes::take_after;
use super::reading::{no_file, without_waiting};
use super::unfinished::{beside, name_of_ours, remove_abandoned};
use super::written::{NotKept, Notes, WriteError};

/// Most symbolic links that are followed to a file that is not there yet; as many as the system itself follows.
#[cfg(unix)]
const MOST_LINKS: usize = 40;

/// Puts bytes in the place of a file, whole or not at all. Links are followed; permissions, access lists, extended
/// attributes, owner and group are kept, or the notes say what could not be. Only files: a pipe or a device can't be
/// replaced, and one that is standard output is no place for a file that has to be whole.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<Notes, WriteError> {
    stage(path, bytes)?.take_place()
}

/// Gives several files their places, all or none: if one can't take its place after all, those before it give theirs
/// back. `may` is asked before each, by its number, and says whether its place must still be free.
pub(super) fn place_all(
    staged: Vec<Staged>,
    mut may: impl FnMut(usize) -> Result<Taking, WriteError>,
) -> Result<Notes, WriteError> {
    let several = staged.len() > 1;
    let mut all = Notes::default();
    let mut placed = Vec::new();
    for (number, mut one) in staged.into_iter().enumerate() {
        let before = several.then(|| Before::of(&mut one));
        match may(number).and_then(|taking| one.take_as(taking)) {
            Ok(notes) => {
                all.0.extend(notes.0);
                placed.extend(before);
            }
            Err(mut error) => {
                let stay: Vec<String> = placed.into_iter().rev().filter_map(Before::restore).collect();
                if !stay.is_empty() {
                    error.0.what =
                        format!("{}, but before that {} took its place", error.0.what, stay.join(" and "));
                }
                return Err(error);
            }
        }
    }
    Ok(all)
}

/// What was in the place of a file, until all files that are written together have theirs.
struct Before {
    target: PathBuf,
    /// The file that was there under another name; it goes when this is dropped. None where there was no file.
    link: Option<io::Result<tempfile::NamedTempFile<()>>>,
    /// Held by a lock meanwhile, so that nobody takes the other name for abandoned.
    _held: Option<File>,
}

impl Before {
    fn of(staged: &mut Staged) -> Self {
        let target = staged.target.clone();
        let held = staged.old.take();
        let link = held.as_ref().map(|old| {
            // Without a lock it is only less safe.
            let _ = old.try_lock();
            name_of_ours().make_in(folder_of(&target), |name| fs::hard_link(&target, name))
        });
        Self { target, link, _held: held }
    }

    /// Gives the place back; its name where that can't be done.
    fn restore(self) -> Option<String> {
        let restored = match self.link {
            None => fs::remove_file(&self.target).is_ok(),
            Some(Ok(link)) => link.persist(&self.target).is_ok(),
            // A disk without hard links.
            Some(Err(_)) => false,
        };
        (!restored).then(|| self.target.display().to_string())
    }
}

/// Said of what is there although nothing was when it was looked for.
pub(super) const APPEARED: &str = "it has appeared since it was looked for, and is left as it is";
/// What to try then.
pub(super) const LOOK_AGAIN: &str = "see what it is, and write again";

fn refused(path: &Path, what: &str, advice: &str) -> WriteError {
    WriteError::new(path.display().to_string(), what, advice)
}

pub(super) fn cannot_write(path: &Path, error: &io::Error) -> WriteError {
    use io::ErrorKind as Kind;
    let other = error.to_string();
    let (what, advice) = match error.kind() {
        Kind::NotFound => ("its folder is not there", "choose a folder that exists"),
        Kind::NotADirectory => ("a folder of its path is a file", "choose a folder that exists"),
        Kind::PermissionDenied => {
            ("you have no right to", "save it under another name in a folder of your own")
        }
        Kind::ReadOnlyFilesystem => ("the disk is read-only", "save it on another disk"),
        Kind::StorageFull => ("the disk is full", "make room on the disk, or save it on another"),
        Kind::QuotaExceeded => {
            ("your share of the disk is used up", "make room on the disk, or save it on another")
        }
        Kind::InvalidFilename => {
            ("its name is too long for this disk, or has a letter it can't hold", "give a shorter name")
        }
        _ => (other.as_str(), "save it under another name"),
    };
    refused(path, &format!("it can't be written: {what}"), advice)
}

/// How a file takes its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Taking {
    /// What is there goes.
    Replace,
    /// Only if nothing is there.
    IfFree,
}

/// Bytes on the disk that have not taken their place yet; dropped, they go.
pub(super) struct Staged {
    path: PathBuf,
    target: PathBuf,
    file: tempfile::NamedTempFile,
    /// The file whose place it shall take, if there is one.
    old: Option<File>,
    notes: Vec<NotKept>,
}

impl Staged {
    fn take_place(self) -> Result<Notes, WriteError> {
        self.take_as(Taking::Replace)
    }

    fn take_as(self, taking: Taking) -> Result<Notes, WriteError> {
        let Self { path, target, file, mut notes, .. } = self;
        // Not every file system can take a name only if it is free; there it was looked at just before.
        let rest = match taking {
            Taking::Replace => Some(file),
            Taking::IfFree => match file.persist_noclobber(&target) {
                Ok(_) => None,
                Err(error) if error.error.kind() == io::ErrorKind::AlreadyExists || target.exists() => {
                    return Err(refused(&path, APPEARED, LOOK_AGAIN));
                }
                Err(error) => Some(error.file),
            },
        };
        if let Some(file) = rest {
            file.persist(&target).map_err(|error| cannot_write(&path, &error.error))?;
        }
        // So that the new name itself survives a power cut.
        #[cfg(unix)]
        if let Err(error) = File::open(folder_of(&target)).and_then(|folder| folder.sync_all()) {
            use io::ErrorKind as Kind;
            // Where a folder can't be opened or can't be flushed, nobody can do anything about it.
            let never = [Kind::PermissionDenied, Kind::InvalidInput, Kind::Unsupported];
            if !never.contains(&error.kind()) {
                notes.push(NotKept::Confirmation(error.to_string()));
            }
        }
        Ok(Notes(notes.into_iter().map(|note| (path.clone(), note)).collect()))
    }
}

pub(super) fn folder_of(target: &Path) -> &Path {
    target.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes bytes beside the file whose place they shall take.
pub(super) fn stage(path: &Path, bytes: &[u8]) -> Result<Staged, WriteError> {
    let failed = |error: io::Error| cannot_write(path, &error);
    let (target, old) = target_of(path)?;
    let folder = folder_of(&target);
    let file = beside(folder, old.is_some()).map_err(failed)?;
    // Room that abandoned files take on a full disk is free before the bytes are written.
    remove_abandoned(folder, file.as_file());
    // Rights come before the first byte: nobody may read for a moment what is private.
    let notes = match &old {
        Some(old) => take_after(file.as_file(), old).map_err(failed)?,
        None => Vec::new(),
    };
    file.as_file().write_all(bytes).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    Ok(Staged { path: path.to_owned(), target, file, old, notes })
}

/// Where a path leads to, and the file that is there, if any: opened for writing, which proves the right to write it,
/// and never changed.
fn target_of(path: &Path) -> Result<(PathBuf, Option<File>), WriteError> {
    let failed = |error: io::Error| cannot_write(path, &error);
    let known = match fs::metadata(path) {
        Ok(known) => known,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok((place_of(path)?, None)),
        Err(error) => return Err(failed(error)),
    };
    let check = |known: &Metadata| match no_file(known) {
        Some(what) if known.is_dir() => Err(refused(path, what, "give a file name in it")),
        Some(what) => Err(refused(path, what, "give the name of a file")),
        None if known.permissions().readonly() => {
            Err(refused(path, "it is write-protected", "save it under another name"))
        }
        None => Ok(()),
    };
    check(&known)?;
    let target = fs::canonicalize(path).map_err(failed)?;
    let old = without_waiting().write(true).open(&target).map_err(failed)?;
    check(&old.metadata().map_err(failed)?)?;
    Ok((target, Some(old)))
}

/// Where a file that is not there yet is to be made: what a symbolic link names, which stays a link.
fn place_of(path: &Path) -> Result<PathBuf, WriteError> {
    let names_a_file =
        path.file_name().is_some() && !path.to_string_lossy().ends_with(std::path::is_separator);
    if !names_a_file {
        return Err(refused(path, "it is not the name of a file", "give a file name"));
    }
    let mut place = path.to_owned();
    #[cfg(unix)]
    for _ in 0..MOST_LINKS {
        let Ok(link) = fs::read_link(&place) else { break };
        place = folder_of(&place).join(link);
    }
    if place != path && !folder_of(&place).is_dir() {
        return Err(refused(
            path,
            &format!("it is a link to {}, whose folder is not there", place.display()),
            "make the folder, or save it under another name",
        ));
    }
    Ok(place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_that_are_written_together_give_their_places_back() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("old"), "before").unwrap();
        let staged = ["old", "new", "last"].map(|name| stage(&at(name), b"after").unwrap());
        // Between the look and the rename something else takes the place of the last one.
        fs::create_dir_all(at("last/inside")).unwrap();
        let error = place_all(staged.into(), |_| Ok(Taking::Replace)).unwrap_err().to_string();
        assert!(error.starts_with(&at("last").display().to_string()), "{error}");
        assert!(!error.contains("took its place"), "{error}");
        assert_eq!(fs::read_to_string(at("old")).unwrap(), "before");
        let mut names: Vec<_> =
            fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        assert_eq!(names, ["last", "old"]);
    }

    #[test]
    fn several_files_take_their_places_and_leave_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let files = ["a", "b", "c"].map(|name| (folder.path().join(name), name.as_bytes().to_vec()));
        for _ in 0..2 {
            let staged = files.iter().map(|(path, bytes)| stage(path, bytes).unwrap()).collect();
            assert!(place_all(staged, |_| Ok(Taking::Replace)).unwrap().is_empty());
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
        }
        assert_eq!(fs::read_to_string(&files[2].0).unwrap(), "c");
    }
}
