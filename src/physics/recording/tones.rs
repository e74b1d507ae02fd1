//! Which lines of the spectrum are partials of a ring.

use std::f64::consts::PI;

use rustfft::num_complex::Complex;

use super::decay::Decay;
use super::spectrum::{Peak, Spectrum};
use super::{LEAST_OVER_NOISE_DB, Partial, RecordingError, Rejected, Rejection, decibel};

/// Partials weaker than this below the strongest are not listed, in dB.
const WEAKEST_DB: f64 = -45.0;
/// Most partials that are listed.
const MOST_PARTIALS: usize = 12;
/// Most lines that are looked at.
const MOST_LINES: usize = 40;
/// Longest part of the decay over which a tone is followed, in seconds.
const FOLLOWED_S: f64 = 5.0;
/// Half width of the error of a sound recorder's clock, relative. Common practice, no source.
const CLOCK: f64 = 50e-6;
/// Decay time above which a tone is called steady, in seconds. Common practice, no source.
const STEADY_S: f64 = 20.0;
/// Decay time above which a multiple of a mains frequency is called hum, in seconds. Common practice, no source.
const HUM_S: f64 = 1.5;

/// The tones of a decay.
pub(super) struct Tones {
    /// Partials, strongest first; at least one.
    pub partials: Vec<Partial>,
    /// Tones that are none.
    pub rejected: Vec<Rejected>,
    /// Power of the strongest partial in the spectrum.
    pub strongest: f64,
}

/// Sorts the lines of the spectrum into partials and tones that are none.
///
/// # Errors
/// `NoPartial` where no line stands out and fades.
pub(super) fn tones(samples: &[f64], decay: &Decay, spectrum: &Spectrum) -> Result<Tones, RecordingError> {
    let (lines, clearest_db) = spectrum.lines();
    let used = &samples[decay.start..decay.start + decay.used];
    let (first, second) = used.split_at(used.len() / 2);
    let halves = [first, second].map(|half| Spectrum::of(half, spectrum.rate_hz));
    // The skirts of a strong line reach as far as the window rises fast.
    let masked = |line: &Peak| {
        lines.iter().any(|other| {
            decibel(other.power / line.power) > 26.0
                && (other.frequency_hz - line.frequency_hz).abs() < 3.0 / spectrum.rise_s
        })
    };
    let (mut partials, mut set_aside, mut strongest) = (Vec::new(), Vec::new(), 0.0);
    for line in lines.iter().take(MOST_LINES).filter(|&line| !masked(line)) {
        let decay_s = match fading(samples, decay, line, spectrum.rate_hz) {
            Fading::Not(reason) => {
                set_aside.push((line, reason));
                continue;
            }
            Fading::Decays(decay_s) => decay_s,
        };
        if partials.is_empty() {
            strongest = line.power;
        }
        let level_db = decibel(line.power / strongest);
        if partials.len() == MOST_PARTIALS || level_db < WEAKEST_DB {
            break;
        }
        let change = halves.each_ref().map(|half| half.frequency_near(line));
        let uncertainty_hz = uncertainty_hz(line, spectrum, change);
        partials.push(Partial { frequency_hz: line.frequency_hz, uncertainty_hz, level_db, decay_s });
    }
    if partials.is_empty() {
        let found_db = if lines.is_empty() { clearest_db.max(0.0) } else { 0.0 };
        return Err(RecordingError::NoPartial { found_db, least_db: LEAST_OVER_NOISE_DB });
    }
    let rejected = set_aside.into_iter().map(|(line, reason)| Rejected {
        frequency_hz: line.frequency_hz,
        level_db: decibel(line.power / strongest),
        reason,
    });
    let rejected = rejected.filter(|tone| tone.level_db >= WEAKEST_DB).collect();
    Ok(Tones { partials, rejected, strongest })
}

/// Returns the standard uncertainty of a line's frequency, in Hz.
///
/// `change`: the frequency in the first and in the second half of the decay, where it stands out in both.
fn uncertainty_hz(line: &Peak, spectrum: &Spectrum, change: [Option<f64>; 2]) -> f64 {
    // The least variance of a frequency is 6/((2πT)² ρ), and a line of that length is 0.886/T wide; the window
    // costs a third more.
    let noise = 0.6 * line.width_hz / line.over_noise.sqrt();
    let clock = CLOCK * line.frequency_hz / 3f64.sqrt();
    let grid = 0.02 * spectrum.bin_hz;
    let change = match change {
        [Some(first), Some(second)] => (first - second) / 12f64.sqrt(),
        _ => 0.0,
    };
    [noise, clock, grid, change].iter().map(|u| u * u).sum::<f64>().sqrt()
}

/// What becomes of a tone after the strike.
enum Fading {
    /// It fades in this time, in seconds; `None` where it is gone before it can be measured.
    Decays(Option<f64>),
    /// It is no partial.
    Not(Rejection),
}

/// Follows a tone from frame to frame of the decay.
fn fading(samples: &[f64], decay: &Decay, line: &Peak, rate_hz: f64) -> Fading {
    let length_s = (decay.used as f64 / rate_hz / 8.0).clamp(0.006, 0.06);
    let probe = Probe::new((length_s * rate_hz) as usize, line.frequency_hz / rate_hz);
    let (frame, hop) = (probe.weights.len(), (probe.weights.len() / 2).max(1));
    let followed = decay.whole.min((FOLLOWED_S * rate_hz) as usize);
    let part = &samples[decay.start..decay.start + followed];
    let noise = line.noise_density * probe.energy();
    let powers = part.windows(frame).step_by(hop).map(|piece| probe.power(piece));
    let logarithms: Vec<f64> =
        powers.take_while(|&power| power > 10.0 * noise).map(|p| 0.5 * p.ln()).collect();
    let decay_s = (logarithms.len() >= 4).then(|| {
        let slope = slope(&logarithms) * rate_hz / hop as f64;
        if slope < 0.0 { -1.0 / slope } else { f64::INFINITY }
    });
    let mains = [50u32, 60].into_iter().find(|&mains| {
        let order = (line.frequency_hz / f64::from(mains)).round();
        line.frequency_hz < 2000.0 && (line.frequency_hz - order * f64::from(mains)).abs() < 1.5
    });
    if let Some(mains) = mains
        && decay_s.is_none_or(|decay_s| decay_s > HUM_S)
    {
        return Fading::Not(Rejection::Mains(mains));
    }
    let quiet = &samples[decay.quiet.saturating_sub((0.5 * rate_hz) as usize)..decay.quiet];
    if quiet.len() >= frame {
        let before = quiet.chunks_exact(frame).map(|piece| probe.power(piece));
        let before = before.sum::<f64>() / (quiet.len() / frame) as f64;
        let after = part.get(..frame).map_or(0.0, |piece| probe.power(piece));
        if before > 0.1 * after {
            return Fading::Not(Rejection::Steady);
        }
    }
    match decay_s {
        Some(decay_s) if decay_s > STEADY_S => Fading::Not(Rejection::Steady),
        decay_s => Fading::Decays(decay_s),
    }
}

/// A Hann window on one frequency.
struct Probe {
    weights: Vec<Complex<f64>>,
}

impl Probe {
    /// Makes the probe for a piece of so many samples and a tone of so many cycles per sample.
    fn new(length: usize, cycles: f64) -> Probe {
        let turn = 2.0 * PI / length as f64;
        let weight = |index: usize| {
            let hann = 0.5 - 0.5 * (turn * (index as f64 + 0.5)).cos();
            Complex::from_polar(hann, -2.0 * PI * cycles * index as f64)
        };
        Probe { weights: (0..length.max(1)).map(weight).collect() }
    }

    fn energy(&self) -> f64 {
        self.weights.iter().map(Complex::norm_sqr).sum()
    }

    fn power(&self, piece: &[f64]) -> f64 {
        self.weights
            .iter()
            .zip(piece)
            .map(|(weight, sample)| weight * sample)
            .sum::<Complex<f64>>()
            .norm_sqr()
    }
}

/// Returns the slope of the least-squares line through values at 0, 1, 2 …; at least two values.
fn slope(values: &[f64]) -> f64 {
    let count = values.len() as f64;
    let (middle, mean) = ((count - 1.0) / 2.0, values.iter().sum::<f64>() / count);
    let products = values.iter().enumerate().map(|(index, value)| (index as f64 - middle) * (value - mean));
    products.sum::<f64>() / (count * (count * count - 1.0) / 12.0)
}
