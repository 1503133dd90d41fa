//! How everything that moves is set, and what the circuit reads there.

/// One setting of selectors, switches and controls.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// For each switch of the circuit, the selector among them, its position counted from 0.
    pub positions: Vec<usize>,
    /// For each control of the circuit, the electrical part of the track below the wiper: 0 at
    /// zero, 1 full up.
    pub settings: Vec<f64>,
    /// The joints unsoldered for the measurement, as numbers of the circuit's elements.
    pub lifted: Vec<usize>,
}
