//! Serial settings as typed, over those of a format.

use clap::{Args, ValueEnum};

use crate::cli::input;
use crate::protocol::{Parity, SerialSettings, StopBits};

/// Serial settings that differ from the format's own.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Serial line (the format sets these; given, they win)")]
pub(in crate::cli) struct LineArguments {
    /// Bits per second.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(50..=4_000_000))]
    baud: Option<u32>,
    /// Data bits of a character.
    #[arg(long, value_name = "5-8", value_parser = clap::value_parser!(u8).range(5..=8))]
    data_bits: Option<u8>,
    /// Parity of a character.
    #[arg(long)]
    parity: Option<ParityArgument>,
    /// Stop bits of a character.
    #[arg(long, value_name = "1|2", value_parser = clap::value_parser!(u8).range(1..=2))]
    stop_bits: Option<u8>,
    /// The DTR line: many isolated adapters are powered by it.
    #[arg(long, value_name = "on|off", value_parser = input::switch)]
    dtr: Option<bool>,
    /// The RTS line.
    #[arg(long, value_name = "on|off", value_parser = input::switch)]
    rts: Option<bool>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ParityArgument {
    None,
    Odd,
    Even,
}

impl LineArguments {
    /// The settings of a format, as the user wants them.
    pub(in crate::cli) fn over(&self, format: SerialSettings) -> SerialSettings {
        SerialSettings {
            baud: self.baud.unwrap_or(format.baud),
            data_bits: self.data_bits.unwrap_or(format.data_bits),
            parity: match self.parity {
                None => format.parity,
                Some(ParityArgument::None) => Parity::None,
                Some(ParityArgument::Odd) => Parity::Odd,
                Some(ParityArgument::Even) => Parity::Even,
            },
            stop_bits: match self.stop_bits {
                None => format.stop_bits,
                Some(2) => StopBits::Two,
                Some(_) => StopBits::One,
            },
            dtr: self.dtr.or(format.dtr),
            rts: self.rts.or(format.rts),
            ..format
        }
    }
}
