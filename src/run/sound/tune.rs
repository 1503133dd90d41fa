//! The tune of each cue. The notes begin where the bell's strokes do, so that number and
//! rhythm tell cues apart as they do for the bell; the pitch says the same once more.

use crate::check::notice::Verdict;
use crate::run::bell::strokes;
use crate::run::sound::tone::{Note, samples};
use crate::session::Cue;

/// Every cue there is.
pub(super) const CUES: [Cue; 8] = [
    Cue::Tick,
    Cue::Ask,
    Cue::StepDone,
    Cue::Break,
    Cue::Trouble,
    Cue::Verdict(Verdict::Pass),
    Cue::Verdict(Verdict::Fail),
    Cue::Verdict(Verdict::Retest),
];
/// How loud a tune is, as a part of the loudest; how loud that is the system's mixer says.
const LEVEL: f64 = 0.8;

/// The notes of a cue.
pub(super) fn notes(cue: Cue) -> Vec<Note> {
    // Pitch in hertz and length in milliseconds of the note at each stroke.
    let voices: &[(u32, u32)] = match cue {
        Cue::Tick => &[(1760, 45)],
        Cue::Ask => &[(988, 250), (988, 250)],
        // Rising.
        Cue::StepDone => &[(880, 120), (1319, 240)],
        // Low and quick.
        Cue::Break => &[(294, 85), (294, 85), (294, 85)],
        // High and low in turn.
        Cue::Trouble => &[(1175, 85), (740, 85), (1175, 85), (740, 85)],
        // One long, then rising quickly.
        Cue::Verdict(Verdict::Pass) => &[(523, 350), (659, 140), (784, 120), (1047, 450)],
        // Slow and falling.
        Cue::Verdict(Verdict::Fail) => {
            &[(440, 280), (392, 280), (349, 280), (330, 280), (294, 500)]
        }
        // Two pairs that fall alike.
        Cue::Verdict(Verdict::Retest) => &[(880, 110), (659, 200), (880, 110), (659, 200)],
    };
    let begins = strokes(cue)
        .iter()
        .map(|delay| u32::try_from(delay.as_millis()).unwrap_or(u32::MAX));
    begins
        .zip(voices)
        .map(|(at, (pitch, length))| Note {
            at,
            length: *length,
            pitch: *pitch,
        })
        .collect()
}

/// The samples of a cue.
pub(super) fn tune(cue: Cue) -> Vec<i16> {
    samples(&notes(cue), LEVEL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_stroke_of_the_bell_has_its_note() {
        for cue in CUES {
            let notes = notes(cue);
            assert_eq!(notes.len(), strokes(cue).len(), "{cue:?}");
            for pair in notes.windows(2) {
                let end = pair[0].at + pair[0].length;
                assert!(end + 20 <= pair[1].at, "{cue:?}: a gap is heard");
            }
        }
    }

    /// Whoever cannot tell pitches apart has number and rhythm.
    #[test]
    fn cues_differ_by_number_or_rhythm() {
        for (index, one) in CUES.iter().enumerate() {
            for other in &CUES[index + 1..] {
                let [ours, theirs] = [one, other].map(|cue| notes(*cue));
                let told_apart = ours.len() != theirs.len()
                    || ours
                        .iter()
                        .zip(&theirs)
                        .any(|(a, b)| a.at.abs_diff(b.at) >= 200);
                assert!(told_apart, "{one:?} and {other:?}");
            }
        }
    }

    #[test]
    fn the_tunes_say_what_they_mean() {
        let pitches = |cue| -> Vec<u32> { notes(cue).iter().map(|note| note.pitch).collect() };
        assert!(pitches(Cue::StepDone).is_sorted_by(|a, b| a < b));
        assert!(pitches(Cue::Verdict(Verdict::Pass)).is_sorted_by(|a, b| a < b));
        assert!(pitches(Cue::Verdict(Verdict::Fail)).is_sorted_by(|a, b| a > b));
        let lowest = |cue| pitches(cue).into_iter().min();
        assert!(CUES.iter().all(|cue| lowest(*cue) >= lowest(Cue::Break)));
        let ends = |cue| notes(cue).last().map(|note| note.at + note.length);
        assert!(ends(Cue::Tick) <= Some(50), "a tick is short");
    }
}
