//! The page of a catch test: what was taken down stands on it, marks say in words what is off, and it comes on both papers and
//! as a table.

use std::path::Path;
use std::sync::{Arc, LazyLock};

use equirow::drawing::paper::MarkKind;
use equirow::files;
use equirow::hydraulics::solve;
use equirow::plan::catch_test::tested_bar;
use equirow::plan::{
    Catch, CatchSpan, CatchTest, CaughtAmount, Edit, GaugeReading, Project, RoutingGeometry, RoutingId, edit,
};
use equirow::quantities::{Angle, Pressure, Volume};
use equirow::sheets::catch_test::{catch_sheet, sheet_of_test};
use equirow::sheets::document::{Block, Document, PaperTable};
use equirow::sheets::spreadsheet::{csv, xlsx};
use equirow::sheets::{Date, SheetKind, SheetOptions, SheetSet, sheet_set};

const SECONDS: f64 = 60.0;

/// The nine-metre bar with a test on it: what the engine computes is caught, but for half of that at the seventh row; the
/// ninth was not caught, the third twice and once spoiled.
fn tested() -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    let mut project = files::open(&folder.join("nine-metre-bar.ron")).unwrap();
    let duty = project.duties.first().clone();
    let routing = project.routings[0].clone();
    let outcome = solve(&project, &routing, &duty.usual_point());
    let mut catches: Vec<Catch> = Vec::new();
    for (place, row) in outcome.rows().iter().enumerate() {
        let catch = |part: f64, spoiled: Option<&str>| Catch {
            row: row.row,
            amount: CaughtAmount::Volume(Volume::from_si(row.flow.si() * SECONDS * part)),
            span: None,
            spoiled: spoiled.map(str::to_owned),
        };
        match place {
            2 => catches.extend([
                catch(1.0, None),
                catch(1.0, None),
                catch(0.4, Some("the jug was knocked over")),
            ]),
            6 => catches.push(catch(0.5, None)),
            8 => {}
            _ => catches.push(catch(1.0, None)),
        }
    }
    let gauges = outcome.parts().iter().filter(|part| part.pressure.is_some()).take(1);
    let gauges = gauges.map(|part| GaugeReading {
        part: part.part,
        pressure: part.pressure.unwrap(),
        sd: Some(Pressure::from_si(2000.0)),
    });
    let test = CatchTest {
        name: "Yard".to_owned(),
        temperature: Some(duty.temperature),
        side_slope: Angle::ZERO,
        fore_aft_slope: Angle::ZERO,
        span: CatchSpan::Seconds(SECONDS),
        catches,
        gauges: gauges.collect(),
        date: "2026-11-30".to_owned(),
        notes: "calm,\nlevel yard".to_owned(),
        ..project.catch_tests.empty_at(&duty.usual_point())
    };
    let bar = tested_bar(&project, routing.id, duty.id).unwrap();
    edit::apply(&mut project, Edit::PutCatchTestOn(Box::new(test), Arc::new(bar))).unwrap();
    project
}

/// The paper of the test, made once: what explains it takes its time.
fn tested_paper() -> &'static Document {
    static PAPER: LazyLock<Document> = LazyLock::new(|| paper(&tested()));
    &PAPER
}

fn paper(project: &Project) -> Document {
    let geometry = RoutingGeometry::working(project, &project.routings[0]);
    catch_sheet(project, geometry.with(&project.routings[0]), project.duties.first())
}

fn table<'a>(document: &'a Document, caption: &str) -> &'a PaperTable {
    document.tables().find(|table| table.caption == caption).unwrap()
}

fn cell<'a>(table: &'a PaperTable, line: usize, heading: &str) -> &'a str {
    let column = table.columns.iter().position(|column| column.heading == heading).unwrap();
    table.rows[line][column].printed()
}

fn paragraphs(document: &Document) -> String {
    let words = document.blocks.iter().filter_map(|block| match block {
        Block::Paragraph(words) | Block::Heading(words) => Some(words.as_str()),
        _ => None,
    });
    words.collect::<Vec<_>>().join("\n")
}

#[test]
fn the_filled_in_sheet_says_what_was_read_and_what_is_off() {
    let document = tested_paper();
    let rows = table(document, "Catch of every row");
    assert_eq!(rows.rows.len(), 36);
    assert_eq!(cell(rows, 0, "Off expected"), "0.0");
    assert_eq!(cell(rows, 0, "Mark"), "");
    assert_eq!(cell(rows, 6, "Mark"), "not as asked, not as drawn, outlier");
    assert_eq!(cell(rows, 6, "Off expected"), "−50.0");
    assert_eq!(cell(rows, 8, "Mark"), "not caught");
    assert_eq!(cell(rows, 8, "Caught"), "");
    let read = cell(rows, 2, "Read");
    assert_eq!(read.matches("mL").count(), 3, "{read}");
    assert!(read.contains("spoiled: the jug was knocked over"), "{read}");
    let verdict = table(document, "Verdict");
    assert_eq!(verdict.rows[0][0].printed(), "Neither as drawn nor within the limits");
    let words: Vec<&str> = verdict.rows.iter().map(|row| row[0].printed()).collect();
    assert!(words.iter().any(|words| words.contains("row 7")), "{words:?}");
    let times = |words: &str| {
        let cells = document.tables().flat_map(|table| table.rows.iter().flatten());
        cells.filter(|cell| cell.printed().contains(words)).count()
            + paragraphs(document).matches(words).count()
    };
    assert_eq!(times("Neither as drawn"), 1, "the verdict stands once");
    let conditions = table(document, "Conditions of the test");
    let said: Vec<&str> = conditions.rows.iter().map(|row| row[1].printed()).collect();
    assert!(said.contains(&"2026-11-30") && said.contains(&"calm, level yard"), "{said:?}");
    assert!(said.contains(&"for 60.0 s") || said.contains(&"for 60 s"), "{said:?}");
    assert!(said.contains(&"1 % of an amount and 0.3 s of a time (standard deviations)"), "{said:?}");
    assert_eq!(table(document, "Gauges").rows.len(), 1);
    let calibrated = table(document, "What the readings tell of what was assumed");
    assert!(calibrated.rows.iter().all(|row| ["told", "not told"].contains(&row[1].printed())));
    assert!(calibrated.notes.iter().any(|note| note.contains("doubted: row 7")), "{:?}", calibrated.notes);
}

/// What stands there are all odds: they add up to 100 % but for rounding, groups by their odds, with "none of these" and all
/// that is not printed on lines of their own (probabilities of all that is possible).
#[test]
fn causes_stand_by_the_odds_of_their_groups_and_add_up() {
    let causes = table(tested_paper(), "What explains it");
    let number = |line: usize, heading: &str| cell(causes, line, heading).parse::<f64>().ok();
    let lines = 0..causes.rows.len();
    let of_group = lines.clone().filter_map(|line| number(line, "Odds that it is one of the group"));
    let groups: Vec<f64> = of_group.collect();
    assert!(!groups.is_empty() && groups.is_sorted_by(|one, next| one >= next), "{groups:?}");
    let sum: f64 = lines.clone().filter_map(|line| number(line, "Odds that it is this")).sum();
    assert!((sum - 100.0).abs() < 0.06 * causes.rows.len() as f64, "{sum}");
    let said =
        |words: &str| lines.clone().filter(|line| cell(causes, *line, "Cause").starts_with(words)).count();
    assert_eq!(said("None of these"), 1, "{:?}", causes.rows);
}

/// A test keeps the bar it was made on: its paper is that of the bar as it was, whatever went since.
#[test]
fn a_test_of_a_routing_that_is_gone_is_printed_all_the_same() {
    let mut project = tested();
    let then = project.routings[0].name.clone();
    let mut other = project.routings[0].clone();
    other.id = RoutingId(77);
    other.name = "Later".to_owned();
    project.routings.push(other);
    let gone = project.routings[0].id;
    edit::apply(&mut project, Edit::RemoveRouting(gone)).unwrap();
    let test = &project.catch_tests.tests[0];
    let paper = sheet_of_test(&project, test).unwrap();
    assert_eq!(table(&paper, "Catch of every row").rows.len(), 36);
    assert!(paragraphs(&paper).contains(&format!("routing {then} is gone")), "{}", paragraphs(&paper));
    let set = pages(&project, &[SheetKind::CatchTest], false);
    let words = set.pages.iter().flat_map(|page| &page.marks).filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    });
    let words = words.collect::<Vec<_>>().join(" ");
    assert!(words.contains(&format!("Routing {then} as it was, gone since")), "{words}");
    assert!(!words.contains("No catch test"), "{words}");
}

fn pages(project: &Project, kinds: &[SheetKind], letter: bool) -> SheetSet {
    let geometry = RoutingGeometry::working(project, &project.routings[0]);
    let mut project = project.clone();
    if letter {
        project.units = equirow::quantities::UnitSystem::UsCustomary;
    }
    let mut options = SheetOptions::all(&project, Date::parse("2026-11-30").unwrap());
    options.kinds = kinds.to_vec();
    sheet_set(&project, geometry.with(&project.routings[0]), &options).unwrap()
}

#[test]
fn it_comes_on_a4_and_letter_with_no_word_cut_and_is_left_out_where_there_is_none() {
    let project = tested();
    for letter in [false, true] {
        let set = pages(&project, &[SheetKind::CatchTest], letter);
        assert!((1..=4).contains(&set.pages.len()), "{}", set.pages.len());
        assert!(!set.warnings.iter().any(|one| one.contains("cut short")), "{:?}", set.warnings);
    }
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    let untested = files::open(&folder.join("nine-metre-bar.ron")).unwrap();
    assert!(!pages(&untested, &SheetKind::ALL, false).kinds.contains(&SheetKind::CatchTest));
    let alone = pages(&untested, &[SheetKind::CatchTest], false);
    assert_eq!(alone.pages.len(), 1, "a page that says that there is no test");
    assert!(paragraphs(&paper(&untested)).contains("No catch test"));
}

#[test]
fn as_a_table_it_holds_the_same_cells() {
    let document = tested_paper();
    let text = String::from_utf8(csv(document).unwrap()).unwrap();
    for table in document.tables() {
        assert!(text.contains(&table.caption) || table.caption == "Verdict", "{}", table.caption);
    }
    assert!(text.contains("\nNeither as drawn nor within the limits"), "{text}");
    assert!(
        text.contains("\"not as asked, not as drawn, outlier\"") && text.contains("knocked over"),
        "{text}"
    );
    assert!(xlsx(document, "").is_ok());
}
