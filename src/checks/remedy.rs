//! What would put a finding right, where there is one plain way: as data, for the session to carry out. Nothing is mended
//! here.

use super::Context;
use crate::hydraulics::first_choice::standing;
use crate::plan::{
    ElementKey, ElementKind, FeedId, Fitting, FittingForm, FittingItem, FittingKey, PartId, PartItem, RowId,
    RunId,
};
use crate::quantities::Length;

/// An end of a hose that an elbow is fitted to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ElbowPlace {
    /// The hose.
    pub run: RunId,
    /// Its start; its end otherwise.
    pub at_start: bool,
    /// The elbow of the catalogue that goes into its bore.
    pub elbow: FittingKey,
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
    FitElbows(Vec<ElbowPlace>),
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
            Self::FitPieces(_, pieces) => {
                let kinds: Vec<&str> = pieces.iter().map(|(kind, _)| kind.words()).collect();
                format!("Fit {}", kinds.join(" and "))
            }
        }
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

    /// The elbow for an end of a hose of a bore: the widest of the catalogue that goes into it.
    pub(super) fn elbow(here: &Context, bore: Length) -> Option<FittingKey> {
        let elbows = here.project.catalogue.of::<FittingKey>().filter_map(|(key, item)| match item {
            FittingItem::Fitting(Fitting { form: FittingForm::Elbow, bore: own, .. })
                if own.si() <= bore.si() =>
            {
                Some((own.si(), key))
            }
            _ => None,
        });
        elbows.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
    }
}

fn best(here: &Context) -> Option<crate::hydraulics::first_choice::Choice> {
    here.choices(standing(here.project, here.duty())).into_iter().next()
}
