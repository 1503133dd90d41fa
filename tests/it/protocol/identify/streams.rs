//! What meters and other devices send, and what a line does to it.

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use steadyohm::protocol::{Parity, Protocol, SerialSettings, Shape, Shown, StopBits, encode};
use steadyohm::reading::{Annunciator, Annunciators, Quantity};

pub(super) fn chance(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

pub(super) fn below(chance: &mut ChaCha8Rng, end: usize) -> usize {
    chance.random_range(0..end.max(1))
}

/// What the probes are on.
#[derive(Debug, Clone, Copy)]
pub(super) enum Content {
    /// Nothing: over-range, one frame like the other.
    Open,
    /// A good lead: 0.4 ohm, give or take a count.
    Closed,
    /// A potentiometer turned from end to end: 0 to 10 kilohm.
    Sweep,
    /// All of them in turn.
    Mixed,
}

impl Content {
    pub(super) const ALL: [Self; 4] = [Self::Open, Self::Closed, Self::Sweep, Self::Mixed];

    /// In ohms; `None` for over-range.
    fn value(self, place: usize, count: usize, chance: &mut ChaCha8Rng) -> Option<f64> {
        let turned = fraction(place, count);
        match self {
            Self::Open => None,
            Self::Closed => Some(0.4 + 0.1 * f64::from(chance.random_range(-1_i32..=1))),
            Self::Sweep => Some(10_000.0 * turned + chance.random_range(0.0..3.0)),
            Self::Mixed => match place % 3 {
                0 => None,
                1 => Self::Closed.value(place, count, chance),
                _ => Self::Sweep.value(place, count, chance),
            },
        }
    }
}

fn fraction(place: usize, count: usize) -> f64 {
    let number = |value: usize| f64::from(u32::try_from(value).unwrap());
    number(place) / number(count.max(1))
}

/// A meter that speaks a format.
pub(super) struct Meter<'f> {
    pub(super) format: &'f Protocol,
    /// The ranges, finest first: the power of ten of the last digit, the most it shows.
    ranges: Vec<(Shape, i8, f64)>,
    over: Vec<u8>,
}

const MARKS: Annunciators = Annunciators::NONE.with(Annunciator::AutoRange);

impl<'f> Meter<'f> {
    pub(super) fn new(format: &'f Protocol) -> Self {
        let shapes = format.shapes();
        let counts = format.counts().map_or(199_999, i64::from);
        let resistances = || {
            let is_resistance = |shape: &&Shape| shape.quantity == Quantity::Resistance;
            shapes.iter().filter(is_resistance)
        };
        let mut ranges = Vec::new();
        for shape in resistances() {
            if let Shown::Number { exponent, most, .. } = shape.shown
                && exponent >= -3
                && encode(format, &shape.measured(1, MARKS)).is_ok()
            {
                let most = f64::from(i32::try_from(most.min(counts)).unwrap());
                ranges.push((*shape, exponent, most));
            }
        }
        ranges.sort_by_key(|(_, exponent, _)| *exponent);
        // A display that is over-range stands on its highest range.
        let over = resistances()
            .filter(|shape| matches!(shape.shown, Shown::Over { .. } | Shown::Blank))
            .filter_map(|shape| encode(format, &shape.measured(0, MARKS)).ok())
            .next_back()
            .unwrap();
        Self {
            format,
            ranges,
            over,
        }
    }

    /// So many frames.
    pub(super) fn frames(
        &self,
        content: Content,
        count: usize,
        chance: &mut ChaCha8Rng,
    ) -> Vec<Vec<u8>> {
        let frame = |place| {
            let frame = self.frame(content.value(place, count, chance));
            // A first column that a format passes over holds a time or a counter.
            match frame.first() {
                Some(b',' | b'\t') => [(place * 250).to_string().into_bytes(), frame].concat(),
                _ => frame,
            }
        };
        (0..count).map(frame).collect()
    }

    /// The frame that shows a resistance on the finest range that holds it.
    fn frame(&self, ohms: Option<f64>) -> Vec<u8> {
        let Some(ohms) = ohms else {
            return self.over.clone();
        };
        let on = |(shape, exponent, most): &(Shape, i8, f64)| {
            let digits = (ohms / 10_f64.powi((*exponent).into())).round();
            let digits: i64 =
                (digits <= *most).then(|| format!("{digits:.0}").parse().unwrap())?;
            encode(self.format, &shape.measured(digits, MARKS)).ok()
        };
        self.ranges.iter().find_map(on).unwrap()
    }
}

/// Replaces this share of the bytes by others.
pub(super) fn damage(bytes: &mut [u8], share: f64, chance: &mut ChaCha8Rng) {
    for byte in bytes {
        if chance.random_bool(share) {
            *byte = byte.wrapping_add(chance.random_range(1..=255));
        }
    }
}

/// Streams that are no meter's.
pub(super) fn strangers() -> Vec<(&'static str, Vec<u8>)> {
    let mut chance = chance(11);
    let random: Vec<u8> = (0..20_000).map(|_| chance.random()).collect();
    let few: Vec<u8> = (0..60).map(|_| chance.random()).collect();
    let seven: Vec<u8> = random.iter().map(|byte| byte & 0x7F).collect();
    let counting: Vec<u8> = (0..=255).cycle().take(5_000).collect();
    // The shape of the sentences of a satellite receiver; the values are invented.
    let position = "$XXGGA,120000.00,0000.0000,N,00000.0000,E,1,08,1.0,10.0,M,0.0,M,,*55\r\n\
                    $XXRMC,120000.00,A,0000.0000,N,00000.0000,E,0.0,0.0,010100,,,A*66\r\n";
    vec![
        ("random bytes", random),
        ("a few random bytes", few),
        ("random seven-bit characters", seven),
        ("zeros", vec![0; 3_000]),
        ("a line held high", vec![0xFF; 3_000]),
        ("a constant letter", b"U".repeat(3_000)),
        ("counting bytes", counting),
        (
            "sentences of a position receiver",
            position.repeat(20).into_bytes(),
        ),
        ("boot messages", b"boot: ok\r\nready.\r\n> \r\n".repeat(20)),
        ("pairs", b"{\"id\": 7, \"state\": \"on\"}\n".repeat(20)),
        ("line ends", b"\r\n".repeat(500)),
        ("nothing", Vec::new()),
    ]
}

/// A serial line whose ends are set to different speeds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub(super) sent: u32,
    pub(super) heard: u32,
    pub(super) own: SerialSettings,
}

impl Line {
    /// What a receiver of eight bits without parity makes of the frames, each of which comes
    /// after a rest.
    pub(super) fn carry(self, frames: &[Vec<u8>]) -> Vec<u8> {
        let mut heard = Vec::new();
        for frame in frames {
            self.receive(&self.levels(frame), &mut heard);
        }
        heard
    }

    /// The level of the line for each bit sent, with a rest of two characters at both ends.
    fn levels(self, frame: &[u8]) -> Vec<bool> {
        let rest = [true; 22];
        let mut levels = rest.to_vec();
        for byte in frame {
            levels.push(false);
            let bits = u32::from(self.own.data_bits);
            levels.extend((0..bits).map(|bit| byte >> bit & 1 == 1));
            let ones = (byte & 0x7F).count_ones() % 2 == 1;
            match self.own.parity {
                Parity::None => {}
                Parity::Odd => levels.push(!ones),
                Parity::Even => levels.push(ones),
            }
            levels.push(true);
            if self.own.stop_bits == StopBits::Two {
                levels.push(true);
            }
        }
        levels.extend(rest);
        levels
    }

    /// Samples the line as a receiver does: in the middle of each bit after a falling edge.
    fn receive(self, levels: &[bool], heard: &mut Vec<u8>) {
        let per_bit = f64::from(self.sent) / f64::from(self.heard);
        let length = f64::from(u32::try_from(levels.len()).unwrap());
        let level = |time: f64| -> bool {
            let place = format!("{:.0}", time.floor()).parse::<usize>().unwrap();
            levels.get(place).copied().unwrap_or(true)
        };
        let mut time = 0.0;
        let mut before = true;
        while time < length {
            let now = level(time);
            if before && !now {
                let sample = |bit: u32| level(time + per_bit * (f64::from(bit) + 1.5));
                let byte = (0..8).fold(0, |byte, bit| byte | u8::from(sample(bit)) << bit);
                // A missing stop bit is a framing error, which the system gives as zero.
                heard.push(if sample(8) { byte } else { 0 });
                time += 9.5 * per_bit;
                before = level(time);
                continue;
            }
            before = now;
            time += 0.25_f64.min(per_bit / 4.0);
        }
    }
}
