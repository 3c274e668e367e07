//! Ends that don't fit as they are: reducers and adapters that have to be ordered and can leak.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::{FittingPlace, Remedy};
use super::words::list;
use super::{Context, Rule};
use crate::plan::feed::with_tube;
use crate::plan::joints::{
    Adapter, AdapterPlace, EndFit, adapters, barb_for, barb_goes_in, fitting_at, fitting_that_fits,
    fittings_for, hose_end, of_feed,
};
use crate::plan::words::tags;
use crate::plan::{End, FeedId, FittingForm, RowFeed, Run, RunId, StockItem, StockKey};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "ends that do not fit",
    about: "Hoses, tubes and ports that need a reducer or adapter between them, by the connections of the catalogue",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let all = adapters(here.project, here.routing);
    let (hoses, feeds): (Vec<Adapter>, Vec<Adapter>) =
        all.into_iter().partition(|one| matches!(one.at, AdapterPlace::Hose(..)));
    let in_feeds = feeds.iter().filter_map(|one| match one.at {
        AdapterPlace::Feed(id) => Some(id),
        AdapterPlace::Hose(..) => None,
    });
    let in_hoses = hoses.iter().filter_map(|one| match one.at {
        AdapterPlace::Hose(id, _) => Some(id),
        AdapterPlace::Feed(_) => None,
    });
    let mut feed_ids: Vec<FeedId> = in_feeds.collect();
    feed_ids.dedup();
    let mut run_ids: Vec<RunId> = in_hoses.collect();
    run_ids.dedup();
    let feed_tags =
        feed_ids.iter().filter_map(|id| Some(here.routing.feed(*id)?.tag.clone())).collect::<Vec<_>>();
    let run_tags =
        run_ids.iter().filter_map(|id| Some(here.routing.run(*id)?.tag.clone())).collect::<Vec<_>>();
    let of_feeds = finding(here, "row feeds", &feeds, &feed_tags).map(|finding| Finding {
        severity: Severity::Warning,
        advice: "choose tube, valve and metering whose ends fit the outlets, or order these pieces"
            .to_owned(),
        remedy: tube_that_fits(here, &feed_ids).map(|stock| Remedy::MatchTubes(feed_ids.clone(), stock)),
        subjects: feed_ids.iter().copied().map(FindingSubject::Feed).collect(),
        ..finding
    });
    let of_hoses = finding(here, "hoses", &hoses, &run_tags).map(|finding| Finding {
        severity: Severity::Note,
        advice: "fit barbs with the threads of the ports, order these pieces, or choose hoses as wide as the ports"
            .to_owned(),
        remedy: fittings_that_fit(here, &hoses).map(Remedy::MatchFittings).or_else(|| {
            Some(hoses_that_fit(here, &run_ids)).filter(|all| !all.is_empty()).map(Remedy::MatchHoses)
        }),
        subjects: run_ids.iter().copied().map(FindingSubject::Run).collect(),
        ..finding
    });
    of_feeds.into_iter().chain(of_hoses).chain(barbs(here)).collect()
}

/// Hoses with barbs that are made for another bore.
fn barbs(here: &Context) -> Option<Finding> {
    let catalogue = &here.project.catalogue;
    let is_amiss = |run: &&Run| run.fittings.iter().any(|key| !barb_goes_in(catalogue, run, key));
    let runs: Vec<&Run> = here.routing.runs.iter().filter(is_amiss).collect();
    let first = runs.first()?;
    let amiss = first.fittings.iter().find(|key| !barb_goes_in(catalogue, first, key))?;
    let count = runs
        .iter()
        .flat_map(|run| run.fittings.iter().filter(|key| !barb_goes_in(catalogue, run, key)))
        .count();
    let what = if count == 1 { "1 barb does".to_owned() } else { format!("{count} barbs do") };
    let hose = here.short(Measure::Bore, catalogue.stock(&first.line.stock)?.bore);
    let made_for: Vec<Option<Vec<FittingPlace>>> =
        runs.iter().map(|run| barbs_that_go_in(here, run)).collect();
    let places: Option<Vec<Vec<FittingPlace>>> = made_for.into_iter().collect();
    Some(Finding {
        severity: Severity::Warning,
        extent: Some(count as f64),
        place: tags(&runs.iter().map(|run| run.tag.clone()).collect::<Vec<_>>()),
        what: format!("{what} not go into the hose: {amiss} in {} of {hose} bore", first.tag),
        advice: "fit barbs that are made for the bore of the hose, or the hose that the barbs are made for"
            .to_owned(),
        remedy: places.map(|all| Remedy::MatchFittings(all.concat())),
        subjects: runs.iter().map(|run| FindingSubject::Run(run.id)).collect(),
        ..here.finding(RULE.name, "barbs")
    })
}

/// For both ends of a hose the fitting of the catalogue that goes into it, an elbow where there is one now; of several the one
/// that fits the port. None where one of them has none.
fn barbs_that_go_in(here: &Context, run: &Run) -> Option<Vec<FittingPlace>> {
    let place = |end: &End| {
        let is_elbow = fitting_at(run, end.port()).is_some_and(|key| here.is_elbow(key));
        let wanted = if is_elbow { FittingForm::Elbow } else { FittingForm::Straight };
        let fits = fitting_that_fits(here.project, here.routing, run, end, wanted);
        let goes_in = || fittings_for(&here.project.catalogue, &run.line.stock, wanted).into_iter().next();
        Some(FittingPlace { run: run.id, at_start: *end == run.from, fitting: fits.or_else(goes_in)? })
    };
    [&run.from, &run.to].into_iter().map(place).collect()
}

/// The tube of the catalogue with which these row feeds need no reducer, the nearest in bore to what they have.
fn tube_that_fits(here: &Context, feeds: &[FeedId]) -> Option<StockKey> {
    let feeds: Vec<&RowFeed> = feeds.iter().filter_map(|id| here.routing.feed(*id)).collect();
    let own = feeds.iter().find_map(|feed| feed.first_tube())?;
    let own = here.project.catalogue.stock(&own.line.stock)?.bore;
    let fits = |stock: &StockKey| {
        feeds.iter().all(|feed| {
            let changed = with_tube(feed, stock);
            let (joints, _) = of_feed(here.project, here.routing, &changed);
            joints.iter().all(|one| !matches!(one.joint, EndFit::With(_)))
        })
    };
    let tubes = here.project.catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
        StockItem::Tube(tube) => Some(((tube.bore - own).si().abs(), key)),
        StockItem::Hose(_) | StockItem::MeteringTube(_) => None,
    });
    let fitting = tubes.filter(|(_, key)| fits(key));
    fitting.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
}

/// For each hose end that needs a piece a fitting that needs none, an elbow where there is one now; none where one of them
/// has none.
fn fittings_that_fit(here: &Context, needed: &[Adapter]) -> Option<Vec<FittingPlace>> {
    let place = |one: &Adapter| {
        let AdapterPlace::Hose(id, end) = one.at else { return None };
        let run = here.routing.run(id)?;
        let is_elbow = fitting_at(run, end.port()).is_some_and(|key| here.is_elbow(key));
        let wanted = if is_elbow { FittingForm::Elbow } else { FittingForm::Straight };
        let fitting = fitting_that_fits(here.project, here.routing, run, &end, wanted)?;
        Some(FittingPlace { run: id, at_start: end == run.from, fitting })
    };
    needed.iter().map(place).collect()
}

/// The hoses that another one fits.
fn hoses_that_fit(here: &Context, runs: &[RunId]) -> Vec<(RunId, StockKey)> {
    runs.iter().filter_map(|id| Some((*id, hose_that_fits(here, *id)?))).collect()
}

/// The hose of the catalogue that fits both ends as it is with its own barbs, the nearest in bore, if the liquid is not too
/// fast in it.
fn hose_that_fits(here: &Context, id: RunId) -> Option<StockKey> {
    let run = here.routing.run(id)?;
    let own = here.project.catalogue.stock(&run.line.stock)?.bore;
    let limit = here.project.limits.hose_velocity;
    let slow_enough = |bore: Length| {
        let now = here.outcome.run(id).and_then(|run| run.velocity).unwrap_or_default();
        now * (own / bore).powi(2) <= limit
    };
    let fits = |stock: &StockKey| {
        let barb = barb_for(&here.project.catalogue, stock);
        let mut changed = run.clone();
        changed.fittings = barb.map_or_else(Vec::new, |barb| vec![barb.clone(), barb]);
        changed.line.stock = stock.clone();
        [&run.from, &run.to].into_iter().all(|end| {
            hose_end(here.project, here.routing, &changed, end).is_none_or(|one| one.joint == EndFit::Fits)
        })
    };
    let hoses = here.project.catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
        StockItem::Hose(hose) if key != run.line.stock && slow_enough(hose.bore) => {
            Some(((hose.bore - own).si().abs(), key))
        }
        _ => None,
    });
    let fitting = hoses.filter(|(_, key)| fits(key));
    fitting.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
}

/// What is needed, counted by piece; none where nothing is.
fn finding(here: &Context, case: &str, needed: &[Adapter], places: &[String]) -> Option<Finding> {
    if needed.is_empty() {
        return None;
    }
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for one in needed {
        *counts.entry(one.piece.as_deref().unwrap_or("not known: ask")).or_default() += 1;
    }
    let pieces: Vec<String> = counts.iter().map(|(piece, count)| format!("{count} × {piece}")).collect();
    let joints =
        if needed.len() == 1 { "1 joint needs".to_owned() } else { format!("{} joints need", needed.len()) };
    Some(Finding {
        extent: Some(needed.len() as f64),
        place: tags(places),
        what: format!(
            "{joints} a reducer or adapter: {} (no entry of the catalogue stands for {}: choose one)",
            list(&pieces),
            if pieces.len() == 1 { "it" } else { "them" }
        ),
        ..here.finding(RULE.name, case)
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::{MANIFOLD, Sample};
    use super::*;
    use crate::plan::{Entry, EntryKey};

    /// The sample with these connections of its manifold and its tube.
    fn made_as(manifold: &str, tube: &str) -> Sample {
        let mut sample = Sample::new();
        let key = sample.routing.part(MANIFOLD).unwrap().entry.clone();
        let stock = sample.routing.feeds[0].first_tube().unwrap().line.stock.clone();
        let set = |entry: &mut Entry, key: &EntryKey, words: &str| {
            if entry.key == *key {
                words.clone_into(&mut entry.connection);
            }
        };
        for entry in &mut sample.project.catalogue.entries {
            set(entry, &key, manifold);
            set(entry, &stock, tube);
        }
        sample
    }

    #[test]
    fn row_feeds_that_need_reducers_are_one_warning_with_their_count() {
        let finding = made_as("outlets 8 mm push-in", "plain ends, 6 mm outside").only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Warning, "T1 to T4"));
        assert_eq!(
            finding.what,
            "4 joints need a reducer or adapter: 4 × Push-in reducer 8 mm stem x push-in for 6 mm tube (no entry of the \
             catalogue stands for it: choose one)"
        );
        assert_eq!(finding.subjects.len(), 4);
        assert!(made_as("outlets 8 mm push-in", "plain ends, 8 mm outside").of(RULE).is_empty());
        assert!(
            made_as("outlets 8 mm push-in", "").of(RULE).is_empty(),
            "nothing is said of what is not known"
        );
    }

    #[test]
    fn hoses_wider_than_their_ports_are_a_note() {
        let mut sample = Sample::new();
        for entry in &mut sample.project.catalogue.entries {
            if let crate::plan::Item::Part(crate::plan::PartItem::InletFilter(filter)) = &mut entry.item {
                filter.bore = filter.bore * 2.0;
            }
        }
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.kind.case.as_str()), (Severity::Note, "hoses"));
        assert!(finding.what.starts_with("2 joints need"), "{}", finding.what);
    }
}
