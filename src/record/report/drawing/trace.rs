//! The readings over time: every peak kept, over-range in a lane of its own, bends and breaks
//! marked.

use maud::{Markup, html};

use crate::reading::{Ohms, Stamp};
use crate::record::report::drawing::scale::Scale;
use crate::record::report::drawing::{float, mm, point};
use crate::record::report::input::{TickMark, Trace};
use crate::record::report::text;
use crate::signal::{Column, Point, Sample, columns};

const HEIGHT: f64 = 21.5;
const LEFT: f64 = 15.0;
/// Lanes from the top: marks, over-range, the plot, bends.
const MARKS: f64 = 2.6;
const OVER: f64 = 4.4;
const TOP: f64 = 6.0;
const BOTTOM: f64 = 16.0;
const NUMBERS: f64 = 19.0;
const PLACES: f64 = 21.3;
/// Columns to a millimetre: finer than a printer's dot is of no use.
const COLUMNS: f64 = 4.0;

/// Where things stand.
struct Sheet<'a> {
    trace: &'a Trace,
    scale: Scale,
    width: f64,
}

/// The drawing, so many millimetres wide.
pub(in crate::record::report) fn trace(trace: &Trace, width: f64) -> Markup {
    let scale = match trace.top {
        Some(top) => Scale::up_to(top),
        None if trace.apart => Scale::apart(),
        None => Scale::closed(trace.rest, trace.threshold),
    };
    let sheet = Sheet {
        trace,
        scale,
        width,
    };
    // Where nothing is marked, its lane is not needed.
    let top = if trace.marks.is_empty() { MARKS } else { 0.0 };
    html! {
        svg.trace viewBox={"0 " (mm(top)) " " (mm(width)) " " (mm(HEIGHT - top))} role="img"
            aria-label={"readings of " (text::clean(&trace.name)) " over time"} {
            @for mark in &trace.marks {
                (sheet.mark_area(mark.from, mark.to))
            }
            path d={"M" (point(LEFT, BOTTOM)) "H" (mm(sheet.right())) "M" (point(LEFT, TOP))
                "V" (mm(BOTTOM))} fill="none" stroke="#777" stroke-width="0.2" {}
            path d=(sheet.tick_lines()) stroke="#999" stroke-width="0.15" {}
            (sheet.levels())
            (sheet.line())
            (sheet.tick_numbers())
            (sheet.places())
            @for (index, mark) in trace.marks.iter().enumerate() {
                (sheet.mark_number(index, mark.from))
            }
        }
    }
}

impl Sheet<'_> {
    fn right(&self) -> f64 {
        self.width - 1.0
    }

    fn x(&self, at: Stamp) -> f64 {
        let whole = self.trace.to.since(self.trace.from).0;
        let share = if whole > 0.0 {
            at.since(self.trace.from).0 / whole
        } else {
            0.0
        };
        LEFT + share.clamp(0.0, 1.0) * (self.right() - LEFT)
    }

    fn y(&self, ohms: f64) -> f64 {
        BOTTOM - self.scale.height(ohms) * (BOTTOM - TOP)
    }

    /// The readings: the line is held from one to the next, since nothing is known between.
    fn line(&self) -> Markup {
        let (from, to) = (self.trace.from, self.trace.to);
        let count = columns_across(self.right() - LEFT);
        let shown = columns(self.trace.points.iter().copied(), from, to, count);
        let step = (self.right() - LEFT) / float(count);
        let held = self.held(count);
        let path = self.path(&shown, step, held);
        let dots = self.dots();
        html! {
            path d=(path) fill="none" stroke="#000" stroke-width="0.22" stroke-linejoin="round" {}
            @if let Some(dots) = dots {
                path d=(dots) stroke="#000" stroke-width="0.65" stroke-linecap="round" {}
            }
        }
    }

    /// Columns without a reading that are bridged: three intervals' worth.
    fn held(&self, count: usize) -> usize {
        const INTERVALS: f64 = 3.0;
        let whole = self.trace.to.since(self.trace.from).0;
        let interval = self.trace.interval.map_or(0.5, |interval| interval.0);
        let bridged = (INTERVALS * interval * float(count) / whole.max(1e-6)).ceil();
        (1..=count)
            .rfind(|held| float(*held) <= bridged)
            .unwrap_or(1)
    }

    fn path(&self, shown: &[Column], step: f64, held: usize) -> String {
        let mut path = Vec::new();
        let mut last: Option<usize> = None;
        for (index, column) in shown.iter().enumerate() {
            let Some((high, low)) = self.span(column) else {
                if column.blank {
                    last = None;
                }
                continue;
            };
            let x = mm(LEFT + (float(index) + 0.5) * step);
            path.push(match last {
                Some(before) if index - before <= held => format!("H{x}"),
                _ => format!("M{x} {}", mm(low)),
            });
            path.push(format!("V{}", mm(high)));
            if (low - high).abs() > 0.005 {
                path.push(format!("V{}", mm(low)));
            }
            last = Some(index);
        }
        path.concat()
    }

    /// From the highest to the lowest place of a column, in millimetres from the top.
    fn span(&self, column: &Column) -> Option<(f64, f64)> {
        let high = column.max.map(|ohms| self.y(ohms));
        let low = column.min.map(|ohms| self.y(ohms));
        match (column.over, high, low) {
            (true, _, low) => Some((OVER, low.unwrap_or(OVER))),
            (false, Some(high), Some(low)) => Some((high, low)),
            _ => None,
        }
    }

    /// A dot for each reading, while they can be told apart.
    fn dots(&self) -> Option<String> {
        /// Readings closer than this run into a line, in millimetres.
        const APART: f64 = 0.8;
        let within = |point: &&Point| point.at >= self.trace.from && point.at <= self.trace.to;
        let points = || self.trace.points.iter().filter(within);
        if float(points().count()) * APART > self.right() - LEFT {
            return None;
        }
        let places = points().filter_map(|reading| {
            let y = match reading.sample {
                Sample::Ohms(ohms) if ohms.is_finite() => self.y(ohms),
                Sample::Over => OVER,
                Sample::Ohms(_) | Sample::Blank => return None,
            };
            Some(format!("M{}h0", point(self.x(reading.at), y)))
        });
        Some(places.collect())
    }

    /// Levels with their labels, the most telling first; one too near another is left out.
    fn levels(&self) -> Markup {
        const APART: f64 = 2.4;
        let rest = self
            .trace
            .rest
            .map(|ohms| (self.y(ohms.0), ohms.to_string(), ""));
        let limit = self.trace.threshold.map(|ohms| {
            let word = if self.trace.apart { "< " } else { "> " };
            let label = format!("{word}{}", text::ohms(ohms));
            (self.y(ohms.0), label, "1.2 0.8")
        });
        // What a control should read at most, its half, and nothing; or the decades.
        let marked = self
            .trace
            .top
            .map_or([1e3, 1e6, 0.0], |top| [top.0, 0.5 * top.0, 0.0]);
        let marked = marked.map(|ohms| Some((self.y(ohms), text::ohms(Ohms(ohms)), "0.2 1.4")));
        let mut placed = vec![OVER];
        let mut drawn = Vec::new();
        for (y, label, dashes) in [limit, rest].into_iter().chain(marked).flatten() {
            if placed.iter().any(|other| (other - y).abs() < APART) {
                continue;
            }
            placed.push(y);
            drawn.push((y, label, dashes));
        }
        html! {
            text x=(mm(LEFT - 1.0)) y=(mm(OVER + 0.8)) font-size="2.2" text-anchor="end" { "OL" }
            path d={"M" (point(LEFT, OVER)) "H" (mm(self.right()))} stroke="#bbb"
                stroke-width="0.15" {}
            @for (y, label, dashes) in &drawn {
                text x=(mm(LEFT - 1.0)) y=(mm(y + 0.8)) font-size="2.2" text-anchor="end" {
                    (label)
                }
                @if !dashes.is_empty() {
                    path d={"M" (point(LEFT, *y)) "H" (mm(self.right()))} stroke="#444"
                        stroke-width="0.18" stroke-dasharray=(dashes) {}
                }
            }
        }
    }

    fn tick_lines(&self) -> String {
        let ticks = self.trace.ticks.iter();
        let lines =
            ticks.map(|tick| format!("M{}V{}", point(self.x(tick.at), TOP), mm(BOTTOM + 0.8)));
        lines.collect::<Vec<String>>().concat()
    }

    /// The bends' numbers, as many as can be read.
    fn tick_numbers(&self) -> Markup {
        const APART: f64 = 3.2;
        let mut free = f64::NEG_INFINITY;
        let numbers = self.trace.ticks.iter().filter(|tick| {
            let fits = self.x(tick.at) >= free;
            if fits {
                free = self.x(tick.at) + APART;
            }
            fits
        });
        html! {
            @if !self.trace.ticks.is_empty() {
                text x=(mm(LEFT - 1.0)) y=(mm(NUMBERS)) font-size="2.2" text-anchor="end" { "bend" }
            }
            @for tick in numbers {
                text x=(mm(self.x(tick.at))) y=(mm(NUMBERS)) font-size="2.2" text-anchor="middle" {
                    (tick.number)
                }
            }
        }
    }

    /// Where it was bent, below the first bend of each place; all of them or none.
    fn places(&self) -> Markup {
        /// The width of a letter, roughly.
        const LETTER: f64 = 1.12;
        let firsts = first_of_each_place(&self.trace.ticks);
        let ends = firsts.iter().skip(1).map(|tick| self.x(tick.at));
        let ends = ends.chain([self.right()]);
        let placed: Vec<(f64, String, f64)> = firsts
            .iter()
            .zip(ends)
            .map(|(tick, end)| {
                let place = text::clean(tick.place.as_deref().unwrap_or_default());
                (self.x(tick.at), place, end)
            })
            .collect();
        let fit = placed
            .iter()
            .all(|(x, place, end)| x + float(place.chars().count()) * LETTER <= *end);
        html! {
            @for (x, place, _) in placed.iter().filter(|_| fit) {
                text x=(mm(x - 0.6)) y=(mm(PLACES)) font-size="2.2" { (place) }
            }
        }
    }

    /// The time of a break, hatched, never too narrow to be seen.
    fn mark_area(&self, from: Stamp, to: Stamp) -> Markup {
        let (left, right) = (self.x(from) - 0.4, self.x(to) + 0.4);
        html! {
            rect x=(mm(left)) y=(mm(MARKS + 0.6)) width=(mm(right - left))
                height=(mm(BOTTOM - MARKS - 0.6)) fill="url(#sparse)" stroke="#000"
                stroke-width="0.15" {}
        }
    }

    /// Its number, where it does not cover the one before.
    fn mark_number(&self, index: usize, from: Stamp) -> Markup {
        const APART: f64 = 3.6;
        let x = self.x(from);
        let before = index
            .checked_sub(1)
            .and_then(|before| self.trace.marks.get(before))
            .map(|mark| self.x(mark.from));
        html! {
            path d={"M" (point(x - 0.8, MARKS - 0.9)) "h1.6l-0.8 1.4z"} fill="#000" {}
            @if before.is_none_or(|before| x - before >= APART) {
                text x=(mm(x + 1.1)) y=(mm(MARKS - 0.1)) font-size="2.2" { (index + 1) }
            }
        }
    }
}

/// Whole columns across so many millimetres.
fn columns_across(width: f64) -> usize {
    (1..=2_000_usize)
        .rfind(|count| float(*count) <= width * COLUMNS)
        .unwrap_or(1)
}

/// The first bend at each place in a row.
fn first_of_each_place(ticks: &[TickMark]) -> Vec<&TickMark> {
    let mut firsts: Vec<&TickMark> = Vec::new();
    let mut place: Option<&str> = None;
    for tick in ticks {
        let here = tick.place.as_deref();
        if here.is_some() && here != place {
            firsts.push(tick);
        }
        place = here;
    }
    firsts
}
