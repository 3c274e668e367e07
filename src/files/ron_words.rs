//! What the reader of a file's text found wrong with it, in words for whoever opens the file.

use ron::Error;

/// Most names that a message lists.
const MOST_NAMES: usize = 6;

/// What is said of a file whose end is missing.
pub(super) const CUT_OFF: &str = "the file ends here in the middle: it was cut off";

/// What is wrong, lower case, without a full stop. Names that stand in the file are quoted; types of the program are not.
pub(super) fn what_is_wrong(error: &Error) -> String {
    match error {
        Error::Eof | Error::ExpectedStringEnd | Error::UnclosedBlockComment => CUT_OFF.to_owned(),
        Error::NoSuchEnumVariant { expected, found, .. } => {
            format!("\"{found}\" is none of the words that may stand here{}", list(expected))
        }
        Error::NoSuchStructField { expected, found, .. } => {
            format!("\"{found}\" is no entry of what stands here{}", list(expected))
        }
        Error::MissingStructField { field, .. } => {
            format!("the entry \"{field}\" is missing in what ends here")
        }
        Error::DuplicateStructField { field, .. } => format!("the entry \"{field}\" stands here twice"),
        Error::ExpectedArray => "a list in square brackets belongs here".to_owned(),
        Error::ExpectedArrayEnd => "a closing square bracket ] or a comma is missing here".to_owned(),
        Error::ExpectedMap => "a list in curly brackets belongs here".to_owned(),
        Error::ExpectedMapColon => "a colon is missing here".to_owned(),
        Error::ExpectedMapEnd => "a closing curly bracket } or a comma is missing here".to_owned(),
        Error::ExpectedComma => "a comma is missing here".to_owned(),
        Error::ExpectedOptionEnd | Error::ExpectedStructLikeEnd => {
            "a closing bracket ) is missing here".to_owned()
        }
        Error::ExpectedStructLike
        | Error::ExpectedNamedStructLike(_)
        | Error::ExpectedDifferentStructName { .. }
        | Error::ExpectedStructName(_) => "an opening bracket ( belongs here".to_owned(),
        Error::ExpectedOption => "Some(…) or None belongs here".to_owned(),
        Error::ExpectedBoolean => "true or false belongs here".to_owned(),
        Error::ExpectedFloat | Error::ExpectedInteger | Error::InvalidIntegerDigit { .. } => {
            "a number belongs here".to_owned()
        }
        Error::IntegerOutOfBounds => "the number here is too large or too small".to_owned(),
        Error::ExpectedString => "words in quotation marks belong here".to_owned(),
        Error::TrailingCharacters => "something stands behind the end of the project".to_owned(),
        Error::Message(words) => words.clone(),
        _ => "the text can't be understood here".to_owned(),
    }
}

/// The names that would have been right.
fn list(names: &[&str]) -> String {
    match names.len() {
        0 => String::new(),
        1..=MOST_NAMES => format!(": {}", names.join(", ")),
        more => format!(": {} and {} more", names[..MOST_NAMES].join(", "), more - MOST_NAMES),
    }
}
