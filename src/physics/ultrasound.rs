//! Ultrasonic thickness gauging of flat pieces: travel time through layers and echoes at a core.
//!
//! Longitudinal waves at right angles to the faces; thickness in mm, velocity in m/s, time in µs, frequency
//! in MHz.

/// One flat layer in the sound's way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoundLayer {
    /// Thickness in millimetres, zero or more.
    pub thickness_mm: f64,
    /// Longitudinal velocity in m/s, above zero.
    pub velocity_m_s: f64,
}

/// Returns the time of the echo from the far face, there and back, in microseconds.
///
/// Thickness in mm, velocity in m/s.
pub fn time_of_flight_us(thickness_mm: f64, velocity_m_s: f64) -> f64 {
    2e3 * thickness_mm / velocity_m_s
}

/// Returns the thickness that a gauge set to a velocity shows for an echo time, in millimetres.
///
/// The inverse of [`time_of_flight_us`].
pub fn gauge_thickness_mm(time_us: f64, velocity_m_s: f64) -> f64 {
    0.5e-3 * time_us * velocity_m_s
}

/// Returns the velocity that thickness over travel time gives for a stack of layers, in m/s.
///
/// v = T/Σ(tᵢ/vᵢ). `layers`: any order, at least one of them thick; `None` without thickness.
pub fn apparent_velocity_m_s(layers: &[SoundLayer]) -> Option<f64> {
    let thickness: f64 = layers.iter().map(|layer| layer.thickness_mm).sum();
    let time: f64 = layers.iter().map(|layer| layer.thickness_mm / layer.velocity_m_s).sum();
    (time > 0.0).then(|| thickness / time)
}

/// Returns the apparent velocity of a piece with a core of one share of its thickness, over the skin's own
/// velocity.
///
/// Velocities in one unit, above zero; `core_fraction` of the thickness, from 0 to 1.
pub fn velocity_ratio_of_clad(skin_velocity: f64, core_velocity: f64, core_fraction: f64) -> f64 {
    1.0 / (1.0 - core_fraction + core_fraction * skin_velocity / core_velocity)
}

/// Returns the core's share of the thickness that moves the travel time by a relative amount.
///
/// φ = x/|1 − vs/vc|, x as 0.01 for 1 %; velocities in one unit. Above 1 means that no core of that material
/// is seen; infinite for equal velocities.
pub fn core_fraction_for_velocity_shift(skin_velocity: f64, core_velocity: f64, relative_shift: f64) -> f64 {
    relative_shift / (1.0 - skin_velocity / core_velocity).abs()
}

/// Returns the acoustic impedance in MRayl (10⁶ kg/(m² s)).
///
/// Density in g/cm³, velocity in m/s.
pub fn acoustic_impedance_mrayl(density_g_cm3: f64, velocity_m_s: f64) -> f64 {
    density_g_cm3 * velocity_m_s * 1e-3
}

/// Returns the share of the sound pressure that comes back from a bonded interface, from −1 to 1.
///
/// R = (Z2 − Z1)/(Z2 + Z1); impedances in one unit, the first on the side the sound comes from. A gap
/// reflects everything.
pub fn pressure_reflection(impedance_1: f64, impedance_2: f64) -> f64 {
    (impedance_2 - impedance_1) / (impedance_2 + impedance_1)
}

/// Returns the least thickness whose far echo stands clear of the pulse, in millimetres.
///
/// The pulse lasts `cycles` periods of the probe's frequency (MHz); v·n/(2f). Velocity in m/s. Three cycles
/// at 5 MHz in silver give 1.1 mm.
pub fn minimal_thickness_mm(velocity_m_s: f64, frequency_mhz: f64, cycles: f64) -> f64 {
    0.5e-3 * velocity_m_s * cycles / frequency_mhz
}
