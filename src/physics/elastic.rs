//! Elastic constants of a metal and the sound velocities that belong to them.
//!
//! Isotropic and small strain; cold work and texture move Young's modulus of the precious metals by up to a
//! tenth.

/// What the ring of a piece needs to know of its metal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Elastic {
    /// Young's modulus in GPa, above zero.
    pub young_gpa: f64,
    /// Poisson's ratio, from 0 up to below 0.5.
    pub poisson: f64,
    /// Density in g/cm³, above zero.
    pub density_g_cm3: f64,
}

impl Elastic {
    /// Returns the elastic constants that belong to a longitudinal and a shear velocity.
    ///
    /// Velocities in m/s, the longitudinal above √2 times the shear one; density in g/cm³. E = ρ vs²(3vl² −
    /// 4vs²)/(vl² − vs²) and ν = (vl² − 2vs²)/(2(vl² − vs²)).
    ///
    /// # Source
    /// ASTM E494 (formulas from memory).
    pub fn from_velocities(longitudinal_m_s: f64, shear_m_s: f64, density_g_cm3: f64) -> Elastic {
        let (l, s) = (longitudinal_m_s * longitudinal_m_s, shear_m_s * shear_m_s);
        // 1 g/cm³ times 1 m²/s² is 1e3 Pa, hence 1e-6 GPa.
        let young_gpa = density_g_cm3 * s * (3.0 * l - 4.0 * s) / (l - s) * 1e-6;
        Elastic { young_gpa, poisson: (l - 2.0 * s) / (2.0 * (l - s)), density_g_cm3 }
    }

    /// Returns the velocity of longitudinal waves in the bulk, in m/s.
    pub fn longitudinal_velocity_m_s(&self) -> f64 {
        let stiffening = (1.0 - self.poisson) / ((1.0 + self.poisson) * (1.0 - 2.0 * self.poisson));
        (self.young_gpa * 1e6 * stiffening / self.density_g_cm3).sqrt()
    }

    /// Returns the velocity of shear waves in the bulk, in m/s.
    pub fn shear_velocity_m_s(&self) -> f64 {
        (self.young_gpa * 1e6 / (2.0 * (1.0 + self.poisson) * self.density_g_cm3)).sqrt()
    }
}
