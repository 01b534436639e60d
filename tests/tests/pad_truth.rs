//! What a built pad does against printed figures and against a Monte Carlo of its own.

use penstock_dsp::pad::truth::{
    HumCase, PHANTOM_FEED_OHMS, hum, load, noise, phantom, rating_watts, spread,
};
use penstock_dsp::pad::{Input, LossKind, Network, Pad, Request, design};
use penstock_dsp::units::{Db, Dbu, Ohms, Volts};
use penstock_tests::random::Random;
use penstock_tests::table::Row;
use penstock_tests::{Table, Tee, assert_near, assert_ratio};

fn network(name: &str) -> Network {
    let found = Network::ALL
        .into_iter()
        .find(|network| network.name() == name);
    found.unwrap_or_else(|| panic!("{name}"))
}

fn designed(network: Network, row: &Row) -> (Pad, Ohms, Ohms) {
    let (source, load) = (
        Ohms(row.number("source_ohms")),
        Ohms(row.number("load_ohms")),
    );
    let request = Request {
        network,
        source,
        input: Input::Exact(Ohms(row.number("in_ohms"))),
        output: Ohms(row.number("out_ohms")),
        load,
        loss: Db(row.number("loss_db")),
        kind: match row.text("loss_kind") {
            "loaded" => LossKind::Loaded,
            _ => LossKind::MatchedPower,
        },
    };
    (design(&request).expect("a pad"), source, load)
}

#[test]
fn the_worst_of_all_corners() {
    for row in Table::load("pads_tolerance.txt").rows() {
        let (pad, source, load) = designed(Network::H, row);
        let share = row.number("percent") / 100.0;
        let found = spread(&pad, LossKind::Loaded, source, load, share).loss_db;
        for (name, found) in [("low_db", found.low), ("high_db", found.high)] {
            assert_near(&row.label(), found, row.number(name), row.half_digit(name));
        }
    }
}

/// Every resistor evenly over its tolerance, 40,000 pads: none outside the corners, and as far spread as
/// the root of the sum of squares says (a variable even over +-t has a standard deviation of t/sqrt 3).
#[test]
fn a_monte_carlo_stays_within_the_corners_and_spreads_by_the_root_of_squares() {
    const DRAWS: usize = 40_000;
    let mut random = Random::new(5);
    for (values, share) in [
        ([296.7, 6.6, 71.7], 0.01),
        ([268.2, 66.3, 45.2], 0.05),
        ([2680.0, 118.0, 20.0], 0.001),
    ] {
        let pad = Pad::from_values(Network::H, values);
        let (source, load) = (50.0, 1500.0);
        let found = spread(&pad, LossKind::Loaded, Ohms(source), Ohms(load), share);
        let nominal = |values: [f64; 5]| {
            let tee = Tee {
                r1_ohms: values[0] + values[1],
                r2_ohms: values[3] + values[4],
                r3_ohms: values[2],
            };
            let does = tee.between(source, load);
            [does.loaded_db, does.in_ohms, does.out_ohms]
        };
        let [one, shunt, two] = values;
        let legs = [one, one, shunt, two, two];
        let middle = nominal(legs);
        let mut squares = [0.0; 3];
        let corners = [found.loss_db, found.in_ohms, found.out_ohms];
        let mut reached = [(0.0_f64, 0.0_f64); 3];
        for _ in 0..DRAWS {
            let drawn = nominal(legs.map(|ohms| ohms * (1.0 + random.between(-share, share))));
            for (n, (drawn, middle)) in drawn.iter().zip(middle).enumerate() {
                let off = drawn - middle;
                let slack = 1e-9 * middle;
                assert!(off >= corners[n].low - slack && off <= corners[n].high + slack);
                squares[n] += off * off / DRAWS as f64;
                reached[n] = (reached[n].0.min(off), reached[n].1.max(off));
            }
        }
        for (n, corner) in corners.iter().enumerate() {
            let what = format!("{values:?}, figure {n}");
            assert_ratio(&what, squares[n].sqrt() * 3f64.sqrt(), corner.rss, 0.02);
            // Corners are not out of reach either.
            assert!(reached[n].0 < 0.6 * corner.low, "{what}: {:?}", reached[n]);
            assert!(reached[n].1 > 0.6 * corner.high, "{what}: {:?}", reached[n]);
        }
    }
}

#[test]
fn hum_by_unequal_legs() {
    for row in Table::load("pads_hum.txt").rows() {
        let request = Request {
            network: Network::H,
            source: Ohms(600.0),
            input: Input::Exact(Ohms(600.0)),
            output: Ohms(150.0),
            load: Ohms(150.0),
            loss: Db(row.number("loss_db")),
            kind: LossKind::MatchedPower,
        };
        let case = HumCase {
            source: Ohms(50.0),
            load: request.load,
            common_mode: Ohms(row.number("common_mode_ohms")),
            centre_tapped: row.text("shunt") == "tapped",
            share: row.number("percent") / 100.0,
        };
        let mut pad = design(&request).expect("a pad");
        if case.centre_tapped {
            // Those figures leave the output arms equal, as a U has none to be unequal.
            let values = [pad.values()[0], pad.values()[1], 0.0];
            pad = Pad::from_values(Network::U, values);
        }
        let found = hum(&pad, &case).expect("it is balanced");
        assert_near(
            &row.label(),
            found.rejection_db,
            row.number("rejection_db"),
            row.half_digit("rejection_db"),
        );
    }
    let unbalanced = Pad::from_values(Network::T, [500.0, 6.0, 100.0]);
    let case = HumCase {
        source: Ohms(50.0),
        load: Ohms(1500.0),
        common_mode: Ohms(PHANTOM_FEED_OHMS),
        centre_tapped: false,
        share: 0.01,
    };
    assert_eq!(hum(&unbalanced, &case), None);
}

#[test]
fn heat_at_a_level() {
    for row in Table::load("pads_heat.txt").rows() {
        let network = network(row.text("network"));
        let (pad, source, load_ohms) = designed(network, row);
        // The level is that across the input: the source's own part is added.
        let at_input = Dbu(row.number("level_dbu")).volts().0;
        let in_ohms = pad.in_ohms(load_ohms).0;
        let emf = Volts(at_input * (in_ohms + source.0) / in_ohms);
        let found = load(&pad, emf, source, load_ohms);
        assert_ratio(&row.label(), found.volts.0, at_input, 1e-9);
        let place = network
            .branches()
            .iter()
            .position(|branch| branch.position == row.number("position") as usize)
            .expect("a resistor");
        let milliwatts = found.heat[place] * 1e3;
        let (want, half) = (row.number("milliwatts"), row.half_digit("milliwatts"));
        assert_near(&row.label(), milliwatts, want, half);
    }
    // 1/4 W arms suffice at +24 dBu, continuous, not at +28 (with twice the heat as the rule).
    assert_eq!(rating_watts(0.1244), Some(0.25));
    assert_eq!(rating_watts(0.3124), Some(1.0));
    assert_eq!(rating_watts(3.0), None);
}

/// Currents of a shorted phantom feed (48 V through 6.81 kohm: IEC 61938, figures from memory; the
/// arithmetic is Ohm's law).
#[test]
fn phantom_power_into_a_short() {
    let wire = phantom(&Pad::STRAIGHT, Ohms(0.001));
    assert_near("one leg, mA", wire.hot_amps * 1e3, 7.048, 0.0005);
    let both = (wire.hot_amps + wire.cold_amps) * 1e3;
    assert_near("both legs, mA", both, 14.10, 0.005);
    assert_near("feed, W", wire.feed_watts, 0.338, 0.0005);
    // Through an H: feed, both arms of the leg and half the source in series, nothing in the shunt.
    let pad = Pad::from_values(Network::H, [294.0, 6.65, 71.5]);
    let found = phantom(&pad, Ohms(50.0));
    let want = 48.0 / (6810.0 + 294.0 + 71.5 + 25.0);
    assert_ratio("H", found.source_amps, want, 1e-6);
}

/// A passive network at one temperature has the noise of its output resistance, whatever its loss
/// (Nyquist); 150 ohm: -130.922 dBu from 20 Hz to 20 kHz at 20 degC.
#[test]
fn noise_is_that_of_the_output_resistance() {
    for loss_db in [20.0, 40.0, 50.0] {
        let request = Request {
            network: Network::H,
            source: Ohms(50.0),
            input: Input::Exact(Ohms(600.0)),
            output: Ohms(150.0),
            load: Ohms(1500.0),
            loss: Db(loss_db),
            kind: LossKind::Loaded,
        };
        let pad = design(&request).expect("a pad");
        let found = noise(&pad, request.source, request.load);
        assert_near("150 ohm", found.open.0, -130.922, 0.0005);
        assert_near("density, nV", found.volts_per_root_hz * 1e9, 1.5583, 5e-5);
        assert_near("a microphone", found.over_150_ohm.0, 0.0, 1e-9);
        // 200 ohm: -129.669 - (-130.918) dBu at 20 kHz bandwidth.
        assert_near("200 ohm", found.over_200_ohm.0, -1.249, 0.001);
    }
}
