//! What holds hoses, tubes and parts where the frame alone does not, as it is ordered and fitted: carriers across open frame,
//! brackets, clamps beside hinges.

use super::document::{PaperCell, PaperColumn, PaperTable, RowGroup, Shown};
use super::places;
use crate::plan::cutting::cut_length;
use crate::plan::holding::{HingeClamp, carriers, clamp_brackets, hinge_clamps, hung_lines, parts_off_frame};
use crate::plan::open_air::TIED;
use crate::plan::place_words::{along_the_bar, behind_the_front, place_letters, position};
use crate::plan::{BarPoint, EntryKey, Item, LaidRouting, Project, SectionId, StockItem, Subject, words};
use crate::quantities::{Length, Measure, UnitSystem};

/// What holds something, as a line of the parts list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holder {
    /// Beside hinges, of hoses and tubes so thick outside, in micrometres.
    HingeClamp(u64),
    /// Across open frame, bears hoses and tubes.
    Carrier,
    /// Holds clamps beside a hinge where no frame member is.
    ClampBracket,
    /// Holds a part where no frame member is.
    PartBracket,
}

/// Outside diameter of a hose or tube, in micrometres.
pub(super) fn outside_of(project: &Project, stock: &EntryKey) -> Option<u64> {
    let outside = match project.catalogue.item(stock)? {
        Item::Stock(StockItem::Hose(hose)) => hose.outside,
        Item::Stock(StockItem::Tube(tube) | StockItem::MeteringTube(tube)) => tube.outside,
        _ => return None,
    };
    Some((outside.si() * 1e6).round() as u64)
}

/// A carrier across open frame.
pub(super) struct HeldCarrier {
    section: SectionId,
    /// Where it starts and ends.
    ends: [BarPoint; 2],
    length: Length,
    /// The hoses and tubes on it.
    pub(super) bears: Vec<(Subject, String)>,
}

/// A bracket beside a hinge.
struct ClampBracket {
    hinge: SectionId,
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
pub(super) struct Holding {
    pub(super) carriers: Vec<HeldCarrier>,
    brackets: Vec<ClampBracket>,
    parts: Vec<PartBracket>,
    clamps: Vec<ClampsAtHinge>,
    /// Somebody drew a frame.
    has_frame: bool,
}

impl Holding {
    pub(super) fn of(project: &Project, routing: LaidRouting) -> Self {
        let bar = &project.bar;
        let lines = hung_lines(project, routing);
        let carried = carriers(bar, &lines).into_iter().filter_map(|one| {
            let ends = [*one.way.first()?, *one.way.last()?];
            let mut bears = one.bears.clone();
            bears.sort_unstable();
            Some(HeldCarrier {
                section: one.section(),
                ends,
                length: one.length,
                bears: bears.into_iter().map(|at| (lines[at].of, lines[at].tag.clone())).collect(),
            })
        });
        let carriers = carried.collect();
        let clamps = hinge_clamps(&lines);
        let tags_of = |all: &[usize]| {
            let mut tags: Vec<String> = Vec::new();
            for at in all {
                let tag = &lines[clamps[*at].line].tag;
                if !tags.contains(tag) {
                    tags.push(tag.clone());
                }
            }
            tags
        };
        let brackets = clamp_brackets(&clamps).into_iter().filter_map(|all| {
            let first: &HingeClamp = &clamps[*all.first()?];
            Some(ClampBracket { hinge: first.hinge, at: first.at?, tags: tags_of(&all) })
        });
        let brackets = brackets.collect();
        let mut at_hinges: Vec<ClampsAtHinge> = Vec::new();
        for clamp in &clamps {
            let line = &lines[clamp.line];
            let Some(outside) = outside_of(project, line.stock.any()) else { continue };
            let known = at_hinges.iter_mut().find(|one| (one.hinge, one.outside) == (clamp.hinge, outside));
            match known {
                Some(one) => {
                    one.many += 1;
                    if one.tags.last() != Some(&line.tag) {
                        one.tags.push(line.tag.clone());
                    }
                }
                None => at_hinges.push(ClampsAtHinge {
                    hinge: clamp.hinge,
                    outside,
                    tags: vec![line.tag.clone()],
                    many: 1,
                }),
            }
        }
        let place = |section: SectionId| bar.sections.iter().position(|one| one.id == section);
        at_hinges.sort_by_key(|one| (place(one.hinge), one.outside));
        let parts = parts_off_frame(project, routing).into_iter().filter_map(|id| {
            let at = routing.geometry.anchors.part(id)?.middle();
            Some(PartBracket { tag: routing.part(id)?.tag.clone(), at })
        });
        Self {
            carriers,
            brackets,
            parts: parts.collect(),
            clamps: at_hinges,
            has_frame: bar.sections.iter().any(|section| !section.members.is_empty()),
        }
    }

    /// Lines of the parts list for carriers and brackets: how many, what, and for what.
    pub(super) fn to_order(&self, project: &Project) -> Vec<(Holder, usize, String, String)> {
        let units = project.units;
        let mut lines = Vec::new();
        let cut = |one: &HeldCarrier| cut_length(one.length, units, false);
        if let Some(longest) = self.carriers.iter().map(cut).reduce(Length::max) {
            let shortest = self.carriers.iter().map(cut).fold(longest, Length::min);
            let all: Length = self.carriers.iter().map(cut).sum();
            let each = if shortest == longest {
                format!("{} each", Measure::CutLength.short_text(longest.si(), units))
            } else {
                format!(
                    "{} to {}",
                    Measure::CutLength.short_number(shortest.si(), units),
                    Measure::CutLength.short_text(longest.si(), units)
                )
            };
            lines.push((
                Holder::Carrier,
                self.carriers.len(),
                "Carrier across open frame (rail, flat or angle) that bears hoses and tubes full of liquid"
                    .to_owned(),
                format!("{each}, {} in all", Measure::Distance.text(all.si(), units)),
            ));
        }
        let reach = Measure::CutLength.short_text(TIED, units);
        if !self.brackets.is_empty() {
            lines.push((
                Holder::ClampBracket,
                self.brackets.len(),
                "Bracket for the clamps at a hinge where no frame member is".to_owned(),
                format!("stands out more than {reach}"),
            ));
        }
        if !self.parts.is_empty() {
            let tags: Vec<String> = self.parts.iter().map(|part| part.tag.clone()).collect();
            lines.push((
                Holder::PartBracket,
                self.parts.len(),
                "Bracket for a part where no frame member is".to_owned(),
                format!("{}, stands out more than {reach}", words::tags(&tags)),
            ));
        }
        lines
    }

    /// How many carriers and brackets each section takes, in words: `centre section: 4 carriers and 1 bracket`.
    pub(super) fn by_section(&self, project: &Project) -> Vec<(SectionId, String)> {
        let sections = project.bar.sections.iter().filter_map(|section| {
            let carriers = self.carriers.iter().filter(|one| one.section == section.id).count();
            let on = |at: &BarPoint| at.section == section.id;
            let brackets = self.brackets.iter().filter(|one| on(&one.at)).count()
                + self.parts.iter().filter(|one| on(&one.at)).count();
            let said: Vec<String> = [(carriers, "carrier"), (brackets, "bracket")]
                .into_iter()
                .filter(|(many, _)| *many > 0)
                .map(|(many, one)| words::counted(many, one))
                .collect();
            (!said.is_empty()).then(|| (section.id, words::list(&said)))
        });
        sections.collect()
    }

    /// Tags of those hoses and tubes on carriers that are wanted.
    pub(super) fn carried(&self, wanted: impl Fn(&Subject) -> bool) -> Vec<String> {
        let mut tags: Vec<String> = Vec::new();
        let all = self.carriers.iter().flat_map(|one| &one.bears);
        for (_, tag) in all.filter(|(of, _)| wanted(of)) {
            if !tags.contains(tag) {
                tags.push(tag.clone());
            }
        }
        tags.sort_by_key(|tag| words::natural_order(tag));
        tags
    }

    /// The clamp of a line at such a place is on a bracket.
    pub(super) fn is_on_bracket(&self, tag: &str, hinge: SectionId, at: &BarPoint) -> bool {
        self.brackets.iter().any(|one| {
            let near = one.at.place.distance(at.place) <= TIED;
            one.hinge == hinge
                && one.at.section == at.section
                && near
                && one.tags.iter().any(|own| own == tag)
        })
    }

    /// Where each goes: one line for what is alike on a section, clamps by hinge; none where nothing is needed.
    pub(super) fn table(
        &self,
        project: &Project,
        item: impl Fn(Holder) -> Option<usize>,
    ) -> Option<PaperTable> {
        let units = project.units;
        let number = |holder: Holder| item(holder).map_or(PaperCell::Empty, PaperCell::count);
        let mut lines: Vec<(SectionId, Vec<PaperCell>)> = Vec::new();
        let mut line =
            |section: SectionId, item: PaperCell, what: &str, of: String, many: usize, length, at: String| {
                let cells = vec![
                    item,
                    PaperCell::text(what),
                    PaperCell::text(places::section(project, section)),
                    PaperCell::text(of),
                    PaperCell::count(many),
                    PaperCell::measure(Measure::CutLength, length, units),
                    PaperCell::text(at),
                ];
                lines.push((section, cells));
            };
        let carrier = number(Holder::Carrier);
        for group in self.carriers_alike(project, units) {
            let of = words::tags(&group.tags);
            line(
                group.section,
                carrier.clone(),
                "Carrier",
                of,
                group.many,
                Some(group.length),
                group.places(),
            );
        }
        let bracket = number(Holder::ClampBracket);
        for one in &self.brackets {
            let of = format!("clamps of {}", words::tags(&one.tags));
            let at = position(&project.bar, one.at.place, one.at.section, units);
            line(one.at.section, bracket.clone(), "Bracket", of, 1, None, at);
        }
        let bracket = number(Holder::PartBracket);
        for one in &self.parts {
            let at = position(&project.bar, one.at.place, one.at.section, units);
            line(one.at.section, bracket.clone(), "Bracket", one.tag.clone(), 1, None, at);
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
        let place = |section: SectionId| project.bar.sections.iter().position(|one| one.id == section);
        lines.sort_by_key(|one| place(one.0));
        let mut groups: Vec<RowGroup> = Vec::new();
        for (at, (section, _)) in lines.iter().enumerate() {
            if at == 0 || lines[at - 1].0 != *section {
                groups.push(RowGroup { before: at, words: places::section(project, *section).to_owned() });
            }
        }
        let mut notes = vec![format!(
            "Places in {}; both ends of a carrier, without what it overlaps the members by.",
            place_letters(units)
        )];
        notes.push(if self.has_frame {
            format!(
                "Counted from the frame as drawn: what comes within {} of a member's middle, seen from above, is tied to it. A \
                 carrier runs from member to member along what it bears, or stands out towards an opener and leaves its loop \
                 free; clear of what folds and of the openers. What bears what is common practice, no source.",
                Measure::CutLength.short_text(TIED, units)
            )
        } else {
            "The frame is not drawn: carriers and brackets are not counted.".to_owned()
        });
        Some(PaperTable {
            caption: "Carriers, brackets and clamps at hinges".to_owned(),
            columns: vec![
                PaperColumn::count("Item", 0.6),
                PaperColumn::text("What", 1.3),
                PaperColumn::text("Section", 1.6).only(Shown::InFiles),
                PaperColumn::text("For", 2.4),
                PaperColumn::count("Pieces", 0.8),
                PaperColumn::measure("Length", Measure::CutLength, units, 0.9),
                PaperColumn::text("Where", 4.4),
            ],
            rows: lines.into_iter().map(|(_, cells)| cells).collect(),
            groups,
            notes,
            ..PaperTable::default()
        })
    }

    /// Carriers of one section that are as long and run as far across the bar, as one.
    fn carriers_alike(&self, project: &Project, units: UnitSystem) -> Vec<CarriersAlike> {
        let bar = &project.bar;
        let mut found: Vec<CarriersAlike> = Vec::new();
        for one in &self.carriers {
            let across =
                one.ends.map(|end| behind_the_front(bar, end.place, end.section, units).unwrap_or_default());
            let along = one.ends.map(|end| along_the_bar(bar, end.place, end.section, units));
            let length = cut_length(one.length, units, false);
            let tags = one.bears.iter().map(|(_, tag)| tag.clone());
            let alike = found
                .iter_mut()
                .find(|known| (known.section, known.length, &known.across) == (one.section, length, &across));
            match alike {
                Some(known) => {
                    known.many += 1;
                    known.tags.extend(tags);
                    known.along.push(along);
                }
                None => found.push(CarriersAlike {
                    section: one.section,
                    length,
                    across,
                    many: 1,
                    tags: tags.collect(),
                    along: vec![along],
                }),
            }
        }
        let place = |section: SectionId| bar.sections.iter().position(|one| one.id == section);
        for one in &mut found {
            one.tags.sort_by_key(|tag| words::natural_order(tag));
            one.tags.dedup();
        }
        found.sort_by(|a, b| {
            let key = |one: &CarriersAlike| {
                (place(one.section), one.tags.first().map(|tag| words::natural_order(tag)))
            };
            key(a).cmp(&key(b))
        });
        found
    }
}

/// Carriers that are alike.
struct CarriersAlike {
    section: SectionId,
    length: Length,
    /// Where both ends are across the bar.
    across: [String; 2],
    many: usize,
    tags: Vec<String>,
    /// Where both ends of each are along the bar.
    along: Vec<[String; 2]>,
}

impl CarriersAlike {
    /// `F 100 to F 900, at H 150 and H 450`.
    fn places(&self) -> String {
        let along: Vec<String> = self
            .along
            .iter()
            .map(|[from, to]| if from == to { from.clone() } else { format!("{from} to {to}") })
            .collect();
        let [from, to] = &self.across;
        let across = if from == to { from.clone() } else { format!("{from} to {to}") };
        format!("{across}, at {}", words::list(&along))
    }
}
