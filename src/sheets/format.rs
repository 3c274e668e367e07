//! The kinds of files sheets are written as.

use super::{SheetError, SheetSet, dxf, pdf, picture, svg};

/// What a file of sheets is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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

/// Pixels of a picture for a point of 1/72 in.
const PIXELS_A_POINT: f32 = 150.0 / 72.0;

impl SheetFormat {
    /// All, in the order they are offered.
    pub const ALL: [Self; 4] = [Self::Pdf, Self::Svg, Self::Dxf, Self::Png];

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

    /// The files of a set: each with what is added to the name asked for, `-03` where there are several and, for DXF
    /// of a release that can't say its unit, `-mm`.
    pub fn files(self, set: &SheetSet) -> Result<Vec<(String, Vec<u8>)>, SheetError> {
        let many = set.pages.len();
        let suffix = |page: usize| {
            let unit = if self == Self::Dxf { format!("-{}", dxf::UNIT) } else { String::new() };
            let digits = many.to_string().len();
            if many > 1 { format!("-{:0digits$}{unit}", page + 1) } else { unit }
        };
        let pages = set.pages.iter().enumerate();
        match self {
            Self::Pdf => Ok(vec![(String::new(), pdf::pdf(&set.pages, &set.about)?)]),
            Self::Svg => {
                Ok(pages.map(|(number, page)| (suffix(number), svg::svg(page).into_bytes())).collect())
            }
            Self::Dxf => {
                Ok(pages.map(|(number, page)| (suffix(number), dxf::dxf(page).into_bytes())).collect())
            }
            Self::Png => {
                let whole = pdf::pdf(&set.pages, &set.about)?;
                pages
                    .map(|(number, _)| Ok((suffix(number), picture::png(&whole, number, PIXELS_A_POINT)?)))
                    .collect()
            }
        }
    }
}
