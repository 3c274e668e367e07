//! Files that others read: bytes put under a name, or several under numbered names, whole or not at all.

use std::path::{Path, PathBuf};

use super::whole_file::{Notes, WriteError, write_all_whole};

/// Bytes and what is added to the name asked for, before its ending; empty for the name itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Export {
    /// `-03`.
    pub suffix: String,
    /// The file.
    pub bytes: Vec<u8>,
}

/// Files that were written, and what people should be told of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// Their names.
    pub files: Vec<PathBuf>,
    /// What they could not keep of those whose place they took.
    pub notes: Notes,
}

/// Writes files beside each other. Either all of them are written or, as far as the disk lets
/// know before, none is changed.
pub fn write_exports(out: &Path, exports: Vec<Export>) -> Result<Written, WriteError> {
    if exports.is_empty() {
        return Err(WriteError::new(
            out.display().to_string(),
            "there is nothing to write",
            "choose what to write",
        ));
    }
    let files: Vec<(PathBuf, Vec<u8>)> =
        exports.into_iter().map(|one| (with_suffix(out, &one.suffix), one.bytes)).collect();
    let notes = write_all_whole(&files)?;
    Ok(Written { files: files.into_iter().map(|(path, _)| path).collect(), notes })
}

/// The names that files with these suffixes get.
pub fn export_names(out: &Path, suffixes: &[String]) -> Vec<PathBuf> {
    suffixes.iter().map(|suffix| with_suffix(out, suffix)).collect()
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

    #[test]
    fn suffixes_stand_before_the_ending() {
        let name = |out: &str, suffix| with_suffix(Path::new(out), suffix);
        assert_eq!(name("a/b.svg", ""), Path::new("a/b.svg"));
        assert_eq!(name("a/b.c.SVG", "-03"), Path::new("a/b.c-03.SVG"));
        assert_eq!(name("b-mm.dxf", "-mm"), Path::new("b-mm.dxf"));
    }

    #[test]
    fn no_file_changes_unless_all_can() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("a.txt");
        let export = |suffix: &str, bytes: &[u8]| Export { suffix: suffix.to_owned(), bytes: bytes.to_vec() };
        let written = write_exports(&out, vec![export("", b"one"), export("-2", b"two")]).unwrap();
        assert_eq!(std::fs::read(&written.files[1]).unwrap(), b"two");
        // A folder stands where the second should go.
        std::fs::create_dir(folder.path().join("a-3.txt")).unwrap();
        let refused = write_exports(&out, vec![export("", b"new"), export("-3", b"x")]);
        assert!(refused.is_err());
        assert_eq!(std::fs::read(&out).unwrap(), b"one");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
        assert!(write_exports(&folder.path().join("none/a.txt"), vec![export("", b"x")]).is_err());
        assert!(write_exports(&out, Vec::new()).is_err());
    }
}
