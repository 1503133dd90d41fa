//! The options of what is heard.

use clap::{Args, ValueEnum};

use crate::cli::input;
use crate::reading::Ohms;
use crate::run::{Hearing, Loudness};

/// What is heard, and whether a tone follows the reading.
#[derive(Debug, Args)]
pub(super) struct HearingArguments {
    /// What is heard: at a terminal bell and tones (auto), the bell alone, tones alone and also
    /// without a terminal, or nothing.
    #[arg(long, value_enum, default_value = "auto", conflicts_with = "quiet")]
    sound: LoudnessArgument,
    /// A tone as long as the reading is at most this, 10 if not given.
    #[arg(
        long,
        value_name = "OHMS",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "10",
        value_parser = input::ohms,
        conflicts_with = "quiet"
    )]
    continuity_tone: Option<Ohms>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum LoudnessArgument {
    Auto,
    Bell,
    Tones,
    Off,
}

impl HearingArguments {
    /// What is meant by them.
    pub(super) fn meant(&self, quiet: bool) -> Hearing {
        if quiet {
            return Hearing::SILENT;
        }
        let loudness = match self.sound {
            LoudnessArgument::Auto => Loudness::Auto,
            LoudnessArgument::Bell => Loudness::Bell,
            LoudnessArgument::Tones => Loudness::Tones,
            LoudnessArgument::Off => Loudness::Off,
        };
        Hearing {
            loudness,
            continuity: self.continuity_tone,
        }
    }
}
