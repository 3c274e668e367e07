//! What must be ordered and no catalogue entry stands for: reducers, seals, clamps, carriers, outlets, ties.

use std::collections::BTreeMap;

use super::cut_plan::{CutPiece, CutPlan, LABELS_A_PIECE};
use super::holding::{Holder, Holding, outside_of};
use super::items::{ListItem, number_of};
use super::places;
use super::test_pieces::{Closing, closings};
use crate::drawing::layout_tables::{AT_HOSE_ENDS, IN_ROW_TUBES};
use crate::plan::flushing::FlushOrder;
use crate::plan::joints::{self, AdapterPlace, EndFit, EndForm, adapters};
use crate::plan::{End, EntryKey, Item, LaidRouting, Project, Run, StockItem, words};
use crate::quantities::{Length, Measure};

/// Supports of hoses and tubes, metres apart (common practice, no source: 300 to 500 mm and 200 to 400 mm).
pub(super) const HOSE_SUPPORTS: f64 = 0.4;

pub(super) const TUBE_SUPPORTS: f64 = 0.3;

/// What is counted of all but what somebody added.
const PIECES: &str = "pcs";

/// What something is that no catalogue entry stands for; with it, in which of the fitting steps it goes in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum ExtraKind {
    /// Between the fitting of a hose and a port.
    HoseAdapter,
    /// Between neighbours in row feeds.
    RowAdapter,
    /// For a parallel thread.
    Seal,
    /// Ends of metering tubes.
    MeteringEnds,
    /// At each end of the hoses of a stock.
    HoseClamp(EntryKey),
    /// What fastens the hoses or tubes of a stock.
    Tie(EntryKey),
    /// Holds hoses, tubes and parts where the frame alone does not.
    Held(Holder),
    /// Holds the end of a row in the furrow.
    OpenerOutlet,
    /// On each end of every hose and tube.
    Label,
    /// Closes an outlet of a manifold while hoses are flushed and tested.
    TestPlug,
    /// Closes the end of a hose while another one is flushed.
    FlushCap,
    /// What somebody added to the list.
    Added,
}

/// Item numbers of the extras by where they are, as the layout says it of what has no balloon there.
pub(super) fn by_place(extras: &[Extra]) -> BTreeMap<&'static str, Vec<u32>> {
    let mut places: BTreeMap<&'static str, Vec<u32>> = BTreeMap::new();
    for extra in extras {
        let place = match &extra.kind {
            ExtraKind::HoseAdapter | ExtraKind::Seal | ExtraKind::HoseClamp(_) => AT_HOSE_ENDS,
            ExtraKind::RowAdapter | ExtraKind::MeteringEnds | ExtraKind::OpenerOutlet => IN_ROW_TUBES,
            ExtraKind::Held(Holder::Carrier | Holder::CarrierAngle) => "carriers, by their marks",
            ExtraKind::Held(Holder::HingeClamp(_) | Holder::ClampBracket | Holder::PartBracket) => {
                "clamps at hinges and brackets, see the list of joints"
            }
            ExtraKind::Tie(_)
            | ExtraKind::Label
            | ExtraKind::TestPlug
            | ExtraKind::FlushCap
            | ExtraKind::Added => "in no one place, see the parts list",
        };
        places.entry(place).or_default().extend(u32::try_from(extra.number));
    }
    places
}

/// Something to order that no catalogue entry stands for.
pub(super) struct Extra {
    /// What it is.
    pub(super) kind: ExtraKind,
    /// Its item number, after those of the catalogue's items.
    pub number: usize,
    pub(super) quantity: usize,
    /// What is counted.
    pub(super) unit: String,
    pub(super) spares: usize,
    /// What it is ordered by; empty where nobody said.
    pub(super) part_number: String,
    /// What it is.
    pub description: String,
    /// For what; tells apart what has the same description.
    pub size: String,
    /// Where it goes, or how it was counted.
    pub(super) remark: String,
    /// The liquid's pressure stands in it.
    pub(super) is_wetted: bool,
}

/// Clamping ranges of worm-drive hose clamps, millimetres (the series of DIN 3017-1, from memory).
const CLAMPS: [(f64, f64); 11] = [
    (8.0, 12.0),
    (10.0, 16.0),
    (12.0, 20.0),
    (16.0, 27.0),
    (20.0, 32.0),
    (25.0, 40.0),
    (30.0, 45.0),
    (40.0, 60.0),
    (50.0, 70.0),
    (60.0, 80.0),
    (70.0, 90.0),
];

/// The smallest clamp that holds an outside diameter with a millimetre to spare either way, metres.
fn clamp_range(outside: Length) -> Option<(Length, Length)> {
    let outside = outside.si() * 1000.0;
    let fits = |(from, to): &(f64, f64)| *from + 1.0 <= outside + 1e-9 && outside <= *to - 1.0 + 1e-9;
    CLAMPS.into_iter().find(fits).map(|(from, to)| (Length::millimetres(from), Length::millimetres(to)))
}

/// A piece between two ends that don't fit as they are: what it is, for what, and where.
struct Between {
    pub(super) description: String,
    pub(super) size: String,
    at: Vec<String>,
    /// In row feeds, where a lost piece stops a row.
    in_rows: bool,
}

/// The piece between a hose's fitting and the port or pump it goes to, if there is one: what it is and for what.
pub(super) fn reducer(
    project: &Project,
    routing: LaidRouting,
    run: &Run,
    end: &End,
) -> Option<(String, String)> {
    let end = joints::hose_end(project, routing, run, end)?;
    match end.joint {
        EndFit::Fits => None,
        EndFit::With(words) => Some((words, String::new())),
        EndFit::Ask => {
            let at = end.at.map(|at| places::end(routing, &End::Port(at))).unwrap_or_default();
            let hose = project.catalogue.stock(&run.line.stock)?.bore;
            let size = format!("{at}, {} hose", Measure::Bore.short_text(hose.si(), project.units));
            Some(("Reducer or adapter: ask before ordering, its threads are not known".to_owned(), size))
        }
    }
}

fn betweens(project: &Project, routing: LaidRouting) -> Vec<Between> {
    let mut found: Vec<Between> = Vec::new();
    let mut add = |(description, size): (String, String), at: String, in_rows: bool| match found
        .iter_mut()
        .find(|one| (&one.description, &one.size) == (&description, &size))
    {
        Some(one) => one.at.push(at),
        None => found.push(Between { description, size, at: vec![at], in_rows }),
    };
    for adapter in adapters(project, routing) {
        match adapter.at {
            AdapterPlace::Hose(run, end) => {
                let piece = routing.run(run).and_then(|run| reducer(project, routing, run, &end));
                if let Some(piece) = piece {
                    add(piece, places::end(routing, &end), false);
                }
            }
            AdapterPlace::Feed(feed) => {
                let tag = routing.feed(feed).map_or_else(String::new, |feed| feed.tag.clone());
                if let Some(piece) = adapter.piece {
                    add((piece, String::new()), tag, true);
                }
            }
        }
    }
    found
}

/// Neighbours in row feeds that don't join by their connections' words.
pub(super) fn row_joints_to_ask(project: &Project, routing: LaidRouting, items: &[ListItem]) -> Vec<String> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    let named = |key: &EntryKey| {
        let kind = project.catalogue.item(key).map_or("?", Item::kind);
        number_of(items, key).map_or_else(|| kind.to_owned(), |number| format!("{kind} (item {number})"))
    };
    for feed in &routing.feeds {
        let joints = joints::of_feed(project, routing, feed).0;
        for joint in joints.into_iter().filter(|joint| joint.joint == EndFit::Ask) {
            let from = joint.from.as_ref().map_or_else(|| "the port".to_owned(), named);
            let words = format!("how {} joins {from}", named(&joint.to));
            match found.iter_mut().find(|one| one.0 == words) {
                Some(one) if one.1.last() == Some(&feed.tag) => {}
                Some(one) => one.1.push(feed.tag.clone()),
                None => found.push((words, vec![feed.tag.clone()])),
            }
        }
    }
    let says = |(words, at): (String, Vec<String>)| {
        format!(
            "Ask before ordering: {words} in {}; by the connections listed they don't fit together.",
            words::tags(&at)
        )
    };
    found.into_iter().map(says).collect()
}

/// The parallel threads that are screwed together, each with how many joints: of hoses, and of gauges and plugs.
fn sealed_threads(project: &Project, routing: LaidRouting) -> BTreeMap<String, usize> {
    let hoses = routing.runs.iter().flat_map(|run| {
        let ends = [&run.from, &run.to].into_iter();
        ends.filter_map(|end| joints::hose_end(project, routing, run, end)).flat_map(|end| end.threads)
    });
    let mounted = routing.parts.iter().filter_map(|part| {
        let host = part.mount?;
        let own = project.catalogue.entry(&part.entry).and_then(|entry| joints::thread(&entry.connection));
        own.or_else(|| joints::thread(joints::port_words(project, routing, host)?))
    });
    let mut count = BTreeMap::new();
    for thread in hoses.chain(mounted).filter(joints::Thread::is_parallel) {
        *count.entry(thread.name).or_insert(0) += 1;
    }
    count
}

/// What takes the last piece of each row at its opener, in words, each with how many.
fn opener_outlets(project: &Project, routing: LaidRouting) -> BTreeMap<String, usize> {
    let mut count = BTreeMap::new();
    for end in routing.feeds.iter().flat_map(|feed| joints::of_feed(project, routing, feed).1) {
        let words = match end {
            Some(EndForm::Stem(size)) => format!("push-in for {size} mm stem"),
            Some(EndForm::PushIn(size)) => format!("{size} mm stem"),
            Some(EndForm::Thread(thread)) => format!("for {}", thread.name),
            _ => "ask before ordering".to_owned(),
        };
        *count.entry(words).or_insert(0) += 1;
    }
    count
}

/// What no catalogue entry stands for: reducers, seals, clamps, ties, labels and what holds a tube at its opener,
/// counted by rules of the trade, and what somebody added; numbered after the catalogue's items.
pub(super) fn extras(
    project: &Project,
    routing: LaidRouting,
    plan: &CutPlan,
    holding: &Holding<'_>,
    flushing: &FlushOrder,
    after: usize,
) -> Vec<Extra> {
    /// Said once below the list.
    const BY_RULE: &str = "by rule";
    let units = project.units;
    let some_spares = |quantity: usize| quantity.div_ceil(20).max(2);
    let mut lines: Vec<Extra> = betweens(project, routing)
        .into_iter()
        .map(|one| Extra {
            kind: if one.in_rows { ExtraKind::RowAdapter } else { ExtraKind::HoseAdapter },
            number: 0,
            unit: PIECES.to_owned(),
            part_number: "no entry: choose one".to_owned(),
            quantity: one.at.len(),
            spares: if one.in_rows { some_spares(one.at.len()) } else { 0 },
            description: one.description,
            size: one.size,
            remark: words::tags(&one.at),
            is_wetted: true,
        })
        .collect();
    for (thread, quantity) in sealed_threads(project, routing) {
        lines.push(Extra {
            kind: ExtraKind::Seal,
            number: 0,
            unit: PIECES.to_owned(),
            part_number: String::new(),
            quantity,
            spares: some_spares(quantity),
            description: "Seal for a parallel thread, one for each joint".to_owned(),
            size: format!("for {thread}"),
            remark: "Omit if supplied with the part".to_owned(),
            is_wetted: false,
        });
    }
    for stock in &plan.stocks {
        let Some(entry) = project.catalogue.entry(&stock.stock) else { continue };
        if let (Item::Stock(StockItem::MeteringTube(_)), Some(with)) = (&entry.item, entry.end_fittings()) {
            let quantity = stock.pieces.len();
            lines.push(Extra {
                kind: ExtraKind::MeteringEnds,
                number: 0,
                unit: PIECES.to_owned(),
                part_number: String::new(),
                quantity,
                spares: some_spares(quantity),
                description: format!("End fittings of {}, a pair for each piece", lower(&entry.description)),
                size: with.split_once(':').map_or(with, |(_, size)| size.trim()).to_owned(),
                remark: "The catalogue names them with the tube".to_owned(),
                is_wetted: true,
            });
        }
    }
    let mut add = |kind, quantity, spares, description: String, size: String, is_wetted: bool| {
        let remark = BY_RULE.to_owned();
        let (unit, part_number) = (PIECES.to_owned(), String::new());
        lines.push(Extra {
            kind,
            number: 0,
            quantity,
            unit,
            spares,
            part_number,
            description,
            size,
            remark,
            is_wetted,
        });
    };
    for stock in &plan.stocks {
        let Some(Item::Stock(StockItem::Hose(hose))) = project.catalogue.item(&stock.stock) else { continue };
        let ends = 2 * stock.pieces.len();
        let outside = Measure::Bore.short_text(hose.outside.si(), units);
        let size = match clamp_range(hose.outside) {
            Some((from, to)) => format!(
                "clamps {} to {}, for {outside} outside",
                Measure::Bore.short_number(from.si(), units),
                Measure::Bore.short_text(to.si(), units)
            ),
            None => format!("for {outside} outside"),
        };
        add(
            ExtraKind::HoseClamp(stock.stock.clone()),
            ends,
            some_spares(ends),
            "Hose clamp, worm drive, one at each end of a hose".to_owned(),
            size,
            false,
        );
    }
    for stock in &plan.stocks {
        let (what, apart, outside) = match project.catalogue.item(&stock.stock) {
            Some(Item::Stock(StockItem::Hose(hose))) => ("Hose clip or tie", HOSE_SUPPORTS, hose.outside),
            Some(Item::Stock(StockItem::Tube(tube))) => ("Tube clip or tie", TUBE_SUPPORTS, tube.outside),
            _ => continue,
        };
        let pieces = stock.pieces.iter().map(|at| &plan.pieces[*at]);
        let count = pieces.map(|piece| ties_of(project, piece)).sum();
        let apart = Measure::CutLength.short_text(apart, units);
        let size = format!("for {} outside", Measure::Bore.short_text(outside.si(), units));
        add(
            ExtraKind::Tie(stock.stock.clone()),
            count,
            0,
            format!("{what}, on each piece one every {apart}"),
            size,
            false,
        );
    }
    let mut at_hinges: BTreeMap<u64, usize> = BTreeMap::new();
    for piece in plan.pieces.iter().filter(|piece| piece.hinge_clamps > 0) {
        if let Some(outside) = outside_of(project, &piece.stock) {
            *at_hinges.entry(outside).or_insert(0) += piece.hinge_clamps;
        }
    }
    for (outside, clamps) in at_hinges {
        let size = format!("for {} outside", Measure::Bore.short_text(outside as f64 / 1e6, units));
        let what = "Hinge clamp, cushioned saddle or P-clip, one on each side of a hinge".to_owned();
        add(ExtraKind::Held(Holder::HingeClamp(outside)), clamps, some_spares(clamps), what, size, false);
    }
    for (holder, quantity, what, size) in holding.to_order(project) {
        add(ExtraKind::Held(holder), quantity, 0, what, size, false);
    }
    // What the last tube of each row ends in.
    for (size, rows) in opener_outlets(project, routing) {
        let what =
            "Outlet at the opener: what holds the end of a row's tube or metering in the furrow".to_owned();
        add(ExtraKind::OpenerOutlet, rows, some_spares(rows), what, size, true);
    }
    if !plan.pieces.is_empty() {
        let labels = LABELS_A_PIECE * plan.pieces.len();
        let what = "Label, one round each end of every hose and tube".to_owned();
        add(ExtraKind::Label, labels, 0, what, String::new(), false);
    }
    for (closing, many) in closings(project, routing, flushing) {
        let text = |micrometres: u64| Measure::Bore.short_text(micrometres as f64 / 1e6, units);
        let rated = Measure::Pressure.text(project.supply.highest_pressure().si(), units);
        let rated = format!("rated for {rated} or more, what the pump reaches");
        match closing {
            Closing::Outlet(outside) => {
                let takes = outside.map_or_else(
                    || "as the outlet takes it: ask".to_owned(),
                    |outside| format!("in place of the tube, {} outside", text(outside)),
                );
                let what = "Plug to close an outlet for flushing and testing, taken out again".to_owned();
                add(ExtraKind::TestPlug, many, 0, what, format!("{takes}, {rated}"), true);
            }
            Closing::HoseEnd(bore) => {
                let what = "Cap to close a hose end while others are flushed, taken off again".to_owned();
                add(ExtraKind::FlushCap, many, 0, what, format!("for hose of {} bore", text(bore)), true);
            }
        }
    }
    lines.extend(project.added_lines.iter().map(|line| Extra {
        kind: ExtraKind::Added,
        number: 0,
        quantity: line.quantity as usize,
        unit: line.unit.clone(),
        spares: 0,
        part_number: line.part_number.clone(),
        description: line.description.clone(),
        size: String::new(),
        remark: line.note.clone(),
        is_wetted: line.is_wetted,
    }));
    for (index, line) in lines.iter_mut().enumerate() {
        line.number = after + index + 1;
    }
    lines
}

/// Clips or ties of a piece of hose or tube; none where its length is not known, and none on what hangs free between the
/// clamps of a hinge: a tie there would tear it off in the fold.
pub(super) fn ties_of(project: &Project, piece: &CutPiece) -> usize {
    let apart = match project.catalogue.item(&piece.stock) {
        Some(Item::Stock(StockItem::Hose(_))) => HOSE_SUPPORTS,
        Some(Item::Stock(StockItem::Tube(_))) => TUBE_SUPPORTS,
        _ => return 0,
    };
    let tied = |length: Length| (length.si() - piece.hinge_free.si()).max(0.0);
    piece.length.map_or(0, |length| (tied(length) / apart - 1e-9).ceil() as usize)
}

/// With a small letter, inside a sentence.
pub(super) fn lower(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clamps_reach_beyond_the_hose_on_both_sides() {
        for outside in [9, 13, 16, 19, 23, 27, 34, 42, 60] {
            let outside = f64::from(outside);
            let (from, to) = clamp_range(Length::millimetres(outside)).unwrap();
            assert!(
                from.si() * 1e3 <= outside - 1.0 && outside + 1.0 <= to.si() * 1e3,
                "{outside}: {from:?} to {to:?}"
            );
        }
        assert_eq!(clamp_range(Length::millimetres(200.0)), None);
    }
}
