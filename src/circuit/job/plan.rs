//! A job file as it is written: what the instrument is made of and how it is wired.
//!
//! A plan either names a layout and gives values for its parts, or describes everything. It is
//! read, and written, with one set of types; [`Job`](crate::circuit::Job) judges it.

use serde::{Deserialize, Serialize};
use toml::Spanned;

/// A job file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// The schema of the file: 1.
    pub schema: Spanned<u32>,
    /// What is on the bench, in the words of whoever writes it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// The layout whose parts are given values here; without it the file describes everything.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layout: Option<Spanned<String>>,
    /// There is a battery-powered circuit between the controls and the jack.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub active: bool,
    /// Where the work is done.
    #[serde(default, skip_serializing_if = "Workshop::is_unknown")]
    pub workshop: Workshop,
    /// The pickups.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pickup: Vec<Pickup>,
    /// The potentiometers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub control: Vec<ControlText>,
    /// The capacitors.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub capacitor: Vec<Capacitor>,
    /// Fixed resistors.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub resistor: Vec<Resistor>,
    /// The selector, then the other switches.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub switch: Vec<SwitchText>,
    /// The jack.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub jack: Option<Spanned<Jack>>,
    /// Metal that must be grounded: bridge and strings, the cases of controls, a shield.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub metal: Vec<Metal>,
    /// What is joined to what.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wiring: Option<Spanned<Wiring>>,
}

/// Where the work is done.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Workshop {
    /// Its temperature in degrees Celsius, if it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub celsius: Option<Spanned<f64>>,
}

impl Workshop {
    const fn is_unknown(&self) -> bool {
        self.celsius.is_none()
    }
}

/// A pickup. Its terminals are `hot` and `ground`, or with two coils `first_start`,
/// `first_finish`, `second_start` and `second_finish`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pickup {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "bridge pickup".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its winding in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ohms: Option<Spanned<f64>>,
    /// Its two coils in ohms, where their ends are brought out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coils: Option<Spanned<Vec<f64>>>,
    /// How far it may be off, as a part: 0.1 is ten per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<Spanned<f64>>,
    /// The temperature its ohms hold for, if it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub celsius: Option<Spanned<f64>>,
}

/// How a control's track is divided as its knob turns.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Law {
    /// Evenly.
    #[default]
    Linear,
    /// Slowly at first: about 15 per cent at half a turn.
    Audio,
    /// Slowly at last.
    ReverseAudio,
    /// One gang of a blend: full from the middle to zero, down to nothing at full.
    BlendFirst,
    /// The other gang of a blend: full from the middle up, down to nothing at zero.
    BlendSecond,
}

/// A potentiometer. Its terminals are `top`, `wiper` and `bottom`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlText {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "volume control".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its whole track in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ohms: Option<Spanned<f64>>,
    /// How far it may be off, as a part: 0.2 is twenty per cent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<Spanned<f64>>,
    /// Its law.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub law: Option<Law>,
    /// What is left between wiper and end at the stop, in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_ohms: Option<Spanned<f64>>,
    /// The control on whose shaft this one sits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub follows: Option<Spanned<String>>,
}

/// A capacitor, open at direct current. Its terminals are `one` and `two`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Capacitor {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "tone capacitor".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its capacitance in farads.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub farads: Option<Spanned<f64>>,
}

/// A fixed resistor. Its terminals are `one` and `two`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Resistor {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "treble bleed resistor".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its resistance in ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ohms: Option<Spanned<f64>>,
    /// How far it may be off, as a part.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tolerance: Option<Spanned<f64>>,
}

/// The selector or another switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SwitchText {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "selector".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// Its lugs, those side by side in a row.
    pub terminals: Vec<Spanned<String>>,
    /// Its positions in their order.
    pub positions: Vec<Position>,
}

/// One position of a switch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Position {
    /// What it is called: "bridge", "pulled".
    pub name: Spanned<String>,
    /// The pairs of lugs it connects.
    pub closes: Vec<Spanned<[String; 2]>>,
}

/// The jack. Its terminals are `jack.tip` and `jack.sleeve`, with `jack.ring` on a stereo one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Jack {
    /// Mono or stereo.
    pub kind: JackKind,
}

/// Whether a jack has a ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JackKind {
    /// Tip and sleeve.
    Mono,
    /// Tip, ring and sleeve.
    Stereo,
}

/// Metal that must be grounded. Its one terminal is its short name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Metal {
    /// Its short name in this file.
    pub id: Spanned<String>,
    /// Its name in sentences: "bridge and strings".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
}

/// What is joined to what. The common ground is the terminal `ground`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wiring {
    /// Terminals that belong to no part: a tag, a splice.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub terminals: Vec<Spanned<String>>,
    /// Pairs of terminals with a soldered wire between them.
    pub connections: Vec<Spanned<[String; 2]>>,
}

/// A value of no file, for a plan that is made rather than read.
pub fn plain<T>(value: T) -> Spanned<T> {
    Spanned::new(0..0, value)
}
