//! Why a recording gives no ring.

/// Why a recording gives no ring.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RecordingError {
    /// The bytes are not a WAV file, or one of a kind that is not read.
    #[error(
        "recording is not a readable WAV file: found {found}, allowed are PCM of 8, 16, 24 or 32 bits and 32-bit float"
    )]
    NotAWav {
        /// What is wrong with it.
        found: String,
    },
    /// Neither mono nor stereo.
    #[error("recording has {found} channels, allowed are 1 or 2")]
    Channels {
        /// Number of channels.
        found: u16,
    },
    /// A sampling rate outside the range.
    #[error("recording has a sampling rate of {found_hz} Hz, allowed is {least_hz} to {greatest_hz} Hz")]
    Rate {
        /// Rate of the file.
        found_hz: u32,
        /// Lowest rate.
        least_hz: u32,
        /// Highest rate.
        greatest_hz: u32,
    },
    /// A file without samples.
    #[error(
        "recording holds no sound: found 0 samples, allowed is a strike and at least {least_s} s of decay"
    )]
    Empty {
        /// Shortest decay.
        least_s: f64,
    },
    /// A file that is too long.
    #[error("recording lasts {found_s:.1} s, allowed is at most {greatest_s:.0} s")]
    TooLong {
        /// Length of the file.
        found_s: f64,
        /// Greatest length.
        greatest_s: f64,
    },
    /// A file that ends before its header says so.
    #[error(
        "recording is cut off: found {found} samples, allowed are the {declared} that its header declares"
    )]
    Cut {
        /// Samples that are there.
        found: usize,
        /// Samples that should be there.
        declared: usize,
    },
    /// A float sample that is infinite or not a number.
    #[error("recording has at {at_s:.3} s a sample that is not a finite number, allowed are finite numbers")]
    NotFinite {
        /// Where.
        at_s: f64,
    },
    /// Nothing audible.
    #[error(
        "recording is silent: its loudest moment is {found_db:.0} dB of full scale, allowed is at least {least_db:.0} dB"
    )]
    Silent {
        /// Loudest level.
        found_db: f64,
        /// Least level.
        least_db: f64,
    },
    /// Nothing that rises fast and falls.
    #[error(
        "no strike found: the loudest sound stands out by {found_db:.1} dB, allowed is at least {least_db:.0} dB"
    )]
    NoStrike {
        /// How far the loudest sound stands out.
        found_db: f64,
        /// Least height.
        least_db: f64,
    },
    /// Samples at the end of the scale within the decay.
    #[error(
        "recording is clipped: found {found} samples at full scale from {first_at_s:.3} s on in the decay, allowed are none"
    )]
    Clipped {
        /// Number of clipped samples.
        found: usize,
        /// First of them.
        first_at_s: f64,
    },
    /// A decay that ends too soon, by a second strike, by noise or with the file.
    #[error(
        "decay after the strike at {strike_s:.3} s is too short: found {found_s:.3} s, allowed is at least {least_s} s"
    )]
    TooShort {
        /// When the strike is.
        strike_s: f64,
        /// Length of the decay.
        found_s: f64,
        /// Least length.
        least_s: f64,
    },
    /// A strike without a ring.
    #[error(
        "no partial found: the clearest decaying tone stands {found_db:.0} dB above the noise, allowed is at least {least_db:.0} dB"
    )]
    NoPartial {
        /// Height of the clearest tone, 0 where there is none.
        found_db: f64,
        /// Least height.
        least_db: f64,
    },
}
