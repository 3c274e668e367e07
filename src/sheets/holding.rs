//! What holds hoses, tubes and parts where the frame alone does not, as it is ordered and fitted: carriers across open frame,
//! brackets, clamps beside hinges.

use super::carrier_words::{
    assumed, at_members, beside_members, bracket_reach, height_beside, packing, to_buy,
};
use super::cut_plan::to_micrometres;
use super::document::{PaperCell, PaperColumn, PaperTable, Shown};
use super::places;
use crate::plan::cutting::cut_length;
use crate::plan::held::{Carrier, CarrierEnd, CarrierHold, Held, Meeting, Uncarried};
use crate::plan::holding::{carries, held, why_uncarried};
use crate::plan::open_air::TIED;
use crate::plan::place_words::{place_letters, position};
use crate::plan::{BarPoint, EntryKey, Item, LaidRouting, Project, SectionId, Subject, words};
use crate::quantities::{Length, Measure};

/// What holds something, as a line of the parts list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holder {
    /// Beside hinges, of hoses and tubes so thick outside, in micrometres.
    HingeClamp(u64),
    /// Across open frame, bears hoses and tubes.
    Carrier,
    /// Joins a carrier to the side of a carrier or frame member that it is butted against.
    CarrierAngle,
    /// Holds clamps beside a hinge where no frame member is.
    ClampBracket,
    /// Holds a part where no frame member is.
    PartBracket,
}

/// Outside diameter of a hose or tube, in micrometres.
pub(super) fn outside_of(project: &Project, stock: &EntryKey) -> Option<u64> {
    let Item::Stock(stock) = project.catalogue.item(stock)? else { return None };
    Some(to_micrometres(stock.dimensions().outside))
}

/// What holds a clamp beside a hinge where no frame member is.
pub(super) enum ClampOn<'a> {
    Bracket,
    /// By its mark.
    Carrier(&'a str),
}

/// A bracket beside a hinge.
struct ClampBracket {
    at: BarPoint,
    /// The hoses and tubes whose clamps are on it.
    tags: Vec<String>,
}

/// A part with no frame member near it.
struct PartBracket {
    tag: String,
    at: BarPoint,
}

/// Clamps beside one hinge, of one outside diameter.
struct ClampsAtHinge {
    hinge: SectionId,
    outside: u64,
    tags: Vec<String>,
    many: usize,
}

/// All of it, of one routing.
pub(super) struct Holding<'a> {
    routing: LaidRouting<'a>,
    held: &'a Held,
    brackets: Vec<ClampBracket>,
    parts: Vec<PartBracket>,
    clamps: Vec<ClampsAtHinge>,
    /// Somebody drew a frame.
    has_frame: bool,
}

impl<'a> Holding<'a> {
    pub(super) fn of(project: &Project, routing: LaidRouting<'a>) -> Self {
        let bar = &project.bar;
        let held = held(project, routing);
        let brackets = held.brackets.iter().filter_map(|all| {
            let clamps = || all.iter().filter_map(|at| held.clamps.get(*at));
            let first = clamps().next()?;
            let tags = each_once(clamps().map(|clamp| &clamp.line.tag));
            Some(ClampBracket { at: first.at?, tags })
        });
        let mut at_hinges: Vec<ClampsAtHinge> = Vec::new();
        for clamp in &held.clamps {
            let (outside, tag) = (to_micrometres(clamp.outside), &clamp.line.tag);
            let known = at_hinges.iter_mut().find(|one| (one.hinge, one.outside) == (clamp.hinge, outside));
            match known {
                Some(one) => {
                    one.many += 1;
                    if one.tags.last() != Some(tag) {
                        one.tags.push(tag.clone());
                    }
                }
                None => at_hinges.push(ClampsAtHinge {
                    hinge: clamp.hinge,
                    outside,
                    tags: vec![tag.clone()],
                    many: 1,
                }),
            }
        }
        at_hinges.sort_by_key(|one| (places::order(project, one.hinge), one.outside));
        let parts = held.parts.iter().filter_map(|id| {
            let at = routing.geometry.anchors.part(*id)?.middle();
            Some(PartBracket { tag: routing.part(*id)?.tag.clone(), at })
        });
        Self {
            routing,
            held,
            brackets: brackets.collect(),
            parts: parts.collect(),
            clamps: at_hinges,
            has_frame: bar.sections.iter().any(|section| !section.members.is_empty()),
        }
    }

    /// Lines of the parts list for carriers and brackets: how many, what, and for what.
    pub(super) fn to_order(&self, project: &Project) -> Vec<(Holder, usize, String, String)> {
        let units = project.units;
        let mut lines = Vec::new();
        let cuts = || self.held.carriers.iter().map(|one| self.carrier_cut(project, one));
        if let Some(longest) = cuts().reduce(Length::max) {
            let shortest = cuts().fold(longest, Length::min);
            let all: Length = cuts().sum();
            let each = if shortest == longest {
                format!("{} each", Measure::CutLength.short_text(longest.si(), units))
            } else {
                format!(
                    "{} to {}",
                    Measure::CutLength.short_number(shortest.si(), units),
                    Measure::CutLength.short_text(longest.si(), units)
                )
            };
            let lengths: Vec<Length> = cuts().collect();
            lines.push((
                Holder::Carrier,
                self.held.carriers.len(),
                format!(
                    "Carrier across open frame: straight angle or box of steel, {} wide and high{}, wall {}{}, bears hoses and tubes full \
                     of liquid",
                    Measure::CutLength.short_text(project.limits.carrier_size.si(), units),
                    assumed(project, |limits| limits.carrier_size),
                    Measure::CutLength.short_text(project.limits.carrier_wall.si(), units),
                    assumed(project, |limits| limits.carrier_wall)
                ),
                format!(
                    "{each}, {} in all with {}{} of overlap at each end that lies on what it is fixed to, and meets no other there: {}",
                    Measure::Distance.text(all.si(), units),
                    Measure::CutLength.short_text(project.limits.carrier_overlap.si(), units),
                    assumed(project, |limits| limits.carrier_overlap),
                    to_buy(project, &lengths)
                ),
            ));
        }
        let beside: usize = beside_members(&self.held.carriers).iter().map(|one| one.1).sum();
        let butted = self.meeting(Meeting::Butted).len() + beside;
        if butted > 0 {
            lines.push((
                Holder::CarrierAngle,
                butted,
                "Angle with bolts that joins a carrier to the side of another or of a frame member"
                    .to_owned(),
                "at each end that is butted against another carrier, and at each beside a frame member"
                    .to_owned(),
            ));
        }
        let reach = |places: &mut dyn Iterator<Item = &BarPoint>| {
            let lengths: Vec<Length> =
                places.filter_map(|at| Some(bracket_reach(project, at)?.length)).collect();
            let text = |one: Length| Measure::CutLength.short_text(one.si(), units);
            let least = lengths.iter().copied().reduce(Length::min);
            let overlap = assumed(project, |limits| limits.carrier_overlap);
            match least.zip(lengths.into_iter().reduce(Length::max)) {
                None => "no frame member near enough to say how long".to_owned(),
                Some((least, most)) if text(least) == text(most) => {
                    format!("{} long, overlap on the member{overlap} counted in", text(most))
                }
                Some((least, most)) => {
                    format!(
                        "{} to {} long, overlap on the member{overlap} counted in",
                        text(least),
                        text(most)
                    )
                }
            }
        };
        if !self.brackets.is_empty() {
            lines.push((
                Holder::ClampBracket,
                self.brackets.len(),
                "Bracket for the clamps at a hinge where no frame member is".to_owned(),
                reach(&mut self.brackets.iter().map(|one| &one.at)),
            ));
        }
        if !self.parts.is_empty() {
            let tags: Vec<String> = self.parts.iter().map(|part| part.tag.clone()).collect();
            lines.push((
                Holder::PartBracket,
                self.parts.len(),
                "Bracket for a part where no frame member is".to_owned(),
                format!("{}, {}", words::tags(&tags), reach(&mut self.parts.iter().map(|one| &one.at))),
            ));
        }
        lines
    }

    /// The carriers that stand so at another one, once for each end that does, with that one.
    fn meeting(&self, wanted: Meeting) -> Vec<(&'a Carrier, &'a Carrier)> {
        let all = &self.held.carriers;
        let ends = all.iter().flat_map(|carrier| carrier.ends.iter().map(move |end| (carrier, end)));
        let met = ends.filter(|(carrier, end)| carrier.meets(end, all) == Some(wanted));
        met.filter_map(|(carrier, end)| match end.on {
            CarrierHold::Carrier(on) => Some((carrier, all.get(on)?)),
            CarrierHold::Member(_) | CarrierHold::Free => None,
        })
        .collect()
    }

    /// How carriers are fixed that do not just lie on frame members, by how they meet; `angles` names the item of what joins
    /// those that are butted.
    pub(super) fn where_carriers_meet(&self, project: &Project, angles: &str) -> Vec<String> {
        let ways = [
            (
                Meeting::Butted,
                "Butted, cut to the other's side and joined to it by an angle, tops level where no more is said",
                angles,
            ),
            (Meeting::Beneath, "Hung beneath the other and bolted through it", ""),
            (Meeting::OnTop, "Laid on the other and bolted through it", ""),
        ];
        let joint = |way: Meeting, own: &Carrier, other: &Carrier| {
            let is_butted = way == Meeting::Butted;
            let height = if is_butted { height_beside(own, other, project.units) } else { String::new() };
            format!("{} at {}{}", own.mark, other.mark, height.replace(", ", " "))
        };
        let said = ways.into_iter().filter_map(|(way, says, item)| {
            let met: Vec<String> =
                self.meeting(way).into_iter().map(|(own, other)| joint(way, own, other)).collect();
            (!met.is_empty()).then(|| format!("{says}{item}: {}", words::list(&met)))
        });
        said.chain(at_members(&self.held.carriers, angles)).collect()
    }

    /// What a carrier is cut to, in the steps of a tape.
    fn carrier_cut(&self, project: &Project, carrier: &Carrier) -> Length {
        let length = carrier.length(project.limits.carrier_overlap, &self.held.carriers);
        cut_length(length, project.units, false)
    }

    /// The carriers of each section by their marks, and how many brackets it takes, in words: `C5 to C8 and 1 bracket`.
    pub(super) fn by_section(&self, project: &Project) -> Vec<(SectionId, String)> {
        let sections = project.bar.sections.iter().filter_map(|section| {
            let carriers = self.held.carriers.iter().filter(|one| one.section == section.id);
            let marks: Vec<String> = carriers.map(|one| one.mark.clone()).collect();
            let on = |at: &BarPoint| at.section == section.id;
            let brackets = self.brackets.iter().filter(|one| on(&one.at)).count()
                + self.parts.iter().filter(|one| on(&one.at)).count();
            let mut said = Vec::new();
            if !marks.is_empty() {
                said.push(words::tags(&marks));
            }
            if brackets > 0 {
                said.push(words::counted(brackets, "bracket"));
            }
            (!said.is_empty()).then(|| (section.id, said.join("; ")))
        });
        sections.collect()
    }

    /// Which carriers come before which, since these are fixed to them: `C24 before C21; C21 before C18 to C20`.
    pub(super) fn order_of_carriers(&self) -> Option<String> {
        let carriers = &self.held.carriers;
        let on = |at: usize| {
            let ends = carriers.get(at).into_iter().flat_map(|one| &one.ends);
            ends.filter_map(|end| match end.on {
                CarrierHold::Carrier(on) => Some(on),
                CarrierHold::Member(_) | CarrierHold::Free => None,
            })
        };
        // How many carriers stand between each and the frame.
        let mut steps = vec![0_usize; carriers.len()];
        for _ in 0..carriers.len() {
            for at in 0..carriers.len() {
                let needed = on(at).filter_map(|on| steps.get(on)).max().map_or(0, |steps| steps + 1);
                // Carriers in a circle, each on the next, have no order.
                steps[at] = needed.min(carriers.len());
            }
        }
        let mut order: Vec<usize> = (0..carriers.len()).collect();
        order.sort_by_key(|at| steps[*at]);
        let said: Vec<String> = order
            .into_iter()
            .filter_map(|at| {
                let fixed = (0..carriers.len()).filter(|other| on(*other).any(|on| on == at));
                let marks: Vec<String> = fixed.map(|other| carriers[other].mark.clone()).collect();
                (!marks.is_empty()).then(|| format!("{} before {}", carriers[at].mark, words::tags(&marks)))
            })
            .collect();
        (!said.is_empty()).then(|| said.join("; "))
    }

    /// Tags of those hoses and tubes that are wanted: those that lie on carriers, and those that hang too far somewhere, on carriers
    /// elsewhere or not.
    pub(super) fn carried(&self, wanted: impl Fn(&Subject) -> bool) -> [Vec<String>; 2] {
        let uncarried = self.held.uncarried.iter().map(|one| &one.line);
        let mut hang = each_once(uncarried.filter(|line| wanted(&line.of)).map(|line| &line.tag));
        let all = self.held.carriers.iter().flat_map(|one| &one.bears);
        let mut tags = each_once(all.filter(|line| wanted(&line.of)).map(|line| &line.tag));
        tags.sort_by_key(|tag| words::natural_order(tag));
        hang.sort_by_key(|tag| words::natural_order(tag));
        [tags, hang]
    }

    /// What holds the clamp of a line at such a place; none where a frame member does.
    pub(super) fn clamp_on(&self, tag: &str, hinge: SectionId, at: &BarPoint) -> Option<ClampOn<'a>> {
        let clamp = self.held.clamps.iter().position(|one| {
            one.line.tag == tag
                && one.hinge == hinge
                && one.at.as_ref() == Some(at)
                && one.has_member == Some(false)
        })?;
        if self.held.brackets.iter().any(|all| all.contains(&clamp)) {
            return Some(ClampOn::Bracket);
        }
        let carrier = self.held.carriers.iter().find(|one| carries(one, *at))?;
        Some(ClampOn::Carrier(&carrier.mark))
    }

    /// Carriers first, then brackets and clamps at hinges: where each goes.
    pub(super) fn tables(
        &self,
        project: &Project,
        item: impl Fn(Holder) -> Option<usize>,
    ) -> Vec<PaperTable> {
        let number = |holder: Holder| item(holder).map_or(PaperCell::Empty, PaperCell::count);
        let mut tables = Vec::new();
        tables.extend(self.carrier_table(project, &number(Holder::Carrier)));
        tables.extend(self.bracket_table(project, number));
        tables
    }

    fn carrier_table(&self, project: &Project, item: &PaperCell) -> Option<PaperTable> {
        if !self.has_frame {
            return None;
        }
        let units = project.units;
        let mut carriers: Vec<&Carrier> = self.held.carriers.iter().collect();
        carriers.sort_by_key(|one| places::order(project, one.section));
        let row = |one: &&Carrier| {
            let tags: Vec<String> = one.bears.iter().map(|line| line.tag.clone()).collect();
            let [from, to] = one.ends.map(|end| PaperCell::text(self.end_words(project, one, &end)));
            vec![
                item.clone(),
                PaperCell::text(one.mark.as_str()),
                PaperCell::text(places::section(project, one.section)),
                PaperCell::measure(Measure::CutLength, Some(self.carrier_cut(project, one)), units),
                PaperCell::measure(Measure::CutLength, Some(one.top()), units),
                PaperCell::text(packing(one, units)),
                from,
                to,
                PaperCell::text(words::tags(&tags)),
            ]
        };
        let rows: Vec<Vec<PaperCell>> = carriers.iter().map(row).collect();
        let mut notes = Vec::new();
        if !rows.is_empty() {
            notes.push(format!(
                "Places in {}. Top: of the carrier, above the ground, beneath what lies on it. Packing: between the top of the \
                 member and the carrier, {} high{}: choose the section for its span; beside: it comes too low to lie on the member, ends \
                 at its side and is joined to that by an angle, its top as high as said; beneath: hung under the member with so much \
                 between; a dash: no end is at a member; two of them where its ends differ, as from and to. From and to are over the \
                 middles of what it is fixed to; the length to cut has {}{} more at each end that lies on or hangs beneath something, \
                 and ends at the side of what it is butted against, joined to it by an angle, or over the middle of a member where it \
                 meets the next carrier. An end without a remark is fixed to the frame member there.",
                place_letters(units),
                Measure::CutLength.short_text(project.limits.carrier_size.si(), units),
                assumed(project, |limits| limits.carrier_size),
                Measure::CutLength.short_text(project.limits.carrier_overlap.si(), units),
                assumed(project, |limits| limits.carrier_overlap)
            ));
            let cuts: Vec<Length> = carriers.iter().map(|one| self.carrier_cut(project, one)).collect();
            notes.push(format!("To order: {}.", to_buy(project, &cuts)));
            notes.push(format!(
                "Counted from the frame as drawn: what comes within {} of a member's or carrier's middle, seen from above, is tied to \
                 it (common practice, no source). None stands beneath a free loop at a hinge, in a part, in an opener's way or where \
                 another section comes in the fold; openers and parts as assumed in the limits and the catalogue.",
                Measure::CutLength.short_text(TIED, units)
            ));
        }
        notes.extend(self.uncarried(project));
        if rows.is_empty() && notes.is_empty() {
            return None;
        }
        let groups = places::headings(carriers.iter().map(|one| one.section), |one| {
            places::section(project, one).to_owned()
        });
        Some(PaperTable {
            caption: "Carriers".to_owned(),
            columns: vec![
                PaperColumn::count("Item", 0.6),
                PaperColumn::text("Mark", 0.7),
                PaperColumn::text("Section", 1.6).only(Shown::InFiles),
                PaperColumn::measure("Length", Measure::CutLength, units, 0.9),
                PaperColumn::measure("Top", Measure::CutLength, units, 0.8),
                PaperColumn {
                    unit: Measure::CutLength.unit(units).symbol.to_owned(),
                    ..PaperColumn::text("Packing", 1.0)
                },
                PaperColumn::text("From", 2.4),
                PaperColumn::text("To", 2.4),
                PaperColumn::text("Bears", 3.0),
            ],
            rows,
            groups,
            notes,
            ..PaperTable::default()
        })
    }

    /// Where an end of a carrier is: `C 450 right, F 0`, with what it is fixed to where that is no frame member.
    fn end_words(&self, project: &Project, carrier: &Carrier, end: &CarrierEnd) -> String {
        let at = position(&project.bar, end.at, carrier.section, project.units);
        match end.on {
            CarrierHold::Member(_) => match carrier.goes_on(end, &self.held.carriers) {
                Some(next) => format!("{at} (meets {} there)", next.mark),
                None => at,
            },
            CarrierHold::Carrier(on) => {
                let Some(other) = self.held.carriers.get(on) else { return at };
                let mark = &other.mark;
                match carrier.meets(end, &self.held.carriers) {
                    Some(Meeting::Butted) => {
                        let height = height_beside(carrier, other, project.units);
                        format!("{at} (butted against {mark}{height})")
                    }
                    Some(Meeting::Beneath) => format!("{at} (beneath {mark})"),
                    Some(Meeting::OnTop) | None => format!("{at} (on {mark})"),
                }
            }
            CarrierHold::Free => format!("{at} (stands out free)"),
        }
    }

    /// What hangs too far all the same, by what keeps a carrier out.
    fn uncarried(&self, project: &Project) -> Vec<String> {
        let mut by_why: Vec<(String, Vec<&Uncarried>)> = Vec::new();
        for one in &self.held.uncarried {
            let why = why_uncarried(project, self.routing, one);
            match by_why.iter_mut().find(|known| known.0 == why) {
                Some(known) => known.1.push(one),
                None => by_why.push((why, vec![one])),
            }
        }
        let text = |length: Length| Measure::CutLength.text(length.si(), project.units);
        let said = by_why.into_iter().filter_map(|(why, lines)| {
            let worst = lines.iter().copied().max_by(|a, b| a.span.si().total_cmp(&b.span.si()))?;
            let tags: Vec<String> = lines.iter().map(|one| one.line.tag.clone()).collect();
            Some(format!(
                "NO CARRIER under {}: {why}; up to {} hangs ({}), at most {} may. Lay it elsewhere, or tie it to what lies beside it.",
                words::tags(&tags),
                // Read apart where both would print alike.
                Measure::CutLength.text_apart(worst.span.si(), worst.most.si(), project.units),
                worst.line.tag,
                text(worst.most)
            ))
        });
        said.collect()
    }

    fn bracket_table(&self, project: &Project, number: impl Fn(Holder) -> PaperCell) -> Option<PaperTable> {
        let units = project.units;
        let mut lines: Vec<(SectionId, Vec<PaperCell>)> = Vec::new();
        let mut line = |section: SectionId,
                        item: PaperCell,
                        what: &str,
                        of: String,
                        many: usize,
                        long: Option<Length>,
                        at: String| {
            let cells = vec![
                item,
                PaperCell::text(what),
                PaperCell::text(places::section(project, section)),
                PaperCell::text(of),
                PaperCell::count(many),
                PaperCell::measure(Measure::CutLength, long, units),
                PaperCell::text(at),
            ];
            lines.push((section, cells));
        };
        let reached = |of: &BarPoint, at: String| match bracket_reach(project, of) {
            Some(reach) => (Some(reach.length), format!("{at}; {}", reach.says)),
            None => (None, at),
        };
        let bracket = number(Holder::ClampBracket);
        for one in &self.brackets {
            let of = format!("clamps of {}", words::tags(&one.tags));
            let at = position(&project.bar, one.at.place, one.at.section, units);
            let (long, at) = reached(&one.at, at);
            line(one.at.section, bracket.clone(), "Bracket", of, 1, long, at);
        }
        let bracket = number(Holder::PartBracket);
        for one in &self.parts {
            let at = position(&project.bar, one.at.place, one.at.section, units);
            let (long, at) = reached(&one.at, at);
            line(one.at.section, bracket.clone(), "Bracket", one.tag.clone(), 1, long, at);
        }
        for one in &self.clamps {
            let item = number(Holder::HingeClamp(one.outside));
            let of = format!(
                "{}, {} outside",
                words::tags(&one.tags),
                Measure::Bore.short_text(one.outside as f64 / 1e6, units)
            );
            let at = format!("both sides of the hinge of the {}", places::section(project, one.hinge));
            line(one.hinge, item, "Hinge clamp", of, one.many, None, at);
        }
        if lines.is_empty() {
            return None;
        }
        lines.sort_by_key(|one| places::order(project, one.0));
        let groups =
            places::headings(lines.iter().map(|one| one.0), |one| places::section(project, one).to_owned());
        let mut notes = vec![format!("Places in {}.", place_letters(units))];
        if !self.brackets.is_empty() || !self.parts.is_empty() {
            notes.push(format!(
                "Length of a bracket: straight from what it holds to the middle of the nearest frame member, across and down at once, and {}{} \
                 of overlap on that, rounded up.",
                Measure::CutLength.short_text(project.limits.carrier_overlap.si(), units),
                assumed(project, |limits| limits.carrier_overlap)
            ));
        }
        if !self.has_frame {
            notes.push("The frame is not drawn: carriers and brackets are not counted.".to_owned());
        }
        Some(PaperTable {
            caption: "Brackets and clamps at hinges".to_owned(),
            columns: vec![
                PaperColumn::count("Item", 0.6),
                PaperColumn::text("What", 1.3),
                PaperColumn::text("Section", 1.6).only(Shown::InFiles),
                PaperColumn::text("For", 2.4),
                PaperColumn::count("Pieces", 0.8),
                PaperColumn::measure("Length", Measure::CutLength, units, 0.9),
                PaperColumn::text("Where", 4.0),
            ],
            rows: lines.into_iter().map(|(_, cells)| cells).collect(),
            groups,
            notes,
            ..PaperTable::default()
        })
    }
}

/// Tags as they come, none twice.
fn each_once<'a>(all: impl Iterator<Item = &'a String>) -> Vec<String> {
    let mut tags: Vec<String> = Vec::new();
    for tag in all {
        if !tags.contains(tag) {
            tags.push(tag.clone());
        }
    }
    tags
}
