//! The most a conductor of a nominal cross-section may read by IEC 60228, at 20 °C.
//!
//! The table begins at 0.5 mm²: for the thin cores of instrument leads the standard tells
//! nothing, and neither does this.

use crate::circuit::conductor::{Metres, SquareMillimetres};
use crate::reading::Ohms;

/// How a conductor is built: the class of IEC 60228, and whether its copper is tinned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Construction {
    /// Class 1: solid, plain copper.
    Solid,
    /// Class 2: stranded, plain copper.
    Stranded,
    /// Class 5: flexible, plain copper.
    Flexible,
    /// Class 5: flexible, tinned copper.
    FlexibleTinned,
}

/// One row of the table: the area in mm², the largest resistances in ohms per kilometre.
struct Row {
    area: f64,
    /// Classes 1 and 2 have the same figure at these areas.
    fixed: f64,
    flexible: f64,
    flexible_tinned: f64,
}

const fn row(area: f64, fixed: f64, flexible: f64, flexible_tinned: f64) -> Row {
    Row {
        area,
        fixed,
        flexible,
        flexible_tinned,
    }
}

/// IEC 60228, read from two transcriptions.
const TABLE: [Row; 5] = [
    row(0.5, 36.0, 39.0, 40.1),
    row(0.75, 24.5, 26.0, 26.7),
    row(1.0, 18.1, 19.5, 20.0),
    row(1.5, 12.1, 13.3, 13.7),
    row(2.5, 7.41, 7.98, 8.21),
];

/// The most a conductor of this length may read at 20 °C; `None` for an area without a row.
pub fn maximum_resistance(
    length: Metres,
    area: SquareMillimetres,
    construction: Construction,
) -> Option<Ohms> {
    let row = TABLE
        .iter()
        .find(|row| (row.area - area.0).abs() <= 1e-9 * row.area)?;
    let per_kilometre = match construction {
        Construction::Solid | Construction::Stranded => row.fixed,
        Construction::Flexible => row.flexible,
        Construction::FlexibleTinned => row.flexible_tinned,
    };
    Some(Ohms(length.0 * per_kilometre / 1000.0))
}
