//! Files that are still being written, under names of their own: made, locked, and removed once they were abandoned.

use std::fs::{self, File};
use std::io;
use std::path::Path;
use std::time::Duration;

use super::reading::without_waiting;

/// How the name of a file begins that is still being written.
const PREFIX: &str = ".equirow-";
/// How its name ends.
const SUFFIX: &str = ".part";
/// Letters and digits between them, drawn at random.
const RANDOM: usize = 6;
/// Age after which a file that is still being written is taken for abandoned where the disk knows no locks: no save
/// takes so long.
const ABANDONED_WITHOUT_LOCKS: Duration = Duration::from_hours(24);

/// Names that tell what they are to the next save.
pub(super) fn name_of_ours() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX).rand_bytes(RANDOM);
    builder
}

/// A new empty file in a folder, locked, that goes when it is dropped. One that takes the place of another can be read
/// by nobody else until it has the other's rights; a new one has what the user's mask leaves.
pub(super) fn beside(folder: &Path, replaces: bool) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = name_of_ours();
    #[cfg(unix)]
    {
        let rights = if replaces { 0o600 } else { 0o666 };
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(rights));
    }
    #[cfg(not(unix))]
    let _ = replaces;
    loop {
        let file = builder.tempfile_in(folder)?;
        match file.as_file().try_lock() {
            Ok(()) if is_at(file.as_file(), file.path()) => return Ok(file),
            // Another program took it for abandoned before it was locked.
            Ok(()) | Err(fs::TryLockError::WouldBlock) => {}
            // A disk without locks: age alone tells what was abandoned.
            Err(fs::TryLockError::Error(_)) => return Ok(file),
        }
    }
}

/// Removes what programs that were ended abruptly left in a folder while they wrote: files named as ours are, of the
/// same owner as ours, that no running program holds. Where one has another name, as what several files replace had when
/// their writer was ended, only the name of ours goes.
pub(super) fn remove_abandoned(folder: &Path, ours: &File) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        if entry.file_name().to_str().is_some_and(is_name_of_ours) {
            // What can't be removed is tried again at the next save.
            let _ = remove_if_abandoned(&entry.path(), ours);
        }
    }
}

fn is_name_of_ours(name: &str) -> bool {
    let middle = name.strip_prefix(PREFIX).and_then(|name| name.strip_suffix(SUFFIX));
    middle.is_some_and(|middle| {
        middle.len() == RANDOM && middle.bytes().all(|byte| byte.is_ascii_alphanumeric())
    })
}

fn remove_if_abandoned(path: &Path, ours: &File) -> io::Result<()> {
    if !fs::symlink_metadata(path)?.is_file() {
        return Ok(());
    }
    let file = without_waiting().read(true).write(true).open(path)?;
    let known = file.metadata()?;
    #[cfg(unix)]
    let has_other_name = {
        use std::os::unix::fs::MetadataExt as _;
        if !known.is_file() || known.uid() != ours.metadata()?.uid() {
            return Ok(());
        }
        known.nlink() != 1
    };
    #[cfg(not(unix))]
    let (_, has_other_name) = (ours, false);
    // The lock is held until the file is gone, so that nobody who made it a moment ago goes on with a file without a
    // name.
    let abandoned = match file.try_lock() {
        Ok(()) => true,
        Err(fs::TryLockError::WouldBlock) => false,
        Err(fs::TryLockError::Error(_)) => {
            // The age is that of the other name too, and says nothing.
            !has_other_name && known.modified()?.elapsed().is_ok_and(|age| age > ABANDONED_WITHOUT_LOCKS)
        }
    };
    if abandoned && is_at(&file, path) {
        fs::remove_file(path)?;
    }
    Ok(())
}

/// An open file is the one that has this name.
#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    let (Ok(opened), Ok(named)) = (file.metadata(), fs::symlink_metadata(path)) else { return false };
    (opened.dev(), opened.ino()) == (named.dev(), named.ino())
}

#[cfg(not(unix))]
fn is_at(_: &File, path: &Path) -> bool {
    path.is_file()
}
