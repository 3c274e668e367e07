//! The sheets of hinges: every crossing once with the numbers of the plan, the folded bar to scale, as few pages as show them at 1:20.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use equirow::drawing::paper::{MarkKind, Page, PaperLayer};
use equirow::drawing::sheet_frame::{Paper, continued_area, drawing_area};
use equirow::files;
use equirow::geometry::Bounds;
use equirow::plan::crossing::gathered;
use equirow::plan::{
    CrossedHinge, CrossingBasis, FeedElement, FoldPosition, FoldedBar, HingeCrossing, LaidRouting, Line,
    Project, RoutingGeometry, SectionId,
};
use equirow::quantities::{Length, Measure, UnitSystem};
use equirow::sheets::document::{PaperCell, PaperTable};
use equirow::sheets::hinge_crossings::hinge_crossings;
use equirow::sheets::{Date, SheetKind, SheetOptions, SheetSet, sheet_set};

const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

fn project(name: &str) -> Project {
    files::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)).unwrap()
}

fn hinges(project: &Project, routing: usize, kinds: &[SheetKind], paper: Paper) -> SheetSet {
    let routing = &project.routings[routing];
    let geometry = RoutingGeometry::working(project, routing);
    let all = SheetOptions::all(project, Date::from_days(20_000));
    let options = SheetOptions { kinds: kinds.to_vec(), paper, ..all };
    sheet_set(project, geometry.with(routing), &options).unwrap()
}

/// Each line of the routing that crosses a hinge, by its tag.
fn crossing<'a>(routing: LaidRouting<'a>) -> Vec<(String, &'a Line, &'a CrossedHinge)> {
    let mut found = Vec::new();
    let plan: &'a equirow::plan::Routing = routing.routing;
    let geometry: &'a RoutingGeometry = routing.geometry;
    for run in &plan.runs {
        for crossed in geometry.run(run.id).into_iter().flat_map(|laid| &laid.crossings) {
            found.push((run.tag.clone(), &run.line, crossed));
        }
    }
    for feed in &plan.feeds {
        let elements = feed.elements().filter(|one| one.is_cut()).enumerate();
        let tags: Vec<(String, &FeedElement)> =
            elements.map(|(at, element)| (feed.piece_tag(at + 1), element)).collect();
        let mut tubes = geometry.feed(feed.id).into_iter().flat_map(|laid| laid.tubes());
        for (tag, element) in tags {
            let FeedElement::Tube(tube) = element else { continue };
            for crossed in tubes.next().into_iter().flat_map(|laid| &laid.crossings) {
                found.push((tag.clone(), &tube.line, crossed));
            }
        }
    }
    found
}

/// The tags of a cell, its ranges written out: `T1 to T3, H2 and H4 (rows 1 to 3)`.
fn tags(cell: &str) -> Vec<String> {
    let words = cell.split(" (").next().unwrap().split(", crossing").next().unwrap();
    let mut all = Vec::new();
    for piece in words.replace(" and ", ", ").split(", ") {
        let Some((first, last)) = piece.split_once(" to ") else {
            all.push(piece.to_owned());
            continue;
        };
        let split = |tag: &str| {
            let at = tag.rfind(|letter: char| !letter.is_ascii_digit()).map_or(0, |at| at + 1);
            (tag[..at].to_owned(), tag[at..].parse::<u32>().unwrap())
        };
        let ((letters, from), (_, to)) = (split(first), split(last));
        all.extend((from..=to).map(|number| format!("{letters}{number}")));
    }
    all
}

fn of(project: &Project, routing: usize) -> (PaperTable, RoutingGeometry) {
    let geometry = RoutingGeometry::working(project, &project.routings[routing]);
    let laid = geometry.with(&project.routings[routing]);
    let document = hinge_crossings(project, laid, project.duties.first());
    let table = document.tables().next().unwrap().clone();
    (table, geometry)
}

fn column(table: &PaperTable, heading: &str) -> usize {
    table.columns.iter().position(|column| column.heading == heading).unwrap_or_else(|| panic!("{heading}"))
}

/// Every crossing of every routing stands in one line of its hinge, with the figures that the plan has of it.
#[test]
fn every_crossing_stands_once_with_the_figures_of_the_plan() {
    let (mut lines, mut bundles) = (0, 0);
    for name in EXAMPLES {
        for units in UnitSystem::ALL {
            let mut project = project(name);
            project.units = units;
            for routing in 0..project.routings.len() {
                let (table, geometry) = of(&project, routing);
                let at = |row: &[PaperCell], heading: &str| row[column(&table, heading)].printed().to_owned();
                let mut said: BTreeMap<(String, String), Vec<&Vec<PaperCell>>> = BTreeMap::new();
                for row in &table.rows {
                    let all = tags(&at(row, "Hoses and tubes"));
                    bundles += usize::from(all.len() > 1);
                    for tag in all {
                        said.entry((tag, at(row, "Hinge"))).or_default().push(row);
                    }
                }
                let wanted = crossing(geometry.with(&project.routings[routing]));
                assert_eq!(said.values().map(Vec::len).sum::<usize>(), wanted.len(), "{name}");
                let bars = [0.0, 1.0].map(|at| FoldedBar::at(&project.bar, FoldPosition::share(at)));
                for (tag, line, crossed) in wanted {
                    lines += 1;
                    let hinge = project.bar.section(crossed.section).unwrap();
                    let rows = &said[&(tag.clone(), hinge.name.clone())];
                    assert_eq!(rows.len(), 1, "{name} {tag}");
                    let cell = |heading: &str| at(rows[0], heading);
                    let length = |one: Length| Measure::CutLength.number(one.si(), units);
                    let CrossingBasis::Computed(crossing) = &crossed.basis else {
                        panic!("{name} {tag}: {crossed:?}")
                    };
                    assert_eq!(cell("Length is"), "computed");
                    if cell("Remarks").contains("one bundle of") {
                        let governs = |heading: &str| match &rows[0][column(&table, heading)] {
                            PaperCell::Number { value, .. } => *value,
                            other => panic!("{name} {tag}: {heading} {other:?}"),
                        };
                        let own = Measure::CutLength.shown(crossing.free.si(), units);
                        assert!(
                            governs("Shortest free") <= own + 0.01 && own <= governs("Free length") + 0.01
                        );
                        continue;
                    }
                    assert_eq!(cell("Free length"), length(crossing.free));
                    assert_eq!(cell("Extra over way"), length(crossed.extra));
                    assert_eq!(cell("Apart at most"), length(crossing.longest.0));
                    assert_eq!(cell("Apart at fold"), format!("{:.0}", crossing.longest.1.percent()));
                    assert_eq!(cell("Least radius"), length(crossing.tightest.0));
                    assert_eq!(cell("Radius at fold"), format!("{:.0}", crossing.tightest.1.percent()));
                    let stock = project.catalogue.stock(&line.stock).unwrap();
                    assert_eq!(cell("Radius of stock"), length(stock.bend_radius));
                    for (bar, heading) in bars.iter().zip(["Slack at work", "Slack folded"]) {
                        let [a, b] = crossing.clamps.map(|clamp| bar.place(clamp.at));
                        let slack = crossing.free - Length::metres(a.distance(b));
                        assert_eq!(cell(heading), length(slack), "{name} {tag} {heading}");
                        assert!(slack > Length::ZERO, "{name} {tag}");
                    }
                    // Each side by the section that its clamp rides on.
                    for clamp in crossing.clamps {
                        let turns = clamp.at.section == crossed.section;
                        let side = if turns { "Tip" } else { "Centre" };
                        assert_eq!(cell(&format!("{side}: from hinge")), length(clamp.from_hinge));
                        // Of the level hoses and axes of the examples: height over the axis.
                        let over = clamp.at.place.z - hinge.hinge.unwrap().point.z;
                        if !hinge.hinge.unwrap().is_upright() {
                            assert_eq!(cell(&format!("{side}: over axis")), length(Length::metres(over)));
                        }
                        // Pythagoras: the distance from the axis is that across and that over it.
                        let (across, far) = (clamp.from_hinge.si(), clamp.from_axis.si());
                        assert!(far >= across - 1e-3, "{tag}: {across} {far}");
                    }
                }
            }
        }
    }
    assert!(lines > 20, "{lines}");
    assert!(bundles > 0);
}

/// An entered length is called so and says what would be computed; one that can't be computed says why, and prints a dash where
/// nothing is known.
#[test]
fn entered_and_assumed_lengths_are_called_so() {
    let mut project = project("twelve-metre-bar.ron");
    let (before, geometry) = of(&project, 0);
    let (tag, _, crossed) = crossing(geometry.with(&project.routings[0])).swap_remove(0);
    let section: SectionId = crossed.section;
    let run = project.routings[0].runs.iter_mut().find(|run| run.tag == tag).unwrap();
    run.line.crossings =
        vec![HingeCrossing { entered: Some(Length::metres(0.5)), ..HingeCrossing::computed(section) }];
    let line = |table: &PaperTable| {
        let names = column(table, "Hoses and tubes");
        table.rows.iter().find(|row| tags(row[names].printed()).contains(&tag)).unwrap().clone()
    };
    let (table, _) = of(&project, 0);
    let row = line(&table);
    let cell = |row: &[PaperCell], heading: &str| row[column(&table, heading)].printed().to_owned();
    assert_eq!(cell(&row, "Length is"), "entered");
    assert_eq!(cell(&row, "Extra over way"), Measure::CutLength.number(0.5, project.units));
    assert!(cell(&row, "Remarks").contains("computed would be"), "{row:?}");
    assert_ne!(cell(&row, "Free length"), cell(&line(&before), "Free length"));

    let hinge = project.bar.sections.iter_mut().find(|one| one.id == section).unwrap();
    hinge.hinge.as_mut().unwrap().axis = equirow::geometry::Point3::new(1.0, 0.0, 0.0);
    project.routings[0].runs.iter_mut().for_each(|run| run.line.crossings.clear());
    let (table, _) = of(&project, 0);
    let row = line(&table);
    assert_eq!(cell(&row, "Length is"), "ASSUMED");
    assert_eq!(cell(&row, "Free length"), "");
    assert!(cell(&row, "Remarks").contains("not in one plane"), "{row:?}");
    let set = hinges(&project, 0, &[SheetKind::Hinges], Paper::A4);
    let said = words(&set.pages[0]);
    assert!(said.contains("ASSUMED") && said.contains("–"), "{said}");
    // Broken over lines where it is long.
    assert!(said.contains("not in one plane"), "{said}");
}

fn words(page: &Page) -> String {
    let words = page.marks.iter().filter_map(|mark| match &mark.kind {
        MarkKind::Words(words) => Some(words.text.as_str()),
        _ => None,
    });
    words.collect::<Vec<_>>().join(" ")
}

/// Letters of 2.5 mm at least (ISO 3098), nothing cut short, off its area or over other words, and each picture at 1:20 or larger: a
/// metre of hose takes 50 mm then. Sheets are added for that, four at most.
#[test]
fn the_sheets_of_hinges_can_be_read_and_are_few() {
    for name in EXAMPLES {
        let mut project = project(name);
        for (units, paper) in
            UnitSystem::ALL.into_iter().flat_map(|units| Paper::ALL.map(|paper| (units, paper)))
        {
            project.units = units;
            for routing in 0..project.routings.len() {
                let set = hinges(&project, routing, &[SheetKind::Hinges], paper);
                let here = format!("{name} {routing} {paper:?} {units:?}");
                assert!(set.pages.len() <= 4, "{here}: {} pages", set.pages.len());
                let cut = set.warnings.iter().find(|one| one.contains("cut short"));
                assert_eq!(cut, None, "{here}");
                // No word of a heading or cell is broken.
                let said = words(&set.pages[0]);
                let said: BTreeSet<&str> = said.split_whitespace().collect();
                for whole in ["Tip:", "computed", "Radius", "folded", "length", "Apart", "tubes"] {
                    assert!(said.contains(whole), "{here}: {whole}");
                }
                for page in &set.pages {
                    if page.name != "Folded bar"
                        && let Some(view) = page.view
                    {
                        assert!(view.denominator <= 20.0, "{here} {}: 1:{}", page.name, view.denominator);
                    }
                    let area = if page.name == "Hinge crossing" { continued_area } else { drawing_area };
                    let area = area(page.width, page.height).grown(0.1);
                    let all: Vec<(&str, Bounds)> = page
                        .marks
                        .iter()
                        .filter_map(|mark| match &mark.kind {
                            MarkKind::Words(words) => {
                                let place = &page.name;
                                assert!(words.height >= 2.5, "{here} {place}: {words:?}");
                                let is_own = mark.layer != PaperLayer::Sheet;
                                is_own.then(|| (words.text.as_str(), words.bounds()))
                            }
                            _ => None,
                        })
                        .collect();
                    for (at, (words, a)) in all.iter().enumerate() {
                        assert!(area.contains(a.min) && area.contains(a.max), "{here}: \"{words}\" {a:?}");
                        for (other, b) in &all[at + 1..] {
                            let apart = a.max.x < b.min.x + 0.05
                                || b.max.x < a.min.x + 0.05
                                || a.max.y < b.min.y + 0.05
                                || b.max.y < a.min.y + 0.05;
                            assert!(apart, "{here} {}: \"{words}\" lies on \"{other}\"", page.name);
                        }
                    }
                }
            }
        }
    }
}

/// Each end of a free piece says which way along the bar it is: on the side at work on which the tip is, by the places of the two
/// clamps on the bar. Both words stand in each of the two positions of every picture, each by its own clamp.
#[test]
fn the_ends_of_free_pieces_are_named_on_the_side_where_they_are() {
    let mut pictures = 0;
    for name in EXAMPLES {
        let project = project(name);
        for paper in [Paper::A3, Paper::A4] {
            let set = hinges(&project, 0, &[SheetKind::Hinges], paper);
            for page in set.pages.iter().filter(|page| page.name != "Folded bar") {
                let of = |wanted: &str| {
                    let words = page.marks.iter().filter_map(|mark| match &mark.kind {
                        MarkKind::Words(words) if words.text == wanted => Some(words.bounds().centre()),
                        _ => None,
                    });
                    words.collect::<Vec<_>>()
                };
                let (tips, centres) = (of("tip"), of("centre"));
                assert_eq!(tips.len(), centres.len(), "{name} {paper:?}");
                pictures += tips.len();
                // Of a clamp: a short stroke across the end of a free piece.
                let strokes: Vec<_> = page
                    .marks
                    .iter()
                    .filter(|mark| mark.layer == PaperLayer::Part)
                    .map(|mark| mark.kind.bounds().centre())
                    .collect();
                assert_eq!(strokes.len(), tips.len() + centres.len(), "{name} {paper:?}");
                for at in tips.iter().chain(&centres) {
                    let near =
                        strokes.iter().map(|stroke| stroke.distance(*at)).fold(f64::INFINITY, f64::min);
                    assert!(near < 30.0, "{name} {paper:?}: {near} mm from its clamp");
                }
            }
        }
    }
    assert!(pictures > 8, "{pictures}");
}

/// What is said of several hoses together is what stands in the lines of the table: how many there are, the shortest and the
/// longest free piece.
#[test]
fn crossings_seen_together_are_the_lines_of_the_table() {
    for name in EXAMPLES {
        let project = project(name);
        let routing = &project.routings[0];
        let geometry = RoutingGeometry::working(&project, routing);
        let all = crossing(geometry.with(routing));
        let together = gathered(all.iter().map(|one| one.2));
        assert_eq!(together.iter().map(|one| one.count).sum::<usize>(), all.len(), "{name}");
        for one in &together {
            let own = all.iter().filter(|(.., crossed)| crossed.section == one.section);
            let mut free: Vec<f64> = own.map(|(.., crossed)| crossed.computed().unwrap().free.si()).collect();
            free.sort_by(f64::total_cmp);
            let facts = one.facts(UnitSystem::Metric);
            let text = |metres: f64| Measure::CutLength.short_text(metres, UnitSystem::Metric);
            let (least, most) = (text(free[0]), text(free[free.len() - 1]));
            let says = if least == most { least } else { format!("{least} to {most}") };
            assert!(facts.iter().any(|fact| fact.0.starts_with("free piece") && fact.1 == says), "{facts:?}");
        }
    }
}

/// In the standard set where the bar has hinges, and nowhere else; alone it says that there are none.
#[test]
fn sheets_of_hinges_stand_in_the_set_of_a_bar_that_folds() {
    let mut project = project("nine-metre-bar.ron");
    assert!(SheetKind::TO_BUILD_FROM.contains(&SheetKind::Hinges));
    let kinds = [SheetKind::Layout, SheetKind::Hinges];
    let many = |project: &Project| {
        let set = hinges(project, 0, &kinds, Paper::A3);
        set.kinds.iter().filter(|kind| **kind == SheetKind::Hinges).count()
    };
    assert_eq!(many(&project), 2);
    project.bar.sections.iter_mut().for_each(|section| section.hinge = None);
    assert_eq!(many(&project), 0);
    let set = hinges(&project, 0, &[SheetKind::Hinges], Paper::A3);
    assert!(set.pages.iter().any(|page| words(page).contains("The bar has no hinges")));
    assert!(set.pages.iter().any(|page| words(page).contains("No hose or tube crosses a hinge")));
}

/// The folded bar is drawn to the scale that its title block says: each frame member of a section stands on the page as far from
/// end to end as its ends are from each other, folded and seen from behind, over the scale; so does the width that is written.
#[test]
fn the_folded_bar_is_to_scale() {
    for name in EXAMPLES {
        let project = project(name);
        let set = hinges(&project, 0, &[SheetKind::Hinges], Paper::A3);
        let page = set.pages.iter().find(|page| page.name == "Folded bar").unwrap();
        let view = page.view.unwrap();
        assert!(words(page).contains(&format!("1:{}", view.denominator)), "{name}");
        let folded = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
        let drawn: Vec<f64> = page
            .marks
            .iter()
            .filter(|mark| mark.layer == PaperLayer::Frame)
            .filter_map(|mark| match &mark.kind {
                MarkKind::Line { points, .. } | MarkKind::Area { points, .. } => Some(
                    points.iter().flat_map(|a| points.iter().map(|b| a.distance(*b))).fold(0.0, f64::max),
                ),
                _ => None,
            })
            .collect();
        let mut lengths = BTreeSet::new();
        for section in &project.bar.sections {
            let motion = folded.motion(section.id);
            for member in &section.members {
                let [a, b] = [member.from, member.to].map(|end| motion.place(end));
                let length = (a.x - b.x).hypot(a.z - b.z) * 1000.0 / view.denominator;
                // As wide as it is long, end on.
                if length > 20.0 {
                    lengths.insert((length * 1000.0).round() as i64);
                    assert!(
                        drawn.iter().any(|one| (one - length).abs() < 0.6),
                        "{name}: {} is {length} mm on paper, not in {drawn:?}",
                        section.name
                    );
                }
            }
        }
        assert!(!lengths.is_empty(), "{name}");
        let said = words(page);
        assert!(
            said.contains("Openers, wheels and hitch are not in it") || said.contains("Openers"),
            "{said}"
        );
        assert!(said.contains("rules are local") || said.contains("local"), "{said}");
    }
}
