//! What copper ought to read, against wire tables and standards.

mod control; // laws, tolerances, the jack's closed forms: IEC tables, a circuit simulator
mod diagnosis; // the posterior against brute force, what a probe tells, groups, verdicts
mod expected; // what layouts ought to read, against worked figures
mod fault; // every fault, against networks built anew and figures by hand
mod job; // the job file, both ways, and every refusal
mod network; // the equations, against laws of all networks
mod simulator; // the equations, against a general-purpose circuit simulator
mod verdicts; // every fault of every layout to its name

use proptest::prelude::*;
use steadyohm::circuit::conductor::{maximum_resistance, resistance, resistance_per_metre};
use steadyohm::circuit::{
    Celsius, ConductorError, Construction, Expected, Gauge, Metres, SquareMillimetres,
};

#[track_caller]
fn close(value: f64, reference: f64, tolerance: f64) {
    assert!(
        (value - reference).abs() <= tolerance,
        "{value} is not {reference} within {tolerance}"
    );
}

#[test]
fn the_wire_table() {
    // A published wire table, ohms per 1000 ft of solid copper at 20 °C.
    let table = [
        (18, 6.39),
        (19, 8.05),
        (20, 10.15),
        (21, 12.80),
        (22, 16.14),
        (23, 20.36),
        (24, 25.67),
        (25, 32.37),
        (26, 40.81),
        (27, 51.47),
        (28, 64.90),
        (29, 81.83),
        (30, 103.20),
    ];
    for (number, ohms) in table {
        let thousand_feet = Metres(304.8);
        let found = resistance(thousand_feet, Gauge::Awg(number), Celsius::REFERENCE).0;
        // Within one unit of the table's last digit.
        close(found, ohms, 0.01);
    }
}

#[test]
fn gauges_are_those_of_the_formula() {
    // ASTM B258: 36 AWG is 0.127 mm and 0000 is 0.46 in by definition (from memory); 24 AWG
    // worked by hand.
    close(Gauge::Awg(36).diameter().0, 0.127e-3, 0.0);
    close(Gauge::Awg(24).diameter().0, 0.510_556e-3, 1e-8);
    close(Gauge::Awg(24).area().0, 0.204_73, 1e-5);
    for (number, area) in [(18, 0.8230), (22, 0.3255), (26, 0.1288), (30, 0.050_93)] {
        close(Gauge::Awg(number).area().0, area, 1e-3 * area);
    }
    // A round wire of the same area has the same diameter.
    let same = Gauge::Area(Gauge::Awg(24).area());
    close(same.diameter().0, 0.510_556e-3, 1e-8);
}

#[test]
fn the_worked_lengths() {
    // IEC 60028 resistivity; 0.00393 for each kelvin (a power engineering handbook). One way at
    // 20 °C, two in series, one way at 30 °C, to four digits.
    for (number, length, one, two, warm) in [
        (24, 3.0, 0.2526, 0.5053, 0.2626),
        (24, 6.0, 0.5053, 1.011, 0.5251),
        (22, 3.0, 0.1589, 0.3178, 0.1651),
        (26, 3.0, 0.4017, 0.8034, 0.4175),
        (28, 4.5, 0.9581, 1.916, 0.9958),
        (20, 6.0, 0.1998, 0.3997, 0.2077),
        (18, 6.0, 0.1257, 0.2514, 0.1306),
        (30, 1.0, 0.3385, 0.6771, 0.3519),
    ] {
        let at = |celsius, times| {
            resistance(Metres(length * times), Gauge::Awg(number), Celsius(celsius)).0
        };
        close(at(20.0, 1.0), one, 8e-5);
        close(at(20.0, 2.0), two, if two > 1.0 { 6e-4 } else { 8e-5 });
        close(at(30.0, 1.0), warm, 8e-5);
    }
    // 17.241 over the area, ohms per kilometre, for the small metric cores.
    for (area, ohms) in [(0.22, 78.37), (0.25, 68.96), (0.34, 50.71)] {
        let gauge = Gauge::Area(SquareMillimetres(area));
        close(
            1000.0 * resistance_per_metre(gauge, Celsius::REFERENCE).0,
            ohms,
            0.01,
        );
    }
}

#[test]
fn the_maxima_of_the_standard() {
    use Construction::{Flexible, FlexibleTinned, Solid, Stranded};
    // IEC 60228, ohms per kilometre at 20 °C: classes 1, 2 and 5 plain, class 5 tinned.
    for (area, solid, stranded, flexible, tinned) in [
        (0.5, 36.0, 36.0, 39.0, 40.1),
        (0.75, 24.5, 24.5, 26.0, 26.7),
        (1.0, 18.1, 18.1, 19.5, 20.0),
        (1.5, 12.1, 12.1, 13.3, 13.7),
        (2.5, 7.41, 7.41, 7.98, 8.21),
    ] {
        let most = |built| maximum_resistance(Metres(1000.0), SquareMillimetres(area), built);
        close(most(Solid).unwrap().0, solid, 1e-9);
        close(most(Stranded).unwrap().0, stranded, 1e-9);
        close(most(Flexible).unwrap().0, flexible, 1e-9);
        close(most(FlexibleTinned).unwrap().0, tinned, 1e-9);
        // Nothing that obeys the standard reads above it: the ideal wire least of all.
        let ideal = resistance(
            Metres(1000.0),
            Gauge::Area(SquareMillimetres(area)),
            Celsius(20.0),
        );
        assert!(ideal < most(Solid).unwrap());
    }
    let short = maximum_resistance(Metres(6.0), SquareMillimetres(0.5), Flexible).unwrap();
    close(short.0, 0.2340, 1e-6);
    assert_eq!(
        maximum_resistance(Metres(6.0), SquareMillimetres(0.22), Flexible),
        None
    );
}

#[test]
fn a_stranded_core_reads_two_to_five_per_cent_more() {
    // From memory.
    let core = Expected::of(Metres(3.0), Gauge::Awg(24), Celsius::REFERENCE);
    close(core.solid.0, 0.2526, 5e-5);
    close(core.stranded_from.0, 0.2577, 5e-5);
    close(core.stranded_to.0, 0.2653, 1e-4);
    assert_eq!(
        core.sentence(),
        "The copper alone reads 0.253 Ω as solid wire, and 0.258 Ω to 0.265 Ω stranded (two to \
         five per cent more for lay and tinning)."
    );
}

#[test]
fn gauges_as_they_are_written() {
    for text in ["24", "24AWG", "AWG24", "awg 24", " 24 awg "] {
        assert_eq!(text.parse(), Ok(Gauge::Awg(24)), "{text:?}");
    }
    for text in ["0.22mm2", "0.22 mm²", "0.22MM2", ".22 mm^2"] {
        let area = Gauge::Area(SquareMillimetres(0.22));
        assert_eq!(text.parse(), Ok(area), "{text:?}");
    }
    for text in [
        "", "awg", "0.22", "24.5awg", "-24", "24m", "mm2", "1e-1mm2", "naNmm2", "AWG24AWG",
    ] {
        let refused = text.parse::<Gauge>();
        assert!(
            matches!(refused, Err(ConductorError::Gauge { .. })),
            "{text:?}: {refused:?}"
        );
    }
    for (text, sentence) in [
        (
            "thin",
            "the gauge \"thin\" could not be read; write an AWG number like 24 or 24AWG, or an area like 0.22mm2",
        ),
        (
            "57",
            "there is no gauge AWG 57; the numbers go from 0 (thick) to 56 (thin)",
        ),
        (
            "300AWG",
            "there is no gauge AWG 300; the numbers go from 0 (thick) to 56 (thin)",
        ),
        (
            "0mm2",
            "a conductor of 0 mm² is no lead; write an area from 0.001 to 1000 mm²",
        ),
    ] {
        assert_eq!(text.parse::<Gauge>().unwrap_err().to_string(), sentence);
    }
}

#[test]
fn lengths_as_they_are_written() {
    for text in ["3m", "3 m", "300cm", "3000 mm", "3", " 3.0 M "] {
        assert_eq!(text.parse(), Ok(Metres(3.0)), "{text:?}");
    }
    // The international foot is 0.3048 m and its inch 25.4 mm, exactly (1959).
    assert_eq!("10ft".parse(), Ok(Metres(3.048)));
    assert_eq!("10 feet".parse(), Ok(Metres(3.048)));
    assert_eq!("100 in".parse(), Ok(Metres(2.54)));
    for text in [
        "", "m", "3 yards", "-3m", "3m2", "3 m m", "1e3", "inf", "3,5 m",
    ] {
        let refused = text.parse::<Metres>();
        assert!(
            matches!(refused, Err(ConductorError::Length { .. })),
            "{text:?}: {refused:?}"
        );
    }
    for (text, sentence) in [
        (
            "long",
            "the length \"long\" could not be read; write it like 3m, 300cm or 10ft",
        ),
        (
            "0m",
            "a lead of 0 m cannot be reckoned with; write a length above 0 and up to 1000 m",
        ),
        (
            "5000",
            "a lead of 5000 m cannot be reckoned with; write a length above 0 and up to 1000 m",
        ),
    ] {
        assert_eq!(text.parse::<Metres>().unwrap_err().to_string(), sentence);
    }
}

proptest! {
    #[test]
    fn what_is_printed_reads_back(
        number in 0..=56_u8, area in 0.001..1000.0_f64, length in 0.001..1000.0_f64,
    ) {
        for gauge in [Gauge::Awg(number), Gauge::Area(SquareMillimetres(area))] {
            prop_assert_eq!(gauge.to_string().parse(), Ok(gauge));
        }
        prop_assert_eq!(Metres(length).to_string().parse(), Ok(Metres(length)));
    }

    /// Whatever is typed is read or refused, and what is read can be reckoned with.
    #[test]
    fn any_text_is_read_or_refused(
        text in "\\PC{0,12}",
        close_by in "[0-9.]{0,4} ?(awg|mm2|mm²|m|cm|ft|AWG)?",
    ) {
        for text in [text, close_by] {
            if let Ok(gauge) = text.parse::<Gauge>() {
                prop_assert!(gauge.area().0.is_finite() && gauge.area().0 > 0.0);
            }
            if let Ok(length) = text.parse::<Metres>() {
                prop_assert!(length.0 > 0.0 && length.0 <= 1000.0);
            }
        }
    }
}
