//! The blind spot in plain words, for the screen and the report.
//!
//! Lengths of time that promise something are rounded up, and no chance is printed as none or
//! as certain unless it is.

use crate::reading::Seconds;
use crate::signal::blind_spot::{Basis, BlindSpot};

impl BlindSpot {
    /// One sentence: what is surely seen, how a break of 100 ms fares, and on what it rests.
    pub fn sentence(&self) -> String {
        let short = [Seconds(0.1)];
        let interval = self.interval;
        let (sure, usual) = (rounded_up(self.cautious_sure()), self.usual(&short));
        match self.basis {
            Basis::Documented => {
                format!("Readings every {interval}: a break of {usual} (as documented).")
            }
            Basis::Tried => {
                format!("Readings every {interval}: a break of {usual} (as tried).")
            }
            Basis::Assumed => format!(
                "Readings every {interval}: a break of {sure} or longer is surely seen; assuming \
                 each reading is taken in an instant: {usual}."
            ),
        }
    }

    /// The two figures that matter: what is surely seen, and how a break of 100 ms fares.
    pub fn short(&self) -> String {
        const MOMENT: Seconds = Seconds(0.1);
        let told = format!(
            "A break of {} or longer is surely seen; one of 100 ms with {}",
            rounded_up(self.promised()),
            percent(self.chance(MOMENT))
        );
        match self.basis {
            Basis::Documented | Basis::Tried => format!("{told}."),
            Basis::Assumed => format!(
                "{told} (assumed), {} at worst.",
                percent(self.cautious_chance(MOMENT))
            ),
        }
    }

    /// The same in as few words as will do.
    pub fn shortest(&self) -> String {
        format!(
            "Breaks under {} may go unseen.",
            rounded_up(self.promised())
        )
    }

    /// What is surely seen, resting on no assumption.
    fn promised(&self) -> Seconds {
        match self.basis {
            Basis::Assumed => self.cautious_sure(),
            Basis::Documented | Basis::Tried => self.sure(),
        }
    }

    /// The same at length, one statement a line.
    pub fn lines(&self) -> Vec<String> {
        let mut lines = self.of_breaks();
        lines.push(format!(
            "A fault that stays open while a bend is held for {} cannot be missed.",
            rounded_up(self.held())
        ));
        lines
    }

    /// The same where nothing is bent.
    pub fn of_breaks(&self) -> Vec<String> {
        let mut lines = vec![self.origin()];
        let usual = self.usual(&Self::SHOWN_BREAKS);
        if self.basis == Basis::Assumed {
            lines.push(format!(
                "If a break must fill a whole averaging time (cautious): {}.",
                self.cautious(&Self::SHOWN_BREAKS)
            ));
            lines.push(format!(
                "Assuming each reading is taken in an instant: {usual}."
            ));
        } else {
            lines.push(format!("A break of {usual}."));
        }
        lines
    }

    /// What is known of the meter, and from where.
    fn origin(&self) -> String {
        let (interval, aperture) = (self.interval, self.aperture);
        let averaging = match self.basis {
            Basis::Documented => format!("each averaging over {aperture} (documented)"),
            Basis::Tried => format!("each averaging over {aperture} (tried)"),
            Basis::Assumed if aperture != interval => format!(
                "each averaging over {aperture}; how much of that a break must fill is not known"
            ),
            Basis::Assumed => "each assumed to average over all of that".to_owned(),
        };
        format!("Readings every {interval}, {averaging}.")
    }

    fn usual(&self, lengths: &[Seconds]) -> String {
        let chance = |length| self.chance(length);
        let told = chances(self.sure(), lengths, chance, Seconds(0.0));
        match (self.basis, self.shortest_visible()) {
            (_, none) if none.0 <= 0.0 => told,
            // The cautious end of a trial: a shorter break may well show.
            (Basis::Tried, shortest) => {
                format!(
                    "{told}; shorter than {} is not counted on",
                    rounded_up(shortest)
                )
            }
            (Basis::Documented | Basis::Assumed, shortest) => {
                format!("{told}; shorter than {} never", rounded_up(shortest))
            }
        }
    }

    fn cautious(&self, lengths: &[Seconds]) -> String {
        let chance = |length| self.cautious_chance(length);
        chances(self.cautious_sure(), lengths, chance, self.aperture)
    }
}

/// What is surely seen, the chances of these lengths below that, and what is never seen.
fn chances(
    sure: Seconds,
    lengths: &[Seconds],
    chance: impl Fn(Seconds) -> f64,
    never: Seconds,
) -> String {
    let mut parts = vec![format!("{} or longer is surely seen", rounded_up(sure))];
    for length in lengths.iter().rev() {
        let p = chance(*length);
        if p > 0.0 && p < 1.0 {
            parts.push(format!("{:.0} ms with {}", length.0 * 1e3, percent(p)));
        }
    }
    if never.0 > 0.0 {
        parts.push(format!("shorter than {} never", rounded_up(never)));
    }
    parts.join("; ")
}

/// A chance in whole percent, never rounded to none or to certain.
pub fn percent(p: f64) -> String {
    match 100.0 * p {
        none if none <= 0.0 => "0 %".to_owned(),
        certain if certain >= 100.0 => "100 %".to_owned(),
        low if low < 1.0 => "under 1 %".to_owned(),
        high if high > 99.0 => "over 99 %".to_owned(),
        shown => format!("{shown:.0} %"),
    }
}

/// Rounded up at the last digit that is shown, but for the noise of the arithmetic.
fn rounded_up(length: Seconds) -> Seconds {
    let step = match length.0 {
        long if long >= 0.0995 => 1e-2,
        middling if middling >= 0.009_95 => 1e-3,
        _ => 1e-5,
    };
    Seconds((length.0 / step - 1e-6).ceil() * step)
}
