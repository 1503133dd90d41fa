//! The sound itself: its file by another library's reader, its pitch by a Fourier sum, and no
//! click anywhere.

use std::io::Cursor;

use super::*;
use crate::run::sound::tune::{CUES, notes, tune};

/// The strength of a frequency in hertz within a piece of sound: the Goertzel recurrence
/// (G. Goertzel, American Mathematical Monthly 65, 1958, 34-35; from memory).
fn strength(piece: &[i16], hertz: f64) -> f64 {
    let turn = TAU * hertz / f64::from(RATE);
    let (mut last, mut before) = (0.0, 0.0);
    for sample in piece {
        let next = f64::from(*sample) + 2.0 * turn.cos() * last - before;
        before = last;
        last = next;
    }
    (last * last + before * before - 2.0 * turn.cos() * last * before).sqrt()
}

fn index(milliseconds: u32) -> usize {
    count(f64::from(milliseconds) / 1e3)
}

/// The file as another reader has it: hound.
#[test]
fn the_file_is_a_wave_file() {
    for cue in CUES {
        let samples = tune(cue);
        let mut reader = hound::WavReader::new(Cursor::new(wave_file(&samples))).unwrap();
        let spec = reader.spec();
        assert_eq!((spec.channels, spec.sample_rate), (1, RATE));
        assert_eq!(spec.bits_per_sample, 16);
        assert_eq!(spec.sample_format, hound::SampleFormat::Int);
        let read: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        assert_eq!(read, samples, "{cue:?}");
    }
}

/// The pitch that is heard in the middle of each note, to within 1 % (a sixth of a semitone).
#[test]
fn each_note_has_its_pitch() {
    for cue in CUES {
        let samples = tune(cue);
        for note in notes(cue) {
            let piece = &samples[index(note.at)..index(note.at + note.length)];
            // Between the octaves next to it, where its own overtones are not.
            let pitch = f64::from(note.pitch);
            let mut strongest = (0.0, 0.0);
            for step in -60..=60 {
                let hertz = pitch * (f64::from(step) * 0.01).exp();
                let heard = strength(piece, hertz);
                if heard > strongest.0 {
                    strongest = (heard, hertz);
                }
            }
            let off = (strongest.1 / pitch - 1.0).abs();
            assert!(off < 0.0101, "{cue:?} {note:?}: {} Hz", strongest.1);
            assert!(strength(piece, 2.0 * pitch) > 0.2 * strongest.0, "{note:?}");
        }
    }
}

#[test]
fn it_is_silent_between_the_notes_and_at_the_end() {
    for cue in CUES {
        let mut samples = tune(cue);
        let last = notes(cue).iter().map(|note| note.at + note.length).max();
        assert_eq!(samples.len(), index(last.unwrap()) + count(TAIL));
        for note in notes(cue) {
            let sounding = index(note.at)..=index(note.at) + index(note.length);
            let loudest = samples[sounding.clone()]
                .iter()
                .map(|s| s.unsigned_abs())
                .max();
            assert!(loudest > Some(16_000), "{note:?}: {loudest:?}");
            samples[sounding].fill(0);
        }
        assert!(samples.iter().all(|sample| *sample == 0), "{cue:?}");
    }
}

/// A click is a step of the wave, or of its slope, beyond what the note itself makes. The
/// bounds are the calculus of three sines of this level, and of an envelope that takes 6 ms.
#[test]
fn nothing_clicks() {
    let level = 0.8 * f64::from(i16::MAX);
    for cue in CUES {
        let samples: Vec<f64> = tune(cue).into_iter().map(f64::from).collect();
        assert!(samples[0].abs() < 1.0, "{cue:?} begins at nothing");
        let highest = notes(cue).iter().map(|note| note.pitch).max().unwrap();
        let turn = TAU * f64::from(highest) / f64::from(RATE);
        let envelope = PI / (2.0 * SWELL * f64::from(RATE));
        let (first, second) = (2.75 / 1.75, 5.25 / 1.75);
        let step = level * (turn * first + envelope) + 1.0;
        let bend = level
            * (turn * turn * second
                + 2.0 * turn * first * envelope
                + 2.0 * envelope * envelope)
            + 2.0;
        for three in samples.windows(3) {
            let [a, b, c] = three else { unreachable!() };
            assert!((b - a).abs() <= step, "{cue:?}: {a} {b}");
            assert!((a - 2.0 * b + c).abs() <= bend, "{cue:?}: {a} {b} {c}");
        }
    }
}

/// The test above must be able to fail: the same note cut off is a click.
#[test]
fn a_click_would_be_seen() {
    let note = Note {
        at: 0,
        length: 100,
        pitch: 294,
    };
    let samples = samples(&[note], 0.8);
    let cut = samples
        .iter()
        .skip(count(0.02))
        .find(|sample| sample.unsigned_abs() > 10_000)
        .unwrap();
    let turn = TAU * 294.0 / f64::from(RATE);
    let envelope = PI / (2.0 * SWELL * f64::from(RATE));
    let bound = 0.8 * f64::from(i16::MAX) * (turn * 2.75 / 1.75 + envelope);
    assert!(f64::from(*cut).abs() > bound, "{cut} within {bound}");
}

#[test]
fn a_steady_tone_has_no_seam() {
    let tone = steady(660, 0.3);
    assert_eq!(tone.len(), count(1.0));
    let turn = TAU * 660.0 / f64::from(RATE);
    let step = 0.3 * f64::from(i16::MAX) * turn * 2.75 / 1.75 + 1.0;
    let around: Vec<f64> = tone.iter().chain(&tone).map(|s| f64::from(*s)).collect();
    assert!(
        around
            .windows(2)
            .all(|pair| (pair[1] - pair[0]).abs() <= step)
    );
    assert!(strength(&tone, 660.0) > 10.0 * strength(&tone, 600.0));
    let mut begun = tone.clone();
    soften(&mut begun);
    assert_eq!(begun[count(SWELL)..], tone[count(SWELL)..]);
    assert!(
        begun[..20].iter().all(|s| s.unsigned_abs() < 400),
        "{:?}",
        &begun[..20]
    );
}
