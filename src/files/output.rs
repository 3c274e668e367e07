//! The one way by which files get where somebody asked for them: sheets, lists, networks, catalogues, pictures.
//!
//! [`look`] says what stands where files are to go. Nothing is written without a [`Permit`], and a permit comes from a
//! [`OutputSet`] alone: where nothing is lost ([`OutputSet::free_or_older`]), or after somebody was told what is there and
//! agreed ([`OutputSet::replace`]). [`Permit::write`] replaces what was looked at and nothing that came in between, and
//! writes all files or none.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::marks::{Kind, PageOf, Recognised, recognise};
use super::project_file::older_version;
use super::reading::{no_file, read_bytes};
use super::recovery::Stamp;
use super::whole_file::{APPEARED, LOOK_AGAIN, Taking, cannot_write, folder_of, place_all, stage};
use super::written::{NotKept, Notes, WriteError};

/// Largest file that is looked into, bytes: more than any sheet or list takes.
const LARGEST: u64 = 64 << 20;

/// One file that is to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// Where.
    pub path: PathBuf,
    /// As what.
    pub kind: Kind,
    /// Which of the files of its set.
    pub page: PageOf,
}

impl Output {
    /// A file that stands alone.
    pub fn alone(path: impl Into<PathBuf>, kind: Kind) -> Self {
        Self { path: path.into(), kind, page: PageOf::ALONE }
    }

    /// A page of a set, with its suffix before the ending of the name.
    pub fn page(out: &Path, kind: Kind, page: PageOf, suffix: &str) -> Self {
        Self { path: with_suffix(out, suffix), kind, page }
    }
}

/// What is there already.
#[derive(Debug, Clone, PartialEq, Eq)]
struct There {
    stamp: Option<Stamp>,
    /// Device and number of the file, where the system has such.
    identity: Option<(u64, u64)>,
    found: Option<Recognised>,
    /// Of a project.
    title: Option<String>,
    modified: Option<SystemTime>,
}

/// A place where a file is to go, as it was when it was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutputPlace {
    output: Output,
    there: Option<There>,
}

impl OutputPlace {
    /// The file's path.
    pub fn path(&self) -> &Path {
        &self.output.path
    }

    /// When what is there was changed last.
    pub fn modified(&self) -> Option<SystemTime> {
        self.there.as_ref()?.modified
    }

    /// What is there, as a sentence without an end; none if nothing is.
    pub fn words(&self) -> Option<String> {
        let there = self.there.as_ref()?;
        let name = self.path().file_name().unwrap_or_default().to_string_lossy().into_owned();
        Some(match (there.found, &there.title) {
            (Some(Recognised { kind: Kind::Project, .. }), Some(title)) if !title.is_empty() => {
                format!("{name} is an Equirow project, \"{title}\"")
            }
            (Some(Recognised { kind, unchanged: true, .. }), _) if kind.may_be_filled_in() => {
                format!("{name} is a {} that Equirow wrote, and may be filled in", kind.name())
            }
            (Some(Recognised { kind, unchanged: true, .. }), _) => {
                format!("{name} is a {} that Equirow wrote", kind.name())
            }
            (Some(Recognised { kind, unchanged: false, .. }), _) => {
                format!("{name} is a {} that Equirow wrote and somebody changed since", kind.name())
            }
            (None, _) => format!("{name} is there already, and not from Equirow"),
        })
    }

    /// Nothing is lost by writing here: nothing is there, or an older file of the same kind as it was written.
    fn is_free_or_older(&self) -> bool {
        let same = |found: Recognised| {
            found.kind == self.output.kind && found.unchanged && !found.kind.may_be_filled_in()
        };
        self.there.as_ref().is_none_or(|there| there.found.is_some_and(same))
    }

    /// It is as it was when it was looked at.
    fn is_as_seen(&self) -> bool {
        match &self.there {
            None => !self.path().exists(),
            Some(there) => Stamp::of(self.path()) == there.stamp && identity(self.path()) == there.identity,
        }
    }
}

/// What stands where a set of files is to go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutputSet {
    places: Vec<OutputPlace>,
    /// Pages of an earlier, longer set of the same name, as they were written.
    left_over: Vec<OutputPlace>,
}

/// Files that were written, and what people should be told of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Their names.
    pub files: Vec<PathBuf>,
    /// What they could not keep of those whose place they took.
    pub notes: Notes,
}

/// The right to write a set of files.
#[derive(Debug)]
pub struct Permit(OutputSet);

/// Looks at where files are to go. A folder or a device is refused, and so is a folder that does not exist.
pub fn look(outputs: Vec<Output>) -> Result<OutputSet, WriteError> {
    let places = outputs.into_iter().map(place).collect::<Result<Vec<_>, _>>()?;
    let (mut names, mut identities) = (BTreeSet::new(), BTreeSet::new());
    for one in &places {
        let is_new_file = identity(one.path()).is_none_or(|identity| identities.insert(identity));
        if !is_new_file || !names.insert(whole(one.path()).unwrap_or_else(|| one.path().to_owned())) {
            let path = one.path().display().to_string();
            return Err(WriteError::new(path, "two files are to be written to it", "give each its own name"));
        }
    }
    Ok(OutputSet { places, left_over: Vec::new() })
}

/// Looks at where `many` pages are to go, and which pages of an earlier set of that name they leave over. `suffix` is
/// what a page of a number, from 1, of so many adds to the name before its ending.
pub fn look_at_pages(
    out: &Path,
    kind: Kind,
    many: usize,
    suffix: impl Fn(PageOf) -> String,
) -> Result<OutputSet, WriteError> {
    let pages = (1..=many).map(|page| PageOf { page, many });
    let outputs = pages.map(|page| Output::page(out, kind, page, &suffix(page))).collect();
    let mut standing = look(outputs)?;
    standing.left_over = left_over(out, kind, &suffix, &standing.places);
    Ok(standing)
}

/// Pages beside those that are written that say of themselves they belong to the same name, and have not been changed.
fn left_over(
    out: &Path,
    kind: Kind,
    suffix: impl Fn(PageOf) -> String,
    written: &[OutputPlace],
) -> Vec<OutputPlace> {
    let stem = out.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let Ok(entries) = fs::read_dir(folder_of(out)) else { return Vec::new() };
    let mut found: Vec<OutputPlace> = entries
        .flatten()
        .filter(|entry| entry.file_name().to_string_lossy().starts_with(&stem))
        .map(|entry| out.with_file_name(entry.file_name()))
        .filter(|path| path.extension() == out.extension())
        .filter(|path| !written.iter().any(|place| place.path() == path))
        .filter_map(|path| place(Output::alone(path, kind)).ok())
        .filter(|place| {
            let page = place.there.as_ref().and_then(|there| there.found).map(|found| found.page);
            place.is_free_or_older()
                && page.is_some_and(|page| with_suffix(out, &suffix(page)) == place.path())
        })
        .collect();
    found.sort_by(|a, b| a.path().cmp(b.path()));
    found
}

impl OutputPlace {
    /// What is told if a file of an older version gives its place to one of today's.
    fn older_version(&self) -> Option<NotKept> {
        let kind = self.output.kind;
        matches!(kind, Kind::Project | Kind::Catalogue)
            .then(|| older_version(self.path(), kind.name()))
            .flatten()
    }
}

impl OutputSet {
    /// The places that are taken.
    pub fn taken(&self) -> Vec<&OutputPlace> {
        self.places.iter().filter(|place| place.there.is_some()).collect()
    }

    /// Pages of an earlier set that go when this one is written.
    pub fn left_over(&self) -> impl Iterator<Item = &Path> {
        self.left_over.iter().map(OutputPlace::path)
    }

    /// Nothing is there that could be lost.
    pub fn is_free(&self) -> bool {
        self.taken().is_empty() && self.left_over.is_empty()
    }

    /// A file that is to be written is that one, by whatever name.
    pub fn writes_to(&self, path: &Path) -> bool {
        self.places.iter().any(|place| same_file(place.path(), path))
    }

    /// The right to write where nothing is lost: nothing is there, or an older file of the same kind as it was written.
    /// Otherwise the first place where something would be.
    pub fn free_or_older(self) -> Result<Permit, Box<OutputPlace>> {
        match self.places.iter().find(|place| !place.is_free_or_older()) {
            Some(place) => Err(Box::new(place.clone())),
            None => Ok(Permit(self)),
        }
    }

    /// The right to replace what is there: somebody who was told of it agreed.
    pub const fn replace(self) -> Permit {
        Permit(self)
    }
}

impl Permit {
    /// Writes the files, as many as were looked at and in the same order. Either all of them are
    /// written or, as far as the disk allows, what was there is as before. Whatever has changed or appeared since it was
    /// looked at is not replaced.
    pub fn write(self, files: Vec<Vec<u8>>) -> Result<Written, WriteError> {
        let OutputSet { places, left_over } = self.0;
        if files.is_empty() || files.len() != places.len() {
            let what = format!("{} files were announced and {} were made", places.len(), files.len());
            return Err(WriteError::new("output", what, "report this as a fault"));
        }
        let older: Vec<_> = places.iter().map(OutputPlace::older_version).collect();
        let mut staged = Vec::with_capacity(files.len());
        for (place, bytes) in places.iter().zip(files) {
            still_so(place)?;
            let bytes = place.output.kind.marked(bytes, place.output.page);
            staged.push(stage(place.path(), &bytes)?);
        }
        let mut notes = place_all(staged, |number| may_take(&places, number))?;
        for (place, older) in places.iter().zip(older) {
            notes.extend_with(place.path(), older);
        }
        for place in left_over.iter().filter(|place| place.is_as_seen()) {
            fs::remove_file(place.path()).map_err(|error| {
                WriteError::new(
                    place.path().display().to_string(),
                    format!(
                        "everything is written, but this page of the set before can't be removed: {error}"
                    ),
                    "delete it by hand",
                )
            })?;
        }
        Ok(Written { files: places.into_iter().map(|place| place.output.path).collect(), notes })
    }
}

fn may_take(places: &[OutputPlace], number: usize) -> Result<Taking, WriteError> {
    let Some(place) = places.get(number) else { return Ok(Taking::IfFree) };
    still_so(place)?;
    Ok(if place.there.is_some() { Taking::Replace } else { Taking::IfFree })
}

fn still_so(place: &OutputPlace) -> Result<(), WriteError> {
    if place.is_as_seen() {
        return Ok(());
    }
    let what = if place.there.is_some() {
        "it has changed since it was looked at, and is left as it is"
    } else {
        APPEARED
    };
    Err(WriteError::new(place.path().display().to_string(), what, LOOK_AGAIN))
}

fn place(output: Output) -> Result<OutputPlace, WriteError> {
    let refused = |what: &str, advice: &str| {
        WriteError::new(output.path.display().to_string(), what.to_owned(), advice.to_owned())
    };
    let known = match fs::metadata(&output.path) {
        Ok(known) => known,
        Err(_) if output.path.file_name().is_none() => {
            return Err(refused("it names no file", "give a file name"));
        }
        Err(_) => {
            let folder = folder_of(&output.path);
            return match fs::metadata(folder) {
                Ok(known) if known.is_dir() => Ok(OutputPlace { output, there: None }),
                Ok(_) => Err(refused("what should be its folder is a file", "choose a folder that exists")),
                Err(error) => Err(cannot_write(&output.path, &error)),
            };
        }
    };
    if let Some(what) = no_file(&known) {
        return Err(refused(
            what,
            if known.is_dir() { "give a file name in it" } else { "give the name of a file" },
        ));
    }
    let stamp = Stamp::of(&output.path);
    let identity = identity(&output.path);
    // What can't be read, or is larger than anything of ours, is not ours.
    let bytes = read_bytes(&output.path, LARGEST).unwrap_or_default();
    let found = recognise(&bytes);
    let is_project = found.is_some_and(|found| found.kind == Kind::Project);
    let title = is_project.then(|| title(&bytes)).flatten();
    let there = There { stamp, identity, found, title, modified: known.modified().ok() };
    Ok(OutputPlace { output, there: Some(there) })
}

/// The title in the text of a project, whether or not all of it can be read.
fn title(bytes: &[u8]) -> Option<String> {
    const FIELD: &str = "title: \"";
    let text = std::str::from_utf8(bytes).ok()?;
    let words = &text[text.find(FIELD)? + FIELD.len() - 1..];
    let mut escaped = false;
    let end = words[1..].find(|letter| {
        let ends = letter == '"' && !escaped;
        escaped = letter == '\\' && !escaped;
        ends
    })?;
    let title: String = ron::from_str(&words[..end + 2]).ok()?;
    Some(title.chars().filter(|letter| !letter.is_control()).take(60).collect())
}

/// Both paths lead to the same file, by the same name or by links, whether it is there or not.
pub fn same_file(a: &Path, b: &Path) -> bool {
    let (one, other) = (whole(a), whole(b));
    a == b || (one.is_some() && one == other) || (identity(a).is_some() && identity(a) == identity(b))
}

/// The path from the root, without links; of a file that is not there too, if its folder is.
fn whole(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok().or_else(|| {
        let folder = fs::canonicalize(folder_of(path)).ok()?;
        Some(folder.join(path.file_name()?))
    })
}

#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt as _;
    fs::metadata(path).ok().map(|known| (known.dev(), known.ino()))
}

#[cfg(not(unix))]
const fn identity(_path: &Path) -> Option<(u64, u64)> {
    None
}

/// A name with something before its ending; what it ends on already is not said twice.
fn with_suffix(out: &Path, suffix: &str) -> PathBuf {
    let mut name = out.file_stem().unwrap_or_default().to_os_string();
    if name.to_string_lossy().ends_with(suffix) {
        return out.to_owned();
    }
    name.push(suffix);
    if let Some(ending) = out.extension() {
        name.push(".");
        name.push(ending);
    }
    out.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standing(paths: &[&Path]) -> OutputSet {
        look(paths.iter().map(|path| Output::alone(*path, Kind::Project)).collect()).unwrap()
    }

    fn write(paths: &[&Path], files: &[&[u8]]) -> Result<Written, WriteError> {
        standing(paths).replace().write(files.iter().map(|file| file.to_vec()).collect())
    }

    fn count(folder: &Path) -> usize {
        fs::read_dir(folder).unwrap().count()
    }

    #[test]
    fn suffixes_stand_before_the_ending() {
        let name = |out: &str, suffix| with_suffix(Path::new(out), suffix);
        assert_eq!(name("a/b.svg", ""), Path::new("a/b.svg"));
        assert_eq!(name("a/b.c.SVG", "-03"), Path::new("a/b.c-03.SVG"));
        assert_eq!(name("b-mm.dxf", "-mm"), Path::new("b-mm.dxf"));
    }

    #[test]
    fn a_folder_a_device_and_a_missing_folder_are_refused_before_any_work() {
        let folder = tempfile::tempdir().unwrap();
        let refused = |path: &Path| look(vec![Output::alone(path, Kind::Project)]).unwrap_err().to_string();
        assert!(refused(folder.path()).contains("it is a folder"));
        assert!(refused(&folder.path().join("none/a")).contains("choose a folder that exists"));
        assert!(refused(Path::new("")).contains("it names no file"));
        fs::write(folder.path().join("file"), "x").unwrap();
        assert!(look(vec![Output::alone(folder.path().join("file/a"), Kind::Project)]).is_err());
        #[cfg(unix)]
        assert!(refused(Path::new("/dev/null")).contains("device"));
    }

    #[test]
    fn one_file_by_two_names_is_one_file() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a"), "one").unwrap();
        let round = folder.path().join("..").join(folder.path().file_name().unwrap()).join("a");
        assert!(same_file(&at("a"), &round));
        assert!(
            same_file(
                &at("new"),
                &folder.path().join("..").join(folder.path().file_name().unwrap()).join("new")
            ),
            "it need not be there"
        );
        assert!(!same_file(&at("a"), &at("b")));
        let outputs =
            |other: &Path| vec![Output::alone(at("a"), Kind::Project), Output::alone(other, Kind::Catalogue)];
        assert!(look(outputs(&round)).is_err());
        assert!(look(outputs(&at("b"))).is_ok());
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(at("a"), at("soft")).unwrap();
            fs::hard_link(at("a"), at("hard")).unwrap();
            for link in ["soft", "hard"] {
                assert!(same_file(&at("a"), &at(link)), "{link}");
                assert!(look(outputs(&at(link))).is_err(), "{link}");
                assert!(standing(&[&at(link)]).writes_to(&at("a")), "{link}");
            }
        }
    }

    #[test]
    fn no_file_changes_unless_all_can() {
        let folder = tempfile::tempdir().unwrap();
        let (a, b) = (folder.path().join("a"), folder.path().join("b"));
        assert_eq!(write(&[&a, &b], &[b"one", b"two"]).unwrap().files, [a.clone(), b.clone()]);
        assert_eq!(fs::read(&b).unwrap(), b"two");
        // What was announced is not what comes.
        assert!(write(&[&a, &b], &[b"new"]).is_err());
        assert!(write(&[], &[]).is_err());
        // The second is write-protected: found before the first is touched.
        let mut permissions = fs::metadata(&b).unwrap().permissions();
        permissions.set_readonly(true);
        fs::set_permissions(&b, permissions).unwrap();
        assert!(write(&[&a, &b], &[b"new", b"new"]).is_err());
        assert_eq!((fs::read(&a).unwrap(), fs::read(&b).unwrap()), (b"one".to_vec(), b"two".to_vec()));
        assert_eq!(count(folder.path()), 2, "nothing is left beside them");
    }

    #[test]
    fn what_changed_or_appeared_since_it_was_looked_at_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let (a, b) = (folder.path().join("a"), folder.path().join("b"));
        fs::write(&a, "one").unwrap();
        let permit = standing(&[&a, &b]).replace();
        fs::write(&b, "somebody else's").unwrap();
        let error = permit.write(vec![b"new".to_vec(), b"new".to_vec()]).unwrap_err();
        assert!(error.to_string().contains("appeared"), "{error}");
        let permit = standing(&[&a]).replace();
        fs::write(&a, "another's").unwrap();
        let error = permit.write(vec![b"new".to_vec()]).unwrap_err();
        assert!(error.to_string().contains("changed"), "{error}");
        assert_eq!(fs::read(&a).unwrap(), b"another's");
        assert_eq!(fs::read(&b).unwrap(), b"somebody else's");
        assert_eq!(count(folder.path()), 2);
    }

    /// The last of three can't have its name when the first two have theirs already.
    #[test]
    fn what_was_replaced_is_put_back_when_a_later_file_can_not_be_written() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a"), "one").unwrap();
        let places = standing(&[&at("a"), &at("b"), &at("c")]).places;
        let staged = places.iter().map(|place| stage(place.path(), b"new").unwrap()).collect();
        fs::write(at("c"), "somebody else's").unwrap();
        let error = place_all(staged, |number| may_take(&places, number)).unwrap_err();
        assert!(error.to_string().contains("appeared"), "{error}");
        assert_eq!(fs::read(at("a")).unwrap(), b"one");
        assert!(!at("b").exists());
        assert_eq!(fs::read(at("c")).unwrap(), b"somebody else's");
        assert_eq!(count(folder.path()), 2, "nothing is left beside them");
    }

    #[test]
    fn pages_of_a_longer_set_before_go_unless_somebody_changed_them() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("x.svg");
        let names = || {
            let mut names: Vec<String> = fs::read_dir(folder.path())
                .unwrap()
                .map(|entry| entry.unwrap().file_name().into_string().unwrap())
                .collect();
            names.sort();
            names
        };
        // Two digits from ten pages on, as the sheets have it.
        let suffix = |page: PageOf| match page.many {
            1 => String::new(),
            many => format!("-{:0digits$}", page.page, digits = many.to_string().len()),
        };
        let run = |many: usize| {
            let standing = look_at_pages(&out, Kind::SheetSvg, many, suffix).unwrap();
            let permit = standing.free_or_older().unwrap();
            permit.write((0..many).map(|page| format!("<svg>{page}</svg>\n").into_bytes()).collect()).unwrap()
        };
        assert_eq!(run(12).files.len(), 12);
        // By hand: a page changed, a page copied under a name that is none of the set's, a file that is not ours.
        let changed = folder.path().join("x-11.svg");
        fs::write(&changed, fs::read_to_string(&changed).unwrap().replace("10", "ten")).unwrap();
        fs::copy(folder.path().join("x-12.svg"), folder.path().join("x-99.svg")).unwrap();
        fs::write(folder.path().join("x-0.svg"), "<svg/>").unwrap();
        run(3);
        assert_eq!(names(), ["x-0.svg", "x-1.svg", "x-11.svg", "x-2.svg", "x-3.svg", "x-99.svg"]);
        run(1);
        assert_eq!(names(), ["x-0.svg", "x-11.svg", "x-99.svg", "x.svg"]);
        run(2);
        assert_eq!(names(), ["x-0.svg", "x-1.svg", "x-11.svg", "x-2.svg", "x-99.svg"]);
        // Pages of another kind are no pages of this set.
        let pdf = look_at_pages(&folder.path().join("x.pdf"), Kind::SheetsPdf, 1, |_| String::new()).unwrap();
        assert_eq!(pdf.left_over().count(), 0);
    }
}
