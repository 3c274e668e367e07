//! The kinds of files that are written, and the mark by which an older one of each kind is recognised.
//!
//! Formats that carry words of ours already are recognised by those: the heading of a project or a catalogue, the first
//! note of a network, the creator of a PDF, the headings of a table. The others get a seal as they are written: one line
//! that says what the file is and holds a digest of all the rest, so that a file that was edited since is not taken for
//! one that can be written again. Pages also say which of how many they are, so that a later, shorter set knows which
//! ones it leaves over; a list beside them would be one more file to lose.

use std::fmt;

use png::text_metadata::{EncodableTextChunk as _, TEXtChunk};
use strum::EnumCount;

/// The words that begin every mark of ours.
pub const WRITTEN_BY: &str = "Written by equirow";

/// A paper that is written as a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum List {
    /// What to order.
    Parts,
    /// What is screwed into which port, and which outlet feeds which row.
    Joints,
    /// Hoses and tubes to cut.
    Cuts,
    /// Where hoses and tubes are clamped at hinges, and how long they are there.
    Hinges,
    /// A label for each end of every hose and tube.
    Labels,
    /// What to expect and to write down.
    Commissioning,
    /// What was caught, and what that says.
    CatchTest,
}

impl List {
    /// All.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Parts,
        Self::Joints,
        Self::Cuts,
        Self::Hinges,
        Self::Labels,
        Self::Commissioning,
        Self::CatchTest,
    ];

    const fn name(self) -> &'static str {
        match self {
            Self::Parts => "parts list",
            Self::Joints => "list of joints",
            Self::Cuts => "cut list",
            Self::Hinges => "list of hinge crossings",
            Self::Labels => "list of labels",
            Self::Commissioning => "commissioning sheet",
            Self::CatchTest => "catch test",
        }
    }

    /// How the first table's headings begin, without units.
    const fn headings(self) -> &'static str {
        match self {
            Self::Parts => "Item,Order,Unit,In use,Spares,Description,",
            Self::Joints => "Port,Made as,Goes on it,Fitting",
            Self::Cuts => "Cut,Tag,From,To,Stock,Part number,",
            Self::Hinges => "No.,Hinge,Hoses and tubes,Rows,",
            Self::Labels => "Tag,This end,Other end,Cut,",
            Self::Commissioning => "Condition,Value,",
            Self::CatchTest => "Of the test,As it was,",
        }
    }
}

/// What a file is that the program writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum Kind {
    /// A project.
    Project,
    /// A catalogue as RON.
    Catalogue,
    /// A catalogue as CSV.
    CatalogueCsv,
    /// A network in the neutral format.
    Network,
    /// A network in the text format of the EPA engine.
    EpaNetwork,
    /// Two routings compared, as CSV.
    ComparisonCsv,
    /// The first table of a list, as CSV.
    ListCsv(List),
    /// All tables of a list, as a spreadsheet.
    ListXlsx(List),
    /// Sheets, all in one file.
    SheetsPdf,
    /// One sheet.
    SheetSvg,
    /// One sheet.
    SheetDxf,
    /// One sheet.
    SheetPng,
    /// The drawing of the window.
    DrawingPng,
}

impl Kind {
    /// All, those of lists once for each list.
    pub const ALL: [Self; Self::COUNT + 2 * (List::COUNT - 1)] = [
        Self::Project,
        Self::Catalogue,
        Self::CatalogueCsv,
        Self::Network,
        Self::EpaNetwork,
        Self::ComparisonCsv,
        Self::ListCsv(List::Parts),
        Self::ListCsv(List::Joints),
        Self::ListCsv(List::Cuts),
        Self::ListCsv(List::Hinges),
        Self::ListCsv(List::Labels),
        Self::ListCsv(List::Commissioning),
        Self::ListCsv(List::CatchTest),
        Self::ListXlsx(List::Parts),
        Self::ListXlsx(List::Joints),
        Self::ListXlsx(List::Cuts),
        Self::ListXlsx(List::Hinges),
        Self::ListXlsx(List::Labels),
        Self::ListXlsx(List::Commissioning),
        Self::ListXlsx(List::CatchTest),
        Self::SheetsPdf,
        Self::SheetSvg,
        Self::SheetDxf,
        Self::SheetPng,
        Self::DrawingPng,
    ];

    /// In words, without an article.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Project => "project",
            Self::Catalogue | Self::CatalogueCsv => "catalogue",
            Self::Network => "network",
            Self::EpaNetwork => "network for the EPA engine",
            Self::ComparisonCsv => "comparison",
            Self::ListCsv(list) | Self::ListXlsx(list) => list.name(),
            Self::SheetsPdf => "set of sheets",
            Self::SheetSvg | Self::SheetDxf | Self::SheetPng => "sheet",
            Self::DrawingPng => "picture of the drawing",
        }
    }

    /// Where the seal stands in a file of this kind; none where words of the format itself are the mark.
    const fn sealing(self) -> Option<Sealing> {
        match self {
            Self::SheetSvg => Some(Sealing::Svg),
            Self::SheetDxf => Some(Sealing::Dxf),
            Self::SheetPng | Self::DrawingPng => Some(Sealing::Png),
            Self::ListXlsx(_) => Some(Sealing::Zip),
            Self::Project
            | Self::Catalogue
            | Self::CatalogueCsv
            | Self::Network
            | Self::EpaNetwork
            | Self::ComparisonCsv
            | Self::ListCsv(_)
            | Self::SheetsPdf => None,
        }
    }

    /// A file with its mark; one that carries it anyhow stays as it is.
    pub(super) fn marked(self, bytes: Vec<u8>, page: PageOf) -> Vec<u8> {
        match self.sealing() {
            Some(sealing) => sealing.seal(bytes, self.name(), page),
            None => bytes,
        }
    }
}

/// Which of how many files a set was written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PageOf {
    /// From 1.
    pub page: usize,
    /// All of them.
    pub many: usize,
}

impl PageOf {
    /// A file that stands alone.
    pub const ALONE: Self = Self { page: 1, many: 1 };
}

impl fmt::Display for PageOf {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} of {}", self.page, self.many)
    }
}

impl Kind {
    /// People write into such a file (what they read, caught and ordered; a project is their work), and nothing in it tells
    /// whether they did.
    pub fn may_be_filled_in(self) -> bool {
        matches!(self, Self::Project | Self::ListCsv(_))
    }
}

/// What a file was recognised as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Recognised {
    /// Its kind.
    pub kind: Kind,
    /// Which page of its set it is.
    pub page: PageOf,
    /// It is as it was written, as far as its mark can tell.
    pub unchanged: bool,
}

/// What a file is, if the program wrote it.
pub fn recognise(bytes: &[u8]) -> Option<Recognised> {
    let sealed = [Sealing::Svg, Sealing::Dxf, Sealing::Png, Sealing::Zip].into_iter().find_map(|sealing| {
        let seal = sealing.read(bytes)?;
        let is_it = |kind: &Kind| kind.sealing() == Some(sealing) && kind.name() == seal.name;
        let kind = Kind::ALL.into_iter().find(is_it)?;
        Some(Recognised { kind, page: seal.page, unchanged: seal.is_unbroken })
    });
    sealed.or_else(|| {
        let kind = by_own_words(bytes)?;
        Some(Recognised { kind, page: PageOf::ALONE, unchanged: true })
    })
}

fn by_own_words(bytes: &[u8]) -> Option<Kind> {
    if bytes.starts_with(b"%PDF-") {
        // What is added to such a file later ends in another such line.
        let ends = find_all(bytes, b"%%EOF").count();
        let creator = find_all(bytes, b"<xmp:CreatorTool>Equirow</xmp:CreatorTool>").next();
        return (ends == 1 && creator.is_some()).then_some(Kind::SheetsPdf);
    }
    let text = std::str::from_utf8(bytes).ok()?;
    let text = text.trim_start_matches('\u{feff}');
    let first = text.lines().next().unwrap_or_default();
    if first.starts_with("Key,Kind,Description,Part number,Connection,") {
        return Some(Kind::CatalogueCsv);
    }
    if first.starts_with("group,figure,unit,") && first.contains("a: ") {
        return Some(Kind::ComparisonCsv);
    }
    let headings: Vec<&str> = first.split(',').map(|one| one.split(" (").next().unwrap_or(one)).collect();
    let headings = headings.join(",");
    if let Some(list) = List::ALL.into_iter().find(|list| headings.starts_with(list.headings())) {
        return Some(Kind::ListCsv(list));
    }
    if first.starts_with(&format!("; {WRITTEN_BY}")) && text.contains("\n[JUNCTIONS]\n") {
        return Some(Kind::EpaNetwork);
    }
    if first.starts_with("{\"format\": \"liquid-network/") {
        let note = text.lines().nth(2)?.trim_start();
        return note.starts_with(&format!("\"{WRITTEN_BY}")).then_some(Kind::Network);
    }
    // A file of any version counts.
    let head: String = text
        .lines()
        .map(str::trim)
        .filter(|line| !line.starts_with("//"))
        .flat_map(str::chars)
        .filter(|letter| !letter.is_whitespace())
        .take(60)
        .collect();
    let behind = head.strip_prefix("(version:")?.trim_start_matches(|one: char| one.is_ascii_digit());
    [(",project:", Kind::Project), (",catalogue:", Kind::Catalogue)]
        .into_iter()
        .find_map(|(words, kind)| behind.starts_with(words).then_some(kind))
}

/// Places where some bytes stand in others.
fn find_all<'a>(bytes: &'a [u8], wanted: &'a [u8]) -> impl Iterator<Item = usize> + 'a {
    bytes.windows(wanted.len()).enumerate().filter(move |(_, part)| *part == wanted).map(|(at, _)| at)
}

/// How a format takes the line of the seal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sealing {
    /// A comment behind the root element (XML 1.0, `Misc`).
    Svg,
    /// A comment (group code 999) before the end of the file.
    Dxf,
    /// A `tEXt` chunk of the registered keyword `Software`, the last before `IEND`.
    Png,
    /// The comment of the archive (PKWARE's APPNOTE 4.3.16; allowed by ECMA-376 part 2). A program that saves a
    /// spreadsheet anew leaves it away.
    Zip,
}

/// What a seal says, and whether it is true.
struct Seal {
    name: String,
    page: PageOf,
    is_unbroken: bool,
}

const SVG_BEFORE: &[u8] = b"<!-- ";
const SVG_BEHIND: &[u8] = b" -->\n";
const DXF_BEFORE: &[u8] = b"999\n";
const DXF_BEHIND: &[u8] = b"\n  0\nEOF\n";
/// Length and name of the last chunk, and its checksum; it holds nothing.
const PNG_END: &[u8] = b"\0\0\0\0IEND\xaeB`\x82";
const SOFTWARE: &str = "Software";
/// The record that ends an archive without a comment: this, 16 bytes more, and the comment's length.
const ZIP_END: &[u8] = b"PK\x05\x06";
const ZIP_END_LENGTH: usize = 22;
/// The longest seal, bytes.
const LONGEST_SEAL: usize = 160;

impl Sealing {
    /// A format that does not end as it should is left without a seal: nothing is then recognised, and nothing harmed.
    fn seal(self, mut bytes: Vec<u8>, name: &str, page: PageOf) -> Vec<u8> {
        let (body, before, behind): (usize, &[u8], &[u8]) = match self {
            Self::Svg => (bytes.len(), SVG_BEFORE, SVG_BEHIND),
            Self::Dxf => (bytes.len().saturating_sub(DXF_BEHIND.len() - 1), DXF_BEFORE, DXF_BEHIND),
            Self::Png => (bytes.len().saturating_sub(PNG_END.len()), b"", PNG_END),
            Self::Zip => (bytes.len().saturating_sub(2), b"", b""),
        };
        let words = words(&bytes[..body], name, page);
        let end = bytes.split_off(body);
        let is_whole = match self {
            Self::Svg => end.is_empty(),
            Self::Dxf => end == DXF_BEHIND[1..],
            Self::Png => end == PNG_END,
            Self::Zip => {
                let record = bytes.len().checked_sub(ZIP_END_LENGTH - 2);
                end == [0, 0] && record.is_some_and(|at| bytes[at..].starts_with(ZIP_END))
            }
        };
        if !is_whole {
            bytes.extend(end);
            return bytes;
        }
        bytes.extend(before);
        match self {
            Self::Svg | Self::Dxf => bytes.extend(words.as_bytes()),
            // Writing to memory does not fail, and the words are plain.
            Self::Png => drop(TEXtChunk::new(SOFTWARE, words).encode(&mut bytes)),
            Self::Zip => {
                bytes.extend(u16::try_from(words.len()).unwrap_or(0).to_le_bytes());
                bytes.extend(words.as_bytes());
            }
        }
        bytes.extend(behind);
        bytes
    }

    fn read(self, bytes: &[u8]) -> Option<Seal> {
        let from = bytes.len().saturating_sub(LONGEST_SEAL + 64);
        let at = from + find_all(&bytes[from..], WRITTEN_BY.as_bytes()).last()?;
        let (body, end) = match self {
            Self::Svg => (bytes[..at].strip_suffix(SVG_BEFORE)?, bytes.strip_suffix(SVG_BEHIND)?.len()),
            Self::Dxf => (bytes[..at].strip_suffix(DXF_BEFORE)?, bytes.strip_suffix(DXF_BEHIND)?.len()),
            Self::Png => {
                // Length and name of the chunk stand before the keyword, its checksum behind the words.
                let keyword = [b"tEXt".as_slice(), SOFTWARE.as_bytes(), b"\0"].concat();
                let head = bytes[..at].strip_suffix(keyword.as_slice())?;
                let end = bytes.strip_suffix(PNG_END)?.len().checked_sub(4)?;
                (head.get(..head.len().checked_sub(4)?)?, end)
            }
            Self::Zip => {
                let length = at.checked_sub(2)?;
                let record = length.checked_sub(ZIP_END_LENGTH - 2)?;
                (bytes[record..].starts_with(ZIP_END)).then_some((&bytes[..length], bytes.len()))?
            }
        };
        let found = std::str::from_utf8(bytes.get(at..end)?).ok()?;
        let mut parts = found.strip_prefix(WRITTEN_BY)?.strip_prefix(": ")?.split("; ");
        let (name, page) = (parts.next()?, parts.next()?.split_once(" of ")?);
        let page = PageOf { page: page.0.parse().ok()?, many: page.1.parse().ok()? };
        Some(Seal { name: name.to_owned(), page, is_unbroken: words(body, name, page) == found })
    }
}

/// `Written by equirow: sheet; 3 of 12; digest 0123456789abcdef`.
fn words(body: &[u8], name: &str, page: PageOf) -> String {
    let says = format!("{WRITTEN_BY}: {name}; {page}; digest ");
    let digest = digest(says.bytes().chain(body.iter().copied()));
    format!("{says}{digest:016x}")
}

/// FNV-1a, 64 bits (Fowler, Noll and Vo): enough to notice that somebody has edited a file, and no more is asked of it.
fn digest(bytes: impl Iterator<Item = u8>) -> u64 {
    bytes.fold(0xcbf2_9ce4_8422_2325, |sum, byte| (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published test vectors of the authors (draft-eastlake-fnv).
    #[test]
    fn the_digest_is_the_published_one() {
        assert_eq!(digest(b"".iter().copied()), 0xcbf2_9ce4_8422_2325);
        assert_eq!(digest(b"a".iter().copied()), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(digest(b"foobar".iter().copied()), 0x8594_4171_f739_67e8);
    }

    /// The kinds that every `match` knows, counted once more: one that is left off the list fails here.
    #[test]
    fn no_kind_is_missing_from_the_list() {
        let mut all: Vec<Kind> = Kind::ALL.to_vec();
        all.dedup();
        assert_eq!(all.len(), Kind::ALL.len());
        let next = |kind: Kind| match kind {
            Kind::Project => Kind::Catalogue,
            Kind::Catalogue => Kind::CatalogueCsv,
            Kind::CatalogueCsv => Kind::Network,
            Kind::Network => Kind::EpaNetwork,
            Kind::EpaNetwork => Kind::ComparisonCsv,
            Kind::ComparisonCsv => Kind::ListCsv(List::Parts),
            Kind::ListCsv(list) => after(list).map_or(Kind::ListXlsx(List::Parts), Kind::ListCsv),
            Kind::ListXlsx(list) => after(list).map_or(Kind::SheetsPdf, Kind::ListXlsx),
            Kind::SheetsPdf => Kind::SheetSvg,
            Kind::SheetSvg => Kind::SheetDxf,
            Kind::SheetDxf => Kind::SheetPng,
            Kind::SheetPng => Kind::DrawingPng,
            Kind::DrawingPng => Kind::Project,
        };
        for (index, kind) in Kind::ALL.into_iter().enumerate() {
            assert_eq!(next(kind), Kind::ALL[(index + 1) % Kind::ALL.len()]);
        }
    }

    const fn after(list: List) -> Option<List> {
        match list {
            List::Parts => Some(List::Joints),
            List::Joints => Some(List::Cuts),
            List::Cuts => Some(List::Hinges),
            List::Hinges => Some(List::Labels),
            List::Labels => Some(List::Commissioning),
            List::Commissioning => Some(List::CatchTest),
            List::CatchTest => None,
        }
    }

    #[test]
    fn a_format_that_does_not_end_as_it_should_is_left_as_it_is() {
        for sealing in [Sealing::Dxf, Sealing::Png, Sealing::Zip] {
            for odd in [&b""[..], b"x", b"some bytes that are of no such format at all"] {
                assert_eq!(sealing.seal(odd.to_vec(), "sheet", PageOf::ALONE), odd, "{sealing:?}");
            }
        }
    }

    #[test]
    fn what_is_not_ours_is_not_recognised() {
        for other in [
            "",
            "\u{feff}",
            "Tag,From,To,Remarks\r\n",
            "{\"format\": \"liquid-network/1\",\n \"meta\": {\"notes\": [\n  \"by hand\"]}}",
            "; Written by hand\n[JUNCTIONS]\n",
            "(version: 1, something: ())",
            "(version: 1)",
            "<svg></svg>\n",
            "<svg></svg>\n<!-- Written by equirow: sheet -->\n",
            "Written by equirow: sheet; 1 of 1; digest 0",
            "%PDF-1.7\n%%EOF\n",
        ] {
            assert_eq!(recognise(other.as_bytes()), None, "{other}");
        }
    }
}
