//! Shares the rows of the screen out among bands, the most needed first.

use ratatui::layout::Rect;

/// Rows of a screen from which on there are rows to spare.
pub(super) const ROOMY: u16 = 34;

/// What rows are needed for, the most needed first. When there are too few, the last go
/// without.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    /// What the meter reads, or the verdict once there is one, in plain letters.
    Reading,
    /// What is to be done now, in plain letters.
    Prompt,
    /// What is wrong with the meter.
    Trouble,
    /// Unplug; no power.
    Caution,
    /// The steps, the reasons of the verdict, the statistics.
    Steps,
    /// The reading in large letters.
    LargeReading,
    /// The prompt in large letters.
    LargePrompt,
    /// The keys.
    Keys,
    /// What could not have been seen, in a line.
    Blind,
    /// The trace.
    Trace,
    /// What runs, on which port, how fast.
    Header,
    /// Small facts, and rules between.
    Note,
    /// The reading in the largest letters.
    LargestReading,
    /// Nothing: air between.
    Air,
}

/// A strip across the screen.
#[derive(Debug, Clone)]
pub(super) struct Band {
    /// Heights it can have, smallest first, and what each is needed for.
    heights: Vec<(Rank, u16)>,
    shrinks: bool,
    fills: bool,
}

impl Band {
    /// A band of one of these heights, smallest first.
    pub(super) const fn growing(heights: Vec<(Rank, u16)>) -> Self {
        Self {
            heights,
            shrinks: false,
            fills: false,
        }
    }

    /// A band of one height; none at all when that is zero.
    pub(super) fn fixed(rank: Rank, height: u16) -> Self {
        let heights = (height > 0).then_some((rank, height));
        Self::growing(heights.into_iter().collect())
    }

    /// An empty row, on a screen with rows to spare.
    pub(super) fn air(area: Rect) -> Self {
        Self::fixed(Rank::Air, u16::from(area.height >= ROOMY))
    }

    /// A band of so many lines, or fewer where there is no room.
    pub(super) fn text(rank: Rank, lines: u16) -> Self {
        Self::fixed(rank, lines).shrinking()
    }

    /// The same, taking fewer rows where its heights do not fit.
    pub(super) const fn shrinking(mut self) -> Self {
        self.shrinks = true;
        self
    }

    /// The same, taking what room is left in the end.
    pub(super) const fn filling(mut self) -> Self {
        self.fills = true;
        self
    }
}

/// The areas of the bands, from top to bottom in the order given; empty ones where there is
/// no room.
pub(super) fn stack<const N: usize>(area: Rect, bands: &[Band; N]) -> [Rect; N] {
    let mut wishes: Vec<(Rank, usize, usize, u16)> = Vec::new();
    for (index, band) in bands.iter().enumerate() {
        let levels = band.heights.iter().enumerate();
        wishes.extend(levels.map(|(level, (rank, height))| (*rank, index, level, *height)));
    }
    wishes.sort_by_key(|(rank, ..)| *rank);
    let mut given = [(0_usize, 0_u16); N];
    let mut left = area.height;
    for (_, index, level, wanted) in wishes {
        let Some((levels, height)) = given.get_mut(index) else {
            continue;
        };
        let more = wanted.saturating_sub(*height);
        let granted = match more <= left {
            true => more,
            false if bands.get(index).is_some_and(|band| band.shrinks) => left,
            false => 0,
        };
        if *levels == level && granted > 0 {
            left -= granted;
            *height = height.saturating_add(granted);
            *levels = level.saturating_add(1);
        }
    }
    let mut filled = bands.iter().zip(&mut given);
    if let Some((_, (_, height))) = filled.find(|(band, (_, height))| band.fills && *height > 0)
    {
        *height = height.saturating_add(left);
    }
    let mut y = area.y;
    given.map(|(_, height)| {
        let band = Rect { y, height, ..area };
        y = y.saturating_add(height);
        band
    })
}

/// Splits an area into a left part of the given width, a gap, and the rest.
pub(super) fn beside(area: Rect, width: u16, gap: u16) -> (Rect, Rect) {
    let width = width.min(area.width);
    let taken = width.saturating_add(gap).min(area.width);
    (
        Rect { width, ..area },
        Rect {
            x: area.x.saturating_add(taken),
            width: area.width - taken,
            ..area
        },
    )
}

/// The top row of an area, and what is below it.
pub(super) fn top_row(area: Rect) -> (Rect, Rect) {
    let height = area.height.min(1);
    (
        Rect { height, ..area },
        Rect {
            y: area.y.saturating_add(height),
            height: area.height - height,
            ..area
        },
    )
}
