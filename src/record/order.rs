//! Rows whose time cannot be right.
//!
//! Time never goes back in a recording. Where stamps do, one or more of them are damaged: those
//! few that must be left out so that the rest stand in order.

use crate::reading::Stamp;

/// For each stamp, whether it stands in order with the others. As few as can be do not; of two
/// that contradict each other alone, it is the earlier row that does not.
pub(super) fn in_order(stamps: &[Stamp]) -> Vec<bool> {
    // The longest run of rows that never goes back in time, grown row by row: of all runs of
    // each length, the one that ends earliest, and for each row the one before it in its run.
    let mut ends: Vec<(Stamp, usize)> = Vec::new();
    let mut before: Vec<Option<usize>> = Vec::with_capacity(stamps.len());
    for (index, stamp) in stamps.iter().enumerate() {
        let place = ends.partition_point(|(end, _)| end <= stamp);
        let previous = place.checked_sub(1).and_then(|last| ends.get(last));
        before.push(previous.map(|(_, index)| *index));
        match ends.get_mut(place) {
            Some(end) => *end = (*stamp, index),
            None => ends.push((*stamp, index)),
        }
    }
    let mut kept = vec![false; stamps.len()];
    let mut next = ends.last().map(|(_, index)| *index);
    while let Some(index) = next {
        if let Some(row) = kept.get_mut(index) {
            *row = true;
        }
        next = before.get(index).copied().flatten();
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(micros: &[u64]) -> Vec<u64> {
        let stamps: Vec<Stamp> = micros.iter().copied().map(Stamp::from_micros).collect();
        let kept = in_order(&stamps);
        let rows = micros.iter().zip(kept);
        rows.filter_map(|(at, kept)| kept.then_some(*at)).collect()
    }

    #[test]
    fn what_stands_in_order_is_kept() {
        assert!(kept(&[]).is_empty());
        assert_eq!(kept(&[5, 5, 5, 9]), [5, 5, 5, 9]);
    }

    #[test]
    fn a_stamp_too_high_or_too_low_is_left_out() {
        assert_eq!(kept(&[1, 2, 9_999, 3, 4]), [1, 2, 3, 4]);
        assert_eq!(kept(&[9_999, 1, 2]), [1, 2]);
        assert_eq!(kept(&[10, 20, 3, 30]), [10, 20, 30]);
        assert_eq!(kept(&[1, 9_998, 9_999, 2, 3, 4]), [1, 2, 3, 4]);
        assert_eq!(kept(&[1, 9_999, 3]), [1, 3], "the earlier of two");
    }
}
