//! Ultrasound: the velocity of sound through the thickness, and echoes from inside.

use super::examine::{Examined, Judged};
use super::prediction::{Build, EXCLUDES_AT, Plan, Predicts, Range};
use super::report::Figure;
use crate::evidence::{Instruments, InterfaceEcho, Measurand, Observation, Sound, UltrasoundTest};
use crate::metrology::evaluation::resolution;
use crate::metrology::{Uncertain, UncertainError};
use crate::physics::ultrasound::{acoustic_impedance_mrayl, pressure_reflection, velocity_ratio_of_clad};
use crate::quantity::{Length, Quantity, Velocity};
use crate::reference::{Material, Ranged};
use crate::scoring::assessment::Scope;
use crate::scoring::cause::{Cause, Rule};
use crate::scoring::doubt::{Doubt, DoubtKind, Method, Offer, Power};
use crate::scoring::geometry::Measured;
use crate::scoring::trial::Trial;

/// Thinnest flat field on which an echo is separate from its pulse, in mm (common practice).
const FROM_MM: f64 = 1.5;
/// Relative standard uncertainty of the time base or velocity setting of a gauge that is not registered (common practice).
const GAUGE_SHARE: f64 = 0.005;
/// Standard uncertainty of a calliper thickness that was not measured yet, in mm.
const CALLIPER_MM: f64 = 0.012;
/// Sound pressure reflected by an interface that still shows above the noise, 32 dB below a free face (common practice, no source).
const ECHO_FROM: f64 = 0.025;
/// Skin below which an interface echo drowns in the pulse, in mm: one wavelength in gold at 10 MHz.
const ECHO_SKIN_MM: f64 = 0.32;

/// Velocity through the thickness of any build, in m/s, and its echoes.
struct Through {
    own: Ranged<Velocity>,
    impedance: Range,
    /// Thickness where the sound went, in mm.
    thickness: f64,
    echo: Echo,
    /// Whether the whole face was swept.
    swept: bool,
}

/// What was seen of echoes from inside.
#[derive(Clone, Copy)]
enum Echo {
    NotLooked,
    NotSeen,
    Seen,
    At(Measured),
}

impl Through {
    fn of(alloy: &Material, thickness: f64, echo: Echo, swept: bool) -> Self {
        Through { own: alloy.sound_velocity.clone(), impedance: impedance(alloy), thickness, echo, swept }
    }

    /// Returns the velocity of a build whose materials have these velocities.
    fn velocity(&self, build: &Build<'_>, skin: f64, material: f64) -> f64 {
        build.core.map_or(material, |core| {
            let fraction = (1.0 - 2.0 * core.skin / self.thickness).clamp(0.0, 1.0);
            skin * velocity_ratio_of_clad(skin, material, fraction)
        })
    }

    /// Returns the least share of the sound pressure that comes back from the interface.
    fn reflection(&self, material: &Material) -> f64 {
        let core = impedance(material);
        if core.gap(self.impedance) == 0.0 {
            0.0
        } else if core.low > self.impedance.high {
            pressure_reflection(self.impedance.high, core.low).abs()
        } else {
            pressure_reflection(self.impedance.low, core.high).abs()
        }
    }
}

impl Predicts for Through {
    fn range(&self, build: &Build<'_>) -> Option<Range> {
        let (own, core) = (&self.own, &build.material.sound_velocity);
        Some(Range::between(
            self.velocity(build, own.low.as_m_per_s(), core.low.as_m_per_s()),
            self.velocity(build, own.high.as_m_per_s(), core.high.as_m_per_s()),
        ))
    }

    fn centre(&self, build: &Build<'_>) -> Option<f64> {
        let core = build.material.sound_velocity.value.as_m_per_s();
        Some(self.velocity(build, self.own.value.as_m_per_s(), core))
    }

    fn sees_inserts(&self) -> bool {
        self.swept
    }

    fn sign(&self, build: &Build<'_>) -> bool {
        build.core.is_some_and(|core| core.skin >= ECHO_SKIN_MM)
            && self.reflection(build.material) >= ECHO_FROM
    }

    fn sign_excludes(&self, build: &Build<'_>) -> bool {
        match (self.echo, build.core) {
            (Echo::NotLooked, _) => false,
            (Echo::NotSeen, _) => self.sign(build),
            (Echo::Seen | Echo::At(_), None) => true,
            (Echo::Seen, Some(_)) => false,
            // An echo may come from either interface.
            (Echo::At(depth), Some(core)) => {
                let far = self.thickness - core.skin;
                let off = (depth.value - core.skin).abs().min((depth.value - far).abs());
                off >= EXCLUDES_AT * depth.u
            }
        }
    }
}

/// Returns least and greatest acoustic impedance of a material, in MRayl.
fn impedance(material: &Material) -> Range {
    let of = |density: f64, velocity: f64| acoustic_impedance_mrayl(density, velocity);
    Range {
        low: of(material.density.low.as_g_per_cm3(), material.sound_velocity.low.as_m_per_s()),
        high: of(material.density.high.as_g_per_cm3(), material.sound_velocity.high.as_m_per_s()),
    }
}

/// Returns the relative standard uncertainty of the desk's gauge at a thickness in mm: as registered, else by common practice.
fn gauge_share(instruments: &Instruments, thickness: f64) -> f64 {
    let Some(gauge) = instruments.gauge() else { return GAUGE_SHARE };
    let value = Length::from_millimetres(thickness);
    let step = gauge.digit_step.unwrap_or(Length::from_base(1));
    let shown = Observation { value, step, stated: None };
    crate::scoring::budget::length(Measurand::Thickness, &shown, gauge).u() / thickness
}

/// Plans a measurement on a flat field.
pub(crate) fn plan(trial: &Trial<'_>) -> Result<Plan, String> {
    let thickness = trial.geometry.whole_thickness().ok_or("the thickness is not known")?;
    if thickness < FROM_MM {
        return Err(format!("{thickness:.2} mm is too thin, it needs {FROM_MM} mm"));
    }
    let calliper = trial.geometry.thickness.map_or(0.0, |t| t.u).max(CALLIPER_MM);
    let predicts = Through::of(trial.alloy, thickness, Echo::NotLooked, true);
    let gauge = gauge_share(trial.instruments, thickness);
    let velocity = predicts.own.value.as_m_per_s();
    let declared = Range { low: predicts.own.low.as_m_per_s(), high: predicts.own.high.as_m_per_s() };
    let u = velocity * gauge.hypot(calliper / thickness);
    Ok(Plan { u, predicts: Box::new(predicts), declared, good: velocity })
}

const CALLIPER: &str = "thickness by calliper";
const SHOWN: &str = "what the gauge shows";
const GAUGE: &str = "gauge";

/// Judges a measurement that was made.
pub(crate) fn examine(trial: &Trial<'_>, test: &UltrasoundTest) -> Examined {
    let thickness = test.thickness.value.as_millimetres();
    let shown = match &test.sound {
        Sound::TimeOfFlight(time) => format!("{:.3} µs there and back", time.value.as_microseconds()),
        Sound::Gauge { set_to, shown } => {
            format!("{} shown at {}", shown.value.show(3), set_to.show(0))
        }
    };
    let how = format!("{} by calliper, {shown}", test.thickness.value.show(3));
    let unusable = |reason: String| Examined::unusable(Method::Ultrasound, how.clone(), reason);
    if thickness < FROM_MM {
        return unusable(format!("{thickness:.2} mm is too thin: the echo is not separate from the pulse"));
    }
    let velocity = match velocity(trial, test) {
        Ok(velocity) if velocity.value() > 0.0 => velocity,
        Ok(_) => return unusable("no velocity follows from these readings".to_owned()),
        Err(error) => return unusable(error.to_string()),
    };
    let echo = match &test.echo {
        InterfaceEcho::NotLooked => Echo::NotLooked,
        InterfaceEcho::NotSeen => Echo::NotSeen,
        InterfaceEcho::Seen => Echo::Seen,
        InterfaceEcho::AtDepth(depth) => {
            let value = depth.value.as_millimetres();
            let step = depth.step.as_millimetres();
            let own = gauge_share(trial.instruments, thickness) * value;
            let u = depth.stated.map_or(step.hypot(own), |u| u.as_millimetres());
            Echo::At(Measured { value, u: u.max(resolution(step)) })
        }
    };
    let mut examined = Judged {
        method: Method::Ultrasound,
        how,
        predicts: Box::new(Through::of(trial.alloy, thickness, echo, test.swept)),
        value: velocity,
        figure: Figure::velocity,
        sources: &[
            (CALLIPER, "repeatability, digit step and limit of error of the calliper"),
            (SHOWN, "digit step / √12 (JCGM 100:2008, F.2.2.1), or as stated"),
            (GAUGE, "gauge of the register; else time base or velocity setting 0.5 %, common practice"),
        ],
    }
    .examined(trial);
    let seen = match echo {
        Echo::Seen => Some(None),
        Echo::At(depth) => Some(Some(Length::from_millimetres(depth.value))),
        Echo::NotLooked | Echo::NotSeen => None,
    };
    examined.doubts.extend(seen.map(|depth| {
        let offers = vec![
            Offer::always(Method::Ultrasound, Power::Narrows, Rule::Sweep),
            Offer::always(Method::Assay, Power::Settles, Rule::Laboratory),
        ];
        Doubt::new(DoubtKind::HiddenCore, Scope::Piece, Cause::Echo { depth }, offers)
    }));
    examined
}

/// Returns the velocity in m/s with what each reading contributes.
fn velocity(trial: &Trial<'_>, test: &UltrasoundTest) -> Result<Uncertain, UncertainError> {
    let instrument = trial.instruments.for_length(Measurand::Thickness);
    let calliper = crate::scoring::budget::length(Measurand::Thickness, &test.thickness, instrument);
    let thickness = Uncertain::new(test.thickness.value.as_millimetres(), calliper.u(), CALLIPER)?;
    let share = gauge_share(trial.instruments, test.thickness.value.as_millimetres());
    let gauge = Uncertain::new(1.0, share, GAUGE)?;
    let velocity = match &test.sound {
        Sound::TimeOfFlight(time) => {
            let step = resolution(time.step.as_microseconds());
            let u = time.stated.map_or(step, |u| u.as_microseconds().max(step));
            let time = Uncertain::new(time.value.as_microseconds(), u, SHOWN)?;
            thickness.scale(2e3).div(&time)?
        }
        Sound::Gauge { set_to, shown } => {
            let step = resolution(shown.step.as_millimetres());
            let u = shown.stated.map_or(step, |u| u.as_millimetres().max(step));
            let shown = Uncertain::new(shown.value.as_millimetres(), u, SHOWN)?;
            thickness.scale(set_to.as_m_per_s()).div(&shown)?
        }
    };
    Ok(&velocity * &gauge)
}
