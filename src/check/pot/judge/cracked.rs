//! Cracked tracks: placed where the readings tell the place, and said to be somewhere within a
//! range where they do not.

use crate::check::notice::Verdict;
use crate::check::pot::judge::Judgement;
use crate::check::pot::sweeping::Sweeping;
use crate::reading::Ohms;
use crate::signal::Track as _;

/// Whether a crack was found, placed or not: nothing that a cleaner mends.
pub(super) const fn is_cracked(sweep: &Sweeping) -> bool {
    sweep.crack.is_some() || sweep.unplaced.is_some()
}

/// A crack at the jack whose place the readings tell.
pub(super) fn placed(sweep: &Sweeping) -> Option<String> {
    let crack = sweep.crack?;
    let jack = crack.track;
    let below = Ohms(jack.at * jack.total.0);
    let above = Ohms((1.0 - jack.at) * jack.total.0 + jack.pickup.0);
    Some(format!(
        "the track is cracked at {}: the reading leaps there between {below} and {above}, on {} \
         passes, and a sound control's rises to {} and falls without a leap",
        crack.zone.words(),
        crack.passes,
        jack.whole().highest()
    ))
}

/// A crack at the jack whose place the readings do not tell.
pub(super) fn unplaced(sweep: &Sweeping) -> Option<String> {
    let crack = sweep.unplaced.as_ref()?;
    let places: Vec<String> = crack
        .places
        .iter()
        .map(|(total, place)| format!("{:.0} % of a {total} one", 100.0 * place))
        .collect();
    Some(format!(
        "the track is cracked {} from its high end: below that nothing is read. Where that is \
         from the low end these readings cannot tell, since the total is read at zero in this \
         wiring: {}, somewhere at {}; --total places it",
        crack.from_high_end,
        places.join(", "),
        crack.zone.words()
    ))
}

/// Contact on a short stretch only, lost again and again beyond it.
pub(super) fn open_beyond(sweep: &Sweeping) -> Option<String> {
    let zone = sweep.beyond?;
    Some(format!(
        "break at {:.0} to {:.0} % from the low end, {} times: the track is cracked there, or the \
         wiper leaves it",
        100.0 * zone.from,
        100.0 * zone.to,
        sweep.opens
    ))
}

/// A peak that is a corner where nothing else is wrong.
pub(super) fn corner(sweep: &Sweeping, judgement: &mut Judgement) {
    if judgement.verdict != Verdict::Pass {
        return;
    }
    if let Some((cracked, sound)) = sweep.corner() {
        judgement.because(
            Verdict::Retest,
            format!(
                "the highest reading is a corner, and a sound control's is round: a {sound} control \
                 reads so high, or one of {cracked} that is cracked near its middle. Read its mark, \
                 or measure it at its lugs"
            ),
        );
    }
}
