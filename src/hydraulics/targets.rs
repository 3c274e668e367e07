//! What a row should get, seen from a catch test: how much is caught over a distance or a time, how long a course
//! takes, and what water says about another liquid. The target of a row itself is [`crate::plan::row_target::target`].

use crate::quantities::{ApplicationRate, Density, Flow, Length, Ratio, Speed, Volume};

/// Area of an acre, exactly 43 560 ft² of 0.3048 m.
const ACRE_M2: f64 = 43_560.0 * 0.3048 * 0.3048;

/// Rate that a catch stands for: volume over width times distance. In the field's units
/// `L/ha = 10 · mL / (w[m] · distance[m])`, over 50 m `0.2 · mL / w[m]` (Ontario government, sprayer page ep75).
/// Width and distance above 0.
pub fn rate_of_catch(caught: Volume, width: Length, distance: Length) -> ApplicationRate {
    ApplicationRate::from_si(caught.si() / (width.si() * distance.si()))
}

/// What is caught in a time at a flow.
pub fn caught_in(flow: Flow, seconds: f64) -> Volume {
    Volume::from_si(flow.si() * seconds)
}

/// Seconds a course takes at a speed above 0.
pub fn course_seconds(distance: Length, speed: Speed) -> f64 {
    distance.si() / speed.si()
}

/// Length of a course on which one row of this width covers 1/128 acre, so that US fluid ounces caught are US
/// gallons an acre (University of Georgia Extension, Fertilizer Applicator Calibration: 340.3 ft for 12 in).
pub fn course_of_128th_acre(width: Length) -> Length {
    Length::metres(ACRE_M2 / 128.0 / width.si())
}

/// What water flows through an orifice where the liquid flows 1 at the same pressure: the root of the density
/// ratio. Holds for orifices alone, not for tubes (University of Nebraska, Setting the Sprayer Flow Rate for
/// Non-Water Solutions, 2016).
pub fn water_equivalent(liquid: Density, water: Density) -> Ratio {
    Ratio::from_si((liquid / water).sqrt())
}
