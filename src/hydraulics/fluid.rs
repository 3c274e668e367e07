//! The liquid that a network is filled with.

/// A Newtonian liquid of constant density.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fluid {
    /// Density, kg/m³, > 0.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa s, > 0.
    pub viscosity_pa_s: f64,
}
