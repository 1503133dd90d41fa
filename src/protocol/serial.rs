//! How a serial line is set for a format.

/// Settings of a serial line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SerialSettings {
    /// Bits per second.
    pub baud: u32,
    /// Data bits of a character: 5 to 8.
    pub data_bits: u8,
    /// Parity of a character.
    pub parity: Parity,
    /// Stop bits of a character.
    pub stop_bits: StopBits,
    /// The DTR line: raised, lowered, or left as the system sets it.
    pub dtr: Option<bool>,
    /// The RTS line: raised, lowered, or left as the system sets it.
    pub rts: Option<bool>,
    /// How long to wait after setting the lines before listening, in milliseconds: an
    /// isolated adapter powered from them needs a moment. What arrives before is discarded.
    pub settle_ms: u32,
}

/// Parity of a character.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Parity {
    /// No parity bit.
    None,
    /// Odd parity.
    Odd,
    /// Even parity.
    Even,
}

/// Stop bits of a character.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopBits {
    /// One.
    One,
    /// Two.
    Two,
}

impl Default for SerialSettings {
    /// 9600 8N1, lines as the system sets them.
    fn default() -> Self {
        Self {
            baud: 9600,
            data_bits: 8,
            parity: Parity::None,
            stop_bits: StopBits::One,
            dtr: None,
            rts: None,
            settle_ms: 0,
        }
    }
}
