//! Whole files: opened without waiting and read with a bound, or put in the place of another whole or not at all.
//!
//! A file is written beside the one whose place it takes, flushed to the disk, renamed, and its folder flushed. While
//! it is written the file beside is held by a lock of the system, which ends with the program however that ends: one
//! whose lock is free was abandoned, and is removed at the next save into that folder.

use std::fmt;
use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::read_error::ReadError;
use crate::plan::problems::Problem;

/// How the name of a file begins that is still being written.
const PREFIX: &str = ".equirow-";
/// How its name ends.
const SUFFIX: &str = ".part";
/// Letters and digits between them, drawn at random.
const RANDOM: usize = 6;
/// Age after which a file that is still being written is taken for abandoned where the disk knows no locks: no save
/// takes so long.
const ABANDONED_WITHOUT_LOCKS: Duration = Duration::from_hours(24);
/// Most symbolic links that are followed to a file that is not there yet; as many as the system itself follows.
#[cfg(unix)]
const MOST_LINKS: usize = 40;

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

/// What a file that was written could not keep of the one whose place it took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotKept {
    /// Other names of the same file, so many: they keep the version before.
    HardLinks(u64),
    /// Its owner: it belongs to whoever saved it now.
    Owner,
    /// Its group: the group of whoever saved it has it now, with no more rights than everybody.
    Group,
    /// Extended attributes or access lists, by name.
    Attributes(Vec<String>),
    /// The version of its format: programs that know the one before alone can't open it any more.
    Version {
        /// Of the file that was there.
        before: u32,
        /// Of the file that is there now.
        now: u32,
    },
    /// The disk did not confirm the new name, for this reason: a power cut now could bring the version before back.
    Confirmation(String),
}

impl fmt::Display for NotKept {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HardLinks(1) => {
                out.write_str("it had another name (a hard link), which keeps the version before this one")
            }
            Self::HardLinks(count) => {
                write!(out, "it had {count} other names (hard links), which keep the version before this one")
            }
            Self::Owner => out.write_str("it belonged to someone else, and belongs to you now"),
            Self::Group => out.write_str(
                "its group could not be kept: it has yours now, with no more rights than everybody has",
            ),
            Self::Attributes(names) => {
                write!(out, "extended attributes of it could not be kept: {}", names.join(", "))
            }
            Self::Version { before, now } => write!(
                out,
                "it was in version {before} of the file format and is in version {now} now, which an older Equirow \
                 can't open"
            ),
            Self::Confirmation(why) => write!(
                out,
                "the disk did not confirm its new name ({why}): save again before the power is switched off"
            ),
        }
    }
}

/// What people should be told of files that were written all the same.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Notes(Vec<(PathBuf, NotKept)>);

impl Notes {
    /// There is nothing to tell.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Each file with what it could not keep.
    pub fn iter(&self) -> impl Iterator<Item = (&Path, &NotKept)> {
        self.0.iter().map(|(path, what)| (path.as_path(), what))
    }

    /// Adds a note about a file, if there is one.
    pub(super) fn extend_with(&mut self, path: &Path, note: Option<NotKept>) {
        self.0.extend(note.map(|note| (path.to_owned(), note)));
    }

    /// The notes behind what is said anyway: "Saved. bar.ron: ...".
    pub fn behind(&self, said: &str) -> String {
        if self.is_empty() { said.to_owned() } else { format!("{said}. {self}") }
    }
}

impl fmt::Display for Notes {
    /// One note a line.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (path, what)) in self.0.iter().enumerate() {
            let line = if index > 0 { "\n" } else { "" };
            write!(out, "{line}{}: {what}", path.display())?;
        }
        Ok(())
    }
}

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
fn without_waiting() -> OpenOptions {
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

fn too_large(largest: u64) -> Problem {
    Problem {
        place: "file".to_owned(),
        what: format!("it is {}", larger_than(largest)),
        advice: "choose another file; a project, a table of rows or a network is far smaller".to_owned(),
    }
}

fn cannot_read(error: &io::Error) -> Problem {
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

/// Names that tell what they are to the next save.
fn name_of_ours() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX).rand_bytes(RANDOM);
    builder
}

/// A new empty file in a folder, locked, that goes when it is dropped. One that takes the place of another can be read
/// by nobody else until it has the other's rights; a new one has what the user's mask leaves.
fn beside(folder: &Path, replaces: bool) -> io::Result<tempfile::NamedTempFile> {
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

/// Removes what programs that were ended abruptly left in a folder while they wrote: files named as ours are, of the
/// same owner as ours, that no running program holds. Where one has another name, as what several files replace had when
/// their writer was ended, only the name of ours goes.
fn remove_abandoned(folder: &Path, ours: &File) {
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

/// Gives a new file the owner, group, access lists, attributes and rights of the one whose place it will take; what
/// could not be kept.
#[cfg(unix)]
fn take_after(new: &File, old: &File) -> io::Result<Vec<NotKept>> {
    use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, fchown};
    let (wanted, own) = (old.metadata()?, new.metadata()?);
    let mut notes = Vec::new();
    if wanted.nlink() > 1 {
        notes.push(NotKept::HardLinks(wanted.nlink() - 1));
    }
    let mut rights = wanted.mode() & 0o7777;
    if (wanted.uid(), wanted.gid()) != (own.uid(), own.gid())
        && fchown(new, Some(wanted.uid()), Some(wanted.gid())).is_err()
    {
        // Rights to act as an owner or a group are not handed to another one.
        rights &= 0o777;
        if wanted.uid() != own.uid() {
            notes.push(NotKept::Owner);
        }
        // Those who are no administrator may still give a file to a group of their own.
        if wanted.gid() != own.gid() && fchown(new, None, Some(wanted.gid())).is_err() {
            notes.push(NotKept::Group);
            let everybody = rights & 0o007;
            rights = rights & !0o070 | rights & (everybody << 3);
        }
    }
    let lost = copy_attributes(new, old);
    if !lost.is_empty() {
        notes.push(NotKept::Attributes(lost));
    }
    // A disk that has the same rights for all files refuses, and need not be asked.
    let set = new.set_permissions(fs::Permissions::from_mode(rights));
    if new.metadata()?.mode() & 0o7777 != rights {
        set?;
    }
    Ok(notes)
}

#[cfg(not(unix))]
fn take_after(new: &File, old: &File) -> io::Result<Vec<NotKept>> {
    new.set_permissions(old.metadata()?.permissions())?;
    Ok(Vec::new())
}

/// Copies extended attributes, access lists among them; the names of those that could not be.
#[cfg(target_os = "linux")]
fn copy_attributes(new: &File, old: &File) -> Vec<String> {
    use rustix::fs::{XattrFlags, fgetxattr, flistxattr, fremovexattr, fsetxattr};
    /// Longest list of names and longest value that the system allows, bytes (xattr(7)).
    const LONGEST: usize = 64 << 10;
    let names = |file: &File| -> Vec<Vec<u8>> {
        let mut list = vec![0; LONGEST];
        let length = flistxattr(file, &mut list[..]).unwrap_or(0);
        list[..length].split(|byte| *byte == 0).filter(|name| !name.is_empty()).map(<[u8]>::to_vec).collect()
    };
    let value = |file: &File, name: &[u8]| {
        let mut value = vec![0; LONGEST];
        let length = fgetxattr(file, name, &mut value[..])?;
        value.truncate(length);
        Ok::<_, rustix::io::Errno>(value)
    };
    let wanted = names(old);
    // An access list that the folder gives to new files, and that the old file does not have.
    for name in
        names(new).iter().filter(|name| name.starts_with(b"system.posix_acl") && !wanted.contains(name))
    {
        let _ = fremovexattr(new, name.as_slice());
    }
    let mut lost = Vec::new();
    for name in wanted {
        let kept = value(old, &name).and_then(|wanted| match value(new, &name) {
            Ok(there) if there == wanted => Ok(()),
            _ => fsetxattr(new, name.as_slice(), &wanted, XattrFlags::empty()),
        });
        if kept.is_err() {
            lost.push(String::from_utf8_lossy(&name).into_owned());
        }
    }
    lost
}

#[cfg(all(unix, not(target_os = "linux")))]
fn copy_attributes(_: &File, _: &File) -> Vec<String> {
    Vec::new()
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
