//! The whole of what is saved.

use serde::{Deserialize, Serialize};

use super::added_line::AddedLine;
use super::bar::Bar;
use super::catalogue::{Catalogue, EntryKey};
use super::catch_test::CatchTests;
use super::cause_weights::CauseWeights;
use super::dismissal::{Dismissal, FindingSubject};
use super::duty::{Duties, Duty};
use super::limits::Limits;
use super::liquid::Liquid;
use super::revision::{Revision, revisions};
use super::routing::Routing;
use super::spreads::Spreads;
use super::supply::{Control, ReliefValve, Supply};
use super::tag_letters::TagLetters;
use super::transport_limits::TransportLimits;
use super::wetted_material::WettedMaterial;
use super::{DutyId, RoutingId};
use crate::quantities::{Angle, ApplicationRate, Density, Length, Pressure, Speed, Temperature, UnitSystem};

/// One bar with everything asked of it and every way it may be plumbed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Project {
    /// What stands in the title block of its papers.
    pub title: TitleBlock,
    /// Units shown; what is stored is SI.
    pub units: UnitSystem,
    /// What tags start with.
    pub tag_letters: TagLetters,
    /// The bar.
    pub bar: Bar,
    /// What it is used for: one duty at least.
    pub duties: Duties,
    /// Pump and control.
    pub supply: Supply,
    /// What findings are measured against.
    pub limits: Limits,
    /// The widest and the highest that the road allows.
    #[serde(default, skip_serializing_if = "TransportLimits::are_missing")]
    pub transport: TransportLimits,
    /// How parts and liquid scatter about what is planned.
    #[serde(default, skip_serializing_if = "Spreads::are_usual")]
    pub spreads: Spreads,
    /// How common each cause of an uneven catch is.
    #[serde(default, skip_serializing_if = "CauseWeights::are_usual")]
    pub cause_weights: CauseWeights,
    /// Stocks and parts in use and on offer.
    pub catalogue: Catalogue,
    /// What somebody adds to the parts list of every routing, in its order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub added_lines: Vec<AddedLine>,
    /// At least one.
    pub routings: Vec<Routing>,
    /// Findings that the user no longer wants to see.
    pub dismissed: Vec<Dismissal>,
    /// What was caught in the yard, with the bar as it was then.
    #[serde(default, skip_serializing_if = "CatchTests::are_missing")]
    pub catch_tests: CatchTests,
}

/// Name of the only duty of a project that has not been given another.
pub const FIRST_DUTY: &str = "Duty 1";

/// The fields of the title block (after ISO 7200).
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TitleBlock {
    /// Title of the drawing.
    pub title: String,
    /// Legal owner.
    pub owner: String,
    /// Identification number.
    pub number: String,
    /// Revision index.
    pub revision: String,
    /// Who made it.
    pub creator: String,
    /// Who approved it.
    pub approved_by: String,
    /// Anything else, several lines.
    pub notes: String,
    /// What each revision changed, the newest first.
    #[serde(default, deserialize_with = "revisions", skip_serializing_if = "Vec::is_empty")]
    pub changes: Vec<Revision>,
}

impl Project {
    /// What of a catalogue entry the liquid of any duty attacks, as entered for both; nothing where nothing is known.
    pub fn attacked(&self, key: &EntryKey) -> Vec<WettedMaterial> {
        let Some(entry) = self.catalogue.entry(key) else { return Vec::new() };
        let is_attacked =
            |one: &WettedMaterial| self.duties.iter().any(|duty| duty.liquid.attacks.contains(one));
        entry.materials.iter().copied().filter(is_attacked).collect()
    }

    /// Density of the heaviest liquid of its duties, at the temperature of its table where it is heaviest.
    pub fn heaviest_liquid(&self) -> Density {
        let points = self.duties.iter().flat_map(|duty| &duty.liquid.points);
        points.map(|point| point.density).fold(Density::ZERO, Density::max)
    }

    /// A project with an empty routing `A`, and one duty with water and conditions to start from.
    pub fn new(bar: Bar, catalogue: Catalogue) -> Self {
        Self {
            title: TitleBlock::default(),
            units: UnitSystem::Metric,
            tag_letters: TagLetters::TeesTRowFeedsD,
            bar,
            duties: Duties::new(Duty {
                id: DutyId(1),
                name: FIRST_DUTY.to_owned(),
                liquid: Liquid::water(),
                rate: ApplicationRate::litres_per_hectare(60.0),
                slowest: Speed::kilometres_per_hour(7.0),
                usual: Speed::kilometres_per_hour(9.0),
                fastest: Speed::kilometres_per_hour(11.0),
                temperature: Temperature::from_si(15.0),
                side_slope: Angle::ZERO,
                fore_aft_slope: Angle::ZERO,
            }),
            supply: Supply {
                control: Control::Metered { limit: Pressure::bar(4.0) },
                pump: super::supply::PUMP_UNLESS_PLACED,
                tank_surface: Length::metres(1.8),
                pump_rated: Pressure::bar(6.0),
                pump_capacity: None,
                pump_curve: Vec::new(),
                weakest_rated: None,
                relief_valve: ReliefValve::NotSaid,
            },
            limits: Limits::default(),
            transport: TransportLimits::default(),
            spreads: Spreads::default(),
            cause_weights: CauseWeights::default(),
            catalogue,
            added_lines: Vec::new(),
            routings: vec![Routing::empty(RoutingId(1), "A")],
            dismissed: Vec::new(),
            catch_tests: CatchTests::default(),
        }
    }

    /// The duty with an id; the first where there is none with it.
    pub fn duty(&self, id: DutyId) -> &Duty {
        self.duties.get(id).unwrap_or_else(|| self.duties.first())
    }

    /// The number that the papers of a routing bear: where there are several, papers of two must not pass for each other. Empty
    /// where none is entered.
    pub fn document_number(&self, routing: &Routing) -> String {
        let number = self.title.number.trim();
        if self.routings.len() > 1 && !number.is_empty() {
            format!("{number}-{}", routing.name)
        } else {
            number.to_owned()
        }
    }

    /// A routing by its id.
    pub fn routing(&self, id: RoutingId) -> Option<&Routing> {
        self.routings.iter().find(|routing| routing.id == id)
    }

    /// A routing by its name.
    pub fn routing_named(&self, name: &str) -> Option<&Routing> {
        self.routings.iter().find(|routing| routing.name == name)
    }

    /// Forgets hidden findings about things that are gone: their numbers may be given to others.
    pub(super) fn forget_dismissals_of_what_is_gone(&mut self) {
        if self.dismissed.is_empty() {
            return;
        }
        let mut dismissed = std::mem::take(&mut self.dismissed);
        dismissed.retain_mut(|one| {
            let Some(routing) = self.routing(one.routing) else { return false };
            one.subjects.retain(|subject| match *subject {
                FindingSubject::Row(id) => self.bar.row(id).is_some(),
                FindingSubject::Part(id) => routing.part(id).is_some(),
                FindingSubject::Run(id) => routing.run(id).is_some(),
                FindingSubject::Feed(id) => routing.feed(id).is_some(),
                FindingSubject::Routing | FindingSubject::Project => true,
            });
            !one.subjects.is_empty()
        });
        self.dismissed = dismissed;
    }
}
