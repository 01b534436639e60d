//! Where pads end: the smallest losses, and what a U or an L can meet.

use penstock_tests::network::decibels;
use penstock_tests::pads::{Input, LOSS_KINDS, PadRequest};
use penstock_tests::{Table, Tee, assert_near, assert_ratio, json, keys, number};

const BRIDGED: PadRequest = PadRequest {
    source_ohms: 50.0,
    input: Input::AtLeast(2000.0),
    out_ohms: 150.0,
    load_ohms: 1500.0,
    loss_db: 40.0,
    loss_kind: "loaded",
    network: "U",
    series: "ideal",
};

#[test]
fn smallest_loss_of_t_and_h() {
    // Source: in the table.
    for row in Table::load("pads_smallest_loss.txt").rows() {
        let smallest = row.number("smallest_loss_db");
        for network in ["T", "H"] {
            let request = |loss_db| PadRequest {
                source_ohms: row.number("source_ohms"),
                input: Input::Exactly(row.number("in_ohms")),
                out_ohms: row.number("out_ohms"),
                load_ohms: row.number("load_ohms"),
                loss_db,
                network,
                ..BRIDGED
            };
            request(smallest - 0.005).assert_refused_below(smallest);
            request(smallest - 1.0).assert_refused_below(smallest);
            let ideal = &request(smallest + 0.005).ask()["ideal"];
            let what = format!("{network}, {}", row.label());
            assert!(
                number(ideal, "r2_ohms") >= 0.0,
                "{what}: a negative resistor"
            );
            // At the limit one arm vanishes; 0.005 dB above it is still next to nothing.
            assert_near(&what, number(ideal, "r2_ohms"), 0.0, 0.2);
        }
    }
}

#[test]
fn smallest_loss_of_u_and_l_with_a_least_input_impedance() {
    // Source: the L whose input impedance sits on the minimum, by bisection on its matrix. In each
    // case arm and load alone stay below the minimum, so there is one such L and no second way.
    for (source, least, out, load) in [
        (50.0, 2000.0, 150.0, 1500.0),
        (100.0, 10_000.0, 200.0, 1500.0),
        (150.0, 3000.0, 200.0, 1200.0),
    ] {
        let edge = Tee::ell_with_both(source, load, least, out).between(source, load);
        assert_ratio("the edge's own input", edge.in_ohms, least, 1e-9);
        assert_ratio("the edge's own output", edge.out_ohms, out, 1e-9);
        for network in ["U", "L"] {
            let request = |loss_db| PadRequest {
                source_ohms: source,
                input: Input::AtLeast(least),
                out_ohms: out,
                load_ohms: load,
                loss_db,
                network,
                ..BRIDGED
            };
            request(edge.loaded_db - 0.005).assert_refused_below(edge.loaded_db);
            request(edge.loaded_db - 6.0).assert_refused_below(edge.loaded_db);
            let ideal = &request(edge.loaded_db + 0.005).ask()["ideal"];
            assert_ratio(network, number(ideal, "in_ohms"), least, 1e-3);
            assert_ratio(network, number(ideal, "out_ohms"), out, 1e-9);
        }
    }
}

#[test]
fn smallest_loss_of_u_and_l_with_an_exact_input_impedance() {
    // Source: the voltage divider. With the shunt gone, input volts over load volts is the input
    // impedance over the load; no loss at this input impedance is smaller.
    for (input, load) in [(2000.0, 1500.0), (2000.0, 150.0), (600.0, 150.0)] {
        let smallest = decibels(input / load);
        for network in ["U", "L"] {
            let request = |loss_db| PadRequest {
                input: Input::Exactly(input),
                load_ohms: load,
                loss_db,
                network,
                ..BRIDGED
            };
            request(smallest - 0.02).assert_refused_below(smallest);
            let ideal = &request(smallest + 0.02).ask()["ideal"];
            assert_ratio(network, number(ideal, "in_ohms"), input, 1e-9);
        }
    }
}

#[test]
fn u_and_l_meet_two_wishes_and_report_the_third() {
    for network in ["U", "L"] {
        for loss_db in [26.0, 32.5, 40.0] {
            for (loss_kind, key) in LOSS_KINDS {
                let request = PadRequest {
                    loss_db,
                    loss_kind,
                    network,
                    ..BRIDGED
                };
                let what = format!("{network}, {loss_db} dB {loss_kind}");

                // With a minimum: loss and output impedance.
                let ideal = &request.ask()["ideal"];
                assert_near(&what, number(ideal, key), loss_db, 1e-6);
                assert_ratio(&what, number(ideal, "out_ohms"), 150.0, 1e-9);
                assert!(
                    number(ideal, "in_ohms") >= 2000.0,
                    "{what}: below the minimum: {ideal}"
                );

                // Exact: loss and input impedance.
                let exact = PadRequest {
                    input: Input::Exactly(3000.0),
                    ..request
                };
                let ideal = &exact.ask()["ideal"];
                assert_near(&what, number(ideal, key), loss_db, 1e-6);
                assert_ratio(&what, number(ideal, "in_ohms"), 3000.0, 1e-9);
            }
        }
    }
}

#[test]
fn a_higher_minimum_that_is_met_anyway_changes_nothing() {
    let pad = |least| {
        PadRequest {
            input: Input::AtLeast(least),
            ..BRIDGED
        }
        .ask()
    };
    let in_ohms = number(&pad(600.0), "ideal.in_ohms");
    assert!(
        in_ohms > 2500.0,
        "40 dB out of 150 ohm needs long arms: {in_ohms}"
    );
    assert_eq!(pad(600.0)["ideal"], pad(2500.0)["ideal"]);
}

#[test]
fn options_left_out_take_the_plans_values() {
    // The defaults: U, 40 dB loaded, at least 2000 ohm, 150 ohm out, 50 ohm source, E96, and as load
    // the preamp's input impedance at 1 kHz.
    let answer = json(&["pad"]);
    for which in ["ideal", "as_built"] {
        let pad = &answer[which];
        keys(
            pad,
            "network r1_ohms r2_ohms r3_ohms arm_in_ohms arm_out_ohms shunt_ohms",
        );
        keys(pad, "in_ohms out_ohms loss_loaded_db loss_unloaded_db");
        keys(pad, "loss_matched_power_db loss_open_circuit_db");
        assert_eq!(pad["network"], "U", "{which}");
    }
    assert_near("loss", number(&answer, "ideal.loss_loaded_db"), 40.0, 1e-6);
    assert_ratio("output", number(&answer, "ideal.out_ohms"), 150.0, 1e-9);
    // The load follows from what the pad does: VL/V1 and the resistors give ZL.
    let (r1, r3) = (
        number(&answer, "ideal.r1_ohms"),
        number(&answer, "ideal.r3_ohms"),
    );
    let parallel = r1 / (10f64.powf(40.0 / 20.0) - 1.0);
    let load = 1.0 / (1.0 / parallel - 1.0 / r3);
    assert!(
        (500.0..10_000.0).contains(&load),
        "a bridging microphone input, not {load} ohm"
    );

    let set = json(&["pad", "--set", "pad.network=H", "--set", "pad.loss_db=30"]);
    assert_eq!(set["ideal"]["network"], "H");
    assert_near("loss", number(&set, "ideal.loss_loaded_db"), 30.0, 1e-6);
    assert_ratio(
        "H is designed at the minimum",
        number(&set, "ideal.in_ohms"),
        2000.0,
        1e-9,
    );

    let option = json(&["pad", "--set", "pad.loss_db=30", "--loss-db", "45"]);
    assert_near(
        "an option goes before the plan",
        number(&option, "ideal.loss_loaded_db"),
        45.0,
        1e-6,
    );
}

#[test]
fn one_of_the_two_wishes_for_the_input_clears_the_other() {
    let exact = ["pad", "--set", "pad.in_ohms=3000"];
    let answer = json(&exact);
    assert_ratio("exact", number(&answer, "ideal.in_ohms"), 3000.0, 1e-9);
    let back = json(&[
        "pad",
        "--set",
        "pad.in_ohms=3000",
        "--set",
        "pad.in_ohms_min=2000",
    ]);
    assert_ratio(
        "a minimum again",
        number(&back, "ideal.out_ohms"),
        150.0,
        1e-9,
    );
    assert_eq!(back["ideal"], json(&["pad"])["ideal"]);
    let option = json(&["pad", "--set", "pad.in_ohms_min=2500", "--in-ohms", "3000"]);
    assert_eq!(option["ideal"], answer["ideal"]);
}
