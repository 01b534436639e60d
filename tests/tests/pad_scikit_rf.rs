//! Pads for seeded random requests against scikit-rf, and their resistors against IEC 60063.

use penstock_tests::check::at;
use penstock_tests::pads::{Input, LOSS_KINDS, PadRequest, tee};
use penstock_tests::random::Random;
use penstock_tests::table::preferred;
use penstock_tests::{Tee, assert_near, assert_ratio, number, python};
use serde_json::{Value, json};

const NETWORKS: [&str; 4] = ["H", "T", "U", "L"];

/// A realisable request: made from a random pad, whose own figures are asked for.
fn request(random: &mut Random, number: usize) -> PadRequest {
    let network = NETWORKS[number % 4];
    let two_arms = matches!(network, "H" | "T");
    let made = Tee {
        r1_ohms: random.spread(200.0, 15_000.0),
        r2_ohms: if two_arms {
            random.spread(20.0, 400.0)
        } else {
            0.0
        },
        r3_ohms: random.spread(12.0, 300.0),
    };
    let source_ohms = random.spread(5.0, 1000.0);
    let load_ohms = random.spread(500.0, 10_000.0);
    let does = made.between(source_ohms, load_ohms);
    let (loss_kind, _) = LOSS_KINDS[number / 4 % 4];
    let loss_db = match loss_kind {
        "loaded" => does.loaded_db,
        "unloaded" => does.unloaded_db,
        "matched-power" => does.matched_power_db,
        _ => does.open_circuit_db,
    };
    // A U or L asked for a minimum that it passes; in half of the cases, the input it really has.
    let input = match (two_arms, number / 16 % 2) {
        (true, 0) | (false, 1) => Input::Exactly(does.in_ohms),
        (true, _) => Input::AtLeast(does.in_ohms),
        (false, _) => Input::AtLeast(does.in_ohms * random.between(0.5, 0.99)),
    };
    PadRequest {
        source_ohms,
        input,
        out_ohms: does.out_ohms,
        load_ohms,
        loss_db,
        loss_kind,
        network,
        series: random.one_of(&["E12", "E24", "E96"]),
    }
}

#[test]
fn what_a_pad_does_is_what_scikit_rf_says() {
    let mut random = Random::new(600);
    let requests: Vec<PadRequest> = (0..64).map(|number| request(&mut random, number)).collect();
    let answers: Vec<Value> = requests.iter().map(PadRequest::ask).collect();
    let (mut pads, mut inputs) = (Vec::new(), Vec::new());
    for (request, answer) in requests.iter().zip(&answers) {
        for which in ["ideal", "as_built"] {
            let Tee {
                r1_ohms,
                r2_ohms,
                r3_ohms,
            } = tee(answer, which);
            pads.push((format!("{which} of {request:?}"), at(answer, which)));
            inputs.push(json!({
                "r1_ohms": r1_ohms, "r2_ohms": r2_ohms, "r3_ohms": r3_ohms,
                "source_ohms": request.source_ohms, "load_ohms": request.load_ohms,
            }));
        }
    }
    // Source: scikit-rf's networks, cascaded and renormalised.
    let judged = python("networks.py", &Value::Array(inputs));
    let judged = judged.as_array().expect("one judgement for each pad");
    assert_eq!(judged.len(), pads.len());
    for ((what, pad), judgement) in pads.iter().zip(judged) {
        for (key, wanted) in judgement.as_object().expect("the script prints objects") {
            let wanted = wanted.as_f64().expect("the script prints numbers");
            assert_ratio(&format!("{what}: {key}"), number(pad, key), wanted, 1e-9);
        }
    }
}

#[test]
fn an_ideal_pad_meets_the_request() {
    let mut random = Random::new(150);
    for number_of_it in 0..64 {
        let request = request(&mut random, number_of_it);
        let answer = request.ask();
        let what = format!("{request:?}");
        let ideal = &answer["ideal"];
        assert_eq!(ideal["network"], request.network, "{what}");
        let (_, key) = LOSS_KINDS[number_of_it / 4 % 4];
        assert_near(&what, number(ideal, key), request.loss_db, 1e-6);
        let two_arms = matches!(request.network, "H" | "T");
        let (in_ohms, out_ohms) = (number(ideal, "in_ohms"), number(ideal, "out_ohms"));
        match request.input {
            Input::Exactly(ohms) => assert_ratio(&what, in_ohms, ohms, 1e-6),
            Input::AtLeast(ohms) if two_arms => assert_ratio(&what, in_ohms, ohms, 1e-6),
            Input::AtLeast(ohms) => assert!(in_ohms >= ohms, "{what}: {in_ohms} ohm"),
        }
        if two_arms || matches!(request.input, Input::AtLeast(_)) {
            assert_ratio(&what, out_ohms, request.out_ohms, 1e-6);
        }
    }
}

#[test]
fn every_resistor_is_the_nearest_of_its_series_when_so_asked() {
    let mut random = Random::new(96);
    for number_of_it in 0..48 {
        let request = request(&mut random, number_of_it);
        let mut args = request.args();
        args.extend(["--parts".to_owned(), "nearest".to_owned()]);
        let answer = penstock_tests::json(&args);
        let two_arms = matches!(request.network, "H" | "T");
        let positions: &[&str] = if two_arms {
            &["arm_in_ohms", "arm_out_ohms", "shunt_ohms"]
        } else {
            &["arm_in_ohms", "shunt_ohms"]
        };
        for key in positions {
            let ideal = number(&answer["ideal"], key);
            let built = number(&answer["as_built"], key);
            let wanted = nearest(request.series, ideal);
            assert_ratio(
                &format!("{request:?}: {key} for {ideal}"),
                built,
                wanted,
                1e-9,
            );
        }
    }
}

/// The preferred value with the smallest ratio to `ohms` (IEC 60063; nearest on a logarithmic axis).
fn nearest(series: &str, ohms: f64) -> f64 {
    let decades = (-1..6).map(|power| 10f64.powi(power));
    let values = preferred(series);
    let all = decades.flat_map(|decade| values.iter().map(move |value| value * decade));
    all.min_by(|a, b| (a / ohms).ln().abs().total_cmp(&(b / ohms).ln().abs()))
        .expect("a series has values")
}
