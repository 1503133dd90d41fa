//! What is to be done now: a word or three in big letters, the bend in progress, the sentence.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget as _;

use crate::check::notice::{DisturbanceKind, Phase, Trouble, Wants};
use crate::check::pot::TrackView;
use crate::check::step::{Flexing, Reach, StepMachine};
use crate::check::watchdog::stops_judging;
use crate::reading::Seconds;
use crate::screen::steps::label;
use crate::screen::{Scene, big, states, text};
use crate::signal::{Basis, percent};

/// What is to be done now.
#[derive(Debug)]
pub(super) struct Prompt {
    /// In big letters.
    pub(super) headline: String,
    /// The bend in progress and how many there are.
    pub(super) bend: Option<(u32, u32)>,
    /// How much of this bend is left, 0 to 1, and in seconds.
    pub(super) left: Option<(f64, f64)>,
    /// The plain word for what a key would do now.
    pub(super) key: Option<&'static str>,
    /// The whole sentence.
    pub(super) sentence: Option<String>,
    style: Style,
}

impl Prompt {
    /// What is to be done now.
    pub(super) fn of(scene: &Scene<'_>) -> Self {
        let session = scene.session;
        let stops = |trouble: &Trouble| stops_judging(*trouble);
        if let Some(trouble) = session.watchdog().active().find(stops) {
            return Self {
                headline: trouble_word(trouble).to_owned(),
                style: scene.theme.trouble(),
                ..Self::bare(scene)
            };
        }
        let view = session.check().map(crate::check::Check::view);
        if let Some(track) = view.as_ref().and_then(|view| view.track.as_ref()) {
            return Self::of_track(scene, track);
        }
        match view.and_then(|view| view.now) {
            Some(step) => {
                let mut prompt = Self::of_step(scene, step);
                prompt.sentence = bending(scene, step)
                    .or_else(|| session.history().prompt().map(str::to_owned));
                let says_so = |said: &String| said.contains("Enter");
                if prompt.sentence.as_ref().is_some_and(says_so) {
                    prompt.key = None;
                }
                prompt
            }
            None => Self {
                headline: waited_for(scene).to_owned(),
                sentence: session.history().prompt().map(str::to_owned),
                ..Self::bare(scene)
            },
        }
    }

    /// These words, whatever the session does.
    pub(super) fn saying(scene: &Scene<'_>, headline: &str, sentence: String) -> Self {
        Self {
            headline: headline.to_owned(),
            sentence: Some(sentence),
            ..Self::bare(scene)
        }
    }

    /// What to do with a control.
    fn of_track(scene: &Scene<'_>, track: &TrackView<'_>) -> Self {
        let seen = break_just_seen(scene);
        let headline = seen.unwrap_or(track.headline);
        let calm = seen.is_none() && track.advice.is_none();
        Self {
            headline: headline.to_owned(),
            sentence: scene.session.history().prompt().map(str::to_owned),
            style: if calm {
                scene.theme.task()
            } else {
                scene.theme.event()
            },
            ..Self::bare(scene)
        }
    }

    /// Nothing to do but wait for the meter.
    fn bare(scene: &Scene<'_>) -> Self {
        Self {
            headline: "WAIT".to_owned(),
            bend: None,
            left: None,
            key: None,
            sentence: None,
            style: scene.theme.task(),
        }
    }

    fn of_step(scene: &Scene<'_>, step: &StepMachine) -> Self {
        let name = label(&step.plan().name).to_uppercase();
        let mut prompt = Self::bare(scene);
        match step.phase() {
            Phase::Waiting => {
                // Which way the plug goes, in or out, only the sentence knows.
                prompt.headline = match step.plan().reach {
                    Reach::Touch if step.plan().of_probes => "TIPS TOGETHER".to_owned(),
                    Reach::Touch => format!("PROBES ON: {name}"),
                    Reach::PullShort | Reach::Confirm => name,
                };
            }
            Phase::Confirm => {
                "PRESS ENTER".clone_into(&mut prompt.headline);
                prompt.key = Some("Press Enter when the probes are on.");
            }
            Phase::Settling | Phase::Still => "HOLD STILL".clone_into(&mut prompt.headline),
            Phase::Lifting => "LIFT".clone_into(&mut prompt.headline),
            Phase::Flexing => prompt.bend(scene, step),
            // A control has no step machine; its own view tells what to do.
            Phase::Sweeping => {}
        }
        prompt
    }

    fn bend(&mut self, scene: &Scene<'_>, step: &StepMachine) {
        let Some(flexing) = step.flexing() else {
            return;
        };
        let of = flexing.pacing.flexes;
        let Some((at, tick)) = scene.session.history().tick() else {
            "GET READY".clone_into(&mut self.headline);
            self.bend = Some((flexing.bend_number(), of));
            return;
        };
        let going_on = flexing.in_gap().then(|| match step.plan().wants() {
            Wants::Open => "TOUCH",
            Wants::Closed | Wants::Sweep => "BREAK",
            Wants::Value => "JUMP",
        });
        match going_on.or_else(|| break_just_seen(scene)) {
            Some(word) => {
                word.clone_into(&mut self.headline);
                self.style = scene.theme.event();
            }
            None => "BEND AND HOLD".clone_into(&mut self.headline),
        }
        self.bend = Some((tick.flex, tick.of));
        let period = flexing.pacing.period.0;
        let left = (period - scene.now.since(*at).0).max(0.0);
        let share = if period > 0.0 { left / period } else { 0.0 };
        self.left = Some((share.clamp(0.0, 1.0), left));
    }

    /// Letters of the headline, the count with them.
    pub(super) fn letters(&self) -> u16 {
        let count = self.count().map_or(0, |count| count.len() + 1);
        u16::try_from(self.headline.len() + count).unwrap_or(u16::MAX)
    }

    fn count(&self) -> Option<String> {
        self.bend.map(|(bend, of)| format!("{bend}/{of}"))
    }

    /// Draws the headline, and the count of bends at the right where there is room.
    pub(super) fn headline(&self, area: Rect, buffer: &mut Buffer) {
        let Some(((bend, of), count)) = self.bend.zip(self.count()) else {
            big::draw(&self.headline, self.style, area, buffer);
            return;
        };
        let letters = u16::try_from(count.len()).unwrap_or(u16::MAX);
        let words = u16::try_from(self.headline.len()).unwrap_or(u16::MAX);
        // Both in letters of one size.
        let size = [8, big::COLUMNS].into_iter().find(|columns| {
            area.height >= big::ROWS
                && letters.saturating_add(words).saturating_mul(*columns) < area.width
        });
        let taken = letters.saturating_mul(size.unwrap_or(1)).min(area.width);
        let (left, _) = crate::screen::stack::beside(area, area.width - taken, 0);
        let right = Rect {
            x: area.x.saturating_add(left.width),
            width: taken,
            ..area
        };
        if size.is_some() {
            big::draw(&self.headline, self.style, left, buffer);
            big::draw(&count, self.style, right, buffer);
        } else {
            let plain = format!("{}  {bend} of {of}", self.headline);
            big::draw(&plain, self.style, area, buffer);
        }
    }

    /// Whether there is something for the row of the bar.
    pub(super) const fn has_bar(&self) -> bool {
        self.bend.is_some() || self.key.is_some()
    }

    /// Draws the time left of this bend, or the key that is waited for.
    pub(super) fn bar(&self, scene: &Scene<'_>, row: Rect, buffer: &mut Buffer) {
        let theme = scene.theme;
        if let Some(key) = self.key {
            return text::line(key, theme.strong(), row, buffer);
        }
        let Some((bend, of)) = self.bend else { return };
        let (share, seconds) = self.left.unwrap_or((0.0, 0.0));
        let label = format!("bend {bend} of {of}  {seconds:.1} s more  ");
        let room = row.width.saturating_sub(text::width(&label));
        let filled = text::cells(share * f64::from(room)).min(room);
        Line::from_iter([
            Span::styled(label, theme.strong()),
            Span::styled("█".repeat(usize::from(filled)), self.style),
            Span::styled("─".repeat(usize::from(room - filled)), theme.quiet()),
        ])
        .render(row, buffer);
    }
}

/// What a check without a step machine waits for, in big letters.
fn waited_for(scene: &Scene<'_>) -> &'static str {
    let phase = states::of(scene).and_then(|view| view.phase);
    phase.map_or("WAIT", states::headline)
}

/// What is wrong, in big letters.
const fn trouble_word(trouble: Trouble) -> &'static str {
    match trouble {
        Trouble::WrongFunction => "NOT ON OHMS",
        Trouble::Hold => "HOLD IS ON",
        Trouble::Relative => "REL IS ON",
        Trouble::LowBattery => "LOW BATTERY",
        Trouble::Stalled => "NO READINGS",
        Trouble::Lost => "PORT LOST",
        Trouble::Garbled => "GARBLED",
        Trouble::RangeChange => "RANGE CHANGE",
    }
}

/// Where to bend now, or first.
fn bending(scene: &Scene<'_>, step: &StepMachine) -> Option<String> {
    let of = step.flexing()?.pacing.flexes;
    let flex = scene
        .session
        .history()
        .tick()
        .map_or(1, |(_, tick)| tick.flex);
    let place = step.plan().place(flex, of)?;
    Some(format!(
        "Bend {place}. Hold until the next tick, then bend the other way.{}",
        worth(step.flexing()?)
    ))
}

/// What the bends so far are worth, once there are some.
fn worth(flexing: &Flexing) -> String {
    let Some((chance, basis)) = flexing.worth().filter(|_| flexing.held > 0) else {
        return String::new();
    };
    let assumed = match basis {
        Basis::Assumed => " (assumed)",
        Basis::Documented | Basis::Tried => "",
    };
    format!(
        " A fault acting for {} at each bend would have shown with {}{assumed} so far.",
        flexing.pacing.momentary,
        percent(chance)
    )
}

/// The word for a break or a touch of just now, large for a moment.
fn break_just_seen(scene: &Scene<'_>) -> Option<&'static str> {
    const SHOWN: Seconds = Seconds(1.5);
    let mark = scene.session.history().marks().last()?;
    (scene.now.since(mark.to) <= SHOWN).then_some(match mark.kind {
        DisturbanceKind::Break => "BREAK",
        DisturbanceKind::Touch => "TOUCH",
        DisturbanceKind::Flicker => "FLICKER",
        DisturbanceKind::Jump => "JUMP",
        DisturbanceKind::NoisyZone => "NOISY",
    })
}
