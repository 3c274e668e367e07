//! What pressure each thing on a bar bears, at the warmest temperature entered: the one place that findings, papers and the
//! pressure test take it from.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::joints::adapters;
use super::wetted_material::WettedMaterial;
use super::{Entry, EntryKey, FeedElement, Item, LaidRouting, PartItem, Project, StockItem};
use crate::quantities::{Measure, Pressure, Temperature, UnitSystem};

/// Ratings are given at this temperature, in degrees Celsius.
pub const RATED_AT: f64 = 20.0;

/// Share of its rating that a thermoplastic keeps at a temperature in degrees Celsius; straight between two points. To 40 °C
/// the coefficients of ISO 13761 for polyethylene (values from memory), taken for every thermoplastic; above it common
/// practice, no source. Beyond the last point nothing of plastic may stand under pressure.
const THERMOPLASTIC: [(f64, f64); 5] =
    [(RATED_AT, 1.0), (30.0, 0.87), (40.0, 0.74), (50.0, 0.6), (60.0, 0.5)];

/// Share of its rating that a thermoplastic keeps, from 0 (60 °C is passed) to 1 (up to 20 °C).
pub fn thermoplastic_share(temperature: Temperature) -> f64 {
    let celsius = temperature.si();
    let between = |pair: &[(f64, f64)]| {
        let ((cold, most), (warm, least)) = (pair[0], pair[1]);
        (celsius <= warm).then(|| most + (least - most) * ((celsius - cold) / (warm - cold)).max(0.0))
    };
    THERMOPLASTIC.windows(2).find_map(between).unwrap_or(0.0)
}

/// What a rating is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RatedThing {
    /// All there is of a catalogue entry; of gauges the full scale counts.
    Entry(EntryKey),
    /// The pump.
    Pump,
    /// What has no rating of its own, as entered under Supply.
    WeakestPart,
}

/// What something bears.
#[derive(Debug, Clone, PartialEq)]
pub struct Rating {
    /// What it is of.
    pub of: RatedThing,
    /// As its maker gives it, at 20 °C; above 0.
    pub given: Pressure,
    /// At the temperature that was asked for; 0 where a thermoplastic is too warm to bear any.
    pub pressure: Pressure,
}

impl Rating {
    /// It bears less than its maker's figure, since it gets warmer than that holds for.
    pub fn is_derated(&self) -> bool {
        self.pressure < self.given
    }
}

/// What stands under pressure and has no rating of its own. What holds a row's outlet at its opener is not counted: it is
/// open to the air.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Unrated {
    /// Entries of the catalogue that are in use, in the catalogue's order.
    pub entries: Vec<EntryKey>,
    /// Reducers and adapters, which no entry stands for.
    pub adapters: usize,
    /// Stocks of metering tube whose end fittings no entry stands for.
    pub metering_ends: Vec<EntryKey>,
}

impl Unrated {
    /// Everything has a rating.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// What they are, in words, each kind once.
    pub fn words(&self, project: &Project) -> Vec<String> {
        let mut words: Vec<String> = Vec::new();
        for key in &self.entries {
            let Some(entry) = project.catalogue.entry(key) else { continue };
            let description = entry.description.trim();
            words.push(if description.is_empty() {
                format!("{} of {}", entry.item.kind(), entry.item.size(project.units))
            } else {
                description.to_owned()
            });
        }
        match self.adapters {
            0 => {}
            1 => words.push("a reducer or adapter".to_owned()),
            many => words.push(format!("{many} reducers or adapters")),
        }
        if !self.metering_ends.is_empty() {
            words.push("end fittings of metering tubes".to_owned());
        }
        words
    }
}

impl Entry {
    /// Something of it is a thermoplastic, or nobody said what it is made of. A gauge's full scale is no strength.
    fn is_thermoplastic(&self) -> bool {
        let is_gauge = matches!(self.item, Item::Part(PartItem::Gauge(_)));
        !is_gauge
            && (self.materials.is_empty()
                || self.materials.iter().copied().any(WettedMaterial::is_thermoplastic))
    }

    /// What it bears at a temperature, if its rating is known.
    pub fn rating(&self, temperature: Temperature) -> Option<Rating> {
        let given = self.item.rated()?;
        let share = if self.is_thermoplastic() { thermoplastic_share(temperature) } else { 1.0 };
        Some(Rating { of: RatedThing::Entry(self.key.clone()), given, pressure: given * share })
    }
}

/// The entries that a routing uses, in the catalogue's order.
fn in_use<'a>(project: &'a Project, routing: LaidRouting) -> impl Iterator<Item = &'a Entry> {
    let mut used: BTreeSet<EntryKey> = routing.parts.iter().map(|part| part.entry.any().clone()).collect();
    for run in &routing.runs {
        used.insert(run.line.stock.any().clone());
        used.extend(run.fittings.iter().map(|one| one.any().clone()));
    }
    for feed in &routing.feeds {
        used.extend(feed.elements().map(|element| element.entry().clone()));
        used.extend(feed.split.iter().map(|split| split.entry.any().clone()));
    }
    project.catalogue.entries.iter().filter(move |entry| used.contains(&entry.key))
}

/// Every rating that is known: of the entries in use, the pump, and what was entered for the weakest part. The last two hold
/// as they are entered, whatever the temperature.
pub fn ratings(project: &Project, routing: LaidRouting, temperature: Temperature) -> Vec<Rating> {
    let supply = &project.supply;
    let entered = |of, pressure| Rating { of, given: pressure, pressure };
    let mut all: Vec<Rating> =
        in_use(project, routing).filter_map(|entry| entry.rating(temperature)).collect();
    all.push(entered(RatedThing::Pump, supply.pump_rated));
    all.extend(supply.weakest_rated.map(|pressure| entered(RatedThing::WeakestPart, pressure)));
    all
}

/// What of a routing has no rating of its own.
pub fn unrated(project: &Project, routing: LaidRouting) -> Unrated {
    let entries = in_use(project, routing).filter(|entry| entry.item.rated().is_none());
    let has_ends = |element: &&FeedElement| {
        let entry = project.catalogue.entry(element.entry());
        entry.is_some_and(|entry| {
            matches!(entry.item, Item::Stock(StockItem::MeteringTube(_))) && entry.end_fittings().is_some()
        })
    };
    let tubes = routing.feeds.iter().flat_map(|feed| feed.elements()).filter(has_ends);
    let metering_ends: BTreeSet<EntryKey> = tubes.map(|element| element.entry().clone()).collect();
    Unrated {
        entries: entries.map(|entry| entry.key.clone()).collect(),
        adapters: adapters(project, routing).len(),
        metering_ends: metering_ends.into_iter().collect(),
    }
}

/// The lowest rating of all that is on the bar; what is not known, while that keeps it from being told.
///
/// # Errors
///
/// What has no rating of its own, while none was entered under Supply for the weakest of it.
pub fn lowest(project: &Project, routing: LaidRouting, temperature: Temperature) -> Result<Rating, Unrated> {
    if project.supply.weakest_rated.is_none() {
        let missing = unrated(project, routing);
        if !missing.is_empty() {
            return Err(missing);
        }
    }
    let all = ratings(project, routing, temperature);
    let least = all.into_iter().reduce(|a, b| if b.pressure < a.pressure { b } else { a });
    least.ok_or_else(Unrated::default)
}

impl Project {
    /// The warmest temperature that was entered: that of the warmest duty.
    pub fn warmest(&self) -> Temperature {
        let all = self.duties.iter().map(|duty| duty.temperature);
        all.reduce(Temperature::max).unwrap_or(self.duties.first().temperature)
    }

    /// Whose a rating is, with what it was before it was derated: `tube of 6 mm, 9.00 bar at 20 °C`.
    pub fn rating_words(&self, rating: &Rating) -> String {
        let units: UnitSystem = self.units;
        let mut words = match &rating.of {
            RatedThing::Entry(key) => self.catalogue.entry(key).map_or_else(
                || key.to_string(),
                |entry| match &entry.item {
                    Item::Stock(_) => format!("{} of {}", entry.item.kind(), entry.item.size(units)),
                    Item::Part(PartItem::Gauge(_)) => "the gauge's full scale".to_owned(),
                    Item::Part(_) | Item::Element(_) | Item::Fitting(_) => entry.item.kind().to_owned(),
                },
            ),
            RatedThing::Pump => "the pump".to_owned(),
            RatedThing::WeakestPart => "the weakest part, as entered under Supply".to_owned(),
        };
        if rating.is_derated() {
            let _ = write!(
                words,
                ", {} at {}",
                Measure::Pressure.text(rating.given.si(), units),
                Measure::Temperature.short_text(RATED_AT, units)
            );
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 13761 for polyethylene: 1.00, 0.87 and 0.74 at 20, 30 and 40 °C.
    #[test]
    fn plastic_bears_less_the_warmer_it_is_and_nothing_beyond_sixty_degrees() {
        let share = |celsius| thermoplastic_share(Temperature::from_si(celsius));
        for (celsius, expected) in
            [(-5.0, 1.0), (20.0, 1.0), (25.0, 0.935), (30.0, 0.87), (40.0, 0.74), (60.0, 0.5), (60.1, 0.0)]
        {
            assert!((share(celsius) - expected).abs() < 1e-9, "{celsius}: {}", share(celsius));
        }
    }
}
