//! `steadyohm pot`: check a control, at its lugs or through the jack.

use clap::{Args, ValueEnum};

use crate::check::pot::{self, BenchPlan, Gangs, Place, Pot, PotOptions};
use crate::circuit::control::{Control, Tone, Wiring, letter_sentence};
use crate::cli::meter::{self, MeterArguments, OutputArguments, Task};
use crate::cli::status::{Failure, Status};
use crate::cli::{input, status_of};
use crate::reading::{Ohms, Seconds};
use crate::record::{CheckKept, PotKept};

/// Check a control: its total, its track turned slowly from end to end, its ends.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  steadyohm pot --from /dev/ttyUSB0 --protocol lcd-segments-14 --value 500k
  steadyohm pot --value 250kK --law-marks --both-ends
  steadyohm pot --in-circuit --wiring standard --json

Lock the meter on the lowest range that shows the whole control. Places are told in parts of the \
track's resistance from the low end.

Exit status: 0 pass, 1 fail, 2 wrong use, 3 retest, 4 the meter could not be used.")]
pub(super) struct Arguments {
    #[command(flatten)]
    meter: MeterArguments,
    #[command(flatten)]
    output: OutputArguments,
    #[command(flatten)]
    pot: PotArguments,
}

/// The options of the check itself.
#[derive(Debug, Args)]
#[command(next_help_heading = "Control")]
pub(super) struct PotArguments {
    /// What is marked on it: 500k, 4k7, 250kK; a second letter is the tolerance (IEC 60062),
    /// 20 % without one.
    #[arg(long, value_name = "VALUE")]
    value: Option<Control>,
    /// The law letter on it (A, B, C...): what it may mean is told, nothing is judged by it.
    #[arg(long, value_name = "LETTER", value_parser = letter)]
    letter: Option<char>,
    /// What it controls; a tone control cannot be judged at the jack.
    #[arg(long, default_value = "volume")]
    control: ControlArgument,
    #[command(flatten)]
    bench: BenchArguments,
    #[command(flatten)]
    jack: JackArguments,
    /// It clicks into places along its turn: they read as dead spots do.
    #[arg(long)]
    detents: bool,
    /// The resistance of the probe leads in ohms, taken off every reading.
    #[arg(long, value_name = "OHMS", default_value = "0", value_parser = tare)]
    tare: Ohms,
    /// Passes each way.
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(2..=10))]
    passes: u8,
    /// The largest zone, in percent of the track, that a pass may have been unable to show.
    #[arg(long, value_name = "PERCENT", default_value = "5", value_parser = zone)]
    zone: f64,
    /// How long a step waits before it asks again.
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = input::seconds)]
    wait: Seconds,
}

/// What is measured at the lugs besides.
#[derive(Debug, Args)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "one switch each on the command line"
)]
pub(super) struct BenchArguments {
    /// Two gangs on one shaft, measured one after the other and compared.
    #[arg(long, conflicts_with = "in_circuit")]
    gang: bool,
    /// Sweep the other end too, instead of telling it by complement.
    #[arg(long, conflicts_with = "in_circuit")]
    both_ends: bool,
    /// Tell the law from marks at zero, half and full turn, each confirmed with Enter.
    #[arg(long, conflicts_with = "in_circuit")]
    law_marks: bool,
}

/// What is known of the instrument.
#[derive(Debug, Args)]
pub(super) struct JackArguments {
    /// Measure at the output jack, without opening anything.
    #[arg(long)]
    pub(super) in_circuit: bool,
    /// How the volume is wired: the wiper to the jack, or (independent volumes) to the pickup.
    #[arg(long, default_value = "standard", requires = "in_circuit")]
    pub(super) wiring: WiringArgument,
    /// The control's total, where it is known; else it is worked out from the sweep.
    #[arg(long, value_name = "OHMS", requires = "in_circuit", value_parser = above_nothing)]
    total: Option<Ohms>,
    /// The pickup at DC, where it is known; else it is worked out from the sweep.
    #[arg(long, value_name = "OHMS", requires = "in_circuit", value_parser = above_nothing)]
    pickup: Option<Ohms>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum ControlArgument {
    Volume,
    Tone,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum WiringArgument {
    Standard,
    Independent,
}

impl From<WiringArgument> for Wiring {
    fn from(argument: WiringArgument) -> Self {
        match argument {
            WiringArgument::Standard => Self::Standard,
            WiringArgument::Independent => Self::Independent,
        }
    }
}

impl PotArguments {
    /// The options meant; a sentence if they do not make a check.
    pub(super) fn options(&self) -> Result<PotOptions, Failure> {
        if self.jack.in_circuit && self.control == ControlArgument::Tone {
            return Err(Failure::Usage(Tone::REFUSAL.to_owned()));
        }
        let JackArguments { total, pickup, .. } = self.jack;
        if let (Some(total), Some(pickup)) = (total, pickup)
            && pickup >= total
        {
            return Err(Failure::Usage(format!(
                "a pickup of {pickup} behind a control of {total}: a pickup has far less than its \
                 control; are --total and --pickup exchanged?"
            )));
        }
        let place = if self.jack.in_circuit {
            Place::Jack {
                wiring: self.jack.wiring.into(),
                total,
                pickup,
            }
        } else {
            Place::Bench(BenchPlan {
                gangs: if self.bench.gang {
                    Gangs::Two
                } else {
                    Gangs::One
                },
                both_ends: self.bench.both_ends,
                law_marks: self.bench.law_marks,
            })
        };
        Ok(PotOptions {
            nominal: self.value,
            letter: self.letter,
            place,
            tare: self.tare,
            passes: usize::from(self.passes),
            zone: self.zone,
            detents: self.detents,
            wait: self.wait,
        })
    }

    /// The check meant.
    pub(super) fn task(&self) -> Result<Task, Failure> {
        let options = self.options()?;
        Ok(Task {
            name: pot::NAME,
            kept: Some(CheckKept::Pot(PotKept::from(&options))),
            check: Some(Box::new(Pot::new(options))),
        })
    }
}

pub(super) async fn run(arguments: Arguments) -> Result<Status, Failure> {
    let Arguments { meter, output, pot } = arguments;
    let outcome = meter::run(&meter, &output, pot.task()?).await?;
    Ok(status_of(&outcome))
}

fn letter(text: &str) -> Result<char, String> {
    let mut letters = text.chars();
    match (letters.next(), letters.next()) {
        (Some(letter), None) if letter_sentence(letter).is_some() => Ok(letter),
        _ => Err(format!(
            "`{text}` is no law letter; controls carry A, B, C, F, L or U, and the value goes to \
             --value"
        )),
    }
}

fn tare(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        sound if sound <= crate::check::lead::MOST_TARE => Ok(sound),
        high => Err(format!(
            "probe leads of {high} are at fault: mend them first"
        )),
    }
}

fn above_nothing(text: &str) -> Result<Ohms, String> {
    match input::ohms(text)? {
        some if some >= Ohms(100.0) && some <= Ohms(100e6) => Ok(some),
        other => Err(format!(
            "{other} is no control and no pickup; write it like 250k or 7.5k"
        )),
    }
}

fn zone(text: &str) -> Result<f64, String> {
    text.trim()
        .trim_end_matches('%')
        .trim_end()
        .parse::<f64>()
        .ok()
        .filter(|percent| (1.0..=20.0).contains(percent))
        .map(|percent| percent / 100.0)
        .ok_or_else(|| format!("`{text}` is no zone in percent; write a number from 1 to 20"))
}
