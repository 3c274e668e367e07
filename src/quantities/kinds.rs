//! The newtypes. All hold one finite-or-not `f64` in the unit their documentation names; files can't bring
//! in a value that is not finite, because reading one is an error.

use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use serde::{Deserialize, Deserializer, Serialize, de::Error as _};

/// What all quantities share: one number in the unit they are stored in.
pub trait Quantity: Copy + PartialOrd {
    /// From the stored unit (SI; degrees Celsius for temperature).
    fn from_si(value: f64) -> Self;
    /// In the stored unit (SI; degrees Celsius for temperature).
    fn si(self) -> f64;
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("Zero ", $unit, ".")]
            pub const ZERO: Self = Self(0.0);
            #[doc = concat!("From ", $unit, ".")]
            pub const fn from_si(value: f64) -> Self { Self(value) }
            #[doc = concat!("In ", $unit, ".")]
            pub const fn si(self) -> f64 { self.0 }
            /// Neither NaN nor infinite.
            pub const fn is_finite(self) -> bool { self.0.is_finite() }
            /// The size without the sign.
            #[must_use]
            pub const fn abs(self) -> Self { Self(self.0.abs()) }
            /// The larger of two.
            #[must_use]
            pub const fn max(self, other: Self) -> Self { Self(self.0.max(other.0)) }
            /// The smaller of two.
            #[must_use]
            pub const fn min(self, other: Self) -> Self { Self(self.0.min(other.0)) }
        }
        impl Quantity for $name {
            fn from_si(value: f64) -> Self { Self(value) }
            fn si(self) -> f64 { self.0 }
        }
        impl Add for $name { type Output = Self; fn add(self, other: Self) -> Self { Self(self.0 + other.0) } }
        impl Sub for $name { type Output = Self; fn sub(self, other: Self) -> Self { Self(self.0 - other.0) } }
        impl AddAssign for $name { fn add_assign(&mut self, other: Self) { self.0 += other.0; } }
        impl SubAssign for $name { fn sub_assign(&mut self, other: Self) { self.0 -= other.0; } }
        impl Neg for $name { type Output = Self; fn neg(self) -> Self { Self(-self.0) } }
        impl Mul<f64> for $name { type Output = Self; fn mul(self, by: f64) -> Self { Self(self.0 * by) } }
        impl Div<f64> for $name { type Output = Self; fn div(self, by: f64) -> Self { Self(self.0 / by) } }
        impl Div for $name { type Output = f64; fn div(self, by: Self) -> f64 { self.0 / by.0 } }
        impl Sum for $name { fn sum<I: Iterator<Item = Self>>(all: I) -> Self { Self(all.fold(0.0, |sum, one| sum + one.0)) } }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let value = f64::deserialize(from)?;
                if value.is_finite() {
                    Ok(Self(value))
                } else {
                    Err(D::Error::custom(concat!("not a finite number; write a plain number in ", $unit)))
                }
            }
        }
    };
}

quantity!(
    /// A length in metres.
    Length,
    "metres"
);
quantity!(
    /// A pressure or a pressure difference in pascals; pressures are gauge (0 = atmosphere) unless said otherwise.
    Pressure,
    "pascals"
);
quantity!(
    /// A volume flow in cubic metres per second.
    Flow,
    "cubic metres per second"
);
quantity!(
    /// A volume in cubic metres.
    Volume,
    "cubic metres"
);
quantity!(
    /// A mass in kilograms.
    Mass,
    "kilograms"
);
quantity!(
    /// A speed in metres per second: of the bar over the ground, or of liquid in a hose.
    Speed,
    "metres per second"
);
quantity!(
    /// Volume applied per area in cubic metres per square metre (1 L/ha = 1e-7 m).
    ApplicationRate,
    "cubic metres per square metre"
);
quantity!(
    /// A temperature in degrees Celsius (kelvin appears only inside property formulas).
    Temperature,
    "degrees Celsius"
);
quantity!(
    /// A density in kilograms per cubic metre.
    Density,
    "kilograms per cubic metre"
);
quantity!(
    /// A dynamic viscosity in pascal seconds (1 mPa·s = 1 cP = 0.001 Pa·s).
    Viscosity,
    "pascal seconds"
);
quantity!(
    /// How hard a hose is to bend: moment over curvature, in newton square metres.
    BendingStiffness,
    "newton square metres"
);
quantity!(
    /// Mass per length in kilograms per metre.
    MassPerLength,
    "kilograms per metre"
);
quantity!(
    /// An angle in radians.
    Angle,
    "radians"
);
quantity!(
    /// A plain ratio; 0.05 is 5 %.
    Ratio,
    "plain ratio (0.05 is 5 %)"
);

impl Length {
    /// From metres.
    pub const fn metres(value: f64) -> Self {
        Self(value)
    }
    /// From millimetres.
    pub const fn millimetres(value: f64) -> Self {
        Self(value / 1000.0)
    }
    /// In millimetres.
    pub const fn as_millimetres(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Volume {
    /// From millilitres.
    pub const fn millilitres(value: f64) -> Self {
        Self(value * 1e-6)
    }
    /// In millilitres.
    pub const fn as_millilitres(self) -> f64 {
        self.0 * 1e6
    }
}

impl Mass {
    /// From grams.
    pub const fn grams(value: f64) -> Self {
        Self(value * 1e-3)
    }
    /// In grams.
    pub const fn as_grams(self) -> f64 {
        self.0 * 1e3
    }
}

impl Pressure {
    /// From bar (1 bar = 100 000 Pa).
    pub const fn bar(value: f64) -> Self {
        Self(value * 1e5)
    }
    /// From kilopascals.
    pub const fn kilopascals(value: f64) -> Self {
        Self(value * 1e3)
    }
    /// In kilopascals.
    pub const fn as_kilopascals(self) -> f64 {
        self.0 / 1e3
    }
}

impl Flow {
    /// From litres per minute.
    pub const fn litres_per_minute(value: f64) -> Self {
        Self(value / 60_000.0)
    }
    /// In litres per minute.
    pub const fn as_litres_per_minute(self) -> f64 {
        self.0 * 60_000.0
    }
}

impl Speed {
    /// From kilometres per hour.
    pub const fn kilometres_per_hour(value: f64) -> Self {
        Self(value / 3.6)
    }
    /// In kilometres per hour.
    pub const fn as_kilometres_per_hour(self) -> f64 {
        self.0 * 3.6
    }
}

impl ApplicationRate {
    /// From litres per hectare.
    pub const fn litres_per_hectare(value: f64) -> Self {
        Self(value * 1e-7)
    }
    /// In litres per hectare.
    pub const fn as_litres_per_hectare(self) -> f64 {
        self.0 * 1e7
    }
}

impl Viscosity {
    /// From millipascal seconds (centipoise).
    pub const fn millipascal_seconds(value: f64) -> Self {
        Self(value / 1000.0)
    }
}

impl Angle {
    /// From degrees.
    pub const fn degrees(value: f64) -> Self {
        Self(value.to_radians())
    }
    /// As a slope in per cent (the tangent times 100).
    pub fn as_slope_percent(self) -> f64 {
        self.0.tan() * 100.0
    }
    /// The same direction from 0 to below a whole turn; a whole turn less a rounding is no turn.
    ///
    /// ```
    /// use equirow::quantities::Angle;
    /// assert_eq!(Angle::degrees(-90.0).within_a_turn(), Angle::degrees(270.0));
    /// assert_eq!(Angle::from_si(-1e-15).within_a_turn(), Angle::ZERO);
    /// ```
    #[must_use]
    pub fn within_a_turn(self) -> Self {
        let turn = self.0.rem_euclid(std::f64::consts::TAU);
        Self(if std::f64::consts::TAU - turn < 1e-9 { 0.0 } else { turn })
    }
}

impl Ratio {
    /// From per cent.
    pub const fn percent(value: f64) -> Self {
        Self(value / 100.0)
    }
    /// In per cent.
    pub const fn as_percent(self) -> f64 {
        self.0 * 100.0
    }
}
