//! The samples of a WAV file.

use std::f64::consts::PI;
use std::io::Cursor;

use super::{FRAME_S, LONGEST_S, RATES_HZ, RecordingError, SHORTEST_DECAY_S};

/// One channel of a recording, full scale being 1.
pub(super) struct Sound {
    pub rate_hz: u32,
    pub channels: u16,
    pub bits: u16,
    /// Least magnitude of a sample at full scale.
    pub full_scale: f64,
    pub samples: Vec<f64>,
}

impl Sound {
    /// Returns how long so many samples last, in seconds.
    pub fn seconds(&self, samples: usize) -> f64 {
        samples as f64 / f64::from(self.rate_hz)
    }

    /// Returns the samples of one step of the loudness.
    pub fn frame(&self) -> usize {
        (f64::from(self.rate_hz) * FRAME_S) as usize
    }
}

/// Reads a WAV file and takes the louder channel.
pub(super) fn read(wav: &[u8]) -> Result<Sound, RecordingError> {
    let mut reader = hound::WavReader::new(Cursor::new(wav)).map_err(not_a_wav)?;
    let spec = reader.spec();
    if !(1..=2).contains(&spec.channels) {
        return Err(RecordingError::Channels { found: spec.channels });
    }
    let (least_hz, greatest_hz) = RATES_HZ;
    if !(least_hz..=greatest_hz).contains(&spec.sample_rate) {
        return Err(RecordingError::Rate { found_hz: spec.sample_rate, least_hz, greatest_hz });
    }
    let declared = reader.len() as usize;
    if declared == 0 {
        return Err(RecordingError::Empty { least_s: SHORTEST_DECAY_S });
    }
    let found_s = f64::from(reader.duration()) / f64::from(spec.sample_rate);
    if found_s > LONGEST_S {
        return Err(RecordingError::TooLong { found_s, greatest_s: LONGEST_S });
    }
    let mut samples = Vec::with_capacity(declared.min(wav.len()));
    let mut fill = |sample: Result<f64, hound::Error>| match sample {
        Ok(value) => {
            samples.push(value);
            Ok(())
        }
        Err(hound::Error::IoError(_)) => Err(RecordingError::Cut { found: samples.len(), declared }),
        Err(error) => Err(not_a_wav(error)),
    };
    let full_scale = match spec.sample_format {
        hound::SampleFormat::Int => {
            let scale = 2f64.powi(i32::from(spec.bits_per_sample) - 1);
            reader.samples::<i32>().try_for_each(|s| fill(s.map(|value| f64::from(value) / scale)))?;
            1.0 - 1.5 / scale
        }
        hound::SampleFormat::Float => {
            reader.samples::<f32>().try_for_each(|s| fill(s.map(f64::from)))?;
            1.0 - 2f64.powi(-14)
        }
    };
    let channels = usize::from(spec.channels);
    if let Some(at) = samples.iter().position(|value| !value.is_finite()) {
        return Err(RecordingError::NotFinite { at_s: (at / channels) as f64 / f64::from(spec.sample_rate) });
    }
    let energy = |channel: usize| -> f64 {
        let values = samples.iter().skip(channel).step_by(channels);
        let mean = values.clone().sum::<f64>() * channels as f64 / samples.len() as f64;
        values.map(|value| (value - mean).powi(2)).sum()
    };
    let louder = if channels == 2 && energy(1) > energy(0) { 1 } else { 0 };
    Ok(Sound {
        rate_hz: spec.sample_rate,
        channels: spec.channels,
        bits: spec.bits_per_sample,
        full_scale,
        samples: samples.into_iter().skip(louder).step_by(channels).collect(),
    })
}

fn not_a_wav(error: hound::Error) -> RecordingError {
    let found = match error {
        hound::Error::FormatError(what) => what.to_owned(),
        hound::Error::IoError(_) => "a file that ends within its header".to_owned(),
        _ => "another way of coding the sound".to_owned(),
    };
    RecordingError::NotAWav { found }
}

/// Removes what lies below the lowest partial: offset, rumble and the first hum harmonics.
///
/// A second-order Butterworth high-pass at 250 Hz.
pub(super) fn high_passed(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let k = (PI * 250.0 / rate_hz).tan();
    let norm = 1.0 / (1.0 + 2f64.sqrt() * k + k * k);
    let (a1, a2) = (2.0 * (k * k - 1.0) * norm, (1.0 - 2f64.sqrt() * k + k * k) * norm);
    let first = samples.first().copied().unwrap_or(0.0);
    let (mut x1, mut x2, mut y1, mut y2) = (first, first, 0.0, 0.0);
    let step = |&x: &f64| {
        let y = norm * (x - 2.0 * x1 + x2) - a1 * y1 - a2 * y2;
        (x2, x1, y2, y1) = (x1, x, y1, y);
        y
    };
    samples.iter().map(step).collect()
}
