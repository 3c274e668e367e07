//! Work that is in no file yet, kept apart from every project file, so that a crash loses seconds at most.
//!
//! Each running program has a [`Slot`]: a folder of its own with a lock that the system lets go of when the program
//! ends, however it ends. What lies in a folder whose lock is free was left behind by a crash; a second program that
//! runs beside the first still holds its own. Nothing is deleted here unless it is asked for.

use std::env;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::project_file::{ReadError, open, save};
use super::whole_file::{WriteError, write_whole};
use crate::plan::Project;
use crate::plan::validate::Problem;

const LOCK: &str = "lock";
const WORK: &str = "work.ron";
const ORIGIN: &str = "origin.ron";

/// The place of a running program for its unsaved work.
#[derive(Debug)]
pub struct Slot {
    folder: PathBuf,
    /// Held as long as the program runs.
    _lock: File,
}

impl Slot {
    /// Takes a place of its own below a folder, which is made if need be.
    pub fn take(base: &Path) -> io::Result<Self> {
        fs::create_dir_all(base)?;
        let folder = tempfile::Builder::new().prefix("work-").tempdir_in(base)?.keep();
        let lock = File::create(folder.join(LOCK))?;
        lock.try_lock()?;
        Ok(Self { folder, _lock: lock })
    }

    /// Keeps a project, with the file it belongs to if it has one; in place of what was kept before, whole or not at
    /// all.
    pub fn keep(&self, project: &Project, origin: Option<&Path>) -> Result<(), WriteError> {
        let origin = origin.and_then(Path::to_str);
        let text = ron::to_string(&origin).unwrap_or_else(|_| "None".to_owned());
        write_whole(&self.folder.join(ORIGIN), text.as_bytes())?;
        save(&self.folder.join(WORK), project)?;
        Ok(())
    }

    /// Lets go of what was kept: it is in a file now, or was given up.
    pub fn clear(&self) {
        // What can't be deleted is offered once more than needed: no harm.
        let _ = fs::remove_file(self.folder.join(WORK));
        let _ = fs::remove_file(self.folder.join(ORIGIN));
    }

    /// Ends the slot of a program that ends in order.
    pub fn end(self) {
        // A folder that stays is empty, and is passed over.
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// Work that a program left behind when it ended out of order. As long as this is held, no other program offers it.
#[derive(Debug)]
pub struct LeftBehind {
    folder: PathBuf,
    _lock: File,
    /// The file it belongs to; none if it never had one.
    pub origin: Option<PathBuf>,
    /// The project, or why it can't be read.
    pub project: Result<Box<Project>, ReadError>,
    /// When it was kept, if the system knows.
    pub kept: Option<SystemTime>,
}

impl LeftBehind {
    /// Where it is kept.
    pub fn file(&self) -> PathBuf {
        self.folder.join(WORK)
    }

    /// Deletes it for good.
    pub fn discard(self) -> Result<(), WriteError> {
        fs::remove_dir_all(&self.folder).map_err(|error| {
            WriteError(Problem {
                place: self.folder.display().to_string(),
                what: format!("it can't be deleted: {error}"),
                advice: "delete the folder by hand".to_owned(),
            })
        })
    }
}

/// All work left behind below a folder, the newest first. Folders of programs that still run are passed over.
pub fn left_behind(base: &Path) -> Vec<LeftBehind> {
    let Ok(entries) = fs::read_dir(base) else { return Vec::new() };
    let mut found: Vec<LeftBehind> = entries.flatten().filter_map(|entry| one_left(&entry.path())).collect();
    found.sort_by_key(|one| std::cmp::Reverse(one.kept));
    found
}

fn one_left(folder: &Path) -> Option<LeftBehind> {
    let work = folder.join(WORK);
    let known = fs::metadata(&work).ok()?;
    let lock = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(folder.join(LOCK))
        .ok()?;
    lock.try_lock().ok()?;
    let origin = fs::read_to_string(folder.join(ORIGIN)).unwrap_or_default();
    let origin: Option<String> = ron::from_str(&origin).ok().flatten();
    Some(LeftBehind {
        folder: folder.to_owned(),
        _lock: lock,
        origin: origin.map(PathBuf::from),
        project: open(&work).map(Box::new),
        kept: known.modified().ok(),
    })
}

/// What a file was like when it was read or written, to see whether someone else has changed it since.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    length: u64,
    modified: Option<SystemTime>,
}

impl Stamp {
    /// Of a file as it is now; none if it is not there.
    pub fn of(path: &Path) -> Option<Self> {
        let known = fs::metadata(path).ok()?;
        Some(Self { length: known.len(), modified: known.modified().ok() })
    }
}

/// Where unsaved work is kept, if the system says where such things go.
pub fn recovery_folder() -> Option<PathBuf> {
    state_folder().map(|state| state.join("unsaved"))
}

/// The program's folder for what it remembers between runs.
pub(super) fn state_folder() -> Option<PathBuf> {
    let folder = |name: &str| env::var_os(name).map(PathBuf::from).filter(|folder| folder.is_absolute());
    let state = if cfg!(windows) {
        folder("APPDATA")
    } else {
        folder("XDG_STATE_HOME").or_else(|| Some(folder("HOME")?.join(".local").join("state")))
    };
    Some(state?.join("equirow"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::demo;

    #[test]
    fn what_a_crash_leaves_is_offered_until_it_is_answered() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        let demo = demo();
        slot.keep(&demo, Some(Path::new("/home/me/bar.ron"))).unwrap();
        // Still running: nothing was left behind, whoever else starts.
        assert!(left_behind(base.path()).is_empty());
        // A crash ends the lock and nothing else.
        drop(slot);
        let found = left_behind(base.path());
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].origin.as_deref(), Some(Path::new("/home/me/bar.ron")));
        assert_eq!(*found[0].project.clone().unwrap(), demo);
        // While one program asks, another does not; put off, it is offered again.
        assert!(left_behind(base.path()).is_empty());
        drop(found);
        let mut found = left_behind(base.path());
        assert_eq!(found.len(), 1);
        found.remove(0).discard().unwrap();
        assert!(left_behind(base.path()).is_empty());
    }

    #[test]
    fn an_end_in_order_leaves_nothing() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None).unwrap();
        slot.clear();
        drop(slot);
        assert!(left_behind(base.path()).is_empty());
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None).unwrap();
        slot.end();
        assert!(left_behind(base.path()).is_empty());
    }

    #[test]
    fn damaged_work_is_offered_with_the_reason_and_not_deleted() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None).unwrap();
        fs::write(slot.folder.join(WORK), "(version: 1, project: (").unwrap();
        drop(slot);
        let found = left_behind(base.path());
        assert!(found[0].project.is_err());
        assert!(found[0].file().is_file());
        assert_eq!(found[0].origin, None);
    }

    #[test]
    fn a_stamp_sees_another_hand() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("bar.ron");
        assert_eq!(Stamp::of(&file), None);
        fs::write(&file, "one").unwrap();
        let stamp = Stamp::of(&file);
        assert_eq!(Stamp::of(&file), stamp);
        fs::write(&file, "another").unwrap();
        assert_ne!(Stamp::of(&file), stamp);
    }
}
