//! The ring test from a recording: the partials of a struck piece out of the bytes of a WAV file.
//!
//! What it is for: find the strike, take the free decay that follows it, and name the frequencies that sound,
//! each with its uncertainty and its decay time, so that [`crate::physics::ring`] can compare them with a disc.
//! What it must never do: open a file, guess a partial that does not decay (hum, fans and whistles are
//! rejected and listed), or panic on any bytes.
//!
//! The decay is weighted by a Hann window whose top lies early, since a struck piece is loudest at the start:
//! the first twentieth rises, the rest falls. A real window keeps the line of a damped partial symmetric about
//! its frequency, so that its top is the frequency whatever the damping. Levels are relative to the strongest
//! partial.
//!
//! # Source
//! Harris, Proceedings of the IEEE 66 (1978), p. 51 (windows); Kay, Fundamentals of Statistical Signal
//! Processing: Estimation Theory, example 3.14 (least variance of a frequency); from memory.

mod decay;
mod error;
mod sound;
mod spectrum;
mod tones;

use decay::find_decay;
pub use error::RecordingError;
use sound::{high_passed, read};
use spectrum::Spectrum;
use tones::{Tones, tones};

/// Lowest and highest sampling rate that is read, in Hz.
pub const RATES_HZ: (u32, u32) = (8_000, 192_000);
/// Longest recording that is read, in seconds.
pub const LONGEST_S: f64 = 30.0;
/// Shortest free decay that is analysed, in seconds.
pub const SHORTEST_DECAY_S: f64 = 0.05;
/// Least level of the loudest 4 ms, in dB below a full-scale square wave.
pub const LEAST_LEVEL_DB: f64 = -60.0;
/// Least height of a strike above what is quietest before or after it, in dB.
pub const LEAST_STRIKE_DB: f64 = 12.0;
/// Least height of a partial above the noise around it in the spectrum, in dB.
pub const LEAST_OVER_NOISE_DB: f64 = 20.0;
/// Lowest frequency at which a partial is looked for, in Hz.
pub const LOWEST_HZ: f64 = 300.0;

/// Length of one step of the loudness over time, in seconds.
const FRAME_S: f64 = 0.004;

/// One partial of the ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Partial {
    /// Frequency, in Hz.
    pub frequency_hz: f64,
    /// Standard uncertainty of the frequency, in Hz: noise, change during the decay and the recorder's clock.
    pub uncertainty_hz: f64,
    /// Level relative to the strongest partial, in dB, averaged over the decay.
    pub level_db: f64,
    /// Time in which the amplitude falls to 1/e, in seconds; `None` where it fades too fast to be measured.
    pub decay_s: Option<f64>,
}

/// A tone that is not taken for a partial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rejected {
    /// Frequency, in Hz.
    pub frequency_hz: f64,
    /// Level relative to the strongest partial, in dB.
    pub level_db: f64,
    /// Why it is no partial.
    pub reason: Rejection,
}

/// Why a tone is not taken for a partial.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rejection {
    /// A multiple of this mains frequency in Hz that does not fade as a ring does.
    Mains(u32),
    /// It does not fade, or it sounded before the strike.
    Steady,
}

/// A point of the spectrum for plotting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpectrumPoint {
    /// Frequency, in Hz.
    pub frequency_hz: f64,
    /// Greatest level around that frequency relative to the strongest partial, in dB, not below −100.
    pub level_db: f64,
}

/// What a recording tells.
#[derive(Clone, Debug, PartialEq)]
pub struct RingRecording {
    /// Sampling rate, in Hz.
    pub rate_hz: u32,
    /// Number of channels; of two, the louder one was taken.
    pub channels: u16,
    /// Bits per sample.
    pub bits: u16,
    /// Length of the recording, in seconds.
    pub duration_s: f64,
    /// When the strike is, in seconds from the start.
    pub strike_s: f64,
    /// Length of the decay that the spectrum is made of, in seconds.
    pub decay_used_s: f64,
    /// Partials, strongest first; at least one, at most twelve.
    pub partials: Vec<Partial>,
    /// Tones that were set aside, strongest first.
    pub rejected: Vec<Rejected>,
    /// The spectrum for plotting, by rising frequency; at most 600 points.
    pub spectrum: Vec<SpectrumPoint>,
}

/// Returns the partials of a struck piece from the bytes of a WAV file.
///
/// `wav`: a whole file; mono or stereo, integers of 8, 16, 24 or 32 bits or 32-bit floats, 8 to 192 kHz, at
/// most 30 s. Where a piece is struck more than once, the decay with the most energy is taken.
///
/// Uncertainty: partials closer together than about 2 divided by the decay used are seen as one.
///
/// # Errors
/// One variant of [`RecordingError`] for each reason why there is no ring to be read.
pub fn ring_of_recording(wav: &[u8]) -> Result<RingRecording, RecordingError> {
    let sound = read(wav)?;
    let decay = find_decay(&sound)?;
    let samples = high_passed(&sound.samples, f64::from(sound.rate_hz));
    let spectrum = Spectrum::of(&samples[decay.start..decay.start + decay.used], f64::from(sound.rate_hz));
    let Tones { partials, rejected, strongest } = tones(&samples, &decay, &spectrum)?;
    Ok(RingRecording {
        rate_hz: sound.rate_hz,
        channels: sound.channels,
        bits: sound.bits,
        duration_s: sound.seconds(sound.samples.len()),
        strike_s: sound.seconds(decay.strike),
        decay_used_s: sound.seconds(decay.used),
        partials,
        rejected,
        spectrum: spectrum.decimated(strongest),
    })
}

fn decibel(power: f64) -> f64 {
    10.0 * power.max(1e-30).log10()
}
