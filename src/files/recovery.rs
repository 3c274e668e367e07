//! Work that is in no file yet, kept apart from every project file, so that a crash loses seconds at most.
//!
//! Each running program has a [`Slot`]: a folder of its own with a lock that the system lets go of when the program
//! ends, however it ends. What lies in a folder whose lock is free was left behind by a crash; a second program that
//! runs beside the first still holds its own. Nothing is deleted here unless it is asked for.

use std::env;
use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use serde::{Deserialize, Serialize};

use super::project_file::{open, write_text};
use super::read_error::ReadError;
use super::whole_file::write_whole;
use super::written::WriteError;
use crate::plan::Project;
use crate::plan::lay_out::Layout;
use crate::plan::problems::Problem;

const LOCK: &str = "lock";
const WORK: &str = "work.ron";
/// Where earlier versions kept the path of the file.
const ORIGIN: &str = "origin.ron";
/// The first line of kept work, if it belongs to a file. In the same file as the work, so that the two are always of
/// one moment.
const ORIGIN_LINE: &str = "// Belongs to ";

/// The line after it, if something was typed and not entered yet.
const TYPED_LINE: &str = "// Typed and not entered: ";

/// The line after those, if the work is a form of a bar that was filled in and not started.
const FORM_LINE: &str = "// Form of a bar: ";

/// A folder without work in it is of no use to anybody after this long: a program that starts takes its lock at once.
const STALE: Duration = Duration::from_mins(1);

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

    /// Keeps a project, with the file it belongs to if it has one and what is typed and not entered; in place of what
    /// was kept before, whole or not at all.
    pub fn keep(
        &self,
        project: &Project,
        origin: Option<&Origin>,
        typed: &[UnenteredText],
    ) -> Result<(), WriteError> {
        self.keep_with(project, origin, typed, None)
    }

    /// The same of a form of a bar that is open over this project.
    pub fn keep_form(
        &self,
        form: &KeptBarForm,
        project: &Project,
        origin: Option<&Origin>,
        typed: &[UnenteredText],
    ) -> Result<(), WriteError> {
        self.keep_with(project, origin, typed, Some(form))
    }

    fn keep_with(
        &self,
        project: &Project,
        origin: Option<&Origin>,
        typed: &[UnenteredText],
        form: Option<&KeptBarForm>,
    ) -> Result<(), WriteError> {
        let mut text = write_text(project)?;
        if let Some(form) = form {
            text.insert_str(0, &noted(FORM_LINE, form, "the form")?);
        }
        if !typed.is_empty() {
            text.insert_str(0, &noted(TYPED_LINE, typed, "what is typed and not entered")?);
        }
        if let Some(origin) = origin {
            text.insert_str(0, &origin.line()?);
        }
        write_whole(&self.folder.join(WORK), text.as_bytes())?;
        Ok(())
    }

    /// Lets go of what was kept: it is in a file now, or was given up.
    pub fn clear(&self) {
        // What can't be deleted is offered once more than needed: no harm.
        let _ = fs::remove_file(self.folder.join(WORK));
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
    pub origin: Option<Origin>,
    /// What was typed in fields and not entered.
    pub typed: Vec<UnenteredText>,
    /// The form of a bar that was open over the project, if it is the form that was not saved.
    pub form: Option<KeptBarForm>,
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
    let Ok(known) = fs::metadata(&work) else {
        remove_if_stale(folder);
        return None;
    };
    let lock = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(folder.join(LOCK))
        .ok()?;
    lock.try_lock().ok()?;
    let origin = origin_of(folder);
    let typed: Vec<UnenteredText> = noted_in(folder, TYPED_LINE).unwrap_or_default();
    let form: Option<KeptBarForm> = noted_in(folder, FORM_LINE);
    let project = open(&work).map(Box::new);
    // What is in its file already is not lost, and nothing to ask about.
    if let (Ok(project), Some(origin)) = (&project, &origin)
        && typed.is_empty()
        && form.is_none()
        && open(&origin.path).is_ok_and(|in_file| in_file == **project)
    {
        // What can't be deleted is found to be the same at the next start, too.
        let _ = fs::remove_dir_all(folder);
        return None;
    }
    let kept = known.modified().ok();
    Some(LeftBehind { folder: folder.to_owned(), _lock: lock, origin, typed, form, project, kept })
}

/// A folder in which nothing was kept, of a program that ended long ago.
fn remove_if_stale(folder: &Path) {
    let age = fs::metadata(folder).and_then(|known| known.modified()).map(|at| at.elapsed());
    let old = matches!(age, Ok(Ok(age)) if age > STALE);
    let free = || File::open(folder.join(LOCK)).is_ok_and(|lock| lock.try_lock().is_ok());
    if old && free() {
        // What stays is passed over again.
        let _ = fs::remove_dir_all(folder);
    }
}

/// A text that stands in a field, and is no part of the project yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnenteredText {
    /// The name of the field.
    pub field: String,
    /// What was typed.
    pub text: String,
}

/// A line before the project that says something besides.
fn noted<T: Serialize + ?Sized>(line: &str, what: &T, name: &str) -> Result<String, WriteError> {
    let text = ron::to_string(what).map_err(|error| {
        WriteError::new(name.to_owned(), format!("it can't be noted: {error}"), "press Enter in the field")
    })?;
    Ok(format!("{line}{text}\n"))
}

/// What a line before the project says; nothing where it is not there or can't be read any more.
fn noted_in<T: serde::de::DeserializeOwned>(folder: &Path, line: &str) -> Option<T> {
    let work = fs::read(folder.join(WORK)).ok()?;
    let mut first = work.split(|byte| *byte == b'\n').take(3);
    first.find_map(|one| ron::from_str(String::from_utf8_lossy(one).strip_prefix(line)?).ok())
}

/// A form of a bar as far as it was filled in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptBarForm {
    /// It changes the bar of the project it is open over; otherwise it starts a new one, and that project holds what
    /// was entered besides the bar.
    pub changes: bool,
    /// What was entered of the bar.
    pub layout: Layout,
}

/// The file that kept work belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Origin {
    /// Where it is.
    pub path: PathBuf,
    /// What it was like when it was last read or written here; none if that was never noted.
    pub stamp: Option<Stamp>,
}

/// The same as it is written: a path that is no text of this system is kept byte by byte besides.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OriginText {
    path: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    exact: Option<OsString>,
    stamp: Option<Stamp>,
}

impl Origin {
    fn line(&self) -> Result<String, WriteError> {
        // Whoever opens it again may stand in another folder.
        let path = std::path::absolute(&self.path).unwrap_or_else(|_| self.path.clone());
        let exact = path.to_str().is_none().then(|| path.clone().into_os_string());
        let text = OriginText { path: path.display().to_string(), exact, stamp: self.stamp.clone() };
        let text = ron::to_string(&text).map_err(|error| {
            WriteError::new(
                self.path.display().to_string(),
                format!("the path can't be noted: {error}"),
                "save to a file of another name",
            )
        })?;
        Ok(format!("{ORIGIN_LINE}{text}\n"))
    }

    fn of_line(line: &str) -> Option<Self> {
        let text: OriginText = ron::from_str(line.strip_prefix(ORIGIN_LINE)?).ok()?;
        let path = text.exact.map_or_else(|| PathBuf::from(text.path), PathBuf::from);
        Some(Self { path, stamp: text.stamp })
    }
}

fn origin_of(folder: &Path) -> Option<Origin> {
    let work = fs::read(folder.join(WORK)).unwrap_or_default();
    let line = work.split(|byte| *byte == b'\n').next().unwrap_or_default();
    if let Some(origin) = Origin::of_line(&String::from_utf8_lossy(line)) {
        return Some(origin);
    }
    let earlier = fs::read_to_string(folder.join(ORIGIN)).ok()?;
    let path: Option<String> = ron::from_str(&earlier).ok()?;
    Some(Origin { path: PathBuf::from(path?), stamp: None })
}

/// What a file was like when it was read or written, to see whether someone else has changed it since.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stamp {
    length: u64,
    /// Since 1970, as finely as the system tells.
    modified: Option<Duration>,
}

impl Stamp {
    /// Of a file as it is now; none if it is not there.
    pub fn of(path: &Path) -> Option<Self> {
        let known = fs::metadata(path).ok()?;
        let modified = known.modified().ok().and_then(|at| at.duration_since(SystemTime::UNIX_EPOCH).ok());
        Some(Self { length: known.len(), modified })
    }

    /// Of a file that was never looked at: no file is like it.
    pub const fn unknown() -> Self {
        Self { length: u64::MAX, modified: None }
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

    fn origin(path: impl Into<PathBuf>) -> Origin {
        let path = path.into();
        Origin { stamp: Stamp::of(&path), path }
    }

    #[test]
    fn what_a_crash_leaves_is_offered_until_it_is_answered() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        let demo = demo();
        slot.keep(&demo, Some(&origin("/home/me/bar.ron")), &[]).unwrap();
        // Still running: nothing was left behind, whoever else starts.
        assert!(left_behind(base.path()).is_empty());
        // A crash ends the lock and nothing else.
        drop(slot);
        let found = left_behind(base.path());
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].origin, Some(origin("/home/me/bar.ron")));
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
    fn kept_work_knows_the_file_as_it_was_and_sees_another_hand_after_a_crash() {
        let base = tempfile::tempdir().unwrap();
        let file = base.path().join("bar \"of\nours\".ron");
        fs::write(&file, "as it was").unwrap();
        let slot = Slot::take(base.path()).unwrap();
        let before = origin(&file);
        slot.keep(&demo(), Some(&before), &[]).unwrap();
        drop(slot);
        let found = left_behind(base.path());
        assert_eq!(found[0].origin.as_ref(), Some(&before));
        drop(found);
        fs::write(&file, "by a colleague").unwrap();
        let found = left_behind(base.path());
        let kept = found[0].origin.as_ref().unwrap();
        assert_eq!(kept.stamp, before.stamp);
        assert_ne!(kept.stamp, Stamp::of(&file));
    }

    #[test]
    fn work_kept_by_an_earlier_version_still_knows_its_file() {
        let base = tempfile::tempdir().unwrap();
        let folder = base.path().join("work-old");
        fs::create_dir(&folder).unwrap();
        crate::files::save(&folder.join(WORK), &demo()).unwrap();
        fs::write(folder.join(ORIGIN), "Some(\"/home/me/bar.ron\")").unwrap();
        let found = left_behind(base.path());
        assert_eq!(found[0].origin, Some(Origin { path: "/home/me/bar.ron".into(), stamp: None }));
        // What it was like then nobody noted: it is like no file that is there.
        assert_ne!(Stamp::of(&folder.join(WORK)), Some(Stamp::unknown()));
    }

    #[cfg(unix)]
    #[test]
    fn a_path_that_is_no_utf8_is_kept_byte_by_byte() {
        use std::os::unix::ffi::OsStringExt as _;
        let base = tempfile::tempdir().unwrap();
        let file = base.path().join(OsString::from_vec(b"b\xE4r.ron".to_vec()));
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), Some(&origin(&file)), &[]).unwrap();
        drop(slot);
        assert_eq!(left_behind(base.path())[0].origin.as_ref().unwrap().path, file);
    }

    #[test]
    fn work_that_is_in_its_file_is_not_offered() {
        let base = tempfile::tempdir().unwrap();
        let file = base.path().join("bar.ron");
        crate::files::save(&file, &demo()).unwrap();
        let slot = Slot::take(base.path()).unwrap();
        let folder = slot.folder.clone();
        slot.keep(&demo(), Some(&origin(&file)), &[]).unwrap();
        drop(slot);
        assert!(left_behind(base.path()).is_empty());
        assert!(!folder.exists());
        // The same work without a file is nowhere else.
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None, &[]).unwrap();
        drop(slot);
        assert_eq!(left_behind(base.path()).len(), 1);
    }

    /// Work that is in its file is offered all the same where something was typed besides.
    #[test]
    fn what_was_typed_and_not_entered_is_kept_with_the_work() {
        let base = tempfile::tempdir().unwrap();
        let file = base.path().join("bar.ron");
        crate::files::save(&file, &demo()).unwrap();
        let typed = |text: &str| UnenteredText { field: "Title".to_owned(), text: text.to_owned() };
        let all = [typed("Two\nlines \"quoted\""), typed("ä")];
        for origin in [Some(origin(&file)), None] {
            let slot = Slot::take(base.path()).unwrap();
            slot.keep(&demo(), origin.as_ref(), &all).unwrap();
            drop(slot);
            let mut found = left_behind(base.path());
            assert_eq!(found[0].typed, all);
            assert_eq!(found[0].origin, origin);
            assert_eq!(*found[0].project.clone().unwrap(), demo());
            found.remove(0).discard().unwrap();
        }
    }

    /// Over a project that is in its file the form is what is nowhere else.
    #[test]
    fn a_form_is_kept_with_the_project_that_it_is_open_over() {
        let base = tempfile::tempdir().unwrap();
        let file = base.path().join("bar.ron");
        crate::files::save(&file, &demo()).unwrap();
        let typed = [UnenteredText { field: "Rows".to_owned(), text: "1".to_owned() }];
        let form = KeptBarForm { changes: true, layout: crate::plan::lay_out::layout_of(&demo().bar) };
        let slot = Slot::take(base.path()).unwrap();
        slot.keep_form(&form, &demo(), Some(&origin(&file)), &typed).unwrap();
        drop(slot);
        let found = left_behind(base.path());
        assert_eq!(found[0].form.as_ref(), Some(&form));
        assert_eq!(found[0].origin, Some(origin(&file)));
        assert_eq!(found[0].typed, typed);
        assert_eq!(*found[0].project.clone().unwrap(), demo());
    }

    #[test]
    fn empty_places_go_only_when_they_are_old() {
        let base = tempfile::tempdir().unwrap();
        let running = Slot::take(base.path()).unwrap();
        let young = Slot::take(base.path()).unwrap().folder;
        let old = Slot::take(base.path()).unwrap().folder;
        let long_ago = SystemTime::now() - 2 * STALE;
        for folder in [&running.folder, &old] {
            File::open(folder).unwrap().set_modified(long_ago).unwrap();
        }
        assert!(left_behind(base.path()).is_empty());
        assert!(running.folder.is_dir() && young.is_dir());
        assert!(!old.exists());
    }

    #[test]
    fn an_end_in_order_leaves_nothing() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None, &[]).unwrap();
        slot.clear();
        drop(slot);
        assert!(left_behind(base.path()).is_empty());
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None, &[]).unwrap();
        slot.end();
        assert!(left_behind(base.path()).is_empty());
    }

    #[test]
    fn damaged_work_is_offered_with_the_reason_and_not_deleted() {
        let base = tempfile::tempdir().unwrap();
        let slot = Slot::take(base.path()).unwrap();
        slot.keep(&demo(), None, &[]).unwrap();
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
