//! The sheets of the examples: true to scale, nothing off the sheet, the same bytes each time, tees and
//! manifolds of the schematic drawn as they are used.

use equirow::plan::Manifold;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::{Paper, continued_area, drawing_area};
use equirow::geometry::{Bounds, Point2};
use equirow::plan::{
    Anchors, Bar, ManifoldInlet, PartItem, Port, PortRef, Project, RoutingGeometry, Subject,
};
use equirow::quantities::{Measure, UnitSystem};
use equirow::sheets::{
    Basis, Date, SheetError, SheetFormat, SheetKind, SheetOptions, SheetSet, sheet_set, sheet_set_of,
};

use crate::layout_pages::layout_pages;

fn project(name: &str) -> Project {
    equirow::files::open(&Path::new("examples").join(name)).unwrap()
}

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn options(project: &Project, kinds: &[SheetKind], paper: Paper) -> SheetOptions {
    let all = SheetOptions::all(project, Date::parse("2026-03-31").unwrap());
    SheetOptions { kinds: kinds.to_vec(), paper, ..all }
}

fn set(project: &Project, kinds: &[SheetKind], paper: Paper) -> SheetSet {
    sheet_set(
        project,
        RoutingGeometry::working(project, &project.routings[0]).with(&project.routings[0]),
        &options(project, kinds, paper),
    )
    .unwrap()
}

/// The legend explains the hinges that stand on its sheet, and no others: an upright one is drawn with its pin.
#[test]
fn the_legend_shows_the_hinges_of_its_sheet() {
    let mut seen = [false; 4];
    for name in ["nine-metre-bar.ron", "twenty-four-metre-bar.ron"] {
        let set = set(&project(name), &[SheetKind::Layout], Paper::A3);
        for page in set.pages.iter().filter(|page| page.view.is_some()) {
            let on_hinges = || page.marks.iter().filter(|mark| mark.layer == PaperLayer::Hinge);
            let pins: Vec<f64> = on_hinges()
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Circle { centre, .. } => Some(centre.x),
                    _ => None,
                })
                .collect();
            let has_bare_line = on_hinges().any(|mark| match &mark.kind {
                MarkKind::Line { points, .. } => pins.iter().all(|x| (x - points[0].x).abs() > 0.01),
                _ => false,
            });
            // No two lines lie over each other, where a sheet ends at a hinge: broken ones would look unbroken.
            let places: BTreeMap<i64, BTreeSet<i64>> = on_hinges()
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Line { width, points, .. } => {
                        Some(((points[0].x * 10.0).round() as i64, (width * 1000.0).round() as i64))
                    }
                    _ => None,
                })
                .fold(BTreeMap::new(), |mut all, (x, width)| {
                    all.entry(x).or_insert_with(BTreeSet::new).insert(width);
                    all
                });
            assert!(places.values().all(|widths| widths.len() == 1), "{name}, {}: {places:?}", page.name);
            let says = |what: &str| words(page).any(|word| word == what);
            assert_eq!(says("hinge, upright"), !pins.is_empty(), "{name}, {}", page.name);
            assert_eq!(says("hinge, fore and aft"), has_bare_line, "{name}, {}", page.name);
            seen[usize::from(!pins.is_empty()) + 2 * usize::from(has_bare_line)] = true;
        }
    }
    assert!(seen[2] && seen[3], "{seen:?}");
}

/// The bar of 24 m: 80 rows at 300 mm make 24.00 m of sections, and the frame ends 40 mm short of them at both ends. On A3
/// it is drawn at the largest scale of ISO 5455 that fits: 1:50 would need 478 mm of the sheet's 420.
#[test]
fn the_overview_says_what_is_measured() {
    let project = project("twenty-four-metre-bar.ron");
    let set = set(&project, &[SheetKind::Layout], Paper::A3);
    let page = &set.pages[0];
    assert!(words(page).any(|word| word == "23.92 m over the frame; sections together 24.00 m"));
    assert_eq!(page.view.unwrap().denominator, 100.0);
}

fn words(page: &Page) -> impl Iterator<Item = &str> {
    page.marks.iter().filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    })
}

/// The tags for which a sheet has a boxed letter or no room, in its own words, which may take several lines.
fn said_without_room(page: &Page) -> String {
    let all: Vec<&str> = words(page).collect();
    let begins =
        |words: &&str| words.starts_with("Boxed letters:") || words.starts_with("No room on this sheet");
    let at = all.iter().position(begins);
    at.map_or_else(String::new, |at| all[at..].iter().take(12).flat_map(|words| [*words, " "]).collect())
}

/// At the scale the program chooses, the hose from the pump may be cut, never the bar.
#[test]
fn no_overview_cuts_the_bar_off() {
    for name in EXAMPLES {
        for paper in Paper::ALL {
            for page in layout_pages(name, paper).get().unwrap() {
                let cut = words(page).any(|word| word.starts_with("The rear is cut off"));
                assert!(!cut, "{name} on {}: {}", paper.label(), page.name);
            }
        }
    }
}

#[test]
fn nothing_lies_off_the_sheet_and_sheets_are_numbered() {
    for name in EXAMPLES {
        let project = project(name);
        for paper in Paper::ALL {
            let set = set(&project, &SheetKind::ALL, paper);
            let many = set.pages.len();
            for (index, page) in set.pages.iter().enumerate() {
                let sheet = Bounds { min: Point2::default(), max: Point2::new(page.width, page.height) };
                for mark in &page.marks {
                    let bounds = mark.kind.bounds();
                    assert!(
                        sheet.contains(bounds.min) && sheet.contains(bounds.max),
                        "{name} {paper:?} {}: {mark:?}",
                        page.name
                    );
                }
                let number = format!("{} / {many}", index + 1);
                assert!(words(page).any(|words| words == number), "{name}: {number}");
            }
        }
    }
}

/// 100 mm of paper are a metre at 1:10.
#[test]
fn drawings_are_true_to_the_scale_they_state() {
    let project = project("nine-metre-bar.ron");
    let mut options = options(&project, &[SheetKind::Layout], Paper::A3);
    for denominator in [10.0, 20.0, 50.0] {
        options.scale = Some(denominator);
        let set = sheet_set(
            &project,
            RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
            &options,
        )
        .unwrap();
        let page = &set.pages[0];
        assert_eq!(page.view.unwrap().denominator, denominator);
        assert!(words(page).any(|words| words == format!("1:{denominator}")));
        // The outlets of two rows stand as far apart as on the bar.
        let mut outlets: BTreeMap<_, f64> = BTreeMap::new();
        for mark in page.marks.iter().filter(|mark| mark.layer == PaperLayer::Row) {
            if let (Some(Subject::Row(row)), MarkKind::Circle { centre, .. }) = (mark.subject, &mark.kind) {
                outlets.insert(row, centre.x);
            }
        }
        let xs: Vec<(f64, f64)> =
            outlets.iter().map(|(row, x)| (project.bar.row(*row).unwrap().x.si(), *x)).collect();
        assert!(xs.len() > 3);
        for pair in xs.windows(2) {
            let (metres, paper) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            assert!((paper - metres * 1000.0 / denominator).abs() < 1e-9, "{metres} m are {paper} mm");
        }
    }
}

/// A metre at 1:10 is 283.46 pt: 100 mm in points of 1/72 in (ISO 32000-1).
#[test]
fn a_metre_at_one_to_ten_is_283_46_points() {
    assert!((100.0 * equirow::sheets::pdf::POINTS - 283.4646).abs() < 1e-4);
}

#[test]
fn a_sixty_metre_bar_on_a4_is_split_and_never_shrunk() {
    let mut project = project("twenty-four-metre-bar.ron");
    for section in &mut project.bar.sections {
        section.left = section.left * 2.5;
        section.right = section.right * 2.5;
        for member in &mut section.members {
            member.from.x *= 2.5;
            member.to.x *= 2.5;
        }
    }
    for row in &mut project.bar.rows {
        row.x = row.x * 2.5;
    }
    let mut options = options(&project, &[SheetKind::Layout], Paper::A4);
    let auto = sheet_set(
        &project,
        RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap();
    options.scale = Some(50.0);
    let asked = sheet_set(
        &project,
        RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap();
    assert!(asked.pages.len() > auto.pages.len());
    let overviews: Vec<&Page> = asked.pages.iter().filter(|page| page.name.contains("overview")).collect();
    assert!(overviews.len() >= 5, "60 m at 1:50 are 1200 mm, A4 is 297 mm wide");
    for page in overviews {
        assert_eq!(page.view.unwrap().denominator, 50.0);
        assert!(words(page).any(|words| words.starts_with("Match line")), "{}", page.name);
    }
    for page in auto.pages.iter().filter(|page| page.name != "Rows in figures") {
        assert!(page.view.unwrap().denominator <= 100.0);
    }
}

#[test]
fn an_empty_project_gives_sheets_that_say_so() {
    let demo = equirow::files::demo();
    let project = Project::new(Bar::default(), demo.catalogue);
    let set = set(&project, &SheetKind::ALL, Paper::A4);
    assert!(!set.pages.is_empty());
    assert!(set.pages.iter().any(|page| words(page).any(|words| words.contains("no frame and no rows"))));
    assert!(!SheetFormat::Pdf.files(&set).unwrap()[0].1.is_empty());
}

#[test]
fn long_fields_fit_and_foreign_scripts_are_refused_with_the_letter() {
    let mut project = project("nine-metre-bar.ron");
    let long = "A title that goes on and on ".repeat(8)[..200].to_owned();
    for field in [&mut project.title.title, &mut project.title.owner, &mut project.title.number] {
        field.clone_from(&long);
    }
    project.title.creator = "Łódź Ñandú Ελλάδα Україна".to_owned();
    let all = set(&project, &[SheetKind::Layout, SheetKind::Parts], Paper::A4);
    for page in &all.pages {
        let shown: String = words(page).collect::<Vec<_>>().join(" ");
        let cut = all.warnings.iter().any(|warning| warning.contains("200 characters"));
        assert!(
            shown.contains(&long.trim()[..20]) && (cut || shown.contains("A title that")),
            "{}",
            page.name
        );
        // A line stands in place of the title block on sheets that continue a list.
        assert_eq!(shown.contains("Ελλάδα"), shown.contains("Created by"), "{}", page.name);
    }
    let lists = |kind: SheetKind| {
        let own = all.pages.iter().zip(&all.kinds).filter(move |(_, one)| **one == kind);
        own.filter(|(page, _)| page.width < page.height).map(|(page, _)| page)
    };
    let blocks: Vec<bool> =
        lists(SheetKind::Parts).map(|page| words(page).any(|words| words == "Created by")).collect();
    assert!(blocks.len() > 1 && blocks[0] && !blocks[1..].contains(&true), "{blocks:?}");
    for page in &all.pages {
        assert!(words(page).any(|words| words.ends_with(&format!(" / {}", all.pages.len()))));
    }
    project.title.owner = "農場".to_owned();
    let options = options(&project, &[SheetKind::Layout], Paper::A4);
    let refused = sheet_set(
        &project,
        RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
        &options,
    )
    .unwrap_err();
    assert!(matches!(&refused, SheetError::Unwritable { letter: '農', .. }), "{refused}");
    assert!(refused.to_string().contains("U+8FB2"), "{refused}");
}

#[test]
fn the_same_project_and_date_give_the_same_bytes() {
    let project = project("twelve-metre-bar.ron");
    for format in [SheetFormat::Pdf, SheetFormat::Svg, SheetFormat::Dxf] {
        let make = || format.files(&set(&project, &SheetKind::ALL, Paper::A3)).unwrap();
        assert!(make() == make(), "{format:?}");
    }
}

#[test]
fn svg_is_read_by_usvg() {
    let project = project("twelve-metre-bar.ron");
    for (_, bytes) in SheetFormat::Svg.files(&set(&project, &SheetKind::ALL, Paper::A3)).unwrap() {
        let tree = usvg::Tree::from_data(&bytes, &usvg::Options::default()).unwrap();
        assert!(tree.root().has_children());
    }
}

#[test]
fn a_picture_is_drawn_from_the_pdf() {
    let project = project("nine-metre-bar.ron");
    let set = set(&project, &[SheetKind::Layout], Paper::A4);
    let bytes = &SheetFormat::Pdf.files(&set).unwrap()[0].1;
    let picture = equirow::sheets::picture::picture(bytes, 0, 1.0).unwrap();
    // A4 lying is 842 by 595 points.
    assert!((841..=842).contains(&picture.width) && (594..=596).contains(&picture.height));
    let dark = picture.rgba.chunks(4).filter(|pixel| pixel[0] < 100).count();
    assert!(dark > 1000, "{dark} dark pixels");
    assert!(equirow::sheets::picture::picture(bytes, 99, 1.0).is_err());
    assert!(equirow::sheets::picture::picture(b"no PDF", 0, 1.0).is_err());
}

/// Words of a schematic do not cover each other (their own boxes; a hair of overlap of descenders is none).
#[test]
fn words_of_schematics_do_not_cover_each_other() {
    for name in EXAMPLES {
        let project = project(name);
        let set = set(&project, &[SheetKind::Schematic], Paper::A3);
        for page in &set.pages {
            let all: Vec<_> = page
                .marks
                .iter()
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Words(words) => Some((words.text.clone(), words.bounds())),
                    _ => None,
                })
                .collect();
            let mut covered = Vec::new();
            for (index, (text, a)) in all.iter().enumerate() {
                for (other, b) in &all[index + 1..] {
                    let x = a.max.x.min(b.max.x) - a.min.x.max(b.min.x);
                    let y = a.max.y.min(b.max.y) - a.min.y.max(b.min.y);
                    if x > 0.3 && y > 0.7 {
                        covered.push(format!("{text} | {other}"));
                    }
                }
            }
            assert!(covered.is_empty(), "{name} {}: {covered:?}", page.name);
        }
    }
}

/// Whatever is on the bar is named on the layout: hoses and parts by their tags, or in words that there is no room, and
/// the figures of each row in its column, or on a sheet that the drawings name.
#[test]
fn nothing_is_left_out_in_silence() {
    for name in EXAMPLES {
        let project = project(name);
        let routing = &project.routings[0];
        for paper in Paper::ALL {
            let pages = layout_pages(name, paper);
            let pages = pages.get().unwrap();
            let is_table = |page: &&Page| page.name == "Rows in figures";
            let table = pages.iter().position(|page| is_table(&page)).map(|at| at + 1);
            let drawn: Vec<&Page> = pages.iter().filter(|page| !is_table(page)).collect();
            let said: String = drawn.iter().map(|page| said_without_room(page)).collect();
            let tags = routing.runs.iter().map(|run| &run.tag);
            for tag in tags.chain(routing.parts.iter().map(|part| &part.tag)) {
                let named = drawn.iter().flat_map(|page| words(page)).any(|words| words == tag);
                let is_said = said.split(|one: char| !one.is_alphanumeric()).any(|word| word == tag);
                assert!(
                    named || is_said,
                    "{name} {paper:?}: {tag} is neither named nor said to have no room"
                );
            }
            // A letter that is explained stands in its box by what it is for.
            for page in &drawn {
                let said = said_without_room(page);
                let Some(letters) = said.strip_prefix("Boxed letters: ") else { continue };
                let letters = letters.split(". No room").next().unwrap();
                let letters = letters.split(". Items without").next().unwrap();
                for letter in letters.split("; ").filter_map(|one| one.split(' ').next()) {
                    let is_letter = letter.len() <= 2 && letter.chars().all(|one| one.is_ascii_lowercase());
                    assert!(
                        !is_letter || words(page).any(|one| one == letter),
                        "{name} {paper:?} {}: {letter} in {said}",
                        page.name
                    );
                }
            }
            let geometry = RoutingGeometry::working(&project, routing);
            for carrier in &equirow::plan::holding::held(&project, geometry.with(routing)).carriers {
                let is_named = drawn.iter().flat_map(|page| words(page)).any(|words| words == carrier.mark);
                let is_said = said.split(|one: char| !one.is_alphanumeric()).any(|word| word == carrier.mark);
                assert!(is_named || is_said, "{name} {paper:?}: {} is not on the layout", carrier.mark);
            }
            let wings = drawn.iter().filter(|page| page.shows_part || drawn.len() == 1);
            for (number, page) in wings.clone().map(|page| (table, page)) {
                let says: String = words(page).collect::<Vec<_>>().join(" ");
                let Some(number) = number else { continue };
                let names = says.contains(&format!("rows in figures: sheet {number}"));
                let rows = |one: &str| one == "From outlet";
                assert!(names || words(page).any(rows), "{name} {paper:?} {}", page.name);
            }
            for row in project.bar.rows.iter().filter(|row| !row.left_out) {
                let number = row.number.to_string();
                let in_strip = drawn.iter().any(|page| {
                    page.marks.iter().any(|mark| {
                        mark.subject == Some(Subject::Row(row.id))
                            && matches!(&mark.kind, MarkKind::Words(words) if words.text == number)
                    })
                });
                let in_table = pages.iter().filter(is_table).flat_map(words).any(|words| words == number);
                assert!(in_strip || in_table, "{name} {paper:?}: row {number}");
            }
        }
    }
}

/// On A3, which is usual, no example needs a sheet of rows, and no more drawings than an overview and the wings.
#[test]
fn drawings_take_the_fewest_sheets() {
    let many = |name: &str| layout_pages(name, Paper::A3).get().unwrap().len();
    let counts: Vec<usize> = EXAMPLES.iter().map(|name| many(name)).collect();
    assert_eq!(counts, [1, 3, 4, 6], "{EXAMPLES:?}");
}

/// The small tee of a shared feed can be placed too: rows 9 and 10 stand at 812.5 and 487.5 mm left, so that it sits
/// 650 mm left (worked by hand).
#[test]
fn small_tees_have_a_place() {
    let project = project("six-metre-trial-bar.ron");
    let set = set(&project, &[SheetKind::Layout], Paper::A3);
    let all: Vec<&str> = set.pages.iter().flat_map(words).collect();
    let at = all.iter().position(|words| *words == "T9 tee").unwrap();
    assert!(all[at + 1].starts_with("C 650 left"), "{:?}", &all[at..at + 3]);
}

/// Words have a ground of paper, so that lines end at them; that ground hides no part and nothing that sits in a tube.
#[test]
fn words_hide_no_symbol() {
    for name in EXAMPLES {
        for paper in [Paper::A3, Paper::A4] {
            for page in layout_pages(name, paper).get().unwrap() {
                let grounds = page.marks.iter().filter(|mark| {
                    mark.layer == PaperLayer::Words && matches!(mark.kind, MarkKind::Area { .. })
                });
                let grounds: Vec<Bounds> = grounds.map(|mark| mark.kind.bounds()).collect();
                for mark in &page.marks {
                    let symbol = matches!(
                        mark.layer,
                        PaperLayer::Part | PaperLayer::Row | PaperLayer::Tube | PaperLayer::Hose
                    ) && !matches!(mark.kind, MarkKind::Line { .. });
                    let bounds = mark.kind.bounds();
                    let hidden = |ground: &&Bounds| {
                        ground.min.x < bounds.max.x - 0.25
                            && bounds.min.x + 0.25 < ground.max.x
                            && ground.min.y < bounds.max.y - 0.25
                            && bounds.min.y + 0.25 < ground.max.y
                    };
                    if symbol {
                        let over = grounds.iter().find(hidden);
                        assert_eq!(over, None, "{name} {paper:?} {}: {mark:?}", page.name);
                    }
                }
            }
        }
    }
}

/// What a legend names is on its sheet, and what is on its sheet is named, on small paper too; closed ports are drawn:
/// seven far ends and the gauge ports of the five manifolds without a gauge.
#[test]
fn a_legend_names_what_its_sheet_holds_and_closed_ports_are_drawn() {
    const SIGNS: [&str; 12] = [
        "connected",
        "crossing, not connected",
        "pump",
        "filter",
        "shut-off valve, open",
        "shut-off valve, shut",
        "gauge",
        "plugged",
        "check valve with spring, opens downwards",
        "metering orifice",
        "metering tube",
        "row outlet",
    ];
    let names = |page: &Page| -> Vec<&str> {
        let area = drawing_area(page.width, page.height);
        let found = page.marks.iter().filter_map(|mark| match &mark.kind {
            MarkKind::Words(words) if mark.layer == PaperLayer::Sheet => {
                let sign = SIGNS.into_iter().find(|sign| *sign == words.text)?;
                assert!(words.at.y > area.min.y && words.at.y < area.min.y + 18.0, "{sign}: {words:?}");
                Some(sign)
            }
            _ => None,
        });
        found.collect()
    };
    let tree = ["connected", "crossing, not connected", "pump", "filter", "gauge", "plugged"];
    let rows = ["check valve with spring, opens downwards", "metering orifice", "row outlet"];
    let wide = project("twenty-four-metre-bar.ron");
    let pages = set(&wide, &[SheetKind::Schematic], Paper::A3).pages;
    assert_eq!(names(&pages[0]), tree);
    let strokes = pages[0].marks.iter().filter(|mark| {
        mark.layer == PaperLayer::Part
            && matches!(&mark.kind, MarkKind::Line { points, .. } if points.len() == 2 && points[0].y == points[1].y
                && (points[0].distance(points[1]) - 2.6).abs() < 1e-6)
    });
    assert_eq!(strokes.count(), 7 + 5);
    // The two blanked outlets are on the sheet of the first six manifolds.
    let with_plugs: Vec<&str> = ["connected", "plugged"].into_iter().chain(rows).collect();
    assert_eq!(names(&pages[1]), with_plugs);
    let without: Vec<&str> = ["connected"].into_iter().chain(rows).collect();
    assert_eq!(names(&pages[2]), without);
    let mut narrow = project("nine-metre-bar.ron");
    let valve = |project: &mut Project| {
        let (routing, catalogue) = (&mut project.routings[0], &project.catalogue);
        let is =
            |entry: &equirow::plan::PartKey| matches!(catalogue.item(entry), Some(PartItem::SectionValve(_)));
        routing.parts.iter_mut().find(|part| is(&part.entry)).unwrap().shut = true;
    };
    valve(&mut narrow);
    for paper in [Paper::A4, Paper::A3, Paper::Letter] {
        let pages = set(&narrow, &[SheetKind::Schematic], paper).pages;
        let all: BTreeSet<&str> = pages.iter().flat_map(names).collect();
        assert!(all.contains("shut-off valve, open") && all.contains("shut-off valve, shut"), "{all:?}");
        assert!(rows.iter().all(|one| all.contains(one)) && !all.contains("metering tube"), "{all:?}");
    }
}

/// Drawings keep off the legend and the title block, on small paper too.
#[test]
fn drawings_keep_to_their_area() {
    for name in EXAMPLES {
        let mut project = project(name);
        project.units = UnitSystem::UsCustomary;
        for paper in [Paper::A4, Paper::Letter, Paper::Tabloid] {
            let mut options = options(&project, &[SheetKind::Layout, SheetKind::Schematic], paper);
            options.flows = true;
            for page in &sheet_set(
                &project,
                RoutingGeometry::working(&project, &project.routings[0]).with(&project.routings[0]),
                &options,
            )
            .unwrap()
            .pages
            {
                if page.name == "Rows in figures" {
                    continue;
                }
                let is_continued = words(page).all(|words| words != "Created by");
                let area = if is_continued {
                    continued_area(page.width, page.height)
                } else {
                    drawing_area(page.width, page.height)
                };
                for mark in page.marks.iter().filter(|mark| mark.layer != PaperLayer::Sheet) {
                    let bounds = mark.kind.bounds();
                    assert!(
                        bounds.min.y >= area.min.y + 17.5 && area.grown(0.1).contains(bounds.max),
                        "{name} {paper:?} {}: {mark:?}",
                        page.name
                    );
                }
            }
        }
    }
}

/// Words on drawings are at least 2.5 mm high (ISO 3098), outlet numbers, cautions, title block and why a design is not released
/// included, from US Letter and A4 up, and the tags of parts 3.5 mm.
#[test]
fn no_words_of_a_drawing_are_too_small_to_read() {
    for name in EXAMPLES {
        let project = project(name);
        let routing = &project.routings[0];
        let tags: Vec<&str> = routing.parts.iter().map(|part| part.tag.as_str()).collect();
        for paper in Paper::ALL {
            let schematic = set(&project, &[SheetKind::Schematic], paper).pages;
            let layout = layout_pages(name, paper);
            let pages = || layout.get().unwrap().iter().chain(&schematic);
            let is_held = pages().any(|page| words(page).any(|words| words == "NOT RELEASED"));
            for page in pages() {
                // Drawings lie; the rows in figures, where they have a sheet of their own, are a list.
                if page.width < page.height {
                    continue;
                }
                // What it is made for stands on each, beside why it is not released.
                for (wanted, is_wanted) in [("MADE FOR", true), ("NOT RELEASED", is_held)] {
                    let says = words(page).any(|words| words == wanted);
                    assert_eq!(says, is_wanted, "{name} {paper:?} {}: {wanted}", page.name);
                }
                for mark in &page.marks {
                    let MarkKind::Words(words) = &mark.kind else { continue };
                    assert!(words.height >= 2.5, "{name} {paper:?} {}: {words:?}", page.name);
                    // Tags stand out; those in flags and tables repeat them.
                    let is_tag = |tag: &str| words.text == tag && mark.layer == PaperLayer::Words;
                    if words.bold && tags.iter().any(|tag| is_tag(tag)) {
                        assert!(words.height >= 3.5, "{name} {paper:?} {}: {words:?}", page.name);
                    }
                }
            }
        }
    }
}

/// Each word of each heading stands whole on some page, on the narrowest papers too: a word that was broken stands nowhere.
#[test]
fn headings_of_tables_are_never_broken_within_a_word() {
    let project = project("twelve-metre-bar.ron");
    let documents = crate::words_of_papers::papers(&project);
    let tables = documents.iter().flat_map(|document| document.tables()).map(|table| table.on_pages());
    let headings: BTreeSet<String> = tables
        .flat_map(|table| table.columns)
        .flat_map(|column| {
            let heading = column.heading_with_unit();
            heading.split_whitespace().map(str::to_owned).collect::<Vec<_>>()
        })
        .collect();
    assert!(headings.len() > 20, "{headings:?}");
    let kinds = [SheetKind::Parts, SheetKind::Cuts, SheetKind::Commissioning];
    for paper in [Paper::A4, Paper::Letter] {
        let set = set(&project, &kinds, paper);
        let marks = set.pages.iter().flat_map(|page| &page.marks);
        let said: BTreeSet<&str> = marks
            .filter_map(|mark| if let MarkKind::Words(words) = &mark.kind { Some(words) } else { None })
            .flat_map(|words| words.text.split_whitespace())
            .collect();
        let broken: Vec<&String> = headings.iter().filter(|word| !said.contains(word.as_str())).collect();
        assert!(broken.is_empty(), "{paper:?}: {broken:?}");
    }
}

/// A hose has one length, on the layout, on the schematic and in the cut list, in either unit system.
#[test]
fn drawings_and_cut_list_show_the_same_lengths() {
    for name in EXAMPLES {
        for units in UnitSystem::ALL {
            let mut project = project(name);
            project.units = units;
            let routing = &project.routings[0];
            let layout = set(&project, &[SheetKind::Layout], Paper::A3);
            let schematic = set(&project, &[SheetKind::Schematic], Paper::A3);
            let pieces = equirow::sheets::cut_plan::pieces(
                &project,
                RoutingGeometry::working(&project, routing).with(routing),
            );
            for (run, piece) in routing.runs.iter().zip(pieces) {
                let length = Measure::CutLength.short_text(piece.length.unwrap().si(), units);
                let on = |set: &SheetSet| {
                    // The tag, and behind it size and length.
                    let all: Vec<&str> = set.pages.iter().flat_map(words).collect();
                    let pairs = all.windows(2).filter(|pair| pair[0] == run.tag && pair[1].starts_with('Ø'));
                    pairs.map(|pair| pair[1].to_owned()).collect::<Vec<_>>()
                };
                let said: String = layout.pages.iter().map(said_without_room).collect();
                let no_room = said.split(|one: char| !one.is_alphanumeric()).any(|word| word == run.tag);
                for (labels, sheet) in [(on(&layout), "layout"), (on(&schematic), "schematic")] {
                    let is_named = !labels.is_empty() || no_room && sheet == "layout";
                    assert!(is_named, "{name}: {} is not on the {sheet}", run.tag);
                    assert!(
                        labels.iter().all(|label| label.ends_with(&length)),
                        "{labels:?} against {length}"
                    );
                }
            }
        }
    }
}

/// A fitter finds each outlet: the first and last are numbered, across from their taps, and all where that can be read.
#[test]
fn manifolds_on_the_layout_have_their_outlets_numbered() {
    let project = project("twenty-four-metre-bar.ron");
    let routing = &project.routings[0];
    let set = set(&project, &[SheetKind::Layout], Paper::A3);
    for part in &routing.parts {
        let Some(PartItem::Manifold(Manifold { outlets, .. })) = project.catalogue.item(&part.entry) else {
            continue;
        };
        let numbered = set.pages.iter().any(|page| {
            let Some(view) = page.view.filter(|view| view.denominator <= 20.0) else { return false };
            [1, *outlets].into_iter().all(|number| {
                let port = PortRef { part: part.id, port: Port::Outlet(number) };
                let at = view.at(Anchors::of(&project, routing).port(port).unwrap().place.flat());
                page.marks.iter().any(|mark| match &mark.kind {
                    MarkKind::Words(words) if words.text == number.to_string() => {
                        let centre = words.bounds().centre();
                        (centre.x - at.x).abs() < 0.5 && (centre.y - at.y).abs() < 9.0
                    }
                    _ => false,
                })
            })
        });
        assert!(numbered, "{}", part.tag);
    }
}

// ----------------------------------------------------------------------------------------------------------------
// How tees and manifolds stand on the schematic; what is connected with what is read in tests/papers/schematic.rs.

fn near(a: Point2, b: Point2) -> bool {
    a.distance(b) < 1e-6
}

fn on_line(point: Point2, points: &[Point2]) -> bool {
    points.windows(2).any(|pair| point.distance_to_piece(pair[0], pair[1]) < 1e-6)
}

/// The two ends of a tee's run are drawn in one line and its branch across it, and a manifold is fed where its inlet is:
/// in its middle or at its left end.
#[test]
fn tees_and_manifolds_are_drawn_as_they_are_used() {
    let (mut tees, mut inlets) = (0, 0);
    for name in EXAMPLES {
        let project = project(name);
        for routing in &project.routings {
            for paper in [Paper::A4, Paper::A3] {
                let options = options(&project, &[SheetKind::Schematic], paper);
                for page in
                    &sheet_set(&project, RoutingGeometry::working(&project, routing).with(routing), &options)
                        .unwrap()
                        .pages
                {
                    tees += tees_of(page, routing, name);
                    inlets += inlets_of(page, &project, routing, name);
                }
            }
        }
    }
    assert!(tees > 20 && inlets > 20, "{tees} tees and {inlets} inlets");
}

/// The lines of a hose's drawn ends on a page: where each ends, and the next point along it.
fn hose_ends(page: &Page) -> impl Iterator<Item = (u32, Point2, Point2)> {
    page.marks.iter().filter(|mark| mark.layer == PaperLayer::Hose).flat_map(|mark| {
        let (Some(Subject::Run(run)), MarkKind::Line { points, .. }) = (mark.subject, &mark.kind) else {
            return Vec::new();
        };
        let last = points.len() - 1;
        vec![(run.0, points[0], points[1]), (run.0, points[last], points[last - 1])]
    })
}

fn tees_of(page: &Page, routing: &equirow::plan::Routing, name: &str) -> usize {
    let mut seen = 0;
    for mark in page.marks.iter().filter(|mark| mark.layer == PaperLayer::Hose) {
        let (Some(Subject::Part(tee)), MarkKind::Circle { centre, .. }) = (mark.subject, &mark.kind) else {
            continue;
        };
        let mut ways: Vec<(Port, Point2)> = Vec::new();
        for (run, end, next) in hose_ends(page).filter(|(_, end, _)| near(*end, *centre)) {
            let run = routing.runs.iter().find(|one| one.id.0 == run).unwrap();
            let ports = [run.from, run.to].into_iter().filter_map(|end| end.port());
            let Some(port) = ports.filter(|port| port.part == tee).map(|port| port.port).next() else {
                continue;
            };
            let long = end.distance(next);
            ways.push((port, Point2::new((next.x - end.x) / long, (next.y - end.y) / long)));
        }
        let way = |wanted| ways.iter().find(|(port, _)| *port == wanted).map(|(_, way)| *way);
        if let (Some(one), Some(other), Some(branch)) = (way(Port::In), way(Port::Out), way(Port::Branch)) {
            let dot = |a: Point2, b: Point2| a.x * b.x + a.y * b.y;
            assert!((dot(one, other) + 1.0).abs() < 1e-9, "{name} {}: {tee:?} is bent", page.name);
            assert!(dot(one, branch).abs() < 1e-9, "{name} {}: {tee:?} has no branch", page.name);
            seen += 1;
        }
    }
    seen
}

fn inlets_of(page: &Page, project: &Project, routing: &equirow::plan::Routing, name: &str) -> usize {
    let mut seen = 0;
    for mark in page.marks.iter().filter(|mark| mark.layer == PaperLayer::Hose) {
        let (Some(Subject::Part(part)), MarkKind::Line { points, .. }) = (mark.subject, &mark.kind) else {
            continue;
        };
        let item = routing.part(part).and_then(|part| project.catalogue.item(&part.entry));
        let Some(PartItem::Manifold(Manifold { inlet, .. })) = item else { continue };
        let (from, to) = (points[0], points[points.len() - 1]);
        if (from.y - to.y).abs() > 1e-9 {
            continue;
        }
        for (run, end, _) in hose_ends(page).filter(|(_, end, _)| on_line(*end, points)) {
            let run = routing.runs.iter().find(|one| one.id.0 == run).unwrap();
            let ports = [run.from, run.to].into_iter().filter_map(|end| end.port());
            if !ports.into_iter().any(|port| port.part == part && port.port == Port::In) {
                continue;
            }
            let at = (end.x - from.x) / (to.x - from.x);
            let middle = *inlet == ManifoldInlet::Middle;
            // Between two taps, so that the middle is met within half the distance of taps.
            let right = if middle { (at - 0.5).abs() * (to.x - from.x) <= 4.1 } else { at < 0.15 };
            assert!(right, "{name} {}: {part:?} is fed at {at} of its length", page.name);
            seen += 1;
        }
    }
    seen
}

/// Five speeds of the commissioning sheet, each with the liquid and with water, and the few at which water is brought to the
/// liquid's pressure for the leak check.
#[test]
fn all_papers_together_solve_each_operating_point_once() {
    let project = equirow::files::demo();
    for routing in &project.routings {
        let geometry = RoutingGeometry::working(&project, routing);
        let routing = geometry.with(routing);
        let mut options = SheetOptions::all(&project, Date::parse("2026-03-31").unwrap());
        options.flows = true;
        let basis = Basis::new(&project, routing, project.duties.first());
        assert_eq!(basis.solves(), 0);
        let set = sheet_set_of(&basis, &options);
        let solves = basis.solves();
        assert!((10..=16).contains(&solves), "{solves}");
        // Asked again, nothing is worked out anew.
        assert_eq!(sheet_set_of(&basis, &options), set);
        assert_eq!(basis.solves(), solves);
        assert_eq!(sheet_set(&project, routing, &options), set);
    }
}

/// The hose from the pump ends on the sheet of its section, some way in front of the bar: an arrow stands there, with where the pump
/// is, or that nobody said.
#[test]
fn the_hose_from_the_pump_says_where_it_leads() {
    let mut project = project("twenty-four-metre-bar.ron");
    for is_placed in [true, false] {
        if !is_placed {
            project.supply.pump = equirow::plan::supply::PUMP_UNLESS_PLACED;
        }
        for paper in [Paper::A3, Paper::A4] {
            let pages = set(&project, &[SheetKind::Layout], paper).pages;
            let centre = pages.iter().find(|page| page.name.ends_with("centre")).unwrap();
            let said: Vec<&str> = words(centre).collect();
            let said = said.join(" ");
            // Where the pump stands on the sheet, to scale, its words are beside it.
            if said.contains("from the pump") {
                continue;
            }
            // On a sheet that would be drawn small for its sake the hose is not drawn, and that is said.
            let drawn = if is_placed { "to the pump," } else { "to the pump;" };
            assert!(said.contains(drawn) || said.contains("pump to F1, the pump: "), "{paper:?}: {said:?}");
            let place =
                if is_placed { "500 mm right of the centre line" } else { "nobody said where that is" };
            assert!(said.contains(place), "{paper:?}: {said:?}");
        }
    }
}

/// In the schematic no line of a hose runs through the name of a hose, on small paper neither.
#[test]
fn names_of_hoses_stand_beside_lines() {
    let mut seen = 0;
    for name in EXAMPLES {
        let project = project(name);
        for paper in [Paper::A3, Paper::A4, Paper::Letter] {
            for page in &set(&project, &[SheetKind::Schematic], paper).pages {
                let tags = page.marks.iter().filter_map(|mark| match &mark.kind {
                    MarkKind::Words(words)
                        if words.bold && project.routings[0].runs.iter().any(|run| run.tag == words.text) =>
                    {
                        Some((&words.text, words.bounds()))
                    }
                    _ => None,
                });
                for (tag, bounds) in tags {
                    seen += 1;
                    let inner = bounds.grown(-0.1);
                    let met = page.marks.iter().any(|mark| match &mark.kind {
                        MarkKind::Line { points, .. } if mark.layer == PaperLayer::Hose => {
                            points.windows(2).any(|pair| {
                                (0..=200)
                                    .any(|at| inner.contains(pair[0].towards(pair[1], f64::from(at) / 200.0)))
                            })
                        }
                        _ => false,
                    });
                    assert!(!met, "{name} {paper:?} {}: {tag} stands on a line", page.name);
                }
            }
        }
    }
    assert!(seen > 40, "{seen}");
}
