//! Files opened without waiting, and read with a bound.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read as _};
use std::path::Path;

use super::read_error::ReadError;
use crate::plan::problems::Problem;

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
pub(super) fn without_waiting() -> OpenOptions {
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

pub(super) fn too_large(largest: u64) -> Problem {
    Problem {
        place: "file".to_owned(),
        what: format!("it is {}", larger_than(largest)),
        advice: "choose another file; a project, a table of rows or a network is far smaller".to_owned(),
    }
}

pub(super) fn cannot_read(error: &io::Error) -> Problem {
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
    text_of(bytes)
}

/// The text that bytes are, in UTF-8 or, where its first bytes say so, in UTF-16; refused where they are something else.
pub(super) fn text_of(bytes: Vec<u8>) -> Result<String, ReadError> {
    // Byte order marks (RFC 2781, 3.2).
    type Unit = fn([u8; 2]) -> u16;
    let marks: [(&[u8], Unit); 2] = [(b"\xFF\xFE", u16::from_le_bytes), (b"\xFE\xFF", u16::from_be_bytes)];
    if let Some((mark, unit)) = marks.into_iter().find(|one| bytes.starts_with(one.0)) {
        return utf_16(&bytes[mark.len()..], unit);
    }
    // Of plain letters it is UTF-8 with zeros between.
    if is_bare_utf_16(&bytes)
        && let Some((what, advice)) = no_text(&bytes)
    {
        return Err(ReadError::one("file".to_owned(), what, advice));
    }
    String::from_utf8(bytes).map_err(|error| {
        if let Some((what, advice)) = no_text(error.as_bytes()) {
            return ReadError::one("file".to_owned(), what, advice);
        }
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..good].split(|byte| *byte == b'\n').count();
        ReadError::one(
            format!("line {line}"),
            "it is not UTF-8 text; an older program may have written it, in Windows-1252 (\"ANSI\") or the like",
            "choose a file that was saved as UTF-8 text (a spreadsheet calls it \"CSV UTF-8\")",
        )
    })
}

/// Text of units of two bytes.
fn utf_16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, ReadError> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let mut text = String::with_capacity(bytes.len());
    let units = pairs.iter().map(|pair| unit(*pair));
    for letter in char::decode_utf16(units).map(Result::ok).chain((!rest.is_empty()).then_some(None)) {
        let Some(letter) = letter else {
            let line = text.split('\n').count();
            return Err(ReadError::one(
                format!("line {line}"),
                "it begins as text in UTF-16, and goes on as something else",
                "save it again, as UTF-8 text if there is a choice",
            ));
        };
        text.push(letter);
    }
    Ok(text)
}

/// What a file is by its first bytes, if it is one of those that are often taken for text, and what to try.
fn no_text(bytes: &[u8]) -> Option<(&'static str, &'static str)> {
    // ZIP (APPNOTE 4.3.7), PDF (ISO 32000), PNG (ISO/IEC 15948), the older workbooks ([MS-CFB]).
    const WORKBOOK: &str = "open it in a spreadsheet and save the sheet as CSV in UTF-8";
    const KNOWN: [(&[u8], &str, &str); 4] = [
        (b"PK\x03\x04", "it is a workbook (XLSX) or another ZIP archive, not text", WORKBOOK),
        (b"\xD0\xCF\x11\xE0", "it is a workbook of an old format (XLS), not text", WORKBOOK),
        (b"%PDF", "it is a PDF, not text", "choose the file that the PDF was made of"),
        (b"\x89PNG", "it is a picture (PNG), not text", "choose another file"),
    ];
    let utf_16 = is_bare_utf_16(bytes).then_some((
        "it is text in UTF-16 without the mark that should stand in front (FF FE or FE FF)",
        "save it again, as UTF-8 text if there is a choice",
    ));
    KNOWN.iter().find(|one| bytes.starts_with(one.0)).map(|one| (one.1, one.2)).or(utf_16)
}

/// Text in UTF-16 without its mark: letters of most languages have a zero in the same one of their two bytes, and no other text
/// has any.
fn is_bare_utf_16(bytes: &[u8]) -> bool {
    let zeros = |from: usize| bytes.iter().skip(from).step_by(2).filter(|byte| **byte == 0).count();
    let (first, second) = (zeros(0), zeros(1));
    4 * first.max(second) > bytes.len() && 8 * first.min(second) < first.max(second)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_text_is_named_for_what_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("list.csv");
        for (bytes, says) in [
            (
                &b"PK\x03\x04\x14\x00\xff\xfe"[..],
                "file: it is a workbook (XLSX) or another ZIP archive, not text; open it",
            ),
            (b"\xD0\xCF\x11\xE0\xA1", "file: it is a workbook of an old format"),
            (b"%PDF-1.7\n%\xE2\xE3", "file: it is a PDF"),
            (b"\x89PNG\r\n", "file: it is a picture (PNG)"),
            (
                b"\xFF\xFET\0\n\0\x00\xD8T\0",
                "line 2: it begins as text in UTF-16, and goes on as something else; save it",
            ),
            (b"\xFE\xFF\0T\0", "line 1: it begins as text in UTF-16"),
            (b"r\0o\0w\0\n\0\xE4\0", "file: it is text in UTF-16 without the mark"),
            (b"\0r\0o\0w", "file: it is text in UTF-16 without the mark"),
            (
                b"Tag\nH\xE4",
                "line 2: it is not UTF-8 text; an older program may have written it, in Windows-1252 (\"ANSI\") or the like; choose a file that was saved as UTF-8 text (a spreadsheet calls it \"CSV UTF-8\")",
            ),
        ] {
            std::fs::write(&file, bytes).unwrap();
            let error = read_file(&file, 1000).unwrap_err().to_string();
            assert!(error.contains(says), "{error}");
        }
        // What a spreadsheet calls "Unicode text": UTF-16 with its mark, either byte first (RFC 2781, 3.2 and 4.4).
        for bytes in [&b"\xFF\xFEH\0\xE4\0\x3D\xD8\x00\xDE"[..], b"\xFE\xFF\0H\0\xE4\xD8\x3D\xDE\x00"] {
            std::fs::write(&file, bytes).unwrap();
            assert_eq!(read_file(&file, 1000).unwrap(), "H\u{e4}\u{1f600}");
        }
        // Text is text, whatever it begins with.
        std::fs::write(&file, "PK\u{3}\u{4}").unwrap();
        assert!(read_file(&file, 1000).is_ok());
    }
}
