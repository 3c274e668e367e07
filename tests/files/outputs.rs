//! What files may be replaced by: every kind that is written is known again by its mark, and by no other.

use std::collections::BTreeMap;
use std::fs;

use equirow::drawing::paper::Page;
use equirow::files::marks::{Kind, List, recognise};
use equirow::files::output::{Output, look};
use equirow::files::{self, catalogue_bytes, epa_file, network_file};
use equirow::hydraulics::prepared::solved_network;
use equirow::plan::{Project, RoutingGeometry};
use equirow::quantities::UnitSystem;
use equirow::session::SideBySide;
use equirow::session::paper_export::PaperList;
use equirow::sheets::picture::Picture;
use equirow::sheets::spreadsheet::ListFormat;
use equirow::sheets::{Date, SheetFormat, SheetKind, SheetOptions, SheetSet, sheet_set};
use equirow::studies::comparison::table;

fn one_page(project: &Project) -> SheetSet {
    let mut options = SheetOptions::all(project, Date::default());
    options.kinds = vec![SheetKind::Schematic];
    let mut set = sheet_set(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap();
    let first: Vec<Page> = set.pages.drain(..1).collect();
    set.pages = first;
    set.kinds.truncate(1);
    set
}

/// What the program puts into a file of a kind, as its writers make it.
fn bytes(kind: Kind, project: &Project) -> Vec<u8> {
    let routing = &project.routings[0];
    let list = |of: List, format: ListFormat| {
        let paper = match of {
            List::Parts => PaperList::Parts,
            List::Joints => PaperList::Joints,
            List::Cuts => PaperList::Cuts,
            List::Hinges => PaperList::Hinges,
            List::Labels => PaperList::Labels,
            List::Commissioning => PaperList::Commissioning,
            List::CatchTest => PaperList::CatchTest,
        };
        let geometry = RoutingGeometry::working(project, routing);
        format.bytes(&paper.document(project, geometry.with(routing), project.duties.first()), "").unwrap()
    };
    let sheet = |format: SheetFormat| format.files(&one_page(project)).unwrap().remove(0).1;
    let network = || {
        let solved = solved_network(project, routing, &project.duties.first().usual_point()).unwrap();
        (solved.assembly.network, solved.solution)
    };
    // As `equirow export` begins its notes.
    let notes = [format!("{} 0", equirow::files::marks::WRITTEN_BY)];
    match kind {
        Kind::Project => files::write_text(project).unwrap().into_bytes(),
        Kind::Catalogue => catalogue_bytes("a.ron".as_ref(), &project.catalogue).unwrap(),
        Kind::CatalogueCsv => catalogue_bytes("a.csv".as_ref(), &project.catalogue).unwrap(),
        Kind::Network => {
            let (network, solution) = network();
            network_file::network_json(&network, &solution, &notes).into_bytes()
        }
        Kind::EpaNetwork => {
            let (network, solution) = network();
            epa_file::inp(&network, &solution, &notes).into_bytes()
        }
        Kind::ComparisonCsv => {
            let session = equirow::session::Session::new(project.clone(), None);
            let mut pair = SideBySide::new(&session);
            pair.follow(&session);
            table::csv(pair.comparison().unwrap(), project.units).into_bytes()
        }
        Kind::ListCsv(of) => list(of, ListFormat::Csv),
        Kind::ListXlsx(of) => list(of, ListFormat::Xlsx),
        Kind::SheetsPdf => sheet(SheetFormat::Pdf),
        Kind::SheetSvg => sheet(SheetFormat::Svg),
        Kind::SheetDxf => sheet(SheetFormat::Dxf),
        Kind::SheetPng => sheet(SheetFormat::Png),
        Kind::DrawingPng => {
            Picture { width: 2, height: 1, rgba: vec![1, 2, 3, 255, 5, 6, 7, 255] }.png(None).unwrap()
        }
    }
}

#[test]
fn every_kind_is_known_by_its_own_mark_and_replaced_only_by_its_own_kind() {
    let folder = tempfile::tempdir().unwrap();
    let mut project = files::demo();
    let mut written = BTreeMap::new();
    for units in [UnitSystem::Metric, UnitSystem::UsCustomary] {
        project.units = units;
        for (number, kind) in Kind::ALL.into_iter().enumerate() {
            let path = folder.path().join(format!("{number}"));
            let place = || look(vec![Output::alone(&path, kind)]).unwrap();
            place().replace().write(vec![bytes(kind, &project)]).unwrap();
            let first = fs::read(&path).unwrap();
            // The same again gives the same bytes.
            assert_eq!(place().free_or_older().is_ok(), !kind.may_be_filled_in(), "{kind:?}");
            place().replace().write(vec![bytes(kind, &project)]).unwrap();
            assert_eq!(fs::read(&path).unwrap(), first, "{kind:?}");
            written.insert(kind, (path, first));
        }
    }
    assert_eq!(written.len(), Kind::ALL.len());
    for (kind, (path, first)) in &written {
        let found = recognise(first).unwrap();
        assert_eq!((found.kind, found.unchanged), (*kind, true));
        for other in Kind::ALL {
            let standing = look(vec![Output::alone(path, other)]).unwrap();
            let is_older = other == *kind && !kind.may_be_filled_in();
            assert_eq!(standing.free_or_older().is_ok(), is_older, "{other:?} over {kind:?}");
        }
        assert_eq!(fs::read(path).unwrap(), *first, "looking changes nothing");
    }
}

/// What carries a digest is not taken for ours once somebody has changed it, be it one byte.
#[test]
fn a_sealed_file_that_was_changed_is_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x");
    let project = files::demo();
    for kind in [
        Kind::SheetSvg,
        Kind::SheetDxf,
        Kind::SheetPng,
        Kind::DrawingPng,
        Kind::ListXlsx(List::Parts),
        Kind::ListXlsx(List::Commissioning),
    ] {
        let standing = || look(vec![Output::alone(&path, kind)]).unwrap();
        standing().replace().write(vec![bytes(kind, &project)]).unwrap();
        assert!(standing().free_or_older().is_ok(), "{kind:?}");
        let mut changed = fs::read(&path).unwrap();
        changed[20] ^= 1;
        fs::write(&path, changed).unwrap();
        let place = standing().free_or_older().unwrap_err();
        assert!(place.words().unwrap().contains("somebody changed since"), "{kind:?}: {:?}", place.words());
    }
    // A PDF that another program has added to ends twice.
    let standing = || look(vec![Output::alone(&path, Kind::SheetsPdf)]).unwrap();
    standing().replace().write(vec![bytes(Kind::SheetsPdf, &project)]).unwrap();
    assert!(standing().free_or_older().is_ok());
    let added = [fs::read(&path).unwrap(), b"\n9 0 obj\n<<>>\nendobj\n%%EOF\n".to_vec()].concat();
    fs::write(&path, added).unwrap();
    assert!(standing().free_or_older().is_err());
}

#[test]
fn a_project_is_named_by_its_title() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bar.ron");
    let mut project = files::demo();
    project.title.title = "The \"long\" bar \\ µ".to_owned();
    files::save(&path, &project).unwrap();
    let place = look(vec![Output::alone(&path, Kind::Catalogue)]).unwrap().free_or_older().unwrap_err();
    assert_eq!(place.words().unwrap(), "bar.ron is an Equirow project, \"The \"long\" bar \\ µ\"");
    assert!(place.modified().is_some());
}
