//! Pads against printed tables. Each table in `data` names its source in its first lines.

use penstock_tests::pads::{Input, LOSS_KINDS, PadRequest, tee};
use penstock_tests::{Table, assert_near, assert_ratio, json, list, number, text};
use serde_json::Value;

/// "20 pad rows match to 1e-4": the tables print six digits, and losses that go into a request
/// are printed to 0.0001 dB, which moves no resistor by more than a tenth of this.
const RELATIVE: f64 = 1e-4;

/// A request with everything about 600 ohm, to be changed by each test.
const REQUEST: PadRequest = PadRequest {
    source_ohms: 600.0,
    input: Input::Exactly(600.0),
    out_ohms: 600.0,
    load_ohms: 600.0,
    loss_db: 20.0,
    loss_kind: "loaded",
    network: "H",
    series: "ideal",
};

#[track_caller]
fn assert_ohms(what: &str, answer: &Value, wanted: &[(&str, f64)]) {
    for (key, ohms) in wanted {
        assert_ratio(
            &format!("{what}: {key}"),
            number(answer, key),
            *ohms,
            RELATIVE,
        );
    }
}

#[test]
fn symmetric_600_ohm_t_and_h() {
    for row in Table::load("pads_symmetric_600.txt").rows() {
        let loss_db = row.number("loss_db");
        for network in ["T", "H"] {
            let request = PadRequest {
                loss_db,
                loss_kind: "matched-power",
                network,
                ..REQUEST
            };
            let answer = request.ask();
            let what = format!("{network}, {}", row.label());
            let (r1, r3) = (row.number("r1_ohms"), row.number("r3_ohms"));
            let arm = if network == "H" {
                row.number("h_arm_ohms")
            } else {
                r1
            };
            let ideal = &answer["ideal"];
            assert_eq!(text(ideal, "network"), network, "{what}");
            assert_ohms(
                &what,
                ideal,
                &[("r1_ohms", r1), ("r2_ohms", r1), ("r3_ohms", r3)],
            );
            assert_ohms(&what, ideal, &[("arm_in_ohms", arm), ("arm_out_ohms", arm)]);
            assert_ohms(&what, ideal, &[("shunt_ohms", r3)]);
            // Matched at both ends, the power loss and the voltage loss are one; the source's
            // unloaded level is twice the loaded one; and an open output rises by what the
            // load took.
            assert_near(&what, number(ideal, "in_ohms"), 600.0, 1e-6);
            assert_near(&what, number(ideal, "out_ohms"), 600.0, 1e-6);
            assert_near(&what, number(ideal, "loss_matched_power_db"), loss_db, 1e-9);
            assert_near(&what, number(ideal, "loss_loaded_db"), loss_db, 1e-9);
            let twice_db = 20.0 * 2f64.log10();
            assert_near(
                &what,
                number(ideal, "loss_unloaded_db"),
                loss_db + twice_db,
                1e-9,
            );
            let open_db = 20.0 * (1.0 + r1 / r3).log10();
            assert_near(&what, number(ideal, "loss_open_circuit_db"), open_db, 1e-3);
        }
    }
}

#[test]
fn symmetric_600_ohm_pi_and_o() {
    for row in Table::load("pads_symmetric_600_pi.txt").rows() {
        let loss_db = row.number("loss_db");
        let shunt = row.number("shunt_ohms");
        for (network, column) in [("pi", "series_ohms"), ("O", "o_series_ohms")] {
            let request = PadRequest {
                loss_db,
                loss_kind: "matched-power",
                network,
                ..REQUEST
            };
            let what = format!("{network}, {}", row.label());
            let answer = request.ask();
            let ideal = &answer["ideal"];
            assert_eq!(text(ideal, "network"), network, "{what}");
            // In the order of the drawing: shunt, series of one leg, shunt.
            let values = list(ideal, "values_ohms");
            let wanted = [shunt, row.number(column), shunt];
            assert_eq!(values.len(), wanted.len(), "{what}");
            for (value, (ohms, column)) in
                values
                    .iter()
                    .zip(wanted.into_iter().zip(["shunt_ohms", column, "shunt_ohms"]))
            {
                let value = value.as_f64().expect("a number");
                assert_near(&what, value, ohms, row.half_digit(column));
            }
            assert_near(&what, number(ideal, "in_ohms"), 600.0, 1e-6);
            assert_near(&what, number(ideal, "out_ohms"), 600.0, 1e-6);
            assert_near(&what, number(ideal, "loss_loaded_db"), loss_db, 1e-9);
        }
    }
}

#[test]
fn image_matched_pi_and_o_between_unequal_impedances() {
    for row in Table::load("pads_image_matched_pi.txt").rows() {
        let (z1, z2) = (row.number("z1_ohms"), row.number("z2_ohms"));
        for (network, legs) in [("pi", 1.0), ("O", 2.0)] {
            let answer = PadRequest {
                source_ohms: z1,
                input: Input::Exactly(z1),
                out_ohms: z2,
                load_ohms: z2,
                loss_db: row.number("power_loss_db"),
                loss_kind: "matched-power",
                network,
                ..REQUEST
            }
            .ask();
            let what = format!("{network}, {}", row.label());
            let values = list(&answer["ideal"], "values_ohms");
            for (value, (column, times)) in
                values
                    .iter()
                    .zip([("ra_ohms", 1.0), ("rs_ohms", legs), ("rb_ohms", 1.0)])
            {
                let value = value.as_f64().expect("a number") * times;
                assert_near(&what, value, row.number(column), row.half_digit(column));
            }
        }
    }
}

#[test]
fn minimum_loss_l_and_u() {
    for row in Table::load("pads_minimum_loss.txt").rows() {
        let (z1, z2) = (row.number("z1_ohms"), row.number("z2_ohms"));
        // A source above 2000 ohm is outside the plan's range; it changes no resistor of an L.
        let source_ohms = z1.min(2000.0);
        for (loss_kind, column) in [
            ("matched-power", "power_loss_db"),
            ("loaded", "voltage_loss_db"),
        ] {
            for (network, arm) in [("L", "r1_ohms"), ("U", "u_arm_ohms")] {
                let answer = PadRequest {
                    source_ohms,
                    input: Input::Exactly(z1),
                    out_ohms: z2,
                    load_ohms: z2,
                    loss_db: row.number(column),
                    loss_kind,
                    network,
                    ..REQUEST
                }
                .ask();
                let what = format!("{network} by {loss_kind}, {}", row.label());
                let (r1, r3) = (row.number("r1_ohms"), row.number("r3_ohms"));
                let ideal = &answer["ideal"];
                assert_ohms(
                    &what,
                    ideal,
                    &[("r1_ohms", r1), ("r3_ohms", r3), ("shunt_ohms", r3)],
                );
                assert_ohms(
                    &what,
                    ideal,
                    &[("arm_in_ohms", row.number(arm)), ("in_ohms", z1)],
                );
                assert_near(&what, number(ideal, "r2_ohms"), 0.0, 0.0);
                if source_ohms == z1 {
                    assert_ohms(&what, ideal, &[("out_ohms", z2)]);
                }
                for (key, column) in [
                    ("loss_matched_power_db", "power_loss_db"),
                    ("loss_loaded_db", "voltage_loss_db"),
                ] {
                    // Two printed losses are compared, each half a digit away from the truth.
                    let tolerance = 5.0 * row.half_digit(column);
                    assert_near(&what, number(ideal, key), row.number(column), tolerance);
                }
            }
        }
    }
}

#[test]
fn image_matched_between_unequal_impedances() {
    for row in Table::load("pads_image_matched.txt").rows() {
        let (z1, z2) = (row.number("z1_ohms"), row.number("z2_ohms"));
        let power_loss_db = row.number("power_loss_db");
        for network in ["T", "H"] {
            let answer = PadRequest {
                source_ohms: z1,
                input: Input::Exactly(z1),
                out_ohms: z2,
                load_ohms: z2,
                loss_db: power_loss_db,
                loss_kind: "matched-power",
                network,
                ..REQUEST
            }
            .ask();
            let what = format!("{network}, {}", row.label());
            let ideal = &answer["ideal"];
            assert_ohms(&what, ideal, &[("r1_ohms", row.number("r1_ohms"))]);
            assert_ohms(&what, ideal, &[("r2_ohms", row.number("r2_ohms"))]);
            assert_ohms(&what, ideal, &[("r3_ohms", row.number("r3_ohms"))]);
            assert_near(&what, number(ideal, "in_ohms"), z1, 1e-6);
            assert_near(&what, number(ideal, "out_ohms"), z2, 1e-6);
            assert_near(
                &what,
                number(ideal, "loss_matched_power_db"),
                power_loss_db,
                1e-9,
            );
            let voltage = number(ideal, "loss_loaded_db");
            let half_digit = row.half_digit("voltage_loss_db");
            assert_near(&what, voltage, row.number("voltage_loss_db"), half_digit);
        }
    }
}

#[test]
fn the_same_pads_asked_for_by_what_they_do_when_bridged() {
    for row in Table::load("pads_image_matched.txt").rows() {
        let answer = PadRequest {
            source_ohms: 50.0,
            input: Input::Exactly(row.number("bridged_in_ohms")),
            out_ohms: row.number("driven_out_ohms"),
            load_ohms: 1500.0,
            loss_db: row.number("bridged_loss_db"),
            ..REQUEST
        }
        .ask();
        let what = row.label();
        let ideal = &answer["ideal"];
        assert_ohms(&what, ideal, &[("r1_ohms", row.number("r1_ohms"))]);
        assert_ohms(&what, ideal, &[("r2_ohms", row.number("r2_ohms"))]);
        assert_ohms(&what, ideal, &[("r3_ohms", row.number("r3_ohms"))]);
        let unloaded = number(ideal, "loss_unloaded_db");
        // The request's own loss is half a digit uncertain too.
        let tolerance = 2.0 * row.half_digit("bridged_emf_loss_db");
        assert_near(
            &what,
            unloaded,
            row.number("bridged_emf_loss_db"),
            tolerance,
        );
    }
}

fn bridging_requests() -> Vec<(penstock_tests::table::Row, PadRequest)> {
    let table = Table::load("pads_bridging.txt");
    let request = |row: &penstock_tests::table::Row| PadRequest {
        source_ohms: row.number("source_ohms"),
        input: Input::Exactly(row.number("in_ohms")),
        out_ohms: row.number("out_ohms"),
        load_ohms: row.number("load_ohms"),
        loss_db: row.number("loss_db"),
        ..REQUEST
    };
    table
        .rows()
        .iter()
        .map(|row| (row.clone(), request(row)))
        .collect()
}

#[test]
fn bridging_pads_that_meet_three_wishes_at_once() {
    for (row, request) in bridging_requests() {
        let least = PadRequest {
            input: Input::AtLeast(row.number("in_ohms")),
            ..request
        };
        for request in [
            request,
            least,
            PadRequest {
                network: "T",
                ..request
            },
        ] {
            let answer = request.ask();
            let what = format!("{request:?}, {}", row.label());
            let ideal = &answer["ideal"];
            for key in ["r1_ohms", "r2_ohms", "r3_ohms"] {
                assert_near(
                    &what,
                    number(ideal, key),
                    row.number(key),
                    row.half_digit(key),
                );
            }
            if request.network == "H" {
                for key in ["arm_in_ohms", "arm_out_ohms"] {
                    assert_near(
                        &what,
                        number(ideal, key),
                        row.number(key),
                        row.half_digit(key),
                    );
                }
            }
            assert_near(&what, number(ideal, "in_ohms"), row.number("in_ohms"), 1e-6);
            assert_near(
                &what,
                number(ideal, "out_ohms"),
                row.number("out_ohms"),
                1e-6,
            );
            assert_near(
                &what,
                number(ideal, "loss_loaded_db"),
                row.number("loss_db"),
                1e-9,
            );
            let emf = row.number("emf_loss_db");
            let half_digit = row.half_digit("emf_loss_db");
            assert_near(&what, number(ideal, "loss_unloaded_db"), emf, half_digit);
            // Ideal means ideal: what is built is what was designed.
            assert_eq!(answer["as_built"], *ideal, "{what}");
        }
    }
}

#[test]
fn every_kind_of_loss_finds_the_same_pad() {
    for (row, request) in bridging_requests() {
        let designed = tee(&request.ask(), "ideal");
        let losses = designed.between(request.source_ohms, request.load_ohms);
        let by_kind = [
            losses.loaded_db,
            losses.unloaded_db,
            losses.matched_power_db,
            losses.open_circuit_db,
        ];
        for ((loss_kind, key), loss_db) in LOSS_KINDS.into_iter().zip(by_kind) {
            let answer = PadRequest {
                loss_db,
                loss_kind,
                ..request
            }
            .ask();
            let what = format!("by {loss_kind} {loss_db} dB, {}", row.label());
            let ideal = &answer["ideal"];
            for name in ["r1_ohms", "r2_ohms", "r3_ohms"] {
                assert_ratio(&what, number(ideal, name), row.number(name), RELATIVE);
            }
            assert_near(&what, number(ideal, key), loss_db, 1e-6);
        }
    }
}

#[test]
fn pads_from_preferred_values() {
    for row in Table::load("pads_rounded.txt").rows() {
        let pick = |name: &str, choices: &[&'static str]| {
            let wanted = row.text(name);
            *choices
                .iter()
                .find(|c| **c == wanted)
                .unwrap_or_else(|| panic!("{wanted}"))
        };
        let mut args = PadRequest {
            source_ohms: row.number("source_ohms"),
            input: Input::Exactly(row.number("in_ohms")),
            out_ohms: row.number("out_ohms"),
            load_ohms: row.number("load_ohms"),
            loss_db: row.number("loss_db"),
            loss_kind: pick("loss_kind", &["loaded", "matched-power"]),
            series: pick("series", &["E12", "E24", "E96"]),
            ..REQUEST
        }
        .args();
        args.extend(["--parts".to_owned(), "nearest".to_owned()]);
        let answer = json(&args);
        let what = row.label();
        // The same pad as one owns it, analysed.
        let values = ["arm_in_ohms", "shunt_ohms", "arm_out_ohms"].map(|name| row.text(name));
        args.extend(["--resistors-ohms".to_owned(), values.join(",")]);
        args.push("--per-leg".to_owned());
        let owned = json(&args);
        assert_eq!(owned["as_built"], answer["as_built"], "{what}");
        let built = &answer["as_built"];
        for key in ["arm_in_ohms", "arm_out_ohms", "shunt_ohms"] {
            assert_ratio(
                &format!("{what}: {key}"),
                number(built, key),
                row.number(key),
                1e-12,
            );
        }
        assert_ratio(
            &what,
            number(built, "r1_ohms"),
            2.0 * row.number("arm_in_ohms"),
            1e-12,
        );
        assert_ratio(
            &what,
            number(built, "r2_ohms"),
            2.0 * row.number("arm_out_ohms"),
            1e-12,
        );
        for (key, column) in [
            ("in_ohms", "built_in_ohms"),
            ("out_ohms", "built_out_ohms"),
            ("loss_loaded_db", "built_loss_db"),
        ] {
            let half_digit = row.half_digit(column);
            assert_near(
                &format!("{what}: {key}"),
                number(built, key),
                row.number(column),
                half_digit,
            );
        }
    }
}

#[test]
fn a_list_of_losses_makes_rows() {
    let mut args = REQUEST.args();
    let at = args
        .iter()
        .position(|arg| arg == "--loss-db")
        .expect("it is among them")
        + 1;
    args[at] = "20,30,40.5".to_owned();
    let answer = json(&args);
    let rows = list(&answer, "rows");
    assert_eq!(rows.len(), 3);
    for (row, loss_db) in rows.iter().zip([20.0, 30.0, 40.5]) {
        let alone = PadRequest { loss_db, ..REQUEST }.ask();
        assert_eq!(row["ideal"], alone["ideal"], "{loss_db} dB");
        assert_eq!(row["as_built"], alone["as_built"], "{loss_db} dB");
    }
}
