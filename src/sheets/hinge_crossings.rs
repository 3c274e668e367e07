//! Hinge crossings: where each hose and tube that crosses a hinge is clamped, and how long and how bent the free piece is.

use super::basis::Basis;
use super::cautions;
use super::document::{Align, Block, Document, PaperCell, PaperColumn, PaperTable, Shown};
use super::places;
use crate::drawing::crossing_picture::DrawnCrossing;
use crate::drawing::crossing_table::{CrossingColumn, CrossingTable, HingeLines};
use crate::geometry::Point3;
use crate::plan::crossing::{self, Hang, OUT_OF_PLANE};
use crate::plan::{
    Clamp, CrossedHinge, Crossing, CrossingBasis, Duty, FeedElement, FoldPosition, FoldedBar, Hinge,
    LaidRouting, Line, LineGeometry, Project, RowId, SectionId, words,
};
use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// The list as a paper.
pub fn hinge_crossings(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
fn from_basis(basis: &Basis) -> Document {
    let mut document = Document::new("Hinge crossings", basis);
    document.blocks.push(Block::Table(table(basis, &bundles(basis))));
    document.blocks.extend(cautions::blocks());
    document
}

/// As it stands on sheets of a drawing's size, and what is drawn beside it.
pub(super) fn on_sheets<'a>(basis: &Basis<'a>) -> (CrossingTable, Vec<DrawnCrossing<'a>>) {
    let all = bundles(basis);
    let table = on_pages(&table(basis, &all).on_wide_pages(), lowest_words(&all, basis.project.units));
    (table, to_draw(basis, all))
}

/// As it stands on drawings; where these are too narrow for how low the free pieces hang, that is said instead.
fn on_pages(table: &PaperTable, lowest: Option<String>) -> CrossingTable {
    let columns = table.columns.iter().map(|column| CrossingColumn {
        heading: column.heading_with_unit(),
        is_number: column.align == Align::Number,
        needs_room: column.shown == Shown::InFilesAndWhereWide,
    });
    let columns = columns.collect();
    let printed = |cell: &PaperCell| match cell {
        PaperCell::Empty => "–".to_owned(),
        other => other.printed().to_owned(),
    };
    let lines: Vec<Vec<String>> = table.rows.iter().map(|row| row.iter().map(printed).collect()).collect();
    let ends = table.groups.iter().skip(1).map(|group| group.before).chain([lines.len()]);
    let hinges = table.groups.iter().zip(ends).map(|(group, end)| HingeLines {
        words: group.words.clone(),
        lines: lines.get(group.before..end).unwrap_or_default().to_vec(),
    });
    CrossingTable { columns, hinges: hinges.collect(), notes: table.notes.clone(), in_their_place: lowest }
}

/// The computed crossings to be drawn, what comes nearest to the least radius of its stock first, but for the first of each
/// kind of hinge; crossings that are alike, as on both sides of a bar, as one.
fn to_draw<'a>(basis: &Basis<'a>, all: Vec<Bundle<'a>>) -> Vec<DrawnCrossing<'a>> {
    let (project, units) = (basis.project, basis.project.units);
    let mut found: Vec<(bool, f64, Vec<PaperCell>, DrawnCrossing)> = Vec::new();
    for (number, bundle) in (1..).zip(all) {
        let CrossingBasis::Computed(crossing) = &bundle.crossed.basis else { continue };
        let hinge = project.bar.section(bundle.section).and_then(|section| section.hinge);
        let stock = project.catalogue.stock(&bundle.line.stock);
        let Some((hinge, least)) = hinge.zip(stock.map(|stock| stock.bend_radius)) else { continue };
        let (is_upright, cells) = (hinge.is_upright(), cells(&bundle.figures, units));
        let alike = found.iter_mut().find(|one| one.0 == is_upright && one.2 == cells);
        if let Some((.., drawn)) = alike {
            drawn.numbers.push(number);
            let drawn_at = project.bar.section(drawn.crossed.section).and_then(|section| section.hinge);
            if drawn_at.is_some_and(|other| other.point.x * hinge.point.x < 0.0) {
                drawn.mirrored.push(number);
            }
            drawn.tags = format!("{}, {}", drawn.tags, words::tags(&bundle.tags));
            continue;
        }
        let share = crossing.tightest.0.si() / least.si();
        let (numbers, tags) = (vec![number], words::tags(&bundle.tags));
        found.push((
            is_upright,
            share,
            cells,
            DrawnCrossing { numbers, mirrored: Vec::new(), tags, crossed: bundle.crossed, least },
        ));
    }
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    // A hinge that turns forward is read unlike one that turns up: one of each kind stands before the rest.
    let other = found.iter().position(|one| one.0 != found[0].0);
    if let Some(other) = other {
        let one = found.remove(other);
        found.insert(1, one);
    }
    found.into_iter().map(|(.., drawn)| drawn).collect()
}

/// Hoses that cross a hinge alike, or all tubes of one stock that cross it, as one.
struct Bundle<'a> {
    section: SectionId,
    tags: Vec<String>,
    rows: Vec<u32>,
    line: &'a Line,
    /// The one that bends tightest.
    crossed: &'a CrossedHinge,
    is_tubes: bool,
    /// How often the same line crossed this hinge before.
    before: usize,
    figures: Figures,
}

impl Bundle<'_> {
    /// Its remarks, and of a bundle of tubes how many it has and which pieces.
    fn remark(&self, units: UnitSystem) -> String {
        let text = |one: Length| Measure::CutLength.short_text(one.si(), units);
        let figures = &self.figures;
        let mut said = figures.remark.clone();
        if self.tags.len() > 1 && self.is_tubes {
            let pieces =
                figures.shortest.zip(figures.free).map_or_else(String::new, |(shortest, longest)| {
                    if text(shortest) == text(longest) {
                        format!(", {} free", text(longest))
                    } else {
                        format!(", {} to {} free", text(shortest), text(longest))
                    }
                });
            said = joined(&said, &format!("one bundle of {} tubes{pieces}", self.tags.len()));
            if figures.clamps.contains(&None) && figures.free.is_some() {
                said = joined(&said, "its clamps are not all alike: select the bundle to move them together");
            }
        }
        said
    }
}

/// What is known of a clamp in the plane across the hinge.
#[derive(Debug, Clone, Copy, PartialEq)]
struct ClampFigures {
    from_hinge: Length,
    over_axis: Length,
    /// By how much the hose rises from there on, away from the hinge.
    rise: Angle,
}

/// What is known of a crossing.
#[derive(Debug, Clone, PartialEq, Default)]
struct Figures {
    /// On the side that the hinge is on, and on the side that turns.
    clamps: [Option<ClampFigures>; 2],
    whose: &'static str,
    /// Of a bundle its longest piece.
    free: Option<Length>,
    /// Of a bundle its shortest piece.
    shortest: Option<Length>,
    extra: Length,
    /// At work and folded.
    slack: [Option<Length>; 2],
    farthest: Option<(Length, FoldPosition)>,
    tightest: Option<(Length, FoldPosition)>,
    least: Option<Length>,
    /// Of its underside above the ground: on level ground, and with hinges at their lowest.
    lowest: [Option<Length>; 2],
    basis: &'static str,
    remark: String,
}

impl Figures {
    fn bends_tighter(&self, other: &Self) -> bool {
        let radius = |one: &Self| one.tightest.map(|(radius, _)| radius);
        radius(self).is_some_and(|own| radius(other).is_none_or(|other| own < other))
    }

    /// What governs a bundle once there is another member in it; what differs in words is said of all.
    fn with(&mut self, other: Self) {
        for (own, other) in self.clamps.iter_mut().zip(other.clamps) {
            if *own != other {
                *own = None;
            }
        }
        if self.whose != other.whose {
            self.whose = "differ";
        }
        if self.basis != other.basis {
            self.basis = "mixed";
        }
        self.free = most(self.free, other.free);
        self.shortest = least(self.shortest, other.shortest);
        self.extra = self.extra.max(other.extra);
        for (own, other) in self.slack.iter_mut().zip(other.slack) {
            *own = least(*own, other);
        }
        let farther = |a: (Length, FoldPosition), b: (Length, FoldPosition)| if b.0 > a.0 { b } else { a };
        self.farthest = either(self.farthest, other.farthest, farther);
        let tighter = |a: (Length, FoldPosition), b: (Length, FoldPosition)| if b.0 < a.0 { b } else { a };
        self.tightest = either(self.tightest, other.tightest, tighter);
        for (own, other) in self.lowest.iter_mut().zip(other.lowest) {
            *own = least(*own, other);
        }
        if !self.remark.split("; ").any(|one| one == other.remark)
            && !other.remark.is_empty()
            && self.remark != other.remark
        {
            self.remark = joined(&self.remark, &other.remark);
        }
    }
}

fn either<T>(one: Option<T>, other: Option<T>, of_both: impl Fn(T, T) -> T) -> Option<T> {
    match (one, other) {
        (Some(one), Some(other)) => Some(of_both(one, other)),
        (one, other) => one.or(other),
    }
}

fn most(one: Option<Length>, other: Option<Length>) -> Option<Length> {
    either(one, other, Length::max)
}

fn least(one: Option<Length>, other: Option<Length>) -> Option<Length> {
    either(one, other, Length::min)
}

/// Every crossing once, by hinge in the order of the bar's sections; like ones together.
fn bundles<'a>(basis: &Basis<'a>) -> Vec<Bundle<'a>> {
    let (project, routing) = (basis.project, basis.routing);
    let routing_plan: &'a crate::plan::Routing = routing.routing;
    let geometry: &'a crate::plan::RoutingGeometry = routing.geometry;
    let bars = [FoldPosition::WORKING, FoldPosition::TRANSPORT].map(|at| FoldedBar::at(&project.bar, at));
    let mut found: Vec<Bundle<'a>> = Vec::new();
    let mut add = |tag: &str, is_tubes: bool, rows: &[u32], line: &'a Line, laid: &'a LineGeometry| {
        for (at, crossed) in laid.crossings.iter().enumerate() {
            let section = crossed.section;
            let before = laid.crossings[..at].iter().filter(|one| one.section == section).count();
            let figures = figures(project, line, crossed, &bars);
            let alike = found.iter_mut().find(|one| {
                (one.section, one.before, one.is_tubes) == (section, before, is_tubes)
                    && one.line.stock == line.stock
                    && (is_tubes || cells(&one.figures, project.units) == cells(&figures, project.units))
            });
            match alike {
                Some(bundle) => {
                    bundle.tags.push(tag.to_owned());
                    bundle.rows.extend(rows);
                    if figures.bends_tighter(&bundle.figures) {
                        bundle.crossed = crossed;
                    }
                    bundle.figures.with(figures);
                }
                None => found.push(Bundle {
                    section,
                    tags: vec![tag.to_owned()],
                    rows: rows.to_vec(),
                    line,
                    crossed,
                    is_tubes,
                    before,
                    figures,
                }),
            }
        }
    };
    for run in &routing_plan.runs {
        if let Some(laid) = geometry.run(run.id) {
            add(&run.tag, false, &[], &run.line, laid);
        }
    }
    let number = |row: RowId| project.bar.row(row).map(|row| row.number);
    for feed in &routing_plan.feeds {
        let Some(laid) = geometry.feed(feed.id) else { continue };
        let stretches = std::iter::once((None, &feed.trunk))
            .chain(feed.branches.iter().enumerate().map(|(at, branch)| (Some(at), &branch.elements)));
        let mut pieces = 0;
        for (at, elements) in stretches {
            let branches = feed.branches.iter().enumerate().filter(|(one, _)| at.is_none_or(|at| at == *one));
            let rows: Vec<u32> = branches.filter_map(|(_, branch)| number(branch.row)).collect();
            for (element, laid) in elements.iter().zip(laid.stretch(at)) {
                pieces += usize::from(element.is_cut());
                if let (FeedElement::Tube(tube), Some(laid)) = (element, &laid.tube) {
                    add(&feed.piece_tag(pieces), true, &rows, &tube.line, laid);
                }
            }
        }
    }
    found.sort_by_key(|one| places::order(project, one.section));
    found
}

/// A least radius within this share over that of the stock has no margin for how exactly a hose is cut and clamped (common
/// practice, no source).
const RADIUS_MARGIN: f64 = 0.05;

fn figures(project: &Project, line: &Line, crossed: &CrossedHinge, bars: &[FoldedBar; 2]) -> Figures {
    let bar = &project.bar;
    let text = |one: Length| Measure::CutLength.short_text(one.si(), project.units);
    let measured = if line.measured.is_some() { "the whole length was measured on the bar" } else { "" };
    let least = project.catalogue.stock(&line.stock).map(|stock| stock.bend_radius);
    let mut figures =
        Figures { extra: crossed.extra, least, remark: measured.to_owned(), ..Figures::default() };
    let mut remark = |words: String| figures.remark = joined(&figures.remark, &words);
    figures.basis = match &crossed.basis {
        CrossingBasis::Computed(_) => "computed",
        CrossingBasis::Entered(Ok(crossing)) => {
            remark(format!("entered; computed would be {} free", text(crossing.free)));
            "entered"
        }
        CrossingBasis::Entered(Err(why)) => {
            remark(format!("entered, not computed: {}", why.words()));
            "entered"
        }
        CrossingBasis::Assumed(why) => {
            remark(format!("ASSUMED, not computed: {}", why.words()));
            "ASSUMED"
        }
    };
    let (Some(crossing), Some(hinge)) =
        (crossed.computed(), bar.section(crossed.section).and_then(|section| section.hinge))
    else {
        return figures;
    };
    let is_computed = matches!(crossed.basis, CrossingBasis::Computed(_));
    let free = crossed.free().unwrap_or(crossing.free);
    (figures.free, figures.shortest) = (Some(free), Some(free));
    figures.slack = [0, 1].map(|at| {
        let [before, behind] = crossing.clamps.map(|clamp| bars[at].place(clamp.at));
        Some(free - Length::metres(before.distance(behind)))
    });
    figures.farthest = Some(crossing.longest);
    figures.tightest = if is_computed { Some(crossing.tightest) } else { crossing.tightest_at(free) };
    if let (Some((radius, _)), Some(least)) = (figures.tightest, least) {
        let over = radius.si() / least.si() - 1.0;
        if over < RADIUS_MARGIN {
            let words = if over < 0.0 {
                format!("TIGHTER than its stock allows: {} of {}", text(radius), text(least))
            } else {
                format!(
                    "NO MARGIN: bends to {}, its stock allows {}; clamps exactly as given",
                    text(radius),
                    text(least)
                )
            };
            figures.remark = joined(&figures.remark, &words);
        }
    }
    match crossing.hangs {
        Hang::Computed { height, level, .. } => figures.lowest = [Some(level), Some(height)],
        Hang::OutOfPlane => {
            figures.remark = joined(&figures.remark, &format!("how low it hangs is {OUT_OF_PLANE}"));
        }
    }
    figures.remark = joined(
        &figures.remark,
        &format!("stiffness of the stock {}", crossing.stiffness_words(project.units)),
    );
    if crossing.is_assumed && !crossing.stiffness.is_assumed {
        figures.remark = joined(&figures.remark, "its weight assumed");
    }
    if let Some(other) = crossing.if_unlike_assumed() {
        let words = crossing.unlike_words(&other, project.units);
        figures.remark = joined(&figures.remark, &format!("ASSUMED STIFFNESS MATTERS: {words}"));
    }
    figures.whose = if crossing.is_placed { "placed" } else { "suggested" };
    figures.clamps = clamps(crossing, &hinge, crossed.section);
    figures
}

fn joined(one: &str, other: &str) -> String {
    if one.is_empty() { other.to_owned() } else { format!("{one}; {other}") }
}

/// On the side that the hinge is on, and on the side that turns.
fn clamps(crossing: &Crossing, hinge: &Hinge, turning: SectionId) -> [Option<ClampFigures>; 2] {
    let Some((right, up)) = hinge.plane() else { return [None, None] };
    let of = |clamp: &Clamp, away: Point3| {
        let rise = away.dot(up).atan2(away.dot(right).abs());
        ClampFigures {
            from_hinge: clamp.from_hinge,
            over_axis: Length::metres((clamp.at.place - hinge.point).dot(up)),
            rise: Angle::from_si(rise),
        }
    };
    let [before, behind] = &crossing.clamps;
    let ends = [Some(of(before, before.along * -1.0)), Some(of(behind, behind.along))];
    if before.at.section == turning { [ends[1], ends[0]] } else { ends }
}

/// What stands of a crossing in its line, behind its name.
fn cells(figures: &Figures, units: UnitSystem) -> Vec<PaperCell> {
    let length = |one: Option<Length>| PaperCell::measure(Measure::CutLength, one, units);
    let at = |one: Option<FoldPosition>| {
        one.map_or(PaperCell::Empty, |one| PaperCell::Number {
            text: format!("{:.0}", one.percent()),
            value: one.percent(),
        })
    };
    let mut cells = Vec::new();
    for clamp in figures.clamps {
        cells.push(length(clamp.map(|one| one.from_hinge)));
        cells.push(length(clamp.map(|one| one.over_axis)));
        cells.push(PaperCell::measure(Measure::Angle, clamp.map(|one| one.rise), units));
    }
    cells.push(PaperCell::text(figures.whose));
    cells.push(length(figures.free));
    cells.push(length(Some(figures.extra)));
    cells.extend(figures.slack.map(length));
    cells.push(length(figures.farthest.map(|one| one.0)));
    cells.push(at(figures.farthest.map(|one| one.1)));
    cells.push(length(figures.tightest.map(|one| one.0)));
    cells.push(at(figures.tightest.map(|one| one.1)));
    cells.push(length(figures.least));
    cells.push(length(figures.tightest.zip(figures.least).map(|((radius, _), least)| radius - least)));
    cells.extend(figures.lowest.map(length));
    cells.push(length(figures.shortest));
    cells.push(PaperCell::text(figures.basis));
    cells.push(PaperCell::text(figures.remark.as_str()));
    cells
}

/// How far a free piece is above the ground at work.
const LOWEST: [&str; 2] = ["Lowest at work, level ground", "Lowest at work, wing lowest"];

fn columns(units: UnitSystem) -> Vec<PaperColumn> {
    let length = |heading: &str| PaperColumn::measure(heading, Measure::CutLength, units, 1.0);
    let mut columns = vec![
        PaperColumn::count("No.", 0.6),
        PaperColumn::text("Hinge", 2.0).only(Shown::InFiles),
        PaperColumn::text("Hoses and tubes", 2.4),
        PaperColumn::text("Rows", 1.2).only(Shown::InFiles),
        PaperColumn::text("Stock", 3.0).only(Shown::InFiles),
    ];
    for side in ["Centre", "Tip"] {
        columns.push(length(&format!("{side}: from hinge")));
        columns.push(length(&format!("{side}: over axis")));
        columns.push(PaperColumn::measure(format!("{side}: rise"), Measure::Angle, units, 0.9));
    }
    let percent = |heading: &str| PaperColumn { unit: "%".to_owned(), ..PaperColumn::count(heading, 0.8) };
    columns.extend([
        PaperColumn::text("Clamps", 1.2).only(Shown::InFiles),
        length("Free length"),
        length("Extra over way"),
        length("Slack at work"),
        length("Slack folded"),
        length("Apart at most"),
        percent("Apart at fold"),
        length("Least radius"),
        percent("Radius at fold"),
        length("Radius of stock"),
        length("Radius over stock").only(Shown::InFiles),
        length(LOWEST[0]).only(Shown::InFilesAndWhereWide),
        length(LOWEST[1]).only(Shown::InFilesAndWhereWide),
        length("Shortest free").only(Shown::InFiles),
        PaperColumn::text("Length is", 1.2),
        PaperColumn::text("Remarks", 4.0).only(Shown::InFiles),
    ]);
    columns
}

fn table(basis: &Basis, all: &[Bundle]) -> PaperTable {
    let (project, units) = (basis.project, basis.project.units);
    let mut rows = Vec::new();
    let mut remarks: Vec<(String, Vec<u32>)> = Vec::new();
    for (at, bundle) in all.iter().enumerate() {
        let number = at as u32 + 1;
        let remark = bundle.remark(units);
        if !remark.is_empty() {
            match remarks.iter_mut().find(|one| one.0 == remark) {
                Some(one) => one.1.push(number),
                None => remarks.push((remark.clone(), vec![number])),
            }
        }
        let entry = project.catalogue.entry(&bundle.line.stock);
        let mut row_numbers = bundle.rows.clone();
        row_numbers.sort_unstable();
        row_numbers.dedup();
        let row_words = words::ranges(&row_numbers);
        let mut name = words::tags(&bundle.tags);
        if !row_words.is_empty() {
            let what = if row_numbers.len() == 1 { "row" } else { "rows" };
            name = format!("{name} ({what} {row_words})");
        }
        if bundle.before > 0 {
            name = format!("{name}, crossing {} there", bundle.before + 1);
        }
        let mut row = vec![
            PaperCell::count(at + 1),
            PaperCell::text(places::section(project, bundle.section)),
            PaperCell::text(name),
            PaperCell::text(row_words),
            PaperCell::text(entry.map_or(bundle.line.stock.any().0.as_str(), |entry| &entry.description)),
        ];
        row.extend(cells(&Figures { remark, ..bundle.figures.clone() }, units));
        rows.push(row);
    }
    let mut notes = Vec::new();
    if rows.is_empty() {
        notes.push("No hose or tube crosses a hinge.".to_owned());
    } else {
        notes.extend(NOTES.map(str::to_owned));
    }
    for whose in ["suggested", "placed"] {
        let numbers = (1..).zip(all).filter(|(_, one)| one.figures.whose == whose).map(|(number, _)| number);
        remarks.push((format!("clamps {whose}"), numbers.collect()));
    }
    remarks.retain(|(_, numbers)| !numbers.is_empty());
    notes.extend(remarks.into_iter().map(|(remark, numbers)| {
        let what = if numbers.len() == 1 { "Crossing" } else { "Crossings" };
        format!("{what} {}: {remark}.", words::ranges(&numbers))
    }));
    PaperTable {
        caption: "Hinge crossings".to_owned(),
        columns: columns(units),
        rows,
        totals: Vec::new(),
        groups: places::headings(all.iter().map(|one| one.section), |one| hinge_words(project, one)),
        notes,
    }
}

/// How low the free pieces hang at work, those that hang alike together, where there is no room for its columns.
fn lowest_words(all: &[Bundle], units: UnitSystem) -> Option<String> {
    let mut said: Vec<(String, Vec<u32>)> = Vec::new();
    for (number, bundle) in (1..).zip(all) {
        let [Some(level), Some(height)] = bundle.figures.lowest else { continue };
        let words = crossing::lowest_words(level, height, units);
        match said.iter_mut().find(|one| one.0 == words) {
            Some(one) => one.1.push(number),
            None => said.push((words, vec![number])),
        }
    }
    let said: Vec<String> = said
        .into_iter()
        .map(|(words, numbers)| {
            let what = if numbers.len() == 1 { "crossing" } else { "crossings" };
            format!("{what} {}: {words}", words::ranges(&numbers))
        })
        .collect();
    (!said.is_empty()).then(|| format!("Lowest at work: {}.", said.join("; ")))
}

/// How the table is read.
const NOTES: [&str; 5] = [
    "Tip: the clamp towards the tip of the bar, on the section named; centre: the one towards the centre, on the section it hangs \
     on. Clamps are measured along the hose from beside the axis of the hinge; over the axis: − is below it; rise: of the hose at the clamp, away from the hinge. Of an upright \
     hinge over is in front of it, and rise to the front.",
    "Extra over way: over the way as drawn and its slack. Slack: free length less the straight distance of its clamps, at work on \
     level ground and folded. Apart: that distance where it is longest; at 0 % it may be longer than on level ground, with the wing \
     at its lowest. Fold: 0 % at work, 100 % on the road.",
    "Least radius of a computed length: the smallest through the fold over all that it may be cut to and get under pressure; \
     of an entered length: at that length. Lowest at work: of the underside of the filled hose above the ground, at the longest \
     that it may be cut to and get under pressure (an entered length: get under pressure).",
    "Tubes of one stock over a hinge are one bundle: its longest free length, least slack, farthest clamps and least radius.",
    "Bent by its weight, full and empty, against its stiffness; where the catalogue has none of them they are assumed from its \
     material. Set from the coil, twist, stiffening under pressure and cold are left out: try the whole fold.",
];

/// Which hinge it is, where its axis is and how far it turns.
fn hinge_words(project: &Project, section: SectionId) -> String {
    let name = places::section(project, section);
    let Some(hinge) = project.bar.section(section).and_then(|section| section.hinge) else {
        return format!("Hinge of {name}");
    };
    let text = |size: f64| Measure::Distance.text(size, project.units);
    let side = if hinge.point.x < 0.0 { "left" } else { "right" };
    let axis = if hinge.is_upright() { "upright axis" } else { "axis" };
    format!(
        "Hinge of {name} on {}: {axis} {} {side} of the centre line, {} above the ground; turns by {}",
        places::section(project, hinge.parent),
        text(hinge.point.x.abs()),
        text(hinge.point.z),
        Measure::Angle.short_text(hinge.folded.si().abs(), project.units)
    )
}
