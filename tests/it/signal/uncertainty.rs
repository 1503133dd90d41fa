//! How far a reading may be off, against the guide's arithmetic.

use proptest::prelude::*;
use steadyohm::reading::Ohms;
use steadyohm::signal::{Accuracies, Accuracy, uncertainty};

use super::close;

/// JCGM 100:2008, 4.3.7: half a digit is rectangular, u = q / sqrt(12): 0.02887 for 0.1 ohm,
/// 0.04082 for the difference of two readings, doubled for about 95 %.
#[test]
fn digits_alone() {
    let step = Some(Ohms(0.1));
    close(
        uncertainty(Ohms(0.5), step, false, None).0,
        2.0 * 0.028_867_5,
        1e-6,
    );
    close(
        uncertainty(Ohms(0.5), step, true, None).0,
        2.0 * 0.040_824_8,
        1e-6,
    );
    close(uncertainty(Ohms(0.5), None, false, None).0, 0.0, 0.0);
}

/// By hand: 1 % of 20 ohm and 3 counts of 0.1 ohm are 0.5 ohm; 0.5 / sqrt(3) = 0.288675;
/// with the digit's 0.0288675, the root of the sum of squares is 0.290115; doubled 0.58023.
#[test]
fn a_stated_accuracy() {
    let stated = Accuracy {
        share: 0.01,
        counts: 3.0,
    };
    let off = uncertainty(Ohms(20.0), Some(Ohms(0.1)), false, Some(stated));
    close(off.0, 0.580_23, 1e-5);
}

#[test]
fn each_range_has_its_own() {
    let low = Accuracy {
        share: 0.01,
        counts: 3.0,
    };
    let high = Accuracy {
        share: 0.02,
        counts: 5.0,
    };
    let both = Accuracies::of([(Ohms(400.0), low), (Ohms(40e6), high)]);
    assert_eq!(both.at(Ohms(0.3)), Some(low));
    assert_eq!(both.at(Ohms(400.0)), Some(low));
    assert_eq!(both.at(Ohms(500.0)), Some(high));
    assert_eq!(both.at(Ohms(41e6)), None);
    assert_eq!(Accuracies::default().at(Ohms(1.0)), None);
    assert_eq!(Accuracies::default().or(both), both);
    assert_eq!(both.or(Accuracies::everywhere(high)), both);
    assert_eq!(Accuracies::everywhere(high).at(Ohms(1e9)), Some(high));
}

#[test]
fn it_is_read_as_people_type_it() {
    for (text, share, counts) in [
        ("0.8%+3", 0.008, 3.0),
        ("1 % + 5", 0.01, 5.0),
        ("2%", 0.02, 0.0),
    ] {
        let read: Accuracy = text.parse().unwrap();
        close(read.share, share, 1e-12);
        close(read.counts, counts, 0.0);
    }
    for bad in ["", "3", "+3", "x%+3", "90%+3", "-1%", "1%+x", "nan%"] {
        let said = bad.parse::<Accuracy>().unwrap_err().to_string();
        assert!(said.contains("0.8%+3"), "{said}");
    }
}

proptest! {
    /// Nothing that makes a reading less sure makes it surer.
    #[test]
    fn it_only_grows(
        ohms in 0.0..1e8_f64,
        step in 0.0..1e3_f64,
        share in 0.0..0.1_f64,
        counts in 0.0..20.0_f64,
    ) {
        let stated = Some(Accuracy { share, counts });
        let off = |tared, accuracy| uncertainty(Ohms(ohms), Some(Ohms(step)), tared, accuracy).0;
        prop_assert!(off(false, None) <= off(true, None));
        prop_assert!(off(true, None) <= off(true, stated));
        let coarser = uncertainty(Ohms(ohms), Some(Ohms(2.0 * step)), true, stated).0;
        prop_assert!(off(true, stated) <= coarser);
        prop_assert!(coarser.is_finite());
    }
}
