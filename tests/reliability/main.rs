//! Kills a program with SIGKILL at random moments while it saves, exports, keeps unsaved work and recovers it, and
//! looks at what is left after each kill.
//!
//! What this shows: whatever moment a program ends at, every file is one whole version, none older than the last one
//! that was reported as written. What it can't show: a power cut. After a kill the system still writes what it was
//! given; that the bytes are flushed before the rename, and the folder behind it, is shown by `trace.py` beside this.
//!
//! ```text
//! cargo test --test reliability                       the small form: 40 kills
//! cargo test --test reliability -- kills 1000 [SEED]  the full form
//! ```
//!
//! The same program does one thing at a time for the scripts beside it: `save FILE NUMBER`, `export FILE NUMBER` and
//! `keep FOLDER NUMBER`.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use std::env;
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::time::Duration;

use equirow::files;
use equirow::files::marks::Kind;
use equirow::files::output::{Output, Written, look};
use equirow::files::recovery::{Slot, left_behind};
use equirow::plan::{Project, Routing, RoutingId};

const SMALL: u32 = 40;
const SEED: u64 = 20_26;

/// Longest time between the first sign of a worker and its end, microseconds: some ten rounds of its work.
const LONGEST_LIFE: u64 = 60_000;

/// Between two files of the neighbour: all numbers that it tells have to fit into a pipe.
const PAUSE_OF_NEIGHBOUR: Duration = Duration::from_millis(50);

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["kills", count] => kills(count.parse().unwrap(), SEED),
        ["kills", count, seed] => kills(count.parse().unwrap(), seed.parse().unwrap()),
        ["work", matter, folder, first, pause] => {
            let matter = Matter::ALL.into_iter().find(|one| one.name() == matter).unwrap();
            let pause = Duration::from_millis(pause.parse().unwrap());
            return ended(matter.work(Path::new(folder), first.parse().unwrap(), pause));
        }
        ["save", file, number] => {
            return ended(files::save(Path::new(file), &project(number.parse().unwrap())).map(|notes| {
                if !notes.is_empty() {
                    eprintln!("{notes}");
                }
            }));
        }
        ["export", file, number] => {
            return ended(export(Path::new(file), number.parse().unwrap()).map(|_| ()));
        }
        ["keep", folder, number] => {
            let slot = Slot::take(Path::new(folder)).unwrap();
            return ended(keep(&slot, number.parse().unwrap()));
        }
        // As any test program: a filter that does not fit runs nothing, and a list names what there is.
        _ if words.contains(&"--list") => println!("kills: test"),
        _ if words.iter().any(|word| !word.starts_with('-') && !"kills".contains(word)) => {}
        _ => kills(SMALL, SEED),
    }
    ExitCode::SUCCESS
}

fn ended(result: Result<(), files::WriteError>) -> ExitCode {
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(3)
        }
    }
}

/// A project that tells its number at its beginning and at its end, and whose length changes with it.
fn project(number: u64) -> Project {
    let demo = files::demo();
    let mut project = Project::new(demo.bar, demo.catalogue);
    project.title.number = number.to_string();
    project.title.notes = format!("{number} ").repeat(usize::try_from(number % 7).unwrap() * 300);
    let mut last = Routing::empty(RoutingId(2), "B");
    last.note = format!("number {number}");
    project.routings.push(last);
    project
}

fn number_of(project: &Project) -> u64 {
    let number = project.title.number.parse().unwrap();
    assert!(*project == self::project(number), "project {number} is mixed with another");
    number
}

/// Writes three files of one export; some megabytes, so that writing them takes a while.
fn export(out: &Path, number: u64) -> Result<Written, files::WriteError> {
    let stem = out.file_stem().unwrap().to_str().unwrap();
    let names = ["", "-2", "-3"].map(|suffix| out.with_file_name(format!("{stem}{suffix}.txt")));
    let outputs = names.iter().map(|name| Output::alone(name, Kind::Project)).collect();
    look(outputs)?.replace().write(vec![exported(number); 3])
}

fn exported(number: u64) -> Vec<u8> {
    format!("{number:09} of an export\n").repeat(100_000).into_bytes()
}

fn number_of_export(path: &Path) -> u64 {
    let bytes = fs::read(path).unwrap();
    let number = std::str::from_utf8(&bytes[..9]).unwrap().parse().unwrap();
    assert!(bytes == exported(number), "{} is mixed with another", path.display());
    number
}

fn keep(slot: &Slot, number: u64) -> Result<(), files::WriteError> {
    slot.keep(&project(number), None, &[])
}

/// What a worker is at when it is killed.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Matter {
    Save,
    Export,
    Autosave,
    Recovery,
}

impl Matter {
    const ALL: [Self; 4] = [Self::Save, Self::Export, Self::Autosave, Self::Recovery];

    fn name(self) -> &'static str {
        match self {
            Self::Save => "save",
            Self::Export => "export",
            Self::Autosave => "autosave",
            Self::Recovery => "recovery",
        }
    }

    /// Works until it is killed; tells each number that is written.
    fn work(self, folder: &Path, first: u64, pause: Duration) -> Result<(), files::WriteError> {
        let slot = (self == Self::Autosave).then(|| Slot::take(folder).unwrap());
        for number in first.. {
            match self {
                Self::Save => {
                    files::save(&folder.join("bar.ron"), &project(number))?;
                }
                Self::Export => {
                    export(&folder.join("out.txt"), number)?;
                }
                Self::Autosave => keep(slot.as_ref().unwrap(), number)?,
                Self::Recovery => recover(folder)?,
            }
            println!("{number}");
            std::thread::sleep(pause);
        }
        Ok(())
    }
}

/// Takes over what was left behind as the window does: kept in a place of its own before it is deleted there. Then
/// ends as in a crash.
fn recover(folder: &Path) -> Result<(), files::WriteError> {
    let found = left_behind(folder);
    let slot = Slot::take(folder).unwrap();
    assert!(!found.is_empty(), "recovered work was lost");
    // One at a time: a place holds one work.
    if let Some(work) = found.into_iter().next() {
        let project = work.project.clone().unwrap();
        slot.keep(&project, None, &[])?;
        work.discard()?;
    }
    Ok(())
}

/// A worker, killed at the end of its life; the numbers that it told.
struct Worker(Child);

impl Worker {
    fn start(matter: Matter, folder: &Path, first: u64, pause: Duration) -> Self {
        let worker = Command::new(env::current_exe().unwrap())
            .args(["work", matter.name()])
            .arg(folder)
            .args([first.to_string(), pause.as_millis().to_string()])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        Self(worker)
    }

    /// The first sign of life: something was done once.
    fn wait_for_sign(&mut self) -> String {
        let mut sign = [0; 1];
        let told = self.0.stdout.as_mut().unwrap().read(&mut sign).unwrap();
        String::from_utf8(sign[..told].to_vec()).unwrap()
    }

    /// Kills it; the last number it told.
    fn kill(mut self, mut told: String) -> Option<u64> {
        self.0.kill().unwrap();
        let mut failed = String::new();
        self.0.stdout.take().unwrap().read_to_string(&mut told).unwrap();
        self.0.stderr.take().unwrap().read_to_string(&mut failed).unwrap();
        let status = self.0.wait().unwrap();
        assert!(status.code().is_none(), "a worker ended by itself ({status}): {failed}");
        assert_eq!(failed, "");
        // A line without its end was cut off by the kill.
        let whole = told.rfind('\n').map_or("", |end| &told[..end]);
        whole.lines().last().map(|line| line.parse().unwrap())
    }
}

/// SplitMix64 (Steele, Lea and Flood 2014): the same moments for the same seed, as far as the machine keeps time.
struct Random(u64);

impl Random {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) % end
    }
}

/// What was seen over all kills.
#[derive(Debug, Default)]
struct Seen {
    kills: [u32; 4],
    /// Files that were being written when the kill came.
    abandoned: usize,
    /// A version that was written although its writer had no time left to tell it.
    untold: u32,
    /// Work that two places hold, because the kill came between keeping it anew and deleting it.
    twice: u32,
    /// Folders of programs that were killed before they kept anything.
    empty: usize,
}

fn kills(count: u32, seed: u64) {
    let base = tempfile::tempdir().unwrap();
    let folders = Matter::ALL.map(|matter| base.path().join(matter.name()));
    for folder in &folders {
        fs::create_dir(folder).unwrap();
    }
    // Another program that is not killed, at work in the same folders all the time: what it writes is never taken for
    // abandoned.
    let neighbours: Vec<Worker> = [Matter::Save, Matter::Export]
        .into_iter()
        .zip(&folders)
        .map(|(matter, folder)| {
            let beside = folder.join("neighbour");
            fs::create_dir(&beside).unwrap();
            for name in ["bar.ron", "out.txt", "out-2.txt", "out-3.txt"] {
                // Its files lie in the folder of the others, behind links.
                std::os::unix::fs::symlink(folder.join(format!("neighbour-{name}")), beside.join(name))
                    .unwrap();
            }
            Worker::start(matter, &beside, 1, PAUSE_OF_NEIGHBOUR)
        })
        .collect();
    let mut random = Random(seed);
    let mut seen = Seen::default();
    let mut last = [0; 4];
    // More of them in the odd case that none of the few of the small form came while a file was being written.
    let mut kill = 0;
    while kill < count || (seen.abandoned == 0 && kill < count.max(1000)) {
        let at = (kill % 4) as usize;
        let (matter, folder) = (Matter::ALL[at], folders[at].as_path());
        if matter == Matter::Recovery && left_behind(folder).is_empty() {
            keep(&Slot::take(folder).unwrap(), 1).unwrap();
        }
        let mut worker = Worker::start(matter, folder, last[at] + 1, Duration::ZERO);
        // One in eight has not written anything yet when it is killed; half of them are killed when a file is being
        // written, or soon after.
        let told = if random.below(8) == 0 { String::new() } else { worker.wait_for_sign() };
        if random.below(2) == 0 {
            wait_for_writing(folder);
            std::thread::sleep(Duration::from_micros(random.below(LONGEST_LIFE / 30)));
        } else {
            std::thread::sleep(Duration::from_micros(random.below(LONGEST_LIFE)));
        }
        let told = worker.kill(told).unwrap_or(last[at]);
        seen.kills[at] += 1;
        last[at] = match matter {
            Matter::Save => after_save(folder, told, &mut seen),
            Matter::Export => after_export(folder, told, &mut seen),
            Matter::Autosave => after_autosave(folder, told, last[at], &mut seen),
            Matter::Recovery => after_recovery(folder, told, &mut seen),
        };
        kill += 1;
    }
    let numbers: Vec<u64> = neighbours.into_iter().map(|one| one.kill(String::new()).unwrap()).collect();
    println!("{kill} kills from seed {seed}: {seen:?}; neighbours wrote {numbers:?} versions undisturbed");
    assert!(seen.abandoned > 0, "no kill came while a file was being written: these kills prove nothing");
    assert!(numbers.iter().all(|number| *number > 1));
}

/// Waits, though not for ever, until something is being written in a folder or in one of its places.
fn wait_for_writing(folder: &Path) {
    for _ in 0..500 {
        let inside = fs::read_dir(folder).unwrap().flatten().map(|entry| entry.path());
        let places: Vec<PathBuf> = inside.filter(|path| path.is_dir()).collect();
        // A place may go while it is looked at.
        let any = places.iter().map(PathBuf::as_path).chain([folder]).any(|place| {
            let names = fs::read_dir(place).into_iter().flatten().flatten().map(|entry| entry.file_name());
            names.into_iter().any(|name| name.to_str().is_some_and(|name| name.starts_with(".equirow-")))
        });
        if any {
            return;
        }
        std::thread::sleep(Duration::from_micros(200));
    }
}

/// Files that are still being written, or were.
fn beside(folder: &Path) -> usize {
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    names.filter(|name| name.to_str().unwrap().starts_with(".equirow-")).count()
}

/// Most files of the neighbour that is at work: three that it writes, and while one takes its place the other name of what
/// it replaces.
const OF_NEIGHBOUR: usize = 4;

/// The version that is there is the last one told, or the next.
fn is_new(number: u64, told: u64, seen: &mut Seen) {
    assert!(number == told || number == told + 1, "{number} is there; {told} was told to be written");
    seen.untold += u32::from(number > told);
}

fn after_save(folder: &Path, told: u64, seen: &mut Seen) -> u64 {
    let file = folder.join("bar.ron");
    let mut number = told;
    if told > 0 || file.exists() {
        number = number_of(&files::open(&file).unwrap());
        is_new(number, told, seen);
    }
    seen.abandoned += usize::from(beside(folder) > 1);
    number += 1;
    assert!(files::save(&file, &project(number)).unwrap().is_empty());
    assert!(beside(folder) <= 1, "an abandoned file is left");
    number
}

fn after_export(folder: &Path, told: u64, seen: &mut Seen) -> u64 {
    let names = ["out.txt", "out-2.txt", "out-3.txt"].map(|name| folder.join(name));
    let mut number = told;
    for name in &names {
        if told > 0 || name.exists() {
            let there = number_of_export(name);
            is_new(there, told, seen);
            number = number.max(there);
        }
    }
    seen.abandoned += beside(folder).saturating_sub(OF_NEIGHBOUR);
    number += 1;
    export(&names[0], number).unwrap();
    assert!(beside(folder) <= OF_NEIGHBOUR, "an abandoned file is left");
    number
}

/// Folders of programs, running or ended.
fn places(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect()
}

fn after_autosave(folder: &Path, told: u64, before: u64, seen: &mut Seen) -> u64 {
    let half_written: usize = places(folder).iter().map(|place| beside(place)).sum();
    seen.abandoned += half_written;
    let mut number = told;
    let found = left_behind(folder);
    assert!(found.len() <= 1);
    assert!(told == before || found.len() == 1, "work that was kept is lost");
    for work in found {
        number = number_of(work.project.as_ref().unwrap());
        is_new(number, told, seen);
        work.discard().unwrap();
    }
    // A program that was killed before it kept anything leaves an empty place.
    for place in places(folder) {
        seen.empty += 1;
        assert!(!place.join("work.ron").exists(), "work is not offered");
        fs::remove_dir_all(place).unwrap();
    }
    number
}

fn after_recovery(folder: &Path, told: u64, seen: &mut Seen) -> u64 {
    let found = left_behind(folder);
    assert!(!found.is_empty(), "recovered work is lost");
    seen.twice += u32::from(found.len() > 1);
    for (index, work) in found.into_iter().enumerate() {
        assert_eq!(number_of(work.project.as_ref().unwrap()), 1);
        if index > 0 {
            work.discard().unwrap();
        }
    }
    told
}
