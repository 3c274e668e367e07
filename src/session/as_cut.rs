//! Lengths as they were cut, taken into a project as measured ones: the revision rises, and what differs from the list is
//! kept in words for the papers.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use super::Session;
use super::refusal::Remark;
use crate::checks::measured_length::least_lengths;
use crate::files::cut_lengths::{LengthAsCut, LengthsAsCut, read_cut_lengths_of};
use crate::plan::cutting::{AS_CUT_HEADING, FINAL_HEADING};
use crate::plan::problems::{Problem, Problems};
use crate::plan::revision::with_revision;
use crate::plan::words::{self, counted, short};
use crate::plan::{
    ChangedLength, Edit, FeedElement, LaidRouting, Project, Revision, Routing, RoutingGeometry, TitleBlock,
};
use crate::quantities::{Length, Measure, UnitSystem, decimals};
use crate::sheets::cut_plan::{CutPiece, Cutting, pieces};

/// The name of the step.
pub const STEP: &str = "Take lengths as cut";

/// What is changed by a filled-in cut list.
#[derive(Debug, Clone, PartialEq)]
pub struct TakenLengths {
    /// The changes, all of one routing and the title block; none where the project has these lengths already.
    pub edits: Vec<Edit>,
    /// In words: how many lengths were taken, and how many differ from the list.
    pub words: String,
}

/// What a filled-in cut list changes in a routing; or, if a line does not belong to it, everything that is wrong: nothing is
/// taken then.
pub fn take_lengths(
    project: &Project,
    routing: LaidRouting,
    list: LengthsAsCut,
) -> Result<TakenLengths, Problems> {
    let mut problems = list.problems.clone();
    let known = Known::of(project, routing, list.units);
    if let Some(problem) = known.other_unit(&list) {
        problems.push(problem);
        return Err(problems);
    }
    let mut changed = routing.routing.clone();
    let mut differ: Vec<ChangedLength> = Vec::new();
    let mut far: Vec<String> = Vec::new();
    let mut rough: Vec<String> = Vec::new();
    let mut taken = 0;
    let units = project.units;
    for one in &list.lengths {
        let checked = known.piece(one, routing.routing).and_then(|at| {
            let piece = &known.pieces[at];
            believed(one, piece, routing, units)?;
            known.is_possible(at, one, units)?;
            let before = CutPlace::of(&mut changed, &one.tag).and_then(|place| place.given());
            known.is_current(at, one, &list, before, project, routing.routing)?;
            Ok((piece, before))
        });
        let (piece, before) = match checked {
            Ok(checked) => checked,
            Err(problem) => {
                problems.push(problem);
                continue;
            }
        };
        if is_rough(one, piece) {
            rough.push(one.tag.clone());
            continue;
        }
        taken += 1;
        if let Some(place) = CutPlace::of(&mut changed, &one.tag) {
            place.put(one.length);
        }
        let shown = |length: Length| Measure::CutLength.number(length.si(), units);
        // A measured length is printed rounded up for cutting, and what was is the length and not what was printed.
        let measured = before.filter(|_| !piece.is_metering);
        let was = measured.or(one.fitted).or(piece.length);
        if was.map(shown).as_deref() != Some(shown(one.length).as_str()) {
            if piece.length.is_some_and(|listed| !is_near(one.length, listed, WORTH_NAMING)) {
                let was = was.map_or_else(|| "not known".to_owned(), shown);
                far.push(format!("{} {} (was {was})", one.tag, shown(one.length)));
            }
            differ.push(ChangedLength { tag: one.tag.clone(), was, is: one.length });
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let all = counted(taken, "length");
    let left = rough_words(&rough);
    if changed == *routing.routing {
        let words = if taken == 0 {
            format!("no length taken{left}")
        } else {
            format!("{all} read: the project has them already{left}")
        };
        return Ok(TakenLengths { edits: Vec::new(), words });
    }
    let revision = next_revision(&project.title.revision);
    let mut edits: Vec<Edit> = Vec::new();
    for (_, new) in routing.runs.iter().zip(&changed.runs).filter(|(old, new)| old != new) {
        edits.push(Edit::PutRun(routing.id, new.clone()));
    }
    for (_, new) in routing.feeds.iter().zip(&changed.feeds).filter(|(old, new)| old != new) {
        edits.push(Edit::PutFeed(routing.id, new.clone()));
    }
    let many_differ = differ.len();
    let newest = Revision {
        index: revision.clone(),
        routing: routing.name.clone(),
        lengths: differ,
        note: String::new(),
    };
    edits.push(Edit::SetTitle(TitleBlock {
        changes: with_revision(newest, &project.title.changes),
        revision: revision.clone(),
        ..project.title.clone()
    }));
    let words = format!(
        "{all} taken, {} from what was known; now revision {revision}",
        match many_differ {
            0 => "none differs".to_owned(),
            1 => "1 differs".to_owned(),
            many => format!("{many} differ"),
        }
    ) + &left
        + &of_note(project, &list, &far);
    Ok(TakenLengths { edits, words })
}

/// The length is that of a rough cut, which is no length to solve with: of a piece that waits for the fold trial, when the list
/// says that it is not final.
fn is_rough(one: &LengthAsCut, piece: &CutPiece) -> bool {
    matches!(piece.cutting, Cutting::Rough { .. }) && one.is_final != Some(true)
}

/// Which lengths are left out since they are of rough cuts, and what to do about it.
fn rough_words(tags: &[String]) -> String {
    if tags.is_empty() {
        return String::new();
    }
    format!(
        "; not taken, rough-cut length, not yet cut after the fold trial: {} (cut to length, write that length and yes under \
         {FINAL_HEADING})",
        words::tags(tags)
    )
}

/// What somebody should look at again: lengths far from the list, and a list of another revision.
fn of_note(project: &Project, list: &LengthsAsCut, far: &[String]) -> String {
    let mut words = String::new();
    if !far.is_empty() {
        let unit = Measure::CutLength.unit(project.units).symbol;
        let _ = write!(words, "; far from the list, so look at them again, {unit}: {}", far.join(", "));
    }
    let now = project.title.revision.trim();
    if let Some(other) = list.revision.as_deref().filter(|revision| *revision != now) {
        let named = |revision: &str| {
            if revision.is_empty() {
                "no revision".to_owned()
            } else {
                format!("revision {}", short(revision))
            }
        };
        let _ = write!(words, "; the list is of {}, the project was of {}", named(other), named(now));
    }
    words
}

impl Session {
    /// Reads a filled-in cut list and takes its lengths into the routing in hand, in one step; or says everything that keeps
    /// it from being taken.
    pub fn take_lengths_as_cut(&mut self, file: &Path) -> Result<Remark, String> {
        let list = read_cut_lengths_of(file).map_err(|error| error.to_string())?;
        let (project, id) = (self.snapshot(), self.routing().id);
        let routing = project.routing(id).ok_or("the project has no routing; add one first")?;
        let geometry = RoutingGeometry::working(&project, routing);
        let lines = |problems: Problems| problems.lines().collect::<Vec<_>>().join("\n");
        let taken = take_lengths(&project, geometry.with(routing), list).map_err(lines)?;
        if !taken.edits.is_empty() {
            self.edit(STEP, taken.edits).map_err(|refusal| refusal.to_string())?;
        }
        Ok(Remark::Taken(taken.words))
    }
}

/// The pieces of a routing, as the project's own list and as the list that was filled in round their lengths.
struct Known {
    pieces: Vec<CutPiece>,
    /// What each is cut of, as the list says it.
    stocks: Vec<String>,
    /// The same pieces with their lengths as a list in its units says them.
    listed: Vec<Option<Length>>,
    /// How far apart the ends of each are, by its tag.
    least: BTreeMap<String, Length>,
}

/// Nearer to the rough length than this it is that one, metres: as a tape is read.
const AS_ROUGH: f64 = 0.002;

impl Known {
    fn of(project: &Project, routing: LaidRouting, list_units: UnitSystem) -> Self {
        let own = pieces(project, routing);
        let lengths = |pieces: &[CutPiece]| pieces.iter().map(|piece| piece.length).collect();
        let listed = if project.units == list_units {
            lengths(&own)
        } else {
            lengths(&pieces(&Project { units: list_units, ..project.clone() }, routing))
        };
        let stock = |piece: &CutPiece| {
            let entry = project.catalogue.entry(&piece.stock);
            // As a table for other programs says it.
            let words = entry.map_or(piece.stock.0.as_str(), |entry| entry.description.as_str());
            words.trim().to_owned()
        };
        let stocks = own.iter().map(stock).collect();
        Self { pieces: own, stocks, listed, least: least_lengths(project, routing) }
    }

    /// The place of the piece that a line of the list is of: it has the tag and, where the list says them, the ends.
    fn piece(&self, one: &LengthAsCut, routing: &Routing) -> Result<usize, Problem> {
        let Some(at) = self.pieces.iter().position(|piece| piece.tag == one.tag) else {
            let what = format!("routing {} has no hose or tube {}", routing.name, short(&one.tag));
            return Err(refused(one, what, "read it into the routing that the list is of"));
        };
        let piece = &self.pieces[at];
        let differs = |listed: &str, own: &str| !listed.is_empty() && listed != own;
        if differs(&one.from, &piece.from) || differs(&one.to, &piece.to) {
            let what = format!(
                "{} leads from {} to {} in the list, from {} to {} in routing {}",
                short(&one.tag),
                short(&one.from),
                short(&one.to),
                piece.from,
                piece.to,
                routing.name
            );
            let advice = "read it into the routing that the list is of, or export the list again";
            return Err(refused(one, what, advice));
        }
        if differs(&one.stock, &self.stocks[at]) {
            let what = format!(
                "{} is of \"{}\" in the list, of \"{}\" in routing {}",
                short(&one.tag),
                short(&one.stock),
                short(&self.stocks[at]),
                routing.name
            );
            return Err(refused(one, what, "give it that stock in the project first, or cut it anew"));
        }
        Ok(at)
    }

    /// Refuses what can't be the last length of a piece: of a rough cut one of which the list does not say whether it is final,
    /// or that is still the rough one; of any piece one that does not reach from end to end.
    fn is_possible(&self, at: usize, one: &LengthAsCut, units: UnitSystem) -> Result<(), Problem> {
        let piece = &self.pieces[at];
        let text = |length: Length| Measure::CutLength.text(length.si(), units);
        if let Cutting::Rough { .. } = piece.cutting {
            match one.is_final {
                None => {
                    let what =
                        format!("{} is cut roughly first, and {FINAL_HEADING} is blank", short(&one.tag));
                    let advice =
                        "write yes once it is cut to its last length after the fold trial, no before";
                    return Err(refused(one, what, advice));
                }
                Some(true) => {
                    let rough = piece.length_to_cut().filter(|rough| one.length.si() > rough.si() - AS_ROUGH);
                    if let Some((rough, listed)) = rough.zip(piece.length) {
                        let what = format!(
                            "{} as cut is {}, the rough length ({}) or more: cut after the fold trial it is about {}",
                            short(&one.tag),
                            text(one.length),
                            text(rough),
                            text(listed)
                        );
                        let advice = format!(
                            "cut it to length and write that, or no under {FINAL_HEADING}; if it needs all of it, draw it as it \
                             runs first"
                        );
                        return Err(refused(one, what, &advice));
                    }
                }
                Some(false) => {}
            }
        }
        let Some(least) = self.least.get(&one.tag).filter(|least| one.length < **least) else {
            return Ok(());
        };
        let what = format!(
            "{} as cut is {}, but its ends are {} apart in a straight line",
            short(&one.tag),
            text(one.length),
            text(*least)
        );
        Err(refused(
            one,
            what,
            "see that it stands in the line of its piece; or place its ends as they are first",
        ))
    }

    /// All lengths that bring no unit are off by what lies between two units: they are in another unit than the heading says.
    fn other_unit(&self, list: &LengthsAsCut) -> Option<Problem> {
        let bare = list.lengths.iter().filter(|one| one.heading_unit.is_some());
        let measured: Vec<(&LengthAsCut, &CutPiece)> = bare
            .filter_map(|one| Some((one, self.pieces.iter().find(|piece| piece.tag == one.tag)?)))
            .filter(|(_, piece)| piece.length.is_some())
            .collect();
        let (first, heading) = measured.first().and_then(|(one, _)| Some((one.line, one.heading_unit?)))?;
        if measured.len() < 2 {
            return None;
        }
        let (_, factor, likely) = UNIT_FACTORS.into_iter().find_map(|(unit, metres)| {
            let of_heading = UNIT_FACTORS.iter().find(|one| one.0 == heading)?.1;
            let factor = metres / of_heading;
            let fits = |(one, piece): &(&LengthAsCut, &CutPiece)| would_fit(one.length * factor, piece);
            (unit != heading && measured.iter().all(fits)).then_some((metres, factor, unit))
        })?;
        let times = if factor > 1.0 { (factor, "shorter") } else { (1.0 / factor, "longer") };
        Some(Problem {
            place: format!("line {first}"),
            what: format!(
                "all {} lengths are about {} times {} than listed: they look like {likely}, and the heading says {heading}",
                measured.len(),
                decimals(times.0, usize::from(times.0 < 100.0)),
                times.1
            ),
            advice: format!("put the unit that they are in into the heading: {AS_CUT_HEADING} ({likely})"),
        })
    }

    /// Refuses a length of a list that was made before the piece became what it is: one that was listed with another length,
    /// or measured since. What the project has already may come again: a list is filled in bit by bit. `before` is the length
    /// that the piece was given in the project.
    fn is_current(
        &self,
        at: usize,
        one: &LengthAsCut,
        list: &LengthsAsCut,
        before: Option<Length>,
        project: &Project,
        routing: &Routing,
    ) -> Result<(), Problem> {
        if before == Some(one.length) {
            return Ok(());
        }
        const ADVICE: &str = "export the list again and fill in that one";
        let text = |length: Length| Measure::CutLength.text(length.si(), list.units);
        if let Some((fitted, now)) = one.fitted.zip(self.listed[at])
            && text(fitted) != text(now)
        {
            let what = format!(
                "{} is {} long in the list and {} in routing {} by now",
                short(&one.tag),
                text(fitted),
                text(now),
                routing.name
            );
            return Err(refused(one, what, ADVICE));
        }
        let now = project.title.revision.trim();
        let earlier = list.revision.as_deref().filter(|revision| *revision != now);
        if let (Some(earlier), Some(measured), false) = (earlier, before, self.pieces[at].is_metering) {
            let earlier = if earlier.is_empty() {
                "is of no revision".to_owned()
            } else {
                format!("is of revision {}", short(earlier))
            };
            let what = format!(
                "the list {earlier}, and {} was measured by revision {}: {}",
                short(&one.tag),
                short(now),
                text(measured)
            );
            return Err(refused(one, what, ADVICE));
        }
        Ok(())
    }
}

fn refused(one: &LengthAsCut, what: String, advice: &str) -> Problem {
    Problem { place: format!("line {}", one.line), what, advice: advice.to_owned() }
}

/// Units that somebody may have measured in, in metres.
const UNIT_FACTORS: [(&str, f64); 5] =
    [("mm", 1e-3), ("cm", 1e-2), ("m", 1.0), ("in", 0.0254), ("ft", 0.3048)];

/// Within 15 % of what is listed, roughly cut or not: closer than any two units are.
fn would_fit(length: Length, piece: &CutPiece) -> bool {
    let near = |known: Length| is_near(length, known, 1.15);
    piece.length.is_some_and(near) || piece.length_to_cut().is_some_and(near)
}

/// A length as cut that differs from the listed one by more than this factor is a slip of the unit or of the line, not a
/// fitter's choice (common practice, no source).
const FAR_FROM_LISTED: f64 = 3.0;

/// One that differs by more than this factor is taken, and named (common practice, no source).
const WORTH_NAMING: f64 = 1.5;

/// One length is no more than so many times the other.
fn is_near(one: Length, other: Length, times: f64) -> bool {
    (1.0 / times..=times).contains(&(one.si() / other.si()))
}

/// Refuses a length that can't be that of its piece: far from the listed one and, so that an earlier slip can be put right,
/// far from the drawn one too.
fn believed(
    one: &LengthAsCut,
    piece: &CutPiece,
    routing: LaidRouting,
    units: UnitSystem,
) -> Result<(), Problem> {
    let near = |other: Length| is_near(one.length, other, FAR_FROM_LISTED);
    let Some(listed) = piece.length else { return Ok(()) };
    if near(listed) || drawn(piece, routing).is_some_and(near) {
        return Ok(());
    }
    let text = |length: Length| match Measure::CutLength.rounded(length.si(), units) {
        // A slip of the unit may leave less than the unit shows.
        0.0 => format!("{:.1} mm", length.si() * 1e3),
        _ => Measure::CutLength.text(length.si(), units),
    };
    Err(Problem {
        place: format!("line {}", one.line),
        what: format!(
            "{} as cut is {}, but {} in routing {}",
            short(&one.tag),
            text(one.length),
            text(listed),
            routing.name
        ),
        advice: "give it in the unit of the heading or with its unit (2.4 m), and see that it stands in the line of its piece; \
                 or draw the piece as it runs first"
            .to_owned(),
    })
}

/// The length of a piece as drawn, with slack and allowances, whatever was measured; none of metering tubes.
fn drawn(piece: &CutPiece, routing: LaidRouting) -> Option<Length> {
    let Some(feed) = piece.feed else {
        let run = routing.runs.iter().find(|run| run.tag == piece.tag)?;
        return Some(routing.geometry.run(run.id)?.computed);
    };
    let number = routing.feeds.iter().find(|one| one.id == feed)?.piece_number(&piece.tag)?;
    let mut cut = routing.geometry.feed(feed)?.elements().filter(|one| one.length.is_some());
    Some(cut.nth(number - 1)?.tube.as_ref()?.computed)
}

/// Where a project holds the length that a piece was given.
enum CutPlace<'a> {
    /// Of a hose or tube: the measured length.
    Measured(&'a mut Option<Length>),
    /// Of a metering tube: its length.
    Metering(&'a mut Length),
}

impl<'a> CutPlace<'a> {
    /// Of the piece with a tag; in a row feed by its number among the pieces of that.
    fn of(routing: &'a mut Routing, tag: &str) -> Option<Self> {
        if let Some(at) = routing.runs.iter().position(|run| run.tag == tag) {
            return Some(Self::Measured(&mut routing.runs.get_mut(at)?.line.measured));
        }
        match routing.cut_element_mut(tag)? {
            FeedElement::Tube(tube) => Some(Self::Measured(&mut tube.line.measured)),
            FeedElement::MeteringTube { length, .. } => Some(Self::Metering(length)),
            _ => None,
        }
    }

    /// The length that somebody gave it.
    fn given(&self) -> Option<Length> {
        match self {
            Self::Measured(length) => **length,
            Self::Metering(length) => Some(**length),
        }
    }

    fn put(self, length: Length) {
        match self {
            Self::Measured(own) => *own = Some(length),
            Self::Metering(own) => *own = length,
        }
    }
}

/// The revision after another one: `2` after `1`, `C` after `B`, `1` where there was none.
fn next_revision(revision: &str) -> String {
    let revision = revision.trim();
    let digits = revision.chars().rev().take_while(char::is_ascii_digit).count();
    let (before, number) = revision.split_at(revision.len() - digits);
    if let Ok(number) = number.parse::<u64>() {
        return format!("{before}{}", number.saturating_add(1));
    }
    match revision.chars().next_back() {
        None => "1".to_owned(),
        Some(last @ ('A'..='Y' | 'a'..='y')) if revision.len() == 1 => {
            char::from_u32(last as u32 + 1).map_or_else(|| "1".to_owned(), String::from)
        }
        Some(_) => format!("{revision}.1"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn revisions_go_on_as_they_were_counted() {
        for (old, new) in [
            ("", "1"),
            ("1", "2"),
            ("09", "10"),
            ("A", "B"),
            ("z", "z.1"),
            ("draft", "draft.1"),
            ("A9", "A10"),
        ] {
            assert_eq!(next_revision(old), new, "{old}");
        }
    }
}
