//! Arguments as text, with nothing of them lost: names of files may hold bytes that are no UTF-8.
//!
//! Such a byte stands in the text as a letter of its own at the end of the last private-use plane (the way of Python's
//! "surrogateescape", PEP 383, with letters that a Rust text can hold), and [`path_of`] turns it back.

use std::ffi::OsStr;
#[cfg(unix)]
use std::ffi::OsString;
use std::path::PathBuf;

/// The letter that stands for byte 0; only bytes from 0x80 on need one.
#[cfg(unix)]
const FIRST: u32 = 0x0010_ff00;

#[cfg(unix)]
const fn letter(byte: u8) -> char {
    match char::from_u32(FIRST + byte as u32) {
        Some(letter) => letter,
        None => char::REPLACEMENT_CHARACTER,
    }
}

/// The byte that a letter stands for.
#[cfg(unix)]
fn byte(letter: char) -> Option<u8> {
    u8::try_from((letter as u32).checked_sub(FIRST)?).ok().filter(|byte| *byte >= 0x80)
}

/// An argument as text.
#[cfg(unix)]
pub(super) fn text_of(argument: &OsStr) -> String {
    use std::os::unix::ffi::OsStrExt as _;
    let mut text = String::new();
    for chunk in argument.as_bytes().utf8_chunks() {
        for one in chunk.valid().chars() {
            // A letter that would be taken for a byte goes byte by byte itself.
            match byte(one) {
                Some(_) => text.extend(one.encode_utf8(&mut [0; 4]).bytes().map(letter)),
                None => text.push(one),
            }
        }
        text.extend(chunk.invalid().iter().copied().map(letter));
    }
    text
}

/// The path that an argument names.
#[cfg(unix)]
pub(super) fn path_of(text: &str) -> PathBuf {
    use std::os::unix::ffi::OsStringExt as _;
    let mut bytes = Vec::with_capacity(text.len());
    for one in text.chars() {
        match byte(one) {
            Some(byte) => bytes.push(byte),
            None => bytes.extend(one.encode_utf8(&mut [0; 4]).bytes()),
        }
    }
    PathBuf::from(OsString::from_vec(bytes))
}

/// An argument as text.
#[cfg(not(unix))]
pub(super) fn text_of(argument: &OsStr) -> String {
    argument.to_string_lossy().into_owned()
}

/// The path that an argument names.
#[cfg(not(unix))]
pub(super) fn path_of(text: &str) -> PathBuf {
    PathBuf::from(text)
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::ffi::OsStringExt as _;

    #[test]
    fn every_name_comes_back_as_it_was() {
        let all: Vec<u8> = (0..=255).collect();
        let names: [&[u8]; 6] = [
            b"bar.ron",
            "Düse 漢😀".as_bytes(),
            b"a\xffb\xfe",
            b"\xc3",
            "\u{10ff80}\u{10ffff}".as_bytes(),
            &all,
        ];
        for name in names {
            let argument = OsString::from_vec(name.to_vec());
            assert_eq!(path_of(&text_of(&argument)).into_os_string(), argument);
        }
        assert_eq!(text_of(&OsString::from("--speed=7,2")), "--speed=7,2");
    }
}
