//! Recent files, newest first, in a small file of the user's own. A convenience: whatever goes wrong here is
//! passed over in silence and loses the list at worst.

use std::fs;
use std::path::{Path, PathBuf};

use super::recovery::state_folder;
use super::whole_file::write_whole;

/// How many are kept.
const KEPT: usize = 10;

/// The files opened or saved last, newest first; those that are gone are left out.
pub fn recent() -> Vec<PathBuf> {
    let mut files = list_file().map(|file| read(&file)).unwrap_or_default();
    files.retain(|file| file.is_file());
    files
}

/// Puts a file first in the list.
pub fn remember(path: &Path) {
    if let Some(file) = list_file() {
        put_first(&file, path);
    }
}

fn put_first(list: &Path, path: &Path) {
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let mut files = read(list);
    files.retain(|file| *file != path);
    files.insert(0, path);
    files.truncate(KEPT);
    let names: Vec<&str> = files.iter().filter_map(|file| file.to_str()).collect();
    if let Some(folder) = list.parent()
        && fs::create_dir_all(folder).is_ok()
        && let Ok(text) = ron::ser::to_string_pretty(&names, ron::ser::PrettyConfig::new())
    {
        let _ = write_whole(list, text.as_bytes());
    }
}

fn read(list: &Path) -> Vec<PathBuf> {
    let text = fs::read_to_string(list).unwrap_or_default();
    let names: Vec<String> = ron::from_str(&text).unwrap_or_default();
    names.into_iter().take(KEPT).map(PathBuf::from).collect()
}

/// Where the list is kept, if the system says where such things go.
fn list_file() -> Option<PathBuf> {
    Some(state_folder()?.join("recent.ron"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_comes_first_and_once() {
        let folder = tempfile::tempdir().unwrap();
        let list = folder.path().join("state").join("recent.ron");
        for number in (0..12).chain([5]) {
            put_first(&list, Path::new(&format!("/nowhere/{number}.ron")));
        }
        let files = read(&list);
        assert_eq!(files.len(), KEPT);
        assert_eq!(files[..3], ["/nowhere/5.ron", "/nowhere/11.ron", "/nowhere/10.ron"].map(PathBuf::from));
    }

    #[test]
    fn a_damaged_list_is_an_empty_one() {
        let folder = tempfile::tempdir().unwrap();
        let list = folder.path().join("recent.ron");
        fs::write(&list, "[\"/a.ron\", ").unwrap();
        assert!(read(&list).is_empty());
        put_first(&list, Path::new("/b.ron"));
        assert_eq!(read(&list), [PathBuf::from("/b.ron")]);
        put_first(Path::new("/proc/no/such/place"), Path::new("/b.ron"));
    }
}
