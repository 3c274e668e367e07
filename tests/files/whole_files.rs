//! Files are written whole or not at all, keep what they can of the ones they replace, and say what they can't.

use std::fs::{self, File, OpenOptions, Permissions};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _, symlink};
use std::os::unix::net::UnixListener;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use equirow::files::{self, NotKept, write_whole};
use rustix::fs::{CWD, FileType, Mode, XattrFlags};

const BAR: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/nine-metre-bar.ron");

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn mode(path: &Path) -> u32 {
    fs::metadata(path).unwrap().mode() & 0o7777
}

fn refusal(path: &Path) -> String {
    let error = write_whole(path, b"new").unwrap_err().to_string();
    assert!(error.starts_with(&format!("{}: ", path.display())), "{error}");
    assert_eq!(error.lines().count(), 1, "{error}");
    error
}

/// Something of each kind that has a name and is no file.
fn no_files(folder: &Path) -> Vec<(PathBuf, &'static str)> {
    let (pipe, socket) = (folder.join("pipe.ron"), folder.join("socket.ron"));
    rustix::fs::mknodat(CWD, &pipe, FileType::Fifo, Mode::RUSR | Mode::WUSR, 0).unwrap();
    // The name stays when the listener is gone.
    drop(UnixListener::bind(&socket).unwrap());
    let link = folder.join("link-to-pipe.ron");
    symlink(&pipe, &link).unwrap();
    vec![
        (pipe, "it is a pipe"),
        (link, "it is a pipe"),
        (socket, "it is a socket"),
        (PathBuf::from("/dev/zero"), "it is a device"),
        (folder.to_owned(), "it is a folder"),
    ]
}

#[test]
fn what_is_no_file_is_never_written_to() {
    let folder = tempfile::tempdir().unwrap();
    for (path, what) in no_files(folder.path()) {
        let before = fs::symlink_metadata(&path).unwrap().ino();
        let error = refusal(&path);
        assert!(error.contains(what), "{error}");
        assert_eq!(fs::symlink_metadata(&path).unwrap().ino(), before);
    }
    assert_eq!(names(folder.path()), ["link-to-pipe.ron", "pipe.ron", "socket.ron"]);
}

#[test]
fn what_is_no_file_is_never_read_and_nothing_waits_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let catalogue = |path: &Path| files::open_catalogue(path).unwrap_err().to_string();
    let project = |path: &Path| files::open(path).unwrap_err().to_string();
    let table = |path: &Path| files::row_positions::read_table(path).unwrap_err().to_string();
    let network = |path: &Path| match files::network_file::open(path).unwrap_err() {
        files::network_file::OpenError::Unreadable(why) => why,
        files::network_file::OpenError::Rejected(why) => panic!("{why:?}"),
    };
    let readers: [&dyn Fn(&Path) -> String; 4] = [&project, &catalogue, &table, &network];
    for (path, what) in no_files(folder.path()) {
        for reader in readers {
            let error = reader(&path);
            assert!(error.contains(what), "{error}");
        }
    }
}

#[test]
fn standard_output_is_no_file() {
    let output = Command::new(env!("CARGO_BIN_EXE_equirow"))
        .args(["export", BAR, "--network", "/dev/stdout"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(3));
    assert!(output.stdout.is_empty());
    assert!(String::from_utf8(output.stderr).unwrap().contains("it is a pipe, not a file"));
}

#[test]
fn a_link_stays_a_link_and_what_it_names_is_made_if_need_be() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    fs::create_dir(here.join("elsewhere")).unwrap();
    let (first, second) = (here.join("first"), here.join("second"));
    symlink("second", &first).unwrap();
    symlink("elsewhere/bar.ron", &second).unwrap();
    for text in ["made", "replaced"] {
        assert!(write_whole(&first, text.as_bytes()).unwrap().is_empty());
        assert_eq!(fs::read_to_string(here.join("elsewhere/bar.ron")).unwrap(), text);
        assert_eq!(fs::read_link(&first).unwrap(), Path::new("second"));
        assert_eq!(fs::read_link(&second).unwrap(), Path::new("elsewhere/bar.ron"));
    }

    let lost = here.join("lost");
    symlink("no such folder/bar.ron", &lost).unwrap();
    let error = refusal(&lost);
    assert!(error.contains("no such folder/bar.ron, whose folder is not there"), "{error}");
    let circle = here.join("circle");
    symlink("circle", &circle).unwrap();
    assert!(refusal(&circle).contains("can't be written"));
    assert_eq!(names(here), ["circle", "elsewhere", "first", "lost", "second"]);
}

#[test]
fn other_names_of_a_file_keep_what_was_there_and_it_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let (path, other) = (folder.path().join("bar.ron"), folder.path().join("copy.ron"));
    fs::write(&path, "old").unwrap();
    fs::hard_link(&path, &other).unwrap();
    let notes = write_whole(&path, b"new").unwrap();
    assert_eq!(notes.iter().collect::<Vec<_>>(), [(path.as_path(), &NotKept::HardLinks(1))]);
    assert!(
        notes.to_string().ends_with("another name (a hard link), which keeps the version before this one")
    );
    assert_eq!(fs::read_to_string(&other).unwrap(), "old");
    assert_eq!(fs::read_to_string(&path).unwrap(), "new");
    assert!(write_whole(&path, b"newer").unwrap().is_empty(), "said once");
}

#[test]
fn rights_and_attributes_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    let fresh = folder.path().join("fresh");
    File::create(&fresh).unwrap();
    assert!(write_whole(&path, b"new").unwrap().is_empty());
    assert_eq!(mode(&path), mode(&fresh), "a new file gets what the user's mask leaves");
    for rights in [0o600, 0o640, 0o666, 0o400 | 0o200, 0o777] {
        fs::set_permissions(&path, Permissions::from_mode(rights)).unwrap();
        assert!(write_whole(&path, b"new").unwrap().is_empty());
        assert_eq!(mode(&path), rights);
    }
    #[cfg(target_os = "linux")]
    {
        rustix::fs::setxattr(&path, "user.field", b"north", XattrFlags::empty()).unwrap();
        // An access list (acl(5)): owner rw, user 4321 r, group and everybody nothing, mask r.
        let entry = |tag: u16, rights: u16, who: u32| {
            [&tag.to_le_bytes()[..], &rights.to_le_bytes()[..], &who.to_le_bytes()[..]].concat()
        };
        let nobody = u32::MAX;
        let list = [
            2u32.to_le_bytes().to_vec(),
            entry(0x01, 6, nobody),
            entry(0x02, 4, 4321),
            entry(0x04, 0, nobody),
            entry(0x10, 4, nobody),
            entry(0x20, 0, nobody),
        ]
        .concat();
        rustix::fs::setxattr(&path, "system.posix_acl_access", &list, XattrFlags::empty()).unwrap();
        let before = fs::metadata(&path).unwrap().ino();
        assert!(write_whole(&path, b"newer").unwrap().is_empty());
        assert_ne!(fs::metadata(&path).unwrap().ino(), before, "another file took its place");
        let value = |name: &str| {
            let mut value = vec![0; 1000];
            let length = rustix::fs::getxattr(&path, name, &mut value[..]).unwrap();
            value.truncate(length);
            value
        };
        assert_eq!(value("user.field"), b"north");
        assert_eq!(value("system.posix_acl_access"), list);
    }
}

/// The program and a bar where every user may read them; the folder they are in goes with the test.
struct Shared(tempfile::TempDir);

impl Shared {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let program = folder.path().join("equirow");
        // Small where it is the same disk.
        if fs::hard_link(env!("CARGO_BIN_EXE_equirow"), &program).is_err() {
            fs::copy(env!("CARGO_BIN_EXE_equirow"), &program).unwrap();
        }
        fs::copy(BAR, folder.path().join("bar.ron")).unwrap();
        fs::set_permissions(folder.path(), Permissions::from_mode(0o755)).unwrap();
        Self(folder)
    }

    /// Exports a network, as another user if one is given, which only an administrator can.
    fn export(&self, user: Option<u32>, out: &Path) -> Output {
        let mut command = Command::new(self.0.path().join("equirow"));
        command.arg("export").arg(self.0.path().join("bar.ron")).arg("--network").arg(out);
        if let Some(user) = user {
            command.uid(user).gid(user);
        }
        command.output().unwrap()
    }
}

#[test]
fn an_owner_is_kept_or_it_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("network.json");
    let shared = Shared::new();
    let export = |user, code| {
        let done = shared.export(user, &path);
        let said = String::from_utf8(done.stderr).unwrap();
        assert_eq!(done.status.code(), Some(code), "{said}");
        let known = fs::metadata(&path).unwrap();
        (said, known.uid(), known.gid(), known.mode() & 0o7777)
    };
    let (said, user, group, _) = export(None, 0);
    assert_eq!(said, "");
    if user != 0 {
        // Nobody but an administrator can make a file of another owner; what is ours stays ours without a word.
        let (said, same, same_group, _) = export(None, 0);
        assert_eq!((said.as_str(), same, same_group), ("", user, group));
        return;
    }
    fs::set_permissions(folder.path(), Permissions::from_mode(0o777)).unwrap();
    fs::set_permissions(&path, Permissions::from_mode(0o664)).unwrap();
    std::os::unix::fs::chown(&path, Some(1234), Some(2345)).unwrap();
    assert_eq!(export(None, 0), (String::new(), 1234, 2345, 0o664));

    // One who may not write the file may not replace it either, although the folder would allow it.
    let before = fs::read(&path).unwrap();
    let (said, ..) = export(Some(4321), 3);
    assert!(said.contains("you have no right to"), "{said}");
    assert_eq!(fs::read(&path).unwrap(), before);

    fs::set_permissions(&path, Permissions::from_mode(0o676)).unwrap();
    let (said, user, group, rights) = export(Some(4321), 0);
    assert!(said.contains("it belonged to someone else"), "{said}");
    assert!(said.contains("its group could not be kept"), "{said}");
    assert_eq!((user, group, rights), (4321, 4321, 0o666));
}

#[test]
fn files_that_nobody_writes_any_more_are_removed_and_no_others() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let file = |name: &str| {
        fs::write(here.join(name), "half").unwrap();
        OpenOptions::new().write(true).open(here.join(name)).unwrap()
    };
    drop(file(".equirow-abc123.part"));
    let held = file(".equirow-held00.part");
    held.try_lock().unwrap();
    let kept = [
        ".equirow-abc12.part",
        ".equirow-abc1234.part",
        ".equirow-abc-12.part",
        ".equirow-abc123.part~",
        "equirow-abc123.part",
    ];
    for name in kept {
        drop(file(name));
    }
    drop(file(".equirow-linked.part"));
    fs::hard_link(here.join(".equirow-linked.part"), here.join("my own")).unwrap();
    symlink("my own", here.join(".equirow-symlnk.part")).unwrap();
    fs::create_dir(here.join(".equirow-folder.part")).unwrap();
    rustix::fs::mknodat(CWD, here.join(".equirow-pipe00.part"), FileType::Fifo, Mode::RUSR, 0).unwrap();
    let administrator = fs::metadata(here).unwrap().uid() == 0;
    if administrator {
        drop(file(".equirow-theirs.part"));
        std::os::unix::fs::chown(here.join(".equirow-theirs.part"), Some(1234), None).unwrap();
    }
    let mut expected: Vec<String> = names(here);
    expected.retain(|name| name != ".equirow-abc123.part" && name != ".equirow-linked.part");
    expected.push("bar.ron".to_owned());
    expected.sort();
    assert!(write_whole(&here.join("bar.ron"), b"new").unwrap().is_empty());
    assert_eq!(names(here), expected);
    assert_eq!(fs::read(here.join("my own")).unwrap(), b"half");
    // Its writer is gone.
    drop(held);
    assert!(write_whole(&here.join("bar.ron"), b"new").unwrap().is_empty());
    expected.retain(|name| name != ".equirow-held00.part");
    assert_eq!(names(here), expected);
}

#[test]
fn a_path_that_can_not_be_written_gets_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    fs::write(here.join("file"), "old").unwrap();
    for (path, says) in [
        (here.join("no such folder/bar.ron"), "its folder is not there; choose a folder that exists"),
        (here.join("file/bar.ron"), "a folder of its path is a file; choose a folder that exists"),
        (here.join("x".repeat(300)), "its name is too long for this disk"),
        (PathBuf::from(format!("{}/", here.join("new").display())), "it is not the name of a file"),
        (PathBuf::new(), "it is not the name of a file"),
        (here.join(".."), "it is a folder; give a file name in it"),
        (PathBuf::from("/proc/version"), "it is write-protected; save it under another name"),
    ] {
        let error = refusal(&path);
        assert!(error.contains(says), "{error}");
    }
    assert_eq!(names(here), ["file"]);
}

#[test]
fn a_folder_that_may_not_be_written_gets_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("network.json");
    // An administrator may write everywhere: someone else tries.
    let other = (fs::metadata(folder.path()).unwrap().uid() == 0).then_some(4321);
    fs::set_permissions(folder.path(), Permissions::from_mode(0o555)).unwrap();
    let output = Shared::new().export(other, &out);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("it can't be written: you have no right to; save it under another name"), "{said}");
    assert_eq!(said.lines().count(), 1);
    assert!(names(folder.path()).is_empty());
}
