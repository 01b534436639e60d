//! Every network for a thousand seeded random requests each, against scikit-rf to 1e-9.

use penstock_dsp::pad::{Input, LossKind, Network, Pad, Request, design};
use penstock_dsp::units::{Db, Ohms};
use penstock_tests::random::Random;
use penstock_tests::{assert_near, assert_ratio, number, python};
use serde_json::{Value, json};

const REQUESTS: usize = 1000;
const KINDS: [(LossKind, &str); 4] = [
    (LossKind::Loaded, "loss_loaded_db"),
    (LossKind::Unloaded, "loss_unloaded_db"),
    (LossKind::MatchedPower, "loss_matched_power_db"),
    (LossKind::OpenCircuit, "loss_open_circuit_db"),
];

/// A request that some pad of this network meets: made from one, whose own figures are asked for.
fn request(network: Network, random: &mut Random, number: usize) -> Request {
    let legs = if network.is_balanced() { 0.5 } else { 1.0 };
    let values = if network.is_pi() {
        [
            random.spread(300.0, 30_000.0),
            legs * random.spread(500.0, 50_000.0),
            random.spread(50.0, 500.0),
        ]
    } else {
        [
            legs * random.spread(200.0, 15_000.0),
            random.spread(12.0, 300.0),
            legs * random.spread(20.0, 400.0),
        ]
    };
    let made = Pad::from_values(network, values);
    let source = Ohms(random.spread(5.0, 1000.0));
    let load = Ohms(random.spread(500.0, 10_000.0));
    let (kind, _) = KINDS[number % 4];
    let input = made.in_ohms(load);
    let exact = (number / 4).is_multiple_of(2);
    Request {
        network,
        source,
        input: match (exact, network.meets_three_wishes()) {
            (true, _) => Input::Exact(input),
            (false, true) => Input::AtLeast(input),
            (false, false) => Input::AtLeast(Ohms(input.0 * random.between(0.5, 0.99))),
        },
        output: made.out_ohms(source),
        load,
        loss: made.loss(kind, source, load),
        kind,
    }
}

/// The resistors as the script takes them: the whole series resistance, both legs.
fn resistors(pad: &Pad) -> Value {
    let legs = if pad.network().is_balanced() {
        2.0
    } else {
        1.0
    };
    match pad.values() {
        [shunt_in, series, shunt_out] if pad.network().is_pi() => json!({
            "shunt_in_ohms": shunt_in, "series_ohms": legs * series, "shunt_out_ohms": shunt_out,
        }),
        [one, shunt] => json!({ "r1_ohms": legs * one, "r2_ohms": 0.0, "r3_ohms": shunt }),
        [one, shunt, two] => json!({
            "r1_ohms": legs * one, "r2_ohms": legs * two, "r3_ohms": shunt,
        }),
        other => panic!("{other:?}"),
    }
}

fn judge(network: Network) {
    let mut random = Random::new(1000 + network as u64);
    let (mut pads, mut inputs) = (Vec::new(), Vec::new());
    for number in 0..REQUESTS {
        let request = request(network, &mut random, number);
        let pad = design(&request).unwrap_or_else(|error| panic!("{request:?}: {error}"));
        let mut input = resistors(&pad);
        input["source_ohms"] = json!(request.source.0);
        input["load_ohms"] = json!(request.load.0);
        pads.push((request, pad));
        inputs.push(input);
    }
    // Source: scikit-rf's networks, cascaded and renormalised.
    let judged = python("networks.py", &Value::Array(inputs));
    let judged = judged.as_array().expect("one judgement for each pad");
    assert_eq!(judged.len(), REQUESTS);
    for ((request, pad), judged) in pads.iter().zip(judged) {
        let what = format!("{request:?}");
        let (source, load) = (request.source, request.load);
        // What the program says of the pad.
        assert_ratio(&what, pad.in_ohms(load).0, number(judged, "in_ohms"), 1e-9);
        assert_ratio(
            &what,
            pad.out_ohms(source).0,
            number(judged, "out_ohms"),
            1e-9,
        );
        for (kind, key) in KINDS {
            let own = pad.loss(kind, source, load).0;
            assert_near(&format!("{what}: {key}"), own, number(judged, key), 1e-8);
        }
        // And whether the pad is what was asked for: three wishes, or the two that U and L can meet.
        let three = network.meets_three_wishes();
        let (_, key) = KINDS[KINDS
            .iter()
            .position(|k| k.0 == request.kind)
            .expect("one of them")];
        let Db(loss) = request.loss;
        assert_near(&what, number(judged, key), loss, 1e-8);
        let input = number(judged, "in_ohms");
        match request.input {
            Input::Exact(ohms) => assert_ratio(&what, input, ohms.0, 1e-9),
            Input::AtLeast(ohms) if three => assert_ratio(&what, input, ohms.0, 1e-9),
            Input::AtLeast(ohms) => assert!(input >= ohms.0 * (1.0 - 1e-9), "{what}: {input}"),
        }
        if three || matches!(request.input, Input::AtLeast(_)) {
            assert_ratio(&what, number(judged, "out_ohms"), request.output.0, 1e-9);
        }
    }
}

#[test]
fn a_thousand_h() {
    judge(Network::H);
}

#[test]
fn a_thousand_t() {
    judge(Network::T);
}

#[test]
fn a_thousand_u() {
    judge(Network::U);
}

#[test]
fn a_thousand_l() {
    judge(Network::L);
}

#[test]
fn a_thousand_o() {
    judge(Network::O);
}

#[test]
fn a_thousand_pi() {
    judge(Network::Pi);
}
