//! The spectrum of a decay and the lines in it.

use std::f64::consts::{LN_2, PI};

use rustfft::{FftPlanner, num_complex::Complex};

use super::{FRAME_S, LEAST_OVER_NOISE_DB, LOWEST_HZ, SpectrumPoint, decibel};

/// Most points of the spectrum that is handed on for plotting.
const PLOT_POINTS: usize = 600;
/// Highest frequency of the plotted spectrum, in Hz.
const PLOT_HIGHEST_HZ: f64 = 24_000.0;

/// The power spectrum of a decay.
pub(super) struct Spectrum {
    power: Vec<f64>,
    pub rate_hz: f64,
    /// Distance of two points, in Hz.
    pub bin_hz: f64,
    /// Sum of the squares of the window.
    window_energy: f64,
    /// Time in which the window rises, in seconds.
    pub rise_s: f64,
    /// Length of the window, in seconds.
    used_s: f64,
}

/// A maximum of the spectrum.
pub(super) struct Peak {
    pub frequency_hz: f64,
    pub power: f64,
    /// Power over the mean power of the noise around.
    pub over_noise: f64,
    /// Width at half the power, in Hz.
    pub width_hz: f64,
    /// Mean power of the noise around per unit of window energy.
    pub noise_density: f64,
}

impl Spectrum {
    /// Returns the spectrum of a piece of sound, four times as dense as it need be.
    pub fn of(samples: &[f64], rate_hz: f64) -> Spectrum {
        let used = samples.len();
        let rise = (used as f64 * 0.05).max(FRAME_S * rate_hz).min(used as f64);
        let size = (4 * used).next_power_of_two();
        let mut values = vec![Complex::new(0.0, 0.0); size];
        let mut window_energy = 0.0;
        for (index, (value, sample)) in values.iter_mut().zip(samples).enumerate() {
            let at = index as f64 + 0.5;
            let phase =
                if at < rise { PI * (at / rise - 1.0) } else { PI * (at - rise) / (used as f64 - rise) };
            let weight = 0.5 + 0.5 * phase.cos();
            window_energy += weight * weight;
            value.re = weight * sample;
        }
        FftPlanner::new().plan_fft_forward(size).process(&mut values);
        let power = values[..=size / 2].iter().map(Complex::norm_sqr).collect();
        Spectrum {
            power,
            rate_hz,
            bin_hz: rate_hz / size as f64,
            window_energy,
            rise_s: rise / rate_hz,
            used_s: used as f64 / rate_hz,
        }
    }

    /// Returns the bins in which partials are looked for: up to nine tenths of half the sampling rate.
    fn band(&self) -> std::ops::Range<usize> {
        (LOWEST_HZ / self.bin_hz) as usize + 1..(0.45 * self.rate_hz / self.bin_hz) as usize
    }

    /// Returns the mean power of the noise around each bin of the band: a median over 750 Hz, which few
    /// partials leave untouched.
    fn noise(&self) -> Vec<f64> {
        let band = self.band();
        let block = ((250.0 / self.bin_hz) as usize).max(1);
        let blocks: Vec<&[f64]> = self.power[band].chunks(block).collect();
        let mut noise = Vec::new();
        for (index, own) in blocks.iter().enumerate() {
            let mut around = blocks[index.saturating_sub(1)..(index + 2).min(blocks.len())].concat();
            let middle = around.len() / 2;
            let (_, median, _) = around.select_nth_unstable_by(middle, f64::total_cmp);
            // The power of noise is exponentially distributed: its mean is its median over ln 2.
            noise.extend(std::iter::repeat_n(*median / LN_2, own.len()));
        }
        noise
    }

    /// Returns the maxima that stand out of the noise, strongest first, and how far the clearest stands out.
    pub fn lines(&self) -> (Vec<Peak>, f64) {
        let (band, noise) = (self.band(), self.noise());
        // The line of a window that falls as half a cosine is about 1.3/T wide; two closer ones are one.
        let apart = ((1.0 / self.used_s / self.bin_hz) as usize).max(1);
        let least = 10f64.powf(LEAST_OVER_NOISE_DB / 10.0);
        let (mut lines, mut clearest) = (Vec::new(), 0.0f64);
        for (index, &noise) in noise.iter().enumerate() {
            let bin = band.start + index;
            let around = bin.saturating_sub(apart)..(bin + apart + 1).min(self.power.len());
            let power = self.power[bin];
            if power <= 0.0 || self.power[bin - 1] >= power || self.power[around].iter().any(|&p| p > power) {
                continue;
            }
            let over_noise = power / noise.max(1e-30);
            clearest = clearest.max(over_noise);
            if over_noise >= least {
                lines.push(self.peak(bin, over_noise, noise / self.window_energy));
            }
        }
        lines.sort_by(|a, b| b.power.total_cmp(&a.power));
        (lines, decibel(clearest))
    }

    /// Returns a maximum with its frequency between the bins, by a parabola through the logarithms.
    fn peak(&self, bin: usize, over_noise: f64, noise_density: f64) -> Peak {
        let at = |bin: usize| self.power.get(bin).copied().unwrap_or(0.0).max(1e-300).ln();
        let (left, middle, right) = (at(bin - 1), at(bin), at(bin + 1));
        let bend = left - 2.0 * middle + right;
        let shift = if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let half = |step: isize| {
            let mut to = bin;
            while to > 0 && to + 1 < self.power.len() && self.power[to] > 0.5 * self.power[bin] {
                to = to.saturating_add_signed(step);
            }
            to
        };
        Peak {
            frequency_hz: (bin as f64 + shift) * self.bin_hz,
            power: self.power[bin],
            over_noise,
            width_hz: (half(1) - half(-1)) as f64 * self.bin_hz,
            noise_density,
        }
    }

    /// Returns the frequency of the highest point within a line's width of a maximum; `None` where it does not
    /// stand out.
    pub fn frequency_near(&self, peak: &Peak) -> Option<f64> {
        let reach = peak.width_hz.max(1.0 / self.used_s);
        let low = ((peak.frequency_hz - reach) / self.bin_hz).max(1.0) as usize;
        let high = (((peak.frequency_hz + reach) / self.bin_hz) as usize).min(self.power.len() - 2);
        let bin = (low..=high).max_by(|&a, &b| self.power[a].total_cmp(&self.power[b]))?;
        let over_noise = self.power[bin] / (peak.noise_density * self.window_energy).max(1e-30);
        (over_noise > 100.0).then(|| self.peak(bin, over_noise, peak.noise_density).frequency_hz)
    }

    /// Returns at most 600 points that keep the height of every line.
    pub fn decimated(&self, strongest: f64) -> Vec<SpectrumPoint> {
        let last = ((PLOT_HIGHEST_HZ / self.bin_hz) as usize).min(self.power.len() - 1);
        let each = (last + 1).div_ceil(PLOT_POINTS);
        let point = |(index, powers): (usize, &[f64])| {
            let (offset, power) = powers.iter().enumerate().fold((0, -1.0), |best, (offset, &power)| {
                if power > best.1 { (offset, power) } else { best }
            });
            SpectrumPoint {
                frequency_hz: (index * each + offset) as f64 * self.bin_hz,
                level_db: decibel(power / strongest).max(-100.0),
            }
        };
        self.power[..=last].chunks(each).enumerate().map(point).collect()
    }
}
