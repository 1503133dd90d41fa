//! The library of common layouts: one file of `layouts/` each, a job file in which only the
//! values want filling in.

use crate::circuit::job::Plan;

/// A common layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// What a job names it by.
    pub id: &'static str,
    /// Its job file.
    pub text: &'static str,
}

impl Layout {
    /// Its plan, before it is judged.
    pub fn plan(&self) -> Result<Plan, toml::de::Error> {
        toml::from_str(self.text)
    }
}

/// A job of no layout, with a word on everything that may stand in one: where anything else
/// starts from.
pub const FREE_FORM: &str = include_str!("free-form.toml");

/// The layout of a name.
pub fn find(id: &str) -> Option<&'static Layout> {
    LAYOUTS.iter().find(|layout| layout.id == id)
}

macro_rules! layouts {
    ($($id:literal),+ $(,)?) => {
        &[$(Layout { id: $id, text: include_str!(concat!("layouts/", $id, ".toml")) }),+]
    };
}

/// All of them, the simplest first.
pub const LAYOUTS: &[Layout] = layouts![
    "one-pickup",
    "master-volume",
    "two-pickups-three-way",
    "two-volumes-two-tones",
    "independent-volumes",
    "three-pickups-five-way",
    "coil-split",
    "series-parallel",
    "treble-bleed",
    "two-pickup-blend",
    "stereo-jack",
];
