//! What a meter can be measuring, and the unit that goes with it.

/// The quantity of a reading.
/// Everything a frame can carry is named, so that a wrong dial position is told, not guessed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Resistance, in ohms.
    Resistance,
    /// The buzzer function: still a resistance in ohms, on a fixed range.
    Continuity,
    /// Diode test, in volts.
    Diode,
    /// Voltage of unstated kind, in volts.
    Voltage,
    /// Direct voltage, in volts.
    DirectVoltage,
    /// Alternating voltage, in volts.
    AlternatingVoltage,
    /// Current of unstated kind, in amperes.
    Current,
    /// Direct current, in amperes.
    DirectCurrent,
    /// Alternating current, in amperes.
    AlternatingCurrent,
    /// Capacitance, in farads.
    Capacitance,
    /// Inductance, in henries.
    Inductance,
    /// Frequency, in hertz.
    Frequency,
    /// Duty cycle, in percent.
    DutyCycle,
    /// Temperature in degrees Celsius.
    Celsius,
    /// Temperature in degrees Fahrenheit.
    Fahrenheit,
    /// Transistor current gain, a pure number.
    Gain,
}

impl Quantity {
    /// Every quantity.
    pub const ALL: [Self; 16] = [
        Self::Resistance,
        Self::Continuity,
        Self::Diode,
        Self::Voltage,
        Self::DirectVoltage,
        Self::AlternatingVoltage,
        Self::Current,
        Self::DirectCurrent,
        Self::AlternatingCurrent,
        Self::Capacitance,
        Self::Inductance,
        Self::Frequency,
        Self::DutyCycle,
        Self::Celsius,
        Self::Fahrenheit,
        Self::Gain,
    ];

    /// The word used in format files and recordings.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Resistance => "resistance",
            Self::Continuity => "continuity",
            Self::Diode => "diode",
            Self::Voltage => "voltage",
            Self::DirectVoltage => "direct_voltage",
            Self::AlternatingVoltage => "alternating_voltage",
            Self::Current => "current",
            Self::DirectCurrent => "direct_current",
            Self::AlternatingCurrent => "alternating_current",
            Self::Capacitance => "capacitance",
            Self::Inductance => "inductance",
            Self::Frequency => "frequency",
            Self::DutyCycle => "duty_cycle",
            Self::Celsius => "celsius",
            Self::Fahrenheit => "fahrenheit",
            Self::Gain => "gain",
        }
    }

    /// The quantity of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|quantity| quantity.word() == word)
    }

    /// What the meter is set to, in words for the person at the bench.
    pub const fn plain(self) -> &'static str {
        match self {
            Self::Resistance => "ohms",
            Self::Continuity => "continuity",
            Self::Diode => "diode test",
            Self::Voltage => "volts",
            Self::DirectVoltage => "DC volts",
            Self::AlternatingVoltage => "AC volts",
            Self::Current => "amps",
            Self::DirectCurrent => "DC amps",
            Self::AlternatingCurrent => "AC amps",
            Self::Capacitance => "capacitance",
            Self::Inductance => "inductance",
            Self::Frequency => "frequency",
            Self::DutyCycle => "duty cycle",
            Self::Celsius | Self::Fahrenheit => "temperature",
            Self::Gain => "transistor gain",
        }
    }

    /// The unit symbol in recordings; plain ASCII.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Resistance | Self::Continuity => "ohm",
            Self::Diode | Self::Voltage | Self::DirectVoltage | Self::AlternatingVoltage => "V",
            Self::Current | Self::DirectCurrent | Self::AlternatingCurrent => "A",
            Self::Capacitance => "F",
            Self::Inductance => "H",
            Self::Frequency => "Hz",
            Self::DutyCycle => "%",
            Self::Celsius => "degC",
            Self::Fahrenheit => "degF",
            Self::Gain => "1",
        }
    }

    /// Whether the value is in ohms.
    pub const fn is_resistance(self) -> bool {
        matches!(self, Self::Resistance | Self::Continuity)
    }
}
