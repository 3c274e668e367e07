//! What would put a finding right, where there is one plain way: as data, for the session to carry out. Nothing is mended
//! here.

use super::Context;
use crate::hydraulics::first_choice::most_standing;
use crate::plan::joints::{fitting_that_fits, fittings_for};
use crate::plan::{
    ElementKey, ElementKind, End, FeedId, FittingForm, FittingKey, PartId, PartItem, Project, Routing, RowId,
    Run, RunId, StockItem, StockKey, words,
};

/// An end of a hose, and what is fitted to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FittingPlace {
    /// The hose.
    pub run: RunId,
    /// Its start; its end otherwise.
    pub at_start: bool,
    /// The fitting of the catalogue that goes into its bore.
    pub fitting: FittingKey,
}

/// What puts a finding right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Remedy {
    /// Blanking plugs on all open outlets of these manifolds.
    PlugOutlets(Vec<PartId>),
    /// Free outlets of the nearest manifolds for these rows.
    FeedRows(Vec<RowId>),
    /// These row feeds go, and plugs close the outlets they leave.
    RemoveFeeds(Vec<FeedId>),
    /// Elbows where hoses turn at a port.
    FitElbows(Vec<FittingPlace>),
    /// Fittings whose threads are those of the ports, in place of a reducer or adapter each.
    MatchFittings(Vec<FittingPlace>),
    /// These hoses from wider stock, with the fittings that are usual for it.
    WidenHoses(Vec<(RunId, StockKey)>),
    /// These hoses from stock that fits the ports at both ends as it is, with fittings made for it.
    MatchHoses(Vec<(RunId, StockKey)>),
    /// The tubes of these row feeds from stock that fits what they are joined to.
    MatchTubes(Vec<FeedId>, StockKey),
    /// These pieces in the feeds of these rows, in place of what is there of their kinds.
    FitPieces(Vec<RowId>, Vec<(ElementKind, ElementKey)>),
}

impl Remedy {
    /// What a button says that carries it out.
    pub fn label(&self) -> String {
        match self {
            Self::PlugOutlets(_) => "Plug open outlets".to_owned(),
            Self::FeedRows(_) => "Feed from the nearest manifold".to_owned(),
            Self::RemoveFeeds(feeds) if feeds.len() == 1 => "Remove the row feed".to_owned(),
            Self::RemoveFeeds(_) => "Remove the row feeds".to_owned(),
            Self::FitElbows(places) if places.len() == 1 => "Fit an elbow".to_owned(),
            Self::FitElbows(_) => "Fit elbows".to_owned(),
            Self::MatchFittings(places) if places.len() == 1 => "Fit a barb that suits the port".to_owned(),
            Self::MatchFittings(_) => "Fit barbs that suit the ports".to_owned(),
            Self::WidenHoses(hoses) if hoses.len() == 1 => "Fit a wider hose".to_owned(),
            Self::WidenHoses(_) => "Fit wider hoses".to_owned(),
            Self::MatchHoses(_) => "Fit hose that suits the ports".to_owned(),
            Self::MatchTubes(..) => "Fit tube that suits the outlets".to_owned(),
            Self::FitPieces(_, pieces) => {
                let kinds: Vec<&str> = pieces.iter().map(|(kind, _)| kind.words()).collect();
                format!("Fit {}", kinds.join(" and "))
            }
        }
    }

    /// The same with the hoses of a routing that it is about, and what they are to be where that is one size.
    pub fn label_in(&self, project: &Project, routing: &Routing) -> String {
        let (Self::WidenHoses(hoses) | Self::MatchHoses(hoses)) = self else { return self.label() };
        let tag = |id: &RunId| routing.run(*id).map(|run| run.tag.clone());
        let tags: Vec<String> = hoses.iter().filter_map(|(run, _)| tag(run)).collect();
        let mut sizes: Vec<String> = hoses
            .iter()
            .filter_map(|(_, stock)| Some(project.catalogue.item(stock)?.size(project.units)))
            .collect();
        sizes.dedup();
        let size = match &sizes[..] {
            [one] if !one.is_empty() => format!(" ({one})"),
            _ => String::new(),
        };
        format!("{}: {}{size}", self.label(), words::tags(&tags))
    }

    /// The same with the sizes of pieces too: `Fit metering orifice (0.7 mm)`.
    pub fn detail_in(&self, project: &Project, routing: &Routing) -> String {
        let Self::FitPieces(rows, pieces) = self else { return self.label_in(project, routing) };
        let sized = pieces.iter().map(|(kind, key)| {
            let size = project.catalogue.item(key).map(|item| item.choice(project.units));
            format!("{} ({})", kind.words(), size.unwrap_or_else(|| key.to_string()))
        });
        let sized: Vec<String> = sized.collect();
        format!("Fit {} in {}", words::list(&sized), words::counted(rows.len(), "row"))
    }

    /// Both as one; none where they are not alike.
    #[must_use]
    pub fn with(&self, other: &Self) -> Option<Self> {
        fn all<T: Clone + PartialEq>(a: &[T], b: &[T]) -> Vec<T> {
            let new = b.iter().filter(|one| !a.contains(one));
            a.iter().chain(new).cloned().collect()
        }
        match (self, other) {
            (Self::PlugOutlets(a), Self::PlugOutlets(b)) => Some(Self::PlugOutlets(all(a, b))),
            (Self::FeedRows(a), Self::FeedRows(b)) => Some(Self::FeedRows(all(a, b))),
            (Self::RemoveFeeds(a), Self::RemoveFeeds(b)) => Some(Self::RemoveFeeds(all(a, b))),
            (Self::FitElbows(a), Self::FitElbows(b)) => Some(Self::FitElbows(all(a, b))),
            (Self::MatchFittings(a), Self::MatchFittings(b)) => Some(Self::MatchFittings(all(a, b))),
            (Self::WidenHoses(a), Self::WidenHoses(b)) => Some(Self::WidenHoses(all(a, b))),
            (Self::MatchHoses(a), Self::MatchHoses(b)) => Some(Self::MatchHoses(all(a, b))),
            (Self::MatchTubes(a, stock), Self::MatchTubes(b, other)) if stock == other => {
                Some(Self::MatchTubes(all(a, b), stock.clone()))
            }
            (Self::FitPieces(a, pieces), Self::FitPieces(b, others)) if pieces == others => {
                Some(Self::FitPieces(all(a, b), pieces.clone()))
            }
            _ => None,
        }
    }

    /// The nearest manifolds for these rows, where there is any manifold.
    pub(super) fn feed_rows(here: &Context, rows: &[RowId]) -> Option<Self> {
        let is_manifold = |item: Option<&PartItem>| matches!(item, Some(PartItem::Manifold(_)));
        let any = here.routing.parts.iter().any(|part| is_manifold(here.item(part)));
        any.then(|| Self::FeedRows(rows.to_vec()))
    }

    /// The widest metering orifice that takes enough beside the check valve that suits the bar.
    pub(super) fn meter(here: &Context, rows: &[RowId]) -> Option<Self> {
        let metering = best(here)?.metering?;
        Some(Self::FitPieces(rows.to_vec(), vec![(ElementKind::MeteringOrifice, metering)]))
    }

    /// The check valve that suits the bar.
    pub(super) fn hold(here: &Context, rows: &[RowId]) -> Option<Self> {
        Some(Self::FitPieces(rows.to_vec(), vec![(ElementKind::CheckValve, best(here)?.valve)]))
    }

    /// The narrowest hose of the catalogue at least so many times as wide as a hose, that stands what that stands or the
    /// supply can give.
    pub(super) fn wider(here: &Context, run: RunId, times: f64) -> Option<StockKey> {
        let own = here.project.catalogue.stock(&here.routing.run(run)?.line.stock)?;
        let rated = own.rated.min(here.project.supply.highest_pressure());
        let least = (own.bore * times).si() - 1e-9;
        let hoses = here.project.catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
            StockItem::Hose(hose)
                if hose.bore > own.bore && hose.bore.si() >= least && hose.rated >= rated =>
            {
                Some((hose.bore.si(), key))
            }
            _ => None,
        });
        hoses.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
    }

    /// A hose so wide that it takes no more than this share of the pressure that it takes: friction of a turbulent flow goes
    /// with the 4.75th power of the bore (Blasius 1913), that of a laminar one with the 4th.
    pub(super) fn widen_to_take(here: &Context, run: RunId, share: f64) -> Option<Self> {
        let stock = Self::wider(here, run, share.powf(-1.0 / 4.0))?;
        Some(Self::WidenHoses(vec![(run, stock)]))
    }

    /// The elbow for an end of a hose: of those that go into it one that fits the port as it is, else the most suitable.
    pub(super) fn elbow(here: &Context, run: &Run, end: &End) -> Option<FittingKey> {
        let fits = fitting_that_fits(here.project, here.routing, run, end, FittingForm::Elbow);
        fits.or_else(|| {
            fittings_for(&here.project.catalogue, &run.line.stock, FittingForm::Elbow).into_iter().next()
        })
    }
}

fn best(here: &Context) -> Option<crate::hydraulics::first_choice::Choice> {
    here.choices(most_standing(here.project)).into_iter().next()
}
