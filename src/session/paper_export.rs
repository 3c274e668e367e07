//! Papers and lists put into files: what is written under which names, and the writing on a thread.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::Session;
use super::papers::Made;
use super::task::{Task, Teller};
use crate::files::WriteError;
use crate::files::marks::{Kind, List, PageOf};
use crate::files::output::{Output, OutputSet, Permit, Written, look, look_at_pages};
use crate::plan::{Duty, LaidRouting, Project, RoutingGeometry};
use crate::sheets::document::Document;
use crate::sheets::spreadsheet::ListFormat;
use crate::sheets::{
    NamedBytes, SheetFormat, SheetSet, catch_test, commissioning, cut_list, hinge_crossings, joint_list,
    parts_list,
};
use strum::EnumCount;

/// A paper that is also written as a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum PaperList {
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
    /// What was caught in the newest test of the routing, and what that says.
    CatchTest,
}

impl PaperList {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Parts,
        Self::Joints,
        Self::Cuts,
        Self::Hinges,
        Self::Labels,
        Self::Commissioning,
        Self::CatchTest,
    ];

    /// As people read it.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Parts => "Parts list",
            Self::Joints => "List of joints",
            Self::Cuts => "Hose and tube cut list",
            Self::Hinges => "Hinge crossings",
            Self::Labels => "Hose and tube labels",
            Self::Commissioning => "Commissioning sheet",
            Self::CatchTest => "Catch test",
        }
    }

    /// In the name of a file; the subcommand that writes it has the same.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Parts => "parts",
            Self::Joints => "joints",
            Self::Cuts => "cuts",
            Self::Hinges => "hinges",
            Self::Labels => "labels",
            Self::Commissioning => "commissioning",
            Self::CatchTest => "catch-sheet",
        }
    }

    /// As a kind of file.
    pub const fn list(self) -> List {
        match self {
            Self::Parts => List::Parts,
            Self::Joints => List::Joints,
            Self::Cuts => List::Cuts,
            Self::Hinges => List::Hinges,
            Self::Labels => List::Labels,
            Self::Commissioning => List::Commissioning,
            Self::CatchTest => List::CatchTest,
        }
    }

    /// What it says.
    pub fn document(self, project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
        match self {
            Self::Parts => parts_list::parts_list(project, routing, duty),
            Self::Joints => joint_list::joint_list(project, routing, duty),
            Self::Cuts => cut_list::cut_list(project, routing, duty),
            Self::Hinges => hinge_crossings::hinge_crossings(project, routing, duty),
            Self::Labels => cut_list::label_table(project, routing, duty),
            Self::Commissioning => commissioning::commissioning_sheet(project, routing, duty),
            Self::CatchTest => catch_test::catch_sheet(project, routing, duty),
        }
    }
}

/// What is to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportRequest {
    /// All pages, or the one of a number from 0.
    Sheets(SheetFormat, Option<usize>),
    /// A list.
    List(PaperList, ListFormat),
}

impl ExportRequest {
    /// How the name of its file ends.
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Sheets(format, _) => format.ending(),
            Self::List(_, format) => format.ending(),
        }
    }

    /// What it is, in words.
    pub fn words(self) -> String {
        let ending = self.ending().to_uppercase();
        match self {
            Self::Sheets(SheetFormat::Pdf, None) => "all pages as one PDF file".to_owned(),
            Self::Sheets(_, None) => format!("all pages as {ending}, one file a page"),
            Self::Sheets(_, Some(page)) => format!("page {} as {ending}", page + 1),
            Self::List(list, _) => format!("the {} as {ending}", list.label().to_lowercase()),
        }
    }

    /// A name for its file, made from the project's file or title, the routing and what it is.
    pub fn file_name(self, session: &Session, made: Option<&Made>) -> String {
        let stem = stem(session);
        let routing = plain(&session.routing().name);
        let what = match self {
            Self::Sheets(_, None) => "sheets".to_owned(),
            Self::Sheets(_, Some(page)) => {
                let name = made.and_then(|made| made.set.pages.get(page)).map(|page| plain(&page.name));
                name.unwrap_or_else(|| format!("page-{}", page + 1))
            }
            Self::List(list, _) => list.name().to_owned(),
        };
        let parts: Vec<&str> =
            [stem.as_str(), &routing, &what].into_iter().filter(|part| !part.is_empty()).collect();
        format!("{}.{}", parts.join("-"), self.ending())
    }

    /// The same for the file of a path that was typed: a known ending decides on the format, none is added to, and
    /// any other is refused in words.
    pub fn at(self, path: &Path) -> Result<(Self, PathBuf), String> {
        let Some(ending) = path.extension().map(|ending| ending.to_string_lossy().into_owned()) else {
            return Ok((self, path.with_extension(self.ending())));
        };
        let wanted = match self {
            Self::Sheets(_, page) => SheetFormat::by_ending(&ending).map(|format| Self::Sheets(format, page)),
            Self::List(list, _) => ListFormat::by_ending(&ending).map(|format| Self::List(list, format)),
        };
        let endings = match self {
            Self::Sheets(..) => ".pdf, .svg, .dxf or .png",
            Self::List(..) => ".csv or .xlsx",
        };
        wanted.map(|wanted| (wanted, path.to_owned())).ok_or_else(|| {
            let what = if matches!(self, Self::Sheets(..)) { "Sheets are" } else { "Lists are" };
            format!("{what} written as {endings}; give the name that ending")
        })
    }

    /// What stands where its files are to go; `many` is the number of all pages. A page that is written alone leaves
    /// the pages of a set beside it.
    pub fn look(self, out: &Path, many: usize) -> Result<OutputSet, WriteError> {
        match self {
            Self::Sheets(format, None) => look_at_sheets(out, format, many),
            Self::Sheets(format, Some(_)) => look(vec![sheet_output(out, format, PageOf::ALONE)]),
            Self::List(list, format) => look(vec![Output::alone(out, list_kind(list.list(), format))]),
        }
    }
}

/// What stands where so many pages are to go, and which pages of an earlier set are left over by them.
pub fn look_at_sheets(out: &Path, format: SheetFormat, pages: usize) -> Result<OutputSet, WriteError> {
    look_at_pages(out, sheet_kind(format), format.files_of(pages), |page| suffix(format, page))
}

fn sheet_output(out: &Path, format: SheetFormat, page: PageOf) -> Output {
    Output::page(out, sheet_kind(format), page, &suffix(format, page))
}

fn suffix(format: SheetFormat, page: PageOf) -> String {
    format.suffix(page.page.saturating_sub(1), page.many)
}

const fn sheet_kind(format: SheetFormat) -> Kind {
    match format {
        SheetFormat::Pdf => Kind::SheetsPdf,
        SheetFormat::Svg => Kind::SheetSvg,
        SheetFormat::Dxf => Kind::SheetDxf,
        SheetFormat::Png => Kind::SheetPng,
    }
}

/// What the file of a list is.
pub const fn list_kind(list: List, format: ListFormat) -> Kind {
    match format {
        ListFormat::Csv => Kind::ListCsv(list),
        ListFormat::Xlsx => Kind::ListXlsx(list),
    }
}

/// Words as a part of a file's name: letters and digits, the rest as hyphens.
/// A name for a file of the project without its ending: that of the project's file, or made from its title.
pub fn stem(session: &Session) -> String {
    let of_file = session.path().and_then(Path::file_stem).map(|stem| stem.to_string_lossy().into_owned());
    let stem = plain(&of_file.unwrap_or_else(|| session.project().title.title.clone()));
    if stem.is_empty() { "bar".to_owned() } else { stem }
}

fn plain(words: &str) -> String {
    let mut name = String::new();
    for letter in words.trim().chars().take(60) {
        if letter.is_alphanumeric() || letter == '_' {
            name.extend(letter.to_lowercase());
        } else if !name.ends_with('-') && !name.is_empty() {
            name.push('-');
        }
    }
    name.trim_end_matches('-').to_owned()
}

/// What the thread tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ExportEvent {
    /// This file of so many is being made, from 0.
    File(usize, usize),
    /// All are written, or none is, and why.
    Done(Result<Written, String>),
}

/// Writes on a thread where that is permitted; `wake` is called when it has something to tell. Stopped before the first file is written, it
/// writes none. `made` is the set that sheets are taken from; lists need none.
pub fn write(
    wanted: ExportRequest,
    permit: Permit,
    session: &Session,
    made: Option<Arc<Made>>,
    wake: impl Fn() + Send + Sync + 'static,
) -> Task<ExportEvent> {
    let (project, routing, duty) = (session.snapshot(), session.routing().id, session.duty().id);
    Task::start(wake, move |teller| {
        let files = match wanted {
            ExportRequest::Sheets(format, page) => match &made {
                Some(made) => sheets(format, page, made, teller),
                None => Err("the pages are not ready".to_owned()),
            },
            ExportRequest::List(list, format) => match project.routing(routing) {
                Some(routing) => {
                    let geometry = RoutingGeometry::working(&project, routing);
                    let document = list.document(&project, geometry.with(routing), project.duty(duty));
                    let bytes = format.bytes(&document, &project.title.creator);
                    bytes.map(|bytes| Some(vec![bytes])).map_err(|error| error.to_string())
                }
                None => Err("the project has no routing".to_owned()),
            },
        };
        let done = match files {
            // Stopped.
            Ok(None) => return,
            Ok(Some(files)) => permit.write(files).map_err(|error| error.to_string()),
            Err(why) => Err(why),
        };
        teller.tell(ExportEvent::Done(done));
    })
}

fn sheets(
    format: SheetFormat,
    page: Option<usize>,
    made: &Made,
    teller: &Teller<ExportEvent>,
) -> Result<Option<Vec<Vec<u8>>>, String> {
    let one;
    let set = match page {
        None => &made.set,
        Some(number) => {
            let missing = || format!("there is no page {} any more", number + 1);
            let (page, kind) =
                made.set.pages.get(number).zip(made.set.kinds.get(number)).ok_or_else(missing)?;
            one = SheetSet { pages: vec![page.clone()], kinds: vec![*kind], ..made.set.clone() };
            &one
        }
    };
    let many = format.files_of(set.pages.len());
    let files = format.files_while(set, |number| {
        teller.tell(ExportEvent::File(number, many));
        !teller.is_stopped()
    });
    let bytes = |files: Vec<NamedBytes>| files.into_iter().map(|(_, bytes)| bytes).collect();
    files.map(|files| files.map(bytes)).map_err(|error| error.to_string())
}

/// What was written, in words: one name, or the first and the last of several in one folder.
pub fn written_words(written: &Written) -> String {
    let files = written.files.as_slice();
    let words = match files {
        [] => "Nothing was written".to_owned(),
        [one] => format!("Written: {}", one.display()),
        [first, .., last] => {
            let last = last.file_name().unwrap_or_default().to_string_lossy();
            format!("{} files written: {} to {last}", files.len(), first.display())
        }
    };
    written.notes.behind(&words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_plain_and_endings_decide() {
        assert_eq!(plain(" 24 m: left/right \"A\" "), "24-m-left-right-a");
        assert_eq!(plain("..."), "");
        let pdf = ExportRequest::Sheets(SheetFormat::Pdf, None);
        let at = |path: &str| pdf.at(Path::new(path));
        assert_eq!(at("a/b"), Ok((pdf, PathBuf::from("a/b.pdf"))));
        assert_eq!(at("b.SVG").unwrap().0, ExportRequest::Sheets(SheetFormat::Svg, None));
        assert!(at("b.doc").is_err_and(|why| why.contains(".pdf")));
        let list = ExportRequest::List(PaperList::Cuts, ListFormat::Csv);
        assert_eq!(
            list.at(Path::new("c.xlsx")).unwrap().0,
            ExportRequest::List(PaperList::Cuts, ListFormat::Xlsx)
        );
        assert!(list.at(Path::new("c.pdf")).is_err_and(|why| why.contains(".csv")));
    }

    #[test]
    fn what_was_written_is_said_with_its_place() {
        let paths = |names: &[&str]| Written {
            files: names.iter().map(PathBuf::from).collect(),
            notes: crate::files::Notes::default(),
        };
        assert_eq!(written_words(&paths(&["a/b.pdf"])), "Written: a/b.pdf");
        let several = written_words(&paths(&["a/b-1.svg", "a/b-2.svg", "a/b-3.svg"]));
        assert_eq!(several, "3 files written: a/b-1.svg to b-3.svg");
    }
}
