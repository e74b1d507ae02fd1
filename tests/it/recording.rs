//! The ring of a struck piece, taken from recordings that this file makes itself.

use std::f64::consts::PI;
use std::io::Cursor;

use proptest::prelude::*;
use scruple::physics::recording::{
    Partial, RecordingError, Rejection, RingRecording, SHORTEST_DECAY_S, ring_of_recording,
};

/// Frequency in Hz, amplitude, decay time in seconds.
type Damped = (f64, f64, f64);

const THREE: [Damped; 3] = [(5_480.25, 0.4, 0.35), (8_911.7, 0.25, 0.2), (3_120.6, 0.12, 0.5)];

/// A sound that the test makes: silence with noise, then a strike, then partials that fade.
#[derive(Clone, Copy)]
struct Sound<'a> {
    rate: u32,
    seconds: f64,
    strike_s: f64,
    partials: &'a [Damped],
    noise: f64,
    seed: u64,
}

impl Default for Sound<'_> {
    fn default() -> Self {
        Sound { rate: 44_100, seconds: 1.6, strike_s: 0.2, partials: &THREE, noise: 1e-3, seed: 1 }
    }
}

impl Sound<'_> {
    fn samples(&self) -> Vec<f64> {
        let mut noise = Noise(self.seed);
        let count = (self.seconds * f64::from(self.rate)) as usize;
        let strike = (self.strike_s * f64::from(self.rate)) as usize;
        let sample = |index: usize| {
            let mut value = self.noise * noise.normal();
            if index >= strike {
                let t = (index - strike) as f64 / f64::from(self.rate);
                for &(frequency, amplitude, decay) in self.partials {
                    value += amplitude * (-t / decay).exp() * (2.0 * PI * frequency * t + frequency).sin();
                }
                // The contact: a burst of two milliseconds.
                value += 0.3 * (-t / 5e-4).exp() * noise.normal();
            }
            value
        };
        (0..count).map(sample).collect()
    }
}

/// A small generator of normal deviates: linear congruential, twelve uniform ones added up.
struct Noise(u64);

impl Noise {
    fn normal(&mut self) -> f64 {
        let mut uniform = || {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }
}

#[derive(Clone, Copy, Debug)]
enum Format {
    Int(u16),
    Float,
}

/// Writes a WAV file; `channels` are interleaved and of one length.
fn wav(rate: u32, format: Format, channels: &[&[f64]]) -> Vec<u8> {
    let (bits_per_sample, sample_format) = match format {
        Format::Int(bits) => (bits, hound::SampleFormat::Int),
        Format::Float => (32, hound::SampleFormat::Float),
    };
    let spec =
        hound::WavSpec { channels: channels.len() as u16, sample_rate: rate, bits_per_sample, sample_format };
    let mut file = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut file, spec).unwrap();
    for index in 0..channels[0].len() {
        for channel in channels {
            match format {
                Format::Int(bits) => {
                    let most = 2f64.powi(i32::from(bits) - 1);
                    let value = (channel[index] * most).round().clamp(-most, most - 1.0);
                    writer.write_sample(value as i32).unwrap();
                }
                Format::Float => writer.write_sample(channel[index] as f32).unwrap(),
            }
        }
    }
    writer.finalize().unwrap();
    file.into_inner()
}

fn mono(sound: Sound) -> Vec<u8> {
    wav(sound.rate, Format::Int(16), &[&sound.samples()])
}

#[track_caller]
/// Returns a recording of three damped partials: 3120.6, 5480.25 and 8911.7 Hz.
pub fn three_partials() -> Vec<u8> {
    mono(Sound::default())
}

fn nearest(ring: &RingRecording, frequency: f64) -> Partial {
    let distance = |partial: &&Partial| (partial.frequency_hz - frequency).abs();
    *ring.partials.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap()
}

/// Checks that each partial comes back to 1 Hz and within three standard uncertainties.
#[track_caller]
fn check_partials(ring: &RingRecording, expected: &[Damped]) {
    for &(frequency, _, _) in expected {
        let found = nearest(ring, frequency);
        let error = (found.frequency_hz - frequency).abs();
        assert!(error < 1.0, "{frequency}: {found:?}");
        assert!(error < 3.0 * found.uncertainty_hz, "{frequency}: {found:?}");
        assert!(found.uncertainty_hz < 1.0, "{frequency}: {found:?}");
    }
}

#[test]
fn three_damped_partials_come_back_within_one_hertz_and_nothing_else_does() {
    let ring = ring_of_recording(&mono(Sound::default())).unwrap();
    check_partials(&ring, &THREE);
    assert_eq!(ring.partials.len(), 3, "{:?}", ring.partials);
    assert!((ring.strike_s - 0.2).abs() < 0.01, "{}", ring.strike_s);
    assert!(ring.rejected.is_empty(), "{:?}", ring.rejected);
}

#[test]
fn partials_are_sorted_by_level_and_their_decay_times_come_back() {
    let ring = ring_of_recording(&mono(Sound::default())).unwrap();
    assert_eq!(ring.partials[0].level_db, 0.0);
    assert!(ring.partials.windows(2).all(|pair| pair[0].level_db >= pair[1].level_db));
    for (frequency, _, decay) in THREE {
        let found = nearest(&ring, frequency).decay_s.unwrap();
        assert!((found / decay - 1.0).abs() < 0.05, "{frequency}: {found} for {decay}");
    }
}

#[test]
fn every_format_gives_the_same_partials() {
    let samples = Sound { noise: 3e-3, ..Sound::default() }.samples();
    for format in [Format::Int(8), Format::Int(16), Format::Int(24), Format::Int(32), Format::Float] {
        let ring = ring_of_recording(&wav(44_100, format, &[&samples])).unwrap();
        check_partials(&ring, &THREE);
        assert_eq!(ring.partials.len(), 3, "{format:?}: {:?}", ring.partials);
    }
}

#[test]
fn every_sampling_rate_gives_the_partials_below_its_reach() {
    for rate in [8_000, 11_025, 22_050, 48_000, 96_000, 192_000] {
        let reach = 0.44 * f64::from(rate);
        let partials: Vec<Damped> = THREE.into_iter().filter(|partial| partial.0 < reach).collect();
        let ring = ring_of_recording(&mono(Sound { rate, partials: &partials, ..Sound::default() })).unwrap();
        check_partials(&ring, &partials);
        assert_eq!(ring.rate_hz, rate);
    }
}

#[test]
fn the_louder_channel_of_a_stereo_recording_is_taken() {
    let loud = Sound::default().samples();
    let faint: Vec<f64> = Sound { partials: &[(2_000.0, 0.02, 0.3)], ..Sound::default() }.samples();
    for channels in [[&loud[..], &faint[..]], [&faint[..], &loud[..]]] {
        let ring = ring_of_recording(&wav(44_100, Format::Int(16), &channels)).unwrap();
        check_partials(&ring, &THREE);
        assert_eq!((ring.channels, ring.partials.len()), (2, 3));
    }
}

#[test]
fn a_recording_that_starts_at_the_strike_is_read() {
    let ring = ring_of_recording(&mono(Sound { strike_s: 0.0, ..Sound::default() })).unwrap();
    check_partials(&ring, &THREE);
    assert_eq!(ring.strike_s, 0.0);
}

#[test]
fn the_stated_uncertainty_covers_the_error_of_noisy_recordings() {
    let (mut within, mut all, mut loose) = (0, 0, 0);
    for seed in 0..40 {
        let ring = ring_of_recording(&mono(Sound { noise: 0.03, seed, ..Sound::default() })).unwrap();
        for (frequency, _, _) in THREE {
            let found = nearest(&ring, frequency);
            let error = (found.frequency_hz - frequency).abs();
            all += 1;
            within += i32::from(error <= 2.0 * found.uncertainty_hz);
            loose += i32::from(found.uncertainty_hz > 0.5);
            assert!(error < 1.0, "seed {seed}, {frequency}: {found:?}");
        }
    }
    // Twice the standard uncertainty covers about 95 % (JCGM 100:2008, 6.3.3).
    assert!(within * 100 >= all * 95, "{within} of {all}");
    assert_eq!(loose, 0);
}

#[test]
fn hum_and_a_whistle_are_set_aside_with_the_reason() {
    let mut samples = Sound::default().samples();
    for (index, sample) in samples.iter_mut().enumerate() {
        let t = index as f64 / 44_100.0;
        *sample += 0.08 * (2.0 * PI * 450.0 * t).sin() + 0.03 * (2.0 * PI * 660.0 * t).sin();
        *sample += 0.02 * (2.0 * PI * 15_625.0 * t).sin();
    }
    let ring = ring_of_recording(&wav(44_100, Format::Int(16), &[&samples])).unwrap();
    check_partials(&ring, &THREE);
    assert_eq!(ring.partials.len(), 3, "{:?}", ring.partials);
    let reason = |frequency: f64| {
        ring.rejected.iter().find(|tone| (tone.frequency_hz - frequency).abs() < 1.0).map(|tone| tone.reason)
    };
    assert_eq!(reason(450.0), Some(Rejection::Mains(50)));
    assert_eq!(reason(660.0), Some(Rejection::Mains(60)));
    assert_eq!(reason(15_625.0), Some(Rejection::Steady));
}

#[test]
fn a_partial_on_a_multiple_of_the_mains_frequency_is_kept_while_it_fades() {
    for frequency in [900.0, 1_800.0, 5_000.0] {
        let partials = [(frequency, 0.4, 0.3)];
        let ring = ring_of_recording(&mono(Sound { partials: &partials, ..Sound::default() })).unwrap();
        check_partials(&ring, &partials);
    }
}

#[test]
fn two_partials_ten_hertz_apart_are_told_apart() {
    let partials = [(5_200.0, 0.3, 0.6), (5_210.0, 0.25, 0.6)];
    let ring =
        ring_of_recording(&mono(Sound { partials: &partials, seconds: 3.0, ..Sound::default() })).unwrap();
    assert_eq!(ring.partials.len(), 2, "{:?}", ring.partials);
    check_partials(&ring, &partials);
}

#[test]
fn of_two_strikes_the_one_with_the_longer_ring_is_taken() {
    let first = [(4_000.0, 0.5, 0.02)];
    let mut samples = Sound { partials: &first, strike_s: 0.1, ..Sound::default() }.samples();
    let second = Sound { strike_s: 0.5, seed: 2, ..Sound::default() }.samples();
    samples.iter_mut().zip(&second).for_each(|(sample, other)| *sample += other);
    let ring = ring_of_recording(&wav(44_100, Format::Int(16), &[&samples])).unwrap();
    assert!((ring.strike_s - 0.5).abs() < 0.01, "{}", ring.strike_s);
    check_partials(&ring, &THREE);
}

#[test]
fn the_spectrum_for_plotting_keeps_the_height_of_every_partial() {
    let ring = ring_of_recording(&mono(Sound::default())).unwrap();
    assert!(ring.spectrum.len() <= 600 && ring.spectrum.len() > 300);
    assert!(ring.spectrum.windows(2).all(|pair| pair[0].frequency_hz < pair[1].frequency_hz));
    for partial in &ring.partials {
        let near =
            ring.spectrum.iter().filter(|point| (point.frequency_hz - partial.frequency_hz).abs() < 2.0);
        let highest = near.map(|point| point.level_db).fold(-100.0, f64::max);
        assert!((highest - partial.level_db).abs() < 0.5, "{partial:?}: {highest}");
    }
}

#[test]
fn a_clipped_decay_is_refused_and_a_clipped_contact_is_not() {
    let clip = |gain: f64| -> Vec<f64> {
        Sound::default().samples().iter().map(|sample| (gain * sample).clamp(-1.0, 1.0)).collect()
    };
    for format in [Format::Int(8), Format::Int(16), Format::Int(24), Format::Float] {
        let error = ring_of_recording(&wav(44_100, format, &[&clip(5.0)])).unwrap_err();
        let RecordingError::Clipped { found, first_at_s } = error else { panic!("{format:?}: {error:?}") };
        assert!(found > 10 && (0.2..0.3).contains(&first_at_s), "{found} {first_at_s}");
    }
    let mut contact = Sound::default().samples();
    contact[8_825..8_840].fill(1.0);
    check_partials(&ring_of_recording(&wav(44_100, Format::Int(16), &[&contact])).unwrap(), &THREE);
}

#[test]
fn what_holds_no_ring_is_refused_with_what_was_found_and_what_is_allowed() {
    let check = |file: &[u8], expected: &str| {
        assert_eq!(ring_of_recording(file).unwrap_err().to_string(), expected);
    };
    let of = |samples: &[f64]| wav(44_100, Format::Int(16), &[samples]);
    check(
        b"",
        "recording is not a readable WAV file: found a file that ends within its header, allowed are PCM of 8, 16, 24 or 32 bits and 32-bit float",
    );
    check(
        b"ID3 and more that is no sound",
        "recording is not a readable WAV file: found no RIFF tag found, allowed are PCM of 8, 16, 24 or 32 bits and 32-bit float",
    );
    check(
        &of(&[]),
        "recording holds no sound: found 0 samples, allowed is a strike and at least 0.05 s of decay",
    );
    check(
        &of(&vec![0.0; 44_100]),
        "recording is silent: its loudest moment is -200 dB of full scale, allowed is at least -60 dB",
    );
    check(&wav(44_100, Format::Int(16), &[&[0.0][..]; 3]), "recording has 3 channels, allowed are 1 or 2");
    check(
        &wav(4_000, Format::Int(16), &[&[0.0; 4_000]]),
        "recording has a sampling rate of 4000 Hz, allowed is 8000 to 192000 Hz",
    );
    check(
        &wav(8_000, Format::Int(8), &[&vec![0.0; 248_000]]),
        "recording lasts 31.0 s, allowed is at most 30 s",
    );
    let whole = mono(Sound::default());
    check(
        &whole[..whole.len() / 2],
        "recording is cut off: found 35269 samples, allowed are the 70560 that its header declares",
    );
    let mut odd = Sound::default().samples();
    odd[22_050] = f64::NAN;
    check(
        &wav(44_100, Format::Float, &[&odd]),
        "recording has at 0.500 s a sample that is not a finite number, allowed are finite numbers",
    );
}

#[test]
fn sound_without_a_strike_or_a_ring_is_told_apart() {
    let steady: Vec<f64> =
        (0..44_100).map(|i| 0.3 * (2.0 * PI * 5_000.0 * f64::from(i) / 44_100.0).sin()).collect();
    let no_strike = |error| matches!(error, RecordingError::NoStrike { .. });
    assert!(no_strike(ring_of_recording(&wav(44_100, Format::Int(16), &[&steady])).unwrap_err()));
    let noise = Sound { partials: &[], strike_s: 9.0, noise: 0.1, ..Sound::default() };
    assert!(no_strike(ring_of_recording(&mono(noise)).unwrap_err()));

    // A burst of noise that fades in a fifth of a second: a thud.
    let mut deviates = Noise(5);
    let thud: Vec<f64> = (0..44_100)
        .map(|i| f64::from(i) / 44_100.0 - 0.1)
        .map(|t| deviates.normal() * if t < 0.0 { 1e-4 } else { 0.2 * (-t / 0.05).exp() + 1e-4 })
        .collect();
    let error = ring_of_recording(&wav(44_100, Format::Int(16), &[&thud])).unwrap_err();
    assert!(matches!(error, RecordingError::NoPartial { found_db, .. } if found_db < 20.0), "{error:?}");

    let short = Sound { seconds: 0.24, ..Sound::default() };
    let error = ring_of_recording(&mono(short)).unwrap_err();
    let RecordingError::TooShort { found_s, strike_s, .. } = error else { panic!("{error:?}") };
    assert!(found_s < SHORTEST_DECAY_S && (strike_s - 0.2).abs() < 0.01);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut file = b"RIFF\x00\x01\x00\x00WAVEfmt ".to_vec();
        file.extend(&bytes);
        let _ = ring_of_recording(&file);
        let _ = ring_of_recording(&bytes);
    }

    #[test]
    fn a_mutated_recording_gives_a_ring_of_finite_numbers_or_a_reason(
        changes in prop::collection::vec((0usize..60, any::<u8>()), 0..6),
        length in 0usize..9_000,
        channels in 1u16..3,
    ) {
        let sound = Sound { rate: 8_000, seconds: 0.5, strike_s: 0.05, partials: &[(2_500.0, 0.4, 0.1)], ..Sound::default() };
        let samples = sound.samples();
        let all = [&samples[..], &samples[..]];
        let mut file = wav(8_000, Format::Int(16), &all[..usize::from(channels)]);
        for (at, value) in changes {
            file[at] = value;
        }
        file.truncate(length.max(44));
        if let Ok(ring) = ring_of_recording(&file) {
            prop_assert!(!ring.partials.is_empty());
            for partial in ring.partials {
                prop_assert!(partial.frequency_hz.is_finite() && partial.uncertainty_hz > 0.0);
            }
        }
    }

    #[test]
    fn any_samples_give_a_ring_of_finite_numbers_or_a_reason(
        bytes in prop::collection::vec(any::<u8>(), 400..3_000),
        float in any::<bool>(),
    ) {
        let mut file = if float { wav(8_000, Format::Float, &[&[]]) } else { wav(8_000, Format::Int(8), &[&[]]) };
        let length = (bytes.len() / 4 * 4) as u32;
        let at = file.len() - 4;
        file[at..].copy_from_slice(&length.to_le_bytes());
        file.extend(&bytes[..length as usize]);
        match ring_of_recording(&file) {
            Ok(ring) => prop_assert!(ring.partials.iter().all(|partial| partial.frequency_hz.is_finite())),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}
