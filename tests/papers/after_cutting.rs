//! The way of a cut list from the paper to the bar and back: what is taken as a last length, and what the papers say of a bar
//! whose lengths were measured.

use std::path::Path;

use equirow::drawing::Dash;
use equirow::drawing::paper::MarkKind;
use equirow::drawing::sheet_frame::Paper;
use equirow::files;
use equirow::files::cut_lengths::read_cut_lengths;
use equirow::geometry::Point2;
use equirow::plan::edit::apply;
use equirow::plan::{Project, RoutingGeometry};
use equirow::quantities::Length;
use equirow::session::as_cut::take_lengths;
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::cut_list::{self, cut_list};
use equirow::sheets::cut_plan::{self, CutPiece, Cutting};
use equirow::sheets::document::{Block, Document, PaperCell};
use equirow::sheets::fitting_steps::fitting_steps;
use equirow::sheets::{Date, SheetKind, SheetOptions, sheet_set};

fn example(name: &str) -> Project {
    files::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)).unwrap()
}

fn pieces(project: &Project) -> Vec<CutPiece> {
    let routing = &project.routings[0];
    cut_plan::pieces(project, RoutingGeometry::working(project, routing).with(routing))
}

/// What reading a list of one line gives: the words of what was taken, or the problems.
fn read(project: &Project, tag: &str, said: &str, millimetres: f64) -> Result<String, String> {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let list = read_cut_lengths(&format!("Tag;Final;As cut (mm)\n{tag};{said};{millimetres}\n"));
    let taken = take_lengths(project, geometry.with(routing), list);
    taken.map(|taken| taken.words).map_err(|problems| problems.lines().collect::<Vec<_>>().join("\n"))
}

/// A hose that waits for the fold trial: its rough length, a shorter one than the straight way, and one that nobody calls final
/// are refused, each with its line; its last one is taken.
#[test]
fn only_the_last_length_of_a_rough_cut_is_taken() {
    let project = example("twelve-metre-bar.ron");
    let all = pieces(&project);
    let rough = all.iter().find(|one| matches!(one.cutting, Cutting::Rough { .. })).unwrap();
    let millimetres = |length: Option<Length>| length.unwrap().si() * 1e3;
    let (fitted, cut) = (millimetres(rough.length), millimetres(rough.length_to_cut()));
    assert!(cut > fitted + 50.0);
    let said = |words: &str, length: f64| read(&project, &rough.tag, words, length);
    for length in [fitted, cut] {
        let blank = said("", length).unwrap_err();
        assert!(blank.contains("line 2: ") && blank.contains("Final is blank; write yes once"), "{blank}");
    }
    assert!(said("maybe", fitted).unwrap_err().contains("Final is \"maybe\""));
    for length in [cut, cut - 1.0, cut + 200.0] {
        let still = said("yes", length).unwrap_err();
        assert!(
            still.contains("line 2: ") && still.contains("cut after the fold trial it is about"),
            "{still}"
        );
    }
    assert!(said("no", cut).unwrap().starts_with("no length taken"));
    assert!(said("yes", fitted).unwrap().starts_with("1 length taken"));
    assert!(said("yes", cut - 10.0).unwrap().starts_with("1 length taken"));
    // From end to end in a straight line, by the places of its ends alone.
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let mut tried = 0;
    for run in &routing.runs {
        let laid = geometry.run(run.id).unwrap();
        let straight = laid.from().place.distance(laid.to().place) * 1e3;
        if straight * 2.0 < laid.length.si() * 1e3 {
            continue;
        }
        let short = read(&project, &run.tag, "yes", straight - 5.0).unwrap_err();
        assert!(short.contains("apart in a straight line"), "{short}");
        tried += 1;
    }
    assert!(tried > 3, "{tried}");
}

/// On paper a rough cut says what it will be in the end and has room for yes; a bar without one has neither column.
#[test]
fn a_paper_cut_list_asks_whether_a_rough_cut_is_final_and_says_how_it_comes_back() {
    let list = |project: &Project| {
        let routing = &project.routings[0];
        cut_list(project, RoutingGeometry::working(project, routing).with(routing), project.duties.first())
    };
    let project = example("twelve-metre-bar.ron");
    let document = list(&project);
    let table = document.tables().next().unwrap().on_pages();
    let at = |heading: &str| table.columns.iter().position(|one| one.heading == heading);
    let (last, after) = (at("Final").unwrap(), at("After trial about").unwrap());
    let tag = at("Tag").unwrap();
    for piece in pieces(&project) {
        let row = table.rows.iter().find(|row| row[tag].printed() == piece.tag).unwrap();
        let is_rough = matches!(piece.cutting, Cutting::Rough { .. });
        assert_eq!(row[last] == PaperCell::FillIn, is_rough, "{}", piece.tag);
        let in_the_end: Option<f64> = row[after].printed().parse().ok();
        let fitted = piece.length.filter(|_| is_rough).map(|length| (length.si() * 1e3).round());
        assert_eq!(in_the_end, fitted, "{}", piece.tag);
    }
    assert!(table.rows.iter().all(|row| row.len() == table.columns.len()));
    let text = format!("{:?}", document.blocks);
    assert!(
        text.contains("equirow as-cut PROJECT --list CUTS.csv")
            && text.contains("a rough length is not taken")
    );
    // The window's own name of the command.
    let name = equirow::session::commands::Command::ReadCutLengths.entry().unwrap().label;
    assert!(text.contains(name), "{name}");
    let mut measured = project.clone();
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    for run in &mut measured.routings[0].runs {
        run.line.measured = geometry.run(run.id).map(|laid| laid.length);
    }
    assert!(pieces(&measured).iter().all(|piece| !matches!(piece.cutting, Cutting::Rough { .. })));
    let plain = list(&measured);
    let table = plain.tables().next().unwrap().on_pages();
    let headings: Vec<&str> = table.columns.iter().map(|one| one.heading.as_str()).collect();
    assert!(!headings.contains(&"Final") && !headings.contains(&"After trial about"), "{headings:?}");
    assert!(table.rows.iter().all(|row| row.len() == headings.len()));
}

fn numbers(project: &Project) -> Vec<(String, String)> {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let labels = cut_list::label_table(project, geometry.with(routing), project.duties.first());
    let rows = &labels.tables().next().unwrap().rows;
    let mut all: Vec<_> =
        rows.iter().map(|row| (row[0].printed().to_owned(), row[3].printed().to_owned())).collect();
    all.sort();
    all
}

fn steps(project: &Project) -> String {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let document: Document = fitting_steps(project, geometry.with(routing), project.duties.first());
    let steps = document.blocks.iter().filter_map(|block| match block {
        Block::Steps(steps) => Some(&steps.steps),
        _ => None,
    });
    let lines = steps.flatten().flat_map(|step| std::iter::once(&step.text).chain(&step.details));
    lines.cloned().collect::<Vec<_>>().join("\n")
}

/// The shortest metering tube was cut longer than all others, so that it would now be cut first of its stock; cut again, once
/// more. Its label stays right.
#[test]
fn metering_tubes_keep_their_numbers_when_their_lengths_come_back() {
    let mut project = example("six-metre-trial-bar.ron");
    let before = numbers(&project);
    for round in 1..=2 {
        let metering: Vec<CutPiece> =
            pieces(&project).into_iter().filter(|piece| piece.is_metering).collect();
        let stock =
            metering.iter().find(|one| metering.iter().filter(|two| one.stock == two.stock).count() > 2);
        let stock = &stock.unwrap().stock;
        let of_stock = || metering.iter().filter(|piece| piece.stock == *stock);
        let longest = of_stock().map(|piece| piece.length.unwrap().si()).fold(0.0, f64::max);
        let shortest = of_stock().min_by(|a, b| a.length.partial_cmp(&b.length).unwrap()).unwrap();
        let cut = (longest * 1e3).round() + 10.0 * f64::from(round);
        let list = read_cut_lengths(&format!("Tag;Final;As cut (mm)\n{};;{cut}\n", shortest.tag));
        let taken = {
            let routing = &project.routings[0];
            let geometry = RoutingGeometry::working(&project, routing);
            take_lengths(&project, geometry.with(routing), list).unwrap()
        };
        for edit in taken.edits {
            apply(&mut project, edit).unwrap();
        }
        let now = pieces(&project).into_iter().find(|piece| piece.tag == shortest.tag).unwrap();
        assert!((now.length.unwrap().si() * 1e3 - cut).abs() < 0.6);
        assert_eq!(numbers(&project), before, "round {round}");
    }
}

/// Its labels are on the bar when a length comes back: each piece keeps the number of its cut, and no step sends anybody to cut
/// it again.
#[test]
fn what_was_measured_keeps_its_number_and_is_not_cut_again() {
    let mut project = example("twelve-metre-bar.ron");
    let before = numbers(&project);
    let all = pieces(&project);
    // Others of a stock become the longest by this.
    let lines: Vec<String> = all
        .iter()
        .enumerate()
        .filter(|(_, piece)| !piece.is_metering)
        .map(|(at, piece)| {
            let over = if at % 3 == 0 { 40.0 } else { 0.0 };
            format!("{};yes;{}", piece.tag, piece.length.unwrap().si() * 1e3 + over)
        })
        .collect();
    let list = read_cut_lengths(&format!("Tag;Final;As cut (mm)\n{}\n", lines.join("\n")));
    let taken = {
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        take_lengths(&project, geometry.with(routing), list).unwrap()
    };
    for edit in taken.edits {
        apply(&mut project, edit).unwrap();
    }
    assert!(pieces(&project).iter().filter(|piece| !piece.is_metering).all(|piece| piece.is_measured));
    assert_eq!(numbers(&project), before);
    let said = steps(&project);
    assert!(said.contains("Measured on the bar before: "), "{said}");
    for again in
        ["Not yet to length", "only then cut", "then cut it", "cut rough", "Rough cuts", "cut and label H"]
    {
        assert!(!said.contains(again), "{again}: {said}");
    }
}

#[test]
fn the_commissioning_sheet_has_a_box_for_all_that_is_tried_on_the_bar() {
    let name = "twenty-four-metre-bar.ron";
    for (folds, lines) in [(true, 4), (false, 3)] {
        let mut project = example(name);
        for section in &mut project.bar.sections {
            section.hinge = section.hinge.filter(|_| folds);
        }
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let sheet = commissioning_sheet(&project, geometry.with(routing), project.duties.first());
        let table = sheet.tables().find(|table| table.caption == "Tried on the bar").unwrap();
        assert_eq!(table.rows.len(), lines, "{name}: {:?}", table.rows);
        for row in &table.rows {
            assert!(row[2] == PaperCell::FillIn && row[3] == PaperCell::Tick, "{row:?}");
        }
        let opens = project.supply.relief_valve.opens_at().unwrap().si() / 1e5;
        assert!(table.rows[1][1].printed().starts_with(&format!("{opens:.2} bar")), "{:?}", table.rows[1]);
    }
}

/// On the printed sheet of labels all ways stand in one height, 1.8 mm, however long they are, and the last line keeps clear of
/// the line to cut along.
#[test]
fn words_on_labels_keep_their_height_and_clear_of_the_cut() {
    let mut project = example("twelve-metre-bar.ron");
    for part in &mut project.routings[0].parts {
        part.tag = format!("{} beside the second bracket of the frame", part.tag);
    }
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let all = SheetOptions::all(&project, Date::parse("2026-03-31").unwrap());
    let options = SheetOptions { kinds: vec![SheetKind::Cuts], paper: Paper::A4, ..all };
    let set = sheet_set(&project, geometry.with(routing), &options).unwrap();
    let (mut labels, mut wrapped) = (0, 0);
    for page in &set.pages {
        for mark in &page.marks {
            let MarkKind::Line { points, dash: Dash::Dashed, .. } = &mark.kind else { continue };
            let span = |of: fn(&Point2) -> f64| {
                let all = || points.iter().map(of);
                (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max))
            };
            let ((left, right), (bottom, top)) = (span(|one| one.x), span(|one| one.y));
            let within: Vec<_> = page
                .marks
                .iter()
                .filter_map(|mark| if let MarkKind::Words(words) = &mark.kind { Some(words) } else { None })
                .filter(|words| {
                    (left..right).contains(&words.at.x) && (bottom - 0.5..top).contains(&words.at.y)
                })
                .collect();
            labels += 1;
            wrapped += usize::from(within.len() > 4);
            for words in within {
                assert!(words.height >= 1.8, "{}", words.text);
                assert!(words.at.y - bottom > 1.0, "{} stands on the cut", words.text);
            }
        }
    }
    assert!(labels > 50 && wrapped > 20, "{labels}, {wrapped}");
}
