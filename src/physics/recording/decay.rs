//! The strike and the free decay after it.

use super::sound::{Sound, high_passed};
use super::{LEAST_LEVEL_DB, LEAST_STRIKE_DB, RecordingError, SHORTEST_DECAY_S, decibel};

/// Longest decay that goes into the spectrum, in seconds: longer ones add noise only.
const LONGEST_DECAY_S: f64 = 2.0;
/// Frames that are left out from the loudest of a strike on: the contact itself.
const CONTACT_FRAMES: usize = 2;

/// Where the strike is and which samples are its free decay.
pub(super) struct Decay {
    /// First sample of the strike.
    pub strike: usize,
    /// First sample of the decay.
    pub start: usize,
    /// Samples of the decay that go into the spectrum.
    pub used: usize,
    /// Samples of the decay up to the noise, the next strike or the end.
    pub whole: usize,
    /// Samples of silence before the strike; 0 where another strike came first.
    pub quiet: usize,
}

/// Finds the strike whose decay has the most energy.
pub(super) fn find_decay(sound: &Sound) -> Result<Decay, RecordingError> {
    let frame = sound.frame();
    let passed = high_passed(&sound.samples, f64::from(sound.rate_hz));
    let power: Vec<f64> =
        passed.chunks_exact(frame).map(|c| c.iter().map(|v| v * v).sum::<f64>() / frame as f64).collect();
    let levels: Vec<f64> = power.iter().map(|&p| decibel(p)).collect();
    let loudest = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if levels.is_empty() {
        let found_s = sound.seconds(sound.samples.len());
        return Err(RecordingError::TooShort { strike_s: 0.0, found_s, least_s: SHORTEST_DECAY_S });
    }
    if loudest < LEAST_LEVEL_DB {
        return Err(RecordingError::Silent { found_db: loudest.max(-200.0), least_db: LEAST_LEVEL_DB });
    }
    let strikes = strikes(&levels, loudest);
    let floor = quietest(&levels);
    let mut best: Option<(f64, usize, usize, usize)> = None;
    for (index, &(begin, top)) in strikes.iter().enumerate() {
        let end = strikes.get(index + 1).map_or(levels.len(), |next| next.0);
        let from = (top + CONTACT_FRAMES).min(end);
        let energy = power[from..end].iter().sum();
        if best.is_none_or(|(most, ..)| energy > most) {
            best = Some((energy, index, begin, top));
        }
    }
    let no_strike = |found_db| RecordingError::NoStrike { found_db, least_db: LEAST_STRIKE_DB };
    let (_, index, begin, top) = best.ok_or_else(|| no_strike(loudest - floor))?;
    let end = strikes.get(index + 1).map_or(levels.len(), |next| next.0);
    let around = quietest(&levels[..begin]).min(quietest(&levels[top..end]));
    let found_db = levels[top] - around;
    if found_db < LEAST_STRIKE_DB {
        return Err(no_strike(found_db));
    }
    let last = (top..end).rev().find(|&i| levels[i] > floor + 3.0).unwrap_or(top) + 1;
    let start = ((top + CONTACT_FRAMES) * frame).min(last * frame);
    let whole = last * frame - start;
    let used = whole.min((LONGEST_DECAY_S * f64::from(sound.rate_hz)) as usize);
    if sound.seconds(whole) < SHORTEST_DECAY_S {
        return Err(RecordingError::TooShort {
            strike_s: sound.seconds(begin * frame),
            found_s: sound.seconds(whole),
            least_s: SHORTEST_DECAY_S,
        });
    }
    let (clipped, first) = clipped(&sound.samples[start..start + whole], sound.full_scale);
    if clipped > 0 {
        return Err(RecordingError::Clipped { found: clipped, first_at_s: sound.seconds(start + first) });
    }
    let quiet = if index == 0 { begin.saturating_sub(1) * frame } else { 0 };
    Ok(Decay { strike: begin * frame, start, used, whole, quiet })
}

/// Returns the frames at which strikes begin and at which they are loudest.
///
/// A strike rises within 4 ms by 6 dB above all of the 32 ms before it, and comes within 20 dB of the loudest
/// sound. The beats of two close partials never do: before each rise there is a fall of the same height.
fn strikes(levels: &[f64], loudest: f64) -> Vec<(usize, usize)> {
    const BEFORE: usize = 8;
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut index = 0;
    while index < levels.len() {
        let before = &levels[index.saturating_sub(BEFORE)..index];
        let highest = before.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if levels[index] < loudest - 20.0 || levels[index] < highest + 6.0 {
            index += 1;
            continue;
        }
        let end = (index + 6).min(levels.len());
        let top = (index..end).fold(index, |top, i| if levels[i] > levels[top] { i } else { top });
        found.push((index, top));
        index = top + 1;
    }
    found
}

/// Returns the level that a twentieth of the frames lie below; infinite for none.
fn quietest(levels: &[f64]) -> f64 {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 20).copied().unwrap_or(f64::INFINITY)
}

/// Returns how many samples lie in runs of three or more at full scale, and where the first is.
fn clipped(samples: &[f64], full_scale: f64) -> (usize, usize) {
    let (mut count, mut first, mut run) = (0, 0, 0);
    for (index, pair) in samples.windows(2).enumerate() {
        let same = pair[1].abs() >= full_scale && (pair[1] - pair[0]).abs() <= 2.0 * (1.0 - full_scale);
        run = if same { run + 1 } else { 0 };
        if run == 2 {
            first = if count == 0 { index - 1 } else { first };
            count += 3;
        } else if run > 2 {
            count += 1;
        }
    }
    (count, first)
}
