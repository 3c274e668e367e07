//! Numbers with units.
//!
//! Every physical quantity that crosses a module's border is one of the newtypes in [`kinds`]; inside, the
//! value is SI (metres, pascals, cubic metres per second; temperature alone is in degrees Celsius, as the
//! field writes it). What a person reads or types goes through one table, [`Measure`]: it says which unit
//! a quantity has in each [`UnitSystem`], with how many decimals, and which other units may be typed.
//!
//! Never here: anything about bars, liquids or screens. Start reading at [`Measure`].

mod digits;
mod kinds;
mod measure;
pub mod number_marks;
mod parse;
mod sixteenths;
mod stored_unit;

pub(crate) use digits::decimals;
pub use digits::plain;
pub use kinds::{
    Angle, ApplicationRate, BendingStiffness, Density, Flow, Length, Mass, MassPerLength, Pressure, Quantity,
    Ratio, Speed, Temperature, Viscosity, Volume,
};
pub use measure::{Measure, Unit, UnitSystem};
pub use parse::ParseNumberError;

/// Standard gravity in m/s² (3rd CGPM 1901, exact by definition).
pub const GRAVITY_M_S2: f64 = 9.80665;
