//! What to try where a check valve misses one of its two requirements: to shut above what stands on it with the pump off, and to
//! open at so little that its metering drowns its scatter within the supply's pressure. Both are always looked at together,
//! so that the advice on one never makes the other worse without saying so.

use super::Context;
use super::metering_drop::shortfall;
use super::remedy::Remedy;
use super::standing_liquid::most_standing;
use crate::hydraulics::first_choice::{self, Choice};
use crate::hydraulics::slope::every_way;
use crate::plan::{
    CheckValve, Control, ElementItem, ElementKey, ElementKind, End, FeedElement, MeteringOrifice, PartItem,
    PartKey,
};
use crate::plan::{RowId, SectionValve};
use crate::quantities::{GRAVITY_M_S2, Length, Measure, Pressure};

/// A row that gets less than its target by more than this share gets less than is asked (common practice, no source).
const AS_ASKED: f64 = 0.005;

/// Where the check valves that are fitted shut at `closing`, below what stands on them.
pub(super) fn to_hold(here: &Context, closing: Pressure) -> String {
    let head = stands(here);
    if meters_by_orifices(here) {
        // Where the catalogue has nothing that holds, valves that meter and shut highest stay.
        let best = here.choices(head).into_iter().next();
        let none_holds = best.is_some_and(|best| !best.holds && best.closing <= closing);
        if none_holds && shortfall(here).is_none() {
            return format!(
                "no check valve of the catalogue both holds {} with the pump off and meters: keep those there are, and {}",
                here.text(Measure::Pressure, head),
                instead(here, head, closing)
            );
        }
        return both_wishes(here, head).unwrap_or_else(|| instead(here, head, closing));
    }
    // Metering tubes are cut to suit a valve, so that any that holds will do.
    let stands = here.text(Measure::Pressure, head);
    let mut all = here.choices(head);
    all.retain(|one| one.holds);
    match all.into_iter().min_by(|a, b| a.cracking.si().total_cmp(&b.cracking.si())) {
        Some(choice) => format!(
            "use {}, which holds {stands}, with metering to suit it; or {}",
            valve_words(here, &choice),
            instead(here, head, closing)
        ),
        None => {
            format!("no check valve of the catalogue holds {stands}: {}", instead(here, head, closing))
        }
    }
}

/// Where the metering of these rows takes too little beside the check valves: what each of them meters with decides.
pub(super) fn to_meter(here: &Context, rows: &[RowId]) -> String {
    // Smaller metering and longer tubes would give the rows less still.
    if let Some(supply) = supply_is_cause(here) {
        return supply;
    }
    let has_tube = |row: &RowId| {
        let mut paths = here.row_paths().iter().filter(|path| path.row.row == *row);
        paths.any(|path| path.elements.iter().any(|(one, _)| matches!(one, FeedElement::MeteringTube { .. })))
    };
    let (tubes, orifices): (Vec<RowId>, Vec<RowId>) = rows.iter().partition(|row| has_tube(row));
    let for_orifices =
        || both_wishes(here, stands(here)).unwrap_or_else(|| beside_the_catalogue(here, &orifices));
    match (tubes.is_empty(), orifices.is_empty()) {
        (true, _) => for_orifices(),
        (false, true) => cut_longer(here),
        (false, false) => format!(
            "{}: {}; {}: {}",
            here.row_words_inside(&tubes),
            cut_longer(here),
            here.row_words_inside(&orifices),
            for_orifices()
        ),
    }
}

/// What metering tubes can be helped by: length, or a check valve of the catalogue that opens at less than those there are.
fn cut_longer(here: &Context) -> String {
    let cracking = |key: &ElementKey| match here.project.catalogue.item(key) {
        Some(ElementItem::CheckValve(CheckValve { cracking, .. })) => Some(cracking.si()),
        _ => None,
    };
    let least = pieces(here, ElementKind::CheckValve).filter_map(cracking).reduce(f64::min);
    let mut earlier = here.choices(stands(here));
    earlier.retain(|one| least.is_some_and(|least| one.cracking.si() < least));
    // Of those one that holds too, where there is one.
    let best = earlier.iter().find(|one| one.holds).or_else(|| earlier.first());
    let valve = best.map(|one| {
        let holds = if one.holds { "" } else { " (it does not hold what stands on it with the pump off)" };
        format!(", or fit {}{holds}", valve_words(here, one))
    });
    format!("cut the metering tubes longer{}", valve.unwrap_or_default())
}

/// Where the supply's flow does not follow what is asked and all rows together get too little: their metering takes too
/// little because of that.
fn supply_is_cause(here: &Context) -> Option<String> {
    let mean = here.outcome.evenness()?.mean_deviation;
    let raise = match here.project.supply.control {
        Control::Metered { .. } => return None,
        Control::Held { pressure } => {
            format!("raise the {} that is held", here.text(Measure::Pressure, pressure))
        }
        Control::Uncontrolled => "choose a pump that gives more pressure".to_owned(),
    };
    (mean.si() < 0.0).then(|| format!("{raise}, or fit check valves that open at less"))
}

/// Where the rows have the best of the catalogue, so that other metering is no remedy.
fn beside_the_catalogue(here: &Context, rows: &[RowId]) -> String {
    let suit = "by the catalogue the metering and the check valves there are suit";
    let own = here.row_paths().iter().filter(|path| rows.contains(&path.row.row));
    let lowest = own.filter_map(|path| path.deviation()).map(|one| one.si()).reduce(f64::min);
    let lowest = lowest.filter(|one| *one < -AS_ASKED);
    let mean = here.outcome.evenness().map_or(0.0, |one| one.mean_deviation.si());
    match lowest {
        None => format!("{suit} the rate and the speeds of the duty: ask for no less than these"),
        Some(lowest) if mean <= 0.5 * lowest => {
            format!("{suit}: the rows get too little because the supply gives less than they ask")
        }
        Some(_) => format!(
            "{suit}: the hoses are the cause, since they leave these rows less than their target; fit wider hoses (the \
             study of the metering sizes them), or equalise the rows"
        ),
    }
}

/// What other metering is to bring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    /// More pressure over the metering: narrower sizes.
    MoreOverMetering,
    /// Less: wider sizes.
    LessOverMetering,
}

/// So many sizes of metering next to those there are, and so many check valves with their metering, are other ways.
const OTHER_WAYS: usize = 2;

/// What could be fitted otherwise in rows that meter with orifices, where the supply is not the cause: check valves that meter
/// with the metering that goes with each, and the next sizes of metering with the check valves there are. Nothing here is
/// solved; whoever offers them tries them first.
pub(super) fn other_ways(here: &Context, rows: &[RowId], wanted: Wanted) -> Vec<Remedy> {
    if supply_is_cause(here).is_some() || !meters_by_orifices(here) {
        return Vec::new();
    }
    let all_rows: Vec<RowId> =
        here.routing.feeds.iter().flat_map(|feed| feed.branches.iter().map(|branch| branch.row)).collect();
    let first = pair(here);
    let mut ways: Vec<Remedy> = Vec::new();
    for choice in here.choices(stands(here)).into_iter().filter(|one| one.meters).take(OTHER_WAYS + 1) {
        let Some(metering) = choice.metering else { continue };
        let mut pieces =
            vec![(ElementKind::CheckValve, choice.valve), (ElementKind::MeteringOrifice, metering)];
        pieces.retain(|(kind, entry)| !is_in_every_row(here, *kind, entry));
        if !pieces.is_empty() {
            ways.push(Remedy::FitPieces(all_rows.clone(), pieces));
        }
    }
    let sizes = next_sizes(here, wanted).into_iter();
    ways.extend(sizes.map(|key| Remedy::FitPieces(rows.to_vec(), vec![(ElementKind::MeteringOrifice, key)])));
    ways.retain(|way| first.as_ref() != Some(way));
    ways
}

/// The next sizes of orifices of the catalogue beyond all that are fitted, the nearest first; none that a liquid attacks.
fn next_sizes(here: &Context, wanted: Wanted) -> Vec<ElementKey> {
    let catalogue = &here.project.catalogue;
    let bore = |key: &ElementKey| match catalogue.item(key) {
        Some(ElementItem::MeteringOrifice(MeteringOrifice { bore, .. })) => Some(bore.si()),
        _ => None,
    };
    let fitted = || pieces(here, ElementKind::MeteringOrifice).filter_map(bore);
    // A narrower size is further down the further it is from zero.
    let (sign, end) = match wanted {
        Wanted::MoreOverMetering => (-1.0, fitted().reduce(f64::min)),
        Wanted::LessOverMetering => (1.0, fitted().reduce(f64::max)),
    };
    let Some(end) = end else { return Vec::new() };
    let mut beyond: Vec<(f64, ElementKey)> = catalogue
        .of::<ElementKey>()
        .filter_map(|(key, _)| Some((sign * (bore(&key)? - end), key)))
        .filter(|(beyond, key)| *beyond > 1e-9 && here.project.attacked(key.any()).is_empty())
        .collect();
    beyond.sort_by(|a, b| a.0.total_cmp(&b.0));
    beyond.into_iter().take(OTHER_WAYS).map(|(_, key)| key).collect()
}

/// The remedy for too little over the metering, where the supply is not the cause.
pub(super) fn pair_to_meter(here: &Context) -> Option<Remedy> {
    if supply_is_cause(here).is_some() { None } else { pair(here) }
}

/// Where the supply's pressure is too little; none where the rows have the best of the catalogue already.
pub(super) fn for_less_pressure(here: &Context) -> Option<String> {
    if meters_by_orifices(here) { both_wishes(here, stands(here)) } else { None }
}

/// The check valve and the metering of the catalogue that meet both requirements, in every row, where they are not there yet.
pub(super) fn pair(here: &Context) -> Option<Remedy> {
    let best = here.choices(stands(here)).into_iter().next()?;
    let metering = best.metering.clone()?;
    let wanted = best.holds && best.meters && meters_by_orifices(here);
    let rows = here.routing.feeds.iter().flat_map(|feed| feed.branches.iter().map(|branch| branch.row));
    // What every row has already is not fitted again.
    let mut pieces = vec![(ElementKind::CheckValve, best.valve), (ElementKind::MeteringOrifice, metering)];
    pieces.retain(|(kind, entry)| !is_in_every_row(here, *kind, entry));
    (wanted && !pieces.is_empty()).then(|| Remedy::FitPieces(rows.collect(), pieces))
}

/// What a valve of any row has to hold.
fn stands(here: &Context) -> Pressure {
    most_standing(here).max(first_choice::most_standing(here.project))
}

/// Rows that meter otherwise choose nothing from the catalogue.
fn meters_by_orifices(here: &Context) -> bool {
    let mut metering =
        here.routing.feeds.iter().flat_map(|feed| feed.elements()).filter(|one| one.is_metering());
    metering.all(|element| matches!(element, FeedElement::Piece(ElementKind::MeteringOrifice, _)))
}

/// The best of the catalogue; where it meets one requirement only, which one can't be had and what would do in its place. None
/// where the rows have a valve and metering already that grant both.
fn both_wishes(here: &Context, head: Pressure) -> Option<String> {
    let limit = here.short(Measure::Pressure, here.project.supply.highest_pressure());
    let stands = here.text(Measure::Pressure, head);
    let times = format!("{:.1}", here.project.limits.metering_over_cracking.si());
    let all = here.choices(head);
    let Some(best) = all.first() else {
        return Some("the catalogue has no check valve: add one".to_owned());
    };
    if best.holds && best.meters {
        return (!is_fitted(here, best)).then(|| {
            // A formula each: which of them suits the hoses too is found by trying them.
            let others = all.iter().skip(1).filter(|one| one.holds && one.meters).take(OTHER_WAYS);
            let others: Vec<String> = others.map(|one| format!(", or {}", pair_words(here, one))).collect();
            let others = others.concat();
            format!(
                "fit {}{others}: by the catalogue that holds {stands} with the pump off and needs no more than {limit} at work",
                pair_words(here, best)
            )
        });
    }
    let neither = format!(
        "no check valve of the catalogue both holds {stands} with the pump off and leaves its metering {times} times its \
         cracking pressure within {limit}"
    );
    Some(if best.meters {
        let take = if is_fitted(here, best) {
            "keep the check valves and the metering there are".to_owned()
        } else {
            format!("take {}", pair_words(here, best))
        };
        format!(
            "{neither}; holding can't be had: {take} (none that meters shuts higher), and {}",
            instead(here, head, best.closing)
        )
    } else if best.holds {
        format!(
            "{neither}; metering can't be had: of the check valves that hold, {} opens first; for both, {} or \
             add smaller metering or a valve that opens at less",
            valve_words(here, best),
            match here.project.supply.control {
                Control::Metered { .. } => "raise the pressure limit",
                Control::Held { .. } => "raise the pressure that is held",
                Control::Uncontrolled => "choose a pump that gives more pressure",
            }
        )
    } else {
        format!(
            "{neither}, nor one of the two: take {}, which shuts highest of those that open, add smaller metering, and {}",
            valve_words(here, best),
            instead(here, head, best.closing)
        )
    })
}

/// What holds the liquid in place of a check valve that shuts at `closing`: how low the tank would have to stand, and where a
/// valve between tank and bar goes.
fn instead(here: &Context, head: Pressure, closing: Pressure) -> String {
    let (project, units) = (here.project, here.units());
    let point = &here.outcome.point;
    let side = here.duty().side_slope.abs().max(point.side_slope.abs());
    let fore_aft = here.duty().fore_aft_slope.abs().max(point.fore_aft_slope.abs());
    // On a slope a tank that is lowered by 1 m puts a little less than 1 m less on the valves.
    let upright = every_way(side, fore_aft).iter().map(|up| up.z).fold(1.0, f64::min);
    let density = here.outcome.liquid.map_or(1000.0, |liquid| liquid.density.si());
    let lower = (head - closing).si() / (density * GRAVITY_M_S2 * upright);
    let allowed = Measure::Distance.shown(project.supply.tank_surface.si() - lower, units);
    // Rounded down: at the height itself the valve would just leak.
    let allowed = Length::from_si(Measure::Distance.stored((allowed * 100.0 - 1e-6).floor() / 100.0, units));
    let shut = shut_off(here);
    if allowed.si() > 0.0 {
        let height = here.text(Measure::Distance, allowed);
        format!("keep the tank's surface at {height} above the ground or lower, or {shut}")
    } else {
        format!("{shut} (no tank stands low enough)")
    }
}

/// A valve between tank and bar: the narrowest section valve of the catalogue that does not narrow the supply hose.
fn shut_off(here: &Context) -> String {
    let supply = here.routing.runs.iter().find(|run| run.from == End::Supply || run.to == End::Supply);
    let Some(run) = supply else { return "shut a valve between tank and bar when the pump stops".to_owned() };
    let hose = here.project.catalogue.stock(&run.line.stock).map_or(0.0, |stock| stock.bore.si());
    let bores = here.project.catalogue.of::<PartKey>().filter_map(|(_, item)| match item {
        PartItem::SectionValve(SectionValve { bore, .. }) => Some(*bore),
        _ => None,
    });
    let fits = |bore: &Length| bore.si() >= hose;
    let narrowest = bores.filter(fits).min_by(|a, b| a.si().total_cmp(&b.si()));
    let valve = narrowest.map_or_else(
        || "a ball valve".to_owned(),
        |bore| format!("a section valve of {}", here.short(Measure::Bore, bore)),
    );
    format!("put {valve} into {} and shut it when the pump stops", run.tag)
}

fn is_fitted(here: &Context, choice: &Choice) -> bool {
    let has_metering = |entry| is_in_every_row(here, ElementKind::MeteringOrifice, entry);
    let meters = match &choice.metering {
        Some(entry) => has_metering(entry),
        None => !pieces(here, ElementKind::MeteringOrifice).any(|_| true),
    };
    meters && is_in_every_row(here, ElementKind::CheckValve, &choice.valve)
}

/// No row has another piece of the kind.
fn is_in_every_row(here: &Context, kind: ElementKind, entry: &ElementKey) -> bool {
    pieces(here, kind).all(|one| one == entry)
}

fn pieces<'a>(here: &'a Context, kind: ElementKind) -> impl Iterator<Item = &'a ElementKey> {
    here.routing.feeds.iter().flat_map(|feed| feed.elements()).filter_map(move |element| match element {
        FeedElement::Piece(one, entry) if *one == kind => Some(entry),
        _ => None,
    })
}

fn entry_words(here: &Context, key: &ElementKey) -> String {
    let item = here.project.catalogue.item(key);
    item.map_or_else(|| key.to_string(), |item| item.choice(here.units()))
}

/// `the check valve that opens 0.20, shuts 0.18 bar`.
fn valve_words(here: &Context, choice: &Choice) -> String {
    format!("the check valve that {}", entry_words(here, &choice.valve))
}

/// `the check valve that opens 0.20, shuts 0.18 bar with the 1.0 mm orifice`.
fn pair_words(here: &Context, choice: &Choice) -> String {
    let metering = choice.metering.as_ref().map_or_else(String::new, |key| entry_words(here, key));
    let has_metering = |entry| is_in_every_row(here, ElementKind::MeteringOrifice, entry);
    if is_in_every_row(here, ElementKind::CheckValve, &choice.valve) {
        return format!("the {metering} orifice with the check valves there are");
    }
    if choice.metering.as_ref().is_some_and(has_metering) {
        return format!("{} with the metering orifices there are", valve_words(here, choice));
    }
    format!("{} with the {metering} orifice", valve_words(here, choice))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{EntryKey, Item};
    use crate::quantities::Length;

    /// Valves that open at 0.2 and 0.5 bar and shut at 0.15 and 0.45 bar, and orifices that take what they take.
    fn sample() -> Sample {
        let mut sample = Sample::new();
        let copy = |sample: &mut Sample, of: &str, name: &str| {
            let mut entry =
                sample.project.catalogue.entries.iter().find(|one| one.key.0 == of).cloned().unwrap();
            entry.key = EntryKey::new(name);
            sample.project.catalogue.entries.push(entry);
        };
        copy(&mut sample, "valve", "strong valve");
        sample.set_item("strong valve", |item| {
            if let Item::Element(ElementItem::CheckValve(CheckValve { cracking, closing, .. })) = item {
                (*cracking, *closing) = (Pressure::bar(0.5), Pressure::bar(0.45));
            }
        });
        copy(&mut sample, "orifice", "small orifice");
        for (name, millimetres) in [("orifice", 0.7), ("small orifice", 0.5)] {
            sample.set_item(name, |item| {
                if let Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, .. })) = item {
                    *bore = Length::millimetres(millimetres);
                }
            });
        }
        // 80 L/ha at 7 and 11 km/h over 0.3 m: 0.28 and 0.44 L/min. Water, Cd 0.62, Δp = ρ/2 · (q / (Cd A))², by hand:
        // 0.7 mm: A 0.3848 mm², 1.91 bar at 7 km/h and 4.72 bar at 11 km/h; 0.5 mm: A 0.1963 mm², 7.34 and 18.13 bar.
        // Only the control bounds the pressure.
        sample.project.supply.relief_valve = crate::plan::ReliefValve::Absent;
        sample.project.duties.first_mut().rate = crate::quantities::ApplicationRate::from_si(80e-7);
        sample.outcome.point.rate = crate::quantities::ApplicationRate::from_si(80e-7);
        sample
    }

    fn advice(sample: &Sample, limit: f64, tank: f64) -> Option<String> {
        let mut project = sample.project.clone();
        project.supply.control = Control::Metered { limit: Pressure::bar(limit) };
        project.supply.tank_surface = Length::metres(tank);
        let geometry = sample.geometry();
        let here = Context::new(&project, geometry.with(&sample.routing), &sample.outcome);
        both_wishes(&here, stands(&here))
    }

    /// 5 · 0.2 bar are met by 0.7 mm, 5 · 0.5 = 2.5 bar by 0.5 mm alone; with the fifth for the hoses 0.2 + 4.72 bar need
    /// 6.15 bar of the supply, 0.5 + 18.13 bar need 23.3 bar. A tank of 2.0 m puts 0.19 bar on the outlets at 0.1 m; 0.15 bar
    /// are 1.531 m of water at 999.1 kg/m3 above them, so the surface stays under 1.631 m.
    #[test]
    fn a_pair_grants_both_wishes_or_one_is_said_to_give_way() {
        let sample = sample();
        assert_eq!(advice(&sample, 6.2, 1.0), None, "the weak valve with 0.7 mm is what the rows have");
        let strong = advice(&sample, 23.4, 2.0).unwrap();
        assert!(
            strong.starts_with("fit the check valve that opens 0.5, shuts 0.45 bar with the 0.5 mm orifice"),
            "{strong}"
        );
        assert!(strong.contains("holds 0.19 bar with the pump off"), "{strong}");
        let neither = advice(&sample, 23.2, 2.0).unwrap();
        assert!(
            neither.starts_with("no check valve of the catalogue both holds 0.19 bar with the pump off"),
            "{neither}"
        );
        assert!(
            neither.ends_with(
                "holding can't be had: keep the check valves and the metering there are (none that meters shuts higher), \
                 and keep the tank's surface at 1.63 m above the ground or lower, or put a ball valve into H1 and \
                 shut it when the pump stops"
            ),
            "{neither}"
        );
        // 0.2 + 4.72 bar do not fit into four fifths of 6.1 bar; the strong valve holds 2.0 m all the same.
        let holds = advice(&sample, 6.1, 2.0).unwrap();
        assert!(
            holds.contains(
                "metering can't be had: of the check valves that hold, the check valve that opens 0.5"
            ),
            "{holds}"
        );
        // 0.45 bar are 4.593 m of water above outlets at 0.1 m; within 0.4 bar neither valve opens but the weak one.
        let none = advice(&sample, 0.4, 6.0).unwrap();
        assert!(
            none.contains("nor one of the two: take the check valve that opens 0.2, shuts 0.15"),
            "{none}"
        );
        assert!(none.contains("keep the tank's surface at 1.63 m"), "{none}");
    }

    /// A valve that shuts too low and meters never gets one proposed that shuts lower, whatever the tank and the limit.
    #[test]
    fn no_advice_to_hold_proposes_a_valve_that_shuts_lower() {
        let mut sample = sample();
        for element in sample.routing.feeds.iter_mut().flat_map(crate::plan::RowFeed::elements_mut) {
            if let FeedElement::Piece(ElementKind::CheckValve, entry) = element {
                *entry = ElementKey::new("strong valve");
            }
        }
        sample.resolve();
        // Of the 2.5 bar that 5 times the cracking pressure are, and more.
        for element in sample.numbers().elements.iter_mut().filter(|one| one.index == 2) {
            element.drop = Some(Pressure::bar(3.0));
        }
        let mut told = 0;
        for limit in [0.4, 3.0, 6.1, 6.2, 12.0, 23.2, 23.4, 40.0] {
            for tank in [0.5, 1.0, 2.0, 4.0, 5.0, 6.0, 9.0] {
                sample.project.supply.control = Control::Metered { limit: Pressure::bar(limit) };
                sample.project.supply.tank_surface = Length::metres(tank);
                for finding in sample.of(super::super::closing_pressure::RULE) {
                    told += 1;
                    let advice = finding.advice;
                    assert!(!advice.contains("shuts 0.15 bar"), "{limit} {tank}: {advice}");
                    assert!(advice.contains("shut it when the pump stops"), "{limit} {tank}: {advice}");
                }
            }
        }
        assert!(told >= 24, "{told}");
    }

    /// The rows have the pair of the catalogue and take too little all the same: no other metering is named.
    #[test]
    fn where_the_metering_suits_the_hoses_or_the_supply_are_named() {
        let mut sample = sample();
        let told = |sample: &Sample| {
            let geometry = sample.geometry();
            let here = Context::new(&sample.project, geometry.with(&sample.routing), &sample.outcome);
            let rows: Vec<RowId> = here.row_paths().iter().map(|path| path.row.row).collect();
            to_meter(&here, &rows)
        };
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(6.2) };
        for (share, cause) in [(0.0, "ask for no less"), (-0.04, "the hoses are the cause")] {
            sample.numbers().rows[0].deviation = Some(crate::quantities::Ratio::from_si(share));
            let advice = told(&sample);
            assert!(advice.contains(cause) && !advice.contains("smaller"), "{share}: {advice}");
        }
        // All rows get too little of a pressure that is held.
        sample.project.supply.control = Control::Held { pressure: Pressure::bar(6.2) };
        if let Some(evenness) = sample.numbers().evenness.as_mut() {
            evenness.mean_deviation = crate::quantities::Ratio::from_si(-0.04);
        }
        let advice = told(&sample);
        assert!(advice.starts_with("raise the 6.20 bar that is held"), "{advice}");
    }

    #[test]
    fn metering_tubes_are_not_chosen_from_the_catalogue() {
        let mut sample = sample();
        sample.meter_with_tubes();
        sample.project.supply.tank_surface = Length::metres(2.0);
        let geometry = sample.geometry();
        let here = Context::new(&sample.project, geometry.with(&sample.routing), &sample.outcome);
        let rows: Vec<RowId> = here.row_paths().iter().map(|path| path.row.row).collect();
        assert_eq!(to_meter(&here, &rows), "cut the metering tubes longer");
        let hold = to_hold(&here, Pressure::bar(0.15));
        assert!(
            hold.starts_with("use the check valve that opens 0.5, shuts 0.45 bar, which holds 0.19 bar"),
            "{hold}"
        );
        assert!(hold.contains("or keep the tank's surface at 1.63 m"), "{hold}");
    }

    /// A longer tube passes less at a pressure that is held: it is advised where the rows have enough, and the supply where they
    /// have too little. That it takes more then is solved in `tests/engine/studies_metering.rs`.
    #[test]
    fn tubes_at_a_held_pressure_are_cut_longer_unless_the_rows_get_too_little() {
        let mut sample = sample();
        sample.meter_with_tubes();
        sample.project.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
        sample.resolve();
        for (mean, advised) in
            [(0.04, "cut the metering tubes longer"), (-0.04, "raise the 2.00 bar that is held")]
        {
            if let Some(evenness) = sample.numbers().evenness.as_mut() {
                evenness.mean_deviation = crate::quantities::Ratio::from_si(mean);
            }
            let geometry = sample.geometry();
            let here = Context::new(&sample.project, geometry.with(&sample.routing), &sample.outcome);
            let rows: Vec<RowId> = here.row_paths().iter().map(|path| path.row.row).collect();
            let advice = to_meter(&here, &rows);
            assert!(advice.starts_with(advised), "{mean}: {advice}");
        }
    }

    /// One row has a metering tube, the others orifices: neither is told what suits the other alone.
    #[test]
    fn what_to_do_about_metering_follows_what_each_row_meters_with() {
        let (mut sample, mut tubed) = (sample(), sample());
        tubed.meter_with_tubes();
        sample.routing.feeds[0] = tubed.routing.feeds[0].clone();
        sample.resolve();
        let geometry = sample.geometry();
        let here = Context::new(&sample.project, geometry.with(&sample.routing), &sample.outcome);
        let rows: Vec<RowId> = here.row_paths().iter().map(|path| path.row.row).collect();
        assert_eq!(to_meter(&here, &rows[..1]), "cut the metering tubes longer");
        let orifices = to_meter(&here, &rows[1..]);
        assert!(!orifices.contains("metering tube"), "{orifices}");
        let both = to_meter(&here, &rows);
        assert!(both.starts_with("row 1: cut the metering tubes longer; rows 2 to 4: "), "{both}");
        assert!(both.ends_with(&orifices), "{both}");
    }
}
