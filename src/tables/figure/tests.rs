use super::*;

#[test]
fn temperature_rounds_half_away_then_takes_the_parity_of_its_sign() {
    // (°C, TTTa) worked by hand from table 3931; published readings 015 is
    // -1.5 and 061 is -6.1 (US Navy, Aerographer's Mate Module 2).
    for (c, code) in [
        (8.8, 88),
        (-4.1, 41),
        (-4.0, 41),
        (-0.1, 1),
        (0.1, 0),
        (0.0, 0),
        (-0.04, 0),
        (-0.05, 1),
        (2.35, 24),
        (-2.35, 25),
        (99.9, 998),
        (-99.94, 999),
        (-5.2, 53),
        (-12.0, 121),
    ] {
        assert_eq!(
            TemperatureFigure::from_value(c).unwrap().code(),
            code,
            "{c}"
        );
    }
    assert!(TemperatureFigure::from_value(99.95).is_err());
    assert!(TemperatureFigure::from_value(f64::NAN).is_err());
    assert_eq!(TemperatureFigure::from_code(15).unwrap().value_c(), -1.5);
    assert_eq!(TemperatureFigure::from_code(1000), None);
}

#[test]
fn depression_is_tenths_to_five_then_whole_degrees() {
    // Table 0777, worked by hand: the tie at 5.5 goes up, nothing is 51-55.
    for (k, code) in [
        (0.0, 0),
        (-0.3, 0),
        (0.3, 3),
        (4.95, 50),
        (5.04, 50),
        (5.49, 50),
        (5.5, 56),
        (6.49, 56),
        (6.5, 57),
        (13.0, 63),
        (49.4, 99),
        (80.0, 99),
    ] {
        assert_eq!(DepressionFigure::from_value(k).unwrap().code(), code, "{k}");
    }
    assert!((51..=55).all(|c| DepressionFigure::from_code(c).is_none()));
}

#[test]
fn values_near_a_half_are_snapped_before_they_are_rounded() {
    for k in -4_000..=4_000 {
        for off in [0.0, 1e-7, -1e-7, 2e-6, -2e-6, 2e-5, -2e-5] {
            let value = f64::from(k) * 0.025 + off;
            assert_eq!(half_up(value), (snap(value) + 0.5).floor(), "{value}");
            assert_eq!(half_away(value), round(snap(value)), "{value}");
            // The nearest entry of table 0777, the higher of two that are as near.
            let distance = |entry: f64| snap((snap(value).max(0.0) - entry).abs());
            let codes = tables::depression_codes().iter().rev();
            let nearest = codes.min_by(|l, r| distance(l.1).total_cmp(&distance(r.1)));
            let code = DepressionFigure::from_value(value).unwrap().code();
            assert_eq!(Some(code), nearest.map(|&(code, _)| code), "{value}");
        }
    }
}

#[test]
fn wind_is_to_five_degrees_with_five_hundred_added() {
    // Published: 110/112 is 11112 and 115/112 is 11612 (a training page on the
    // upper-air code), 265/106 is 26606 (US Navy, Aerographer's Mate Module 2);
    // the rest by hand.
    let code = |d, s| {
        WindFigure::from_value(d, s, SpeedUnit::MetresPerSecond)
            .unwrap()
            .code()
    };
    for (dir, speed, five) in [
        (115.0, 112.0, 11612),
        (110.0, 112.0, 11112),
        (265.0, 106.0, 26606),
        (360.0, 3.0, 36003),
        (0.0, 3.0, 36003),
        (357.5, 3.0, 36003),
        (357.49, 3.0, 35503),
        (2.49, 3.0, 36003),
        (2.5, 26.0, 526),
        (25.0, 25.0, 2525),
        (100.0, 0.49, 0),
        (100.0, 0.5, 10001),
        (100.0, 499.49, 10499),
    ] {
        assert_eq!(code(dir, speed), five, "{dir} {speed}");
    }
    assert!(WindFigure::from_value(1.0, 499.5, SpeedUnit::MetresPerSecond).is_err());
    assert_eq!(WindFigure::from_code(99), None);
    assert_eq!(WindFigure::from_code(37001), None);
    assert_eq!(WindFigure::from_code(36501), None);
}

#[test]
fn pressure_splits_at_100_hpa_after_rounding_to_tenths() {
    let code = |p| PressureFigure::from_value(p).unwrap();
    assert_eq!(code(99.96), PressureFigure::Whole(100));
    assert_eq!(code(99.94), PressureFigure::Tenths(999));
    assert_eq!(code(1012.5), PressureFigure::Whole(1013));
    assert_eq!(code(1012.5).code(), 13);
    assert_eq!(code(7.04), PressureFigure::Tenths(70));
    assert!(PressureFigure::from_value(0.04).is_err());
    assert_eq!(
        PressureFigure::from_code(13, false).unwrap().value_hpa(),
        1013.0
    );
    assert_eq!(
        PressureFigure::from_code(100, false).unwrap().value_hpa(),
        100.0
    );
    assert_eq!(PressureFigure::from_code(0, true), None);
}

#[test]
fn heights_drop_leading_figures_and_add_500_below_sea_level() {
    // 85457 and 10711 are published readings (US Navy, Aerographer's Mate
    // Module 2), 50572 one of a course page (Lyndon State College, MET1211L);
    // 00522 was seen in traffic with a surface of 991 hPa, -22 gpm being our
    // arithmetic; the rest by hand.
    let code = |z, step| HeightFigure::from_value(z, step).unwrap().code();
    assert_eq!(code(-22.0, 1), 522);
    assert_eq!(code(1457.0, 1), 457);
    assert_eq!(code(5720.0, 10), 572);
    assert_eq!(code(17_110.0, 10), 711);
    assert_eq!(code(10_545.0, 10), 55);
    assert!(HeightFigure::from_value(-500.0, 1).is_err());
    let back = |code, step, expected| {
        HeightFigure::from_code(code)
            .unwrap()
            .nearest_gpm(step, expected)
    };
    assert_eq!(back(522, 1, 111.0), -22.0);
    assert_eq!(back(522, 1, 700.0), 522.0);
    assert_eq!(back(711, 10, 16_180.0), 17_110.0);
    assert_eq!(back(138, 1, 3012.0), 3138.0);
    // No figure stands for -0 gpm.
    assert_eq!(back(500, 1, 0.0), 500.0);
}

#[test]
fn a_calm_that_was_read_with_a_direction_keeps_it() {
    // `21500` as a surface wind was seen in real traffic of Region II.
    for code in [21_500, 5000, 500, 36_000, 0] {
        let figure = WindFigure::from_code(code).unwrap();
        for unit in [SpeedUnit::MetresPerSecond, SpeedUnit::Knots] {
            let (dir, speed) = (figure.dir_deg(), figure.speed_ms(unit));
            assert_eq!(WindFigure::from_received(dir, speed, unit), Ok(figure));
            assert_eq!(
                WindFigure::from_value(dir, speed, unit),
                Ok(WindFigure::CALM)
            );
        }
    }
}

#[test]
fn hours_round_half_up_over_midnight() {
    assert_eq!(nearest_hour(11, 29), (0, 11));
    assert_eq!(nearest_hour(11, 30), (0, 12));
    assert_eq!(nearest_hour(23, 30), (1, 0));
}

#[test]
fn shear_and_sea_temperature() {
    assert_eq!(shear(12.5, SpeedUnit::MetresPerSecond), Some(13));
    assert_eq!(shear(300.0, SpeedUnit::MetresPerSecond), Some(99));
    assert_eq!(sea_temperature(-0.35).unwrap(), (1, 4));
    assert_eq!(sea_temperature(9.4).unwrap(), (0, 94));
}

#[test]
fn stability_indices_carry_their_sign_in_a_fifty() {
    // 00012 is +12, 00021 +21 (published: a course page and real messages), 51
    // is -1 (from memory); ties and bounds by hand.
    for (k, code) in [
        (12.2, Some(12)),
        (21.0, Some(21)),
        (-1.0, Some(51)),
        (-0.4, Some(0)),
        (-0.5, Some(51)),
        (0.5, Some(1)),
        (-40.0, Some(90)),
        (-41.0, None),
        (49.4, Some(49)),
        (50.0, None),
        (f64::NAN, None),
    ] {
        assert_eq!(stability(k), code, "{k}");
    }
}

#[test]
fn heights_of_pilot_by_hand() {
    // 449 m is one step and a half less 1 m of 300 m; ties go up.
    for (z, step, steps) in [
        (449.0, 300, 1),
        (450.0, 300, 2),
        (9881.0, 300, 33),
        (749.0, 500, 1),
    ] {
        assert_eq!(height_steps(z, step, 199), Ok(steps), "{z}");
    }
    assert!(height_steps(-151.0, 300, 199).is_err());
    assert!(height_steps(50_000.0, 500, 99).is_err());
    assert!(height_steps(f64::NAN, 500, 99).is_err());
    assert_eq!(height_tens(9897.0), Ok(990));
    assert_eq!(height_tens(9895.0), Ok(990));
    assert!(height_tens(60_000.0).is_err() && height_tens(-6.0).is_err());
}
