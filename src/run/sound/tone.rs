//! Notes turned into sound: pure arithmetic, 16-bit samples of one channel.
//!
//! Each note carries two overtones, so that a low one is heard from a small loudspeaker too,
//! and swells and fades along half a cosine, so that nothing clicks.

use std::f64::consts::{PI, TAU};

/// Samples a second.
pub(super) const RATE: u32 = 44_100;
/// How long a note takes to swell, in seconds; at most half of the note.
const SWELL: f64 = 0.006;
/// How long a note takes to fade, in seconds; at most half of the note.
const FADE: f64 = 0.03;
/// The overtones' parts of the wave: twice and three times the frequency.
const PARTS: [f64; 3] = [1.0, 0.5, 0.25];
/// How long it is silent after the last note, in seconds: some players cut the end off.
const TAIL: f64 = 0.05;

/// One note of a tune.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Note {
    /// When it begins, in milliseconds from the start of the tune.
    pub(super) at: u32,
    /// How long it sounds, in milliseconds.
    pub(super) length: u32,
    /// Its pitch in hertz.
    pub(super) pitch: u32,
}

/// The samples of a tune; `level` is its greatest height as a part of the greatest possible.
pub(super) fn samples(notes: &[Note], level: f64) -> Vec<i16> {
    let end = notes.iter().map(|note| note.at + note.length).max();
    let mut wave = vec![0.0; count(f64::from(end.unwrap_or(0)) / 1e3 + TAIL)];
    for note in notes {
        let length = count(f64::from(note.length) / 1e3);
        let sounding = wave.iter_mut().skip(count(f64::from(note.at) / 1e3));
        for (index, sample) in sounding.take(length + 1).enumerate() {
            *sample += swell(seconds(index), seconds(length)) * voice(note.pitch, index);
        }
    }
    wave.into_iter().map(|part| sample(level * part)).collect()
}

/// One second of a tone that may follow itself without a seam.
pub(super) fn steady(pitch: u32, level: f64) -> Vec<i16> {
    (0..count(1.0))
        .map(|index| sample(level * voice(pitch, index)))
        .collect()
}

/// Swells up the first samples of a steady tone.
pub(super) fn soften(tone: &mut [i16]) {
    for (index, value) in tone.iter_mut().take(count(SWELL)).enumerate() {
        let part = f64::from(*value) / f64::from(i16::MAX);
        *value = sample(part * swell(seconds(index), 1.0));
    }
}

/// A RIFF/WAVE file of PCM samples ("Multimedia Programming Interface and Data Specifications
/// 1.0", IBM and Microsoft, 1991; from memory).
pub(super) fn wave_file(samples: &[i16]) -> Vec<u8> {
    const HEADER: u32 = 36;
    const BYTES: u32 = 2;
    let data = u32::try_from(samples.len()).unwrap_or(u32::MAX / 4) * BYTES;
    let mut file = Vec::new();
    file.extend(b"RIFF");
    file.extend((HEADER + data).to_le_bytes());
    file.extend(b"WAVEfmt ");
    file.extend(16_u32.to_le_bytes());
    // PCM, one channel.
    file.extend(1_u16.to_le_bytes());
    file.extend(1_u16.to_le_bytes());
    file.extend(RATE.to_le_bytes());
    file.extend((RATE * BYTES).to_le_bytes());
    file.extend(2_u16.to_le_bytes());
    file.extend(16_u16.to_le_bytes());
    file.extend(b"data");
    file.extend(data.to_le_bytes());
    file.extend(bytes(samples));
    file
}

/// The samples as they go over a wire: two bytes each, the low one first.
pub(super) fn bytes(samples: &[i16]) -> impl Iterator<Item = u8> {
    samples.iter().flat_map(|sample| sample.to_le_bytes())
}

/// The wave of a pitch at a sample, from -1 to 1.
fn voice(pitch: u32, index: usize) -> f64 {
    let turns = f64::from(pitch) * seconds(index);
    let whole: f64 = PARTS.iter().sum();
    let heard: f64 = [1.0, 2.0, 3.0]
        .into_iter()
        .zip(PARTS)
        .map(|(times, part)| part * (TAU * times * turns).sin())
        .sum();
    heard / whole
}

/// How loud a note of this length is at a time, from 0 to 1; both in seconds.
fn swell(at: f64, length: f64) -> f64 {
    let rise = |time: f64, over: f64| {
        let part = (time / over.min(length / 2.0)).clamp(0.0, 1.0);
        0.5 - 0.5 * (PI * part).cos()
    };
    rise(at, SWELL).min(rise(length - at, FADE))
}

fn seconds(index: usize) -> f64 {
    f64::from(u32::try_from(index).unwrap_or(u32::MAX)) / f64::from(RATE)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a tune of seconds has samples that fit, and no length is below none"
)]
fn count(seconds: f64) -> usize {
    (seconds * f64::from(RATE)).round() as usize
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "held within what a sample can be"
)]
fn sample(part: f64) -> i16 {
    (part.clamp(-1.0, 1.0) * f64::from(i16::MAX)).round() as i16
}

#[cfg(test)]
mod tests;
