//! The plot of a drift, as lines of text: the screen's own chart, drawn into a buffer.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::symbols::Marker;
use ratatui::widgets::{Axis, Chart, Dataset, GraphType, Widget as _};

use crate::cli::ledger::out;
use crate::reading::Ohms;
use crate::record::ledger::{Drift, Point};

/// The size of the plot in characters.
const SIZE: Rect = Rect {
    x: 0,
    y: 0,
    width: 76,
    height: 12,
};
/// Seconds of a day.
const DAY: f64 = 86_400.0;

/// The plot; empty if the times or the resistances give none.
pub(super) fn drift(drift: &Drift) -> String {
    let days: Vec<Option<f64>> = drift.points.iter().map(day).collect();
    let (Some(Some(first)), Some(Some(last))) = (days.first(), days.last()) else {
        return String::new();
    };
    let points = |corrected: bool| -> Vec<(f64, f64)> {
        days.iter()
            .zip(&drift.points)
            .filter(|(_, point)| point.at_20.is_some() == corrected)
            .filter_map(|(day, point)| Some(((*day)? - first, point.best().0)))
            .collect()
    };
    let (corrected, as_read) = (points(true), points(false));
    let all = corrected.iter().chain(&as_read).map(|(_, ohms)| *ohms);
    let (least, most) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), ohms| {
        (least.min(ohms), most.max(ohms))
    });
    // A tenth above and below; of a resistance that never changed, a part of itself.
    let margin = ((most - least) / 10.0).max(most.abs() * 0.01).max(1e-3);
    let heights = [(least - margin).max(0.0), most + margin];
    let span = (last - first).max(1.0 / 24.0);
    let dates = [&drift.points.first(), &drift.points.last()]
        .map(|point| point.map_or_else(String::new, |p| out::local(&p.began)));
    let sets = vec![
        Dataset::default()
            .marker(Marker::Custom('*'))
            .graph_type(GraphType::Scatter)
            .data(&corrected),
        Dataset::default()
            .marker(Marker::Custom('o'))
            .graph_type(GraphType::Scatter)
            .data(&as_read),
    ];
    let chart = Chart::new(sets)
        .x_axis(Axis::default().bounds([0.0, span]).labels(dates))
        .y_axis(
            Axis::default()
                .bounds(heights)
                .labels(heights.map(|ohms| Ohms(ohms).to_string())),
        );
    let mut buffer = Buffer::empty(SIZE);
    chart.render(SIZE, &mut buffer);
    lines(&buffer)
}

/// Days since the epoch.
fn day(point: &Point) -> Option<f64> {
    let time: jiff::Timestamp = point.began.parse().ok()?;
    Some(time.as_duration().as_secs_f64() / DAY)
}

fn lines(buffer: &Buffer) -> String {
    let mut text = String::new();
    for row in SIZE.rows() {
        let cells = row.positions().filter_map(|place| buffer.cell(place));
        let line: String = cells.map(ratatui::buffer::Cell::symbol).collect();
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
