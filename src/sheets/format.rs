//! The kinds of files sheets are written as.

use super::error::SheetError;
use super::set::SheetSet;
use super::{dxf, pdf, picture, svg};
use strum::EnumCount;

/// What a file of sheets is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum SheetFormat {
    /// All pages in one file.
    Pdf,
    /// One page a file.
    Svg,
    /// One page a file, in millimetres of the bar.
    Dxf,
    /// One page a file, 150 pixels an inch.
    Png,
}

/// A file, with what is added to the name asked for before its ending.
pub type NamedBytes = (String, Vec<u8>);

/// Pixels of a picture for a point of 1/72 in.
const PIXELS_A_POINT: f32 = 150.0 / 72.0;

impl SheetFormat {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::Pdf, Self::Svg, Self::Dxf, Self::Png];

    /// How such a file's name ends.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Svg => "svg",
            Self::Dxf => "dxf",
            Self::Png => "png",
        }
    }

    /// By the ending of a file's name, whatever its case.
    pub fn by_ending(ending: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.ending().eq_ignore_ascii_case(ending))
    }

    /// What is added to the name of one of `many` pages, before its ending: `-03` where there are several and, for DXF
    /// of a release that can't say its unit, `-mm`. A PDF file holds all pages and adds nothing.
    pub fn suffix(self, page: usize, many: usize) -> String {
        let unit = if self == Self::Dxf { format!("-{}", dxf::UNIT) } else { String::new() };
        let digits = many.to_string().len();
        if many > 1 && self != Self::Pdf { format!("-{:0digits$}{unit}", page + 1) } else { unit }
    }

    /// How many files `many` pages become.
    pub const fn files_of(self, many: usize) -> usize {
        if matches!(self, Self::Pdf) { 1 } else { many }
    }

    /// The files of a set, each with what is added to the name asked for.
    pub fn files(self, set: &SheetSet) -> Result<Vec<NamedBytes>, SheetError> {
        Ok(self.files_while(set, |_| true)?.unwrap_or_default())
    }

    /// The same for whoever may lose patience: `go_on` is asked before each file, with its number from 0; nothing
    /// comes of it once that answers no.
    pub fn files_while(
        self,
        set: &SheetSet,
        mut go_on: impl FnMut(usize) -> bool,
    ) -> Result<Option<Vec<NamedBytes>>, SheetError> {
        let many = set.pages.len();
        // A PNG file is made from the PDF's bytes.
        let whole = match self {
            Self::Pdf | Self::Png => pdf::pdf(&set.pages, &set.about, &set.fonts)?,
            Self::Svg | Self::Dxf => Vec::new(),
        };
        if self == Self::Pdf {
            return Ok(go_on(0).then(|| vec![(self.suffix(0, many), whole)]));
        }
        let mut files = Vec::with_capacity(many);
        for (number, page) in set.pages.iter().enumerate() {
            if !go_on(number) {
                return Ok(None);
            }
            let bytes = match self {
                Self::Svg => svg::svg(page, &set.fonts).into_bytes(),
                Self::Dxf => dxf::dxf(page).into_bytes(),
                Self::Pdf | Self::Png => picture::png(&whole, number, PIXELS_A_POINT)?,
            };
            files.push((self.suffix(number, many), bytes));
        }
        Ok(Some(files))
    }
}
