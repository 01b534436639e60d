//! Buying resistors: the program's search against one that tries everything (in Python), the drawer,
//! weights, pairs, and how long it takes.

use penstock_dsp::pad::{
    Input, LossKind, Network, Part, Parts, Request, Series, Stock, Weights, buy, design,
};
use penstock_dsp::units::{Db, Ohms};
use penstock_tests::random::Random;
use penstock_tests::{assert_near, assert_ratio, json, list, number, python, text};
use serde_json::{Value, json};
use std::time::Instant;

/// 20 designs: every network, losses from 20 to 60 dB, exact and least input impedances.
fn designs() -> Vec<Request> {
    let mut random = Random::new(63);
    let mut designs = Vec::new();
    while designs.len() < 20 {
        let network = [
            Network::U,
            Network::H,
            Network::O,
            Network::T,
            Network::L,
            Network::Pi,
        ][designs.len() % 6];
        let ohms = random.spread(600.0, 10_000.0).round();
        let request = Request {
            network,
            source: Ohms(random.spread(30.0, 300.0).round()),
            input: if designs.len() % 2 == 0 {
                Input::AtLeast(Ohms(ohms))
            } else {
                Input::Exact(Ohms(ohms))
            },
            output: Ohms(random.between(100.0, 300.0).round()),
            load: Ohms(random.spread(1000.0, 10_000.0).round()),
            loss: Db(random.between(26.0, 60.0).round()),
            kind: LossKind::Loaded,
        };
        if design(&request).is_ok() {
            designs.push(request);
        }
    }
    designs
}

fn asked(request: &Request) -> Vec<String> {
    let input = match request.input {
        Input::Exact(ohms) => ["--in-ohms".to_owned(), ohms.0.to_string()],
        Input::AtLeast(ohms) => ["--in-ohms-min".to_owned(), ohms.0.to_string()],
    };
    let mut args = vec!["pad".to_owned()];
    args.extend(input);
    for (key, value) in [
        ("--source-ohms", request.source.0.to_string()),
        ("--out-ohms", request.output.0.to_string()),
        ("--load-ohms", request.load.0.to_string()),
        ("--loss-db", request.loss.0.to_string()),
        ("--network", request.network.name().to_owned()),
        ("--series", "E96".to_owned()),
    ] {
        args.extend([key.to_owned(), value]);
    }
    args
}

#[test]
fn the_search_finds_what_trying_everything_finds() {
    let designs = designs();
    let answers: Vec<Value> = designs
        .iter()
        .map(|request| json(&asked(request)))
        .collect();
    let inputs: Vec<Value> = designs
        .iter()
        .zip(&answers)
        .map(|(request, answer)| {
            json!({
                "network": request.network.name(),
                "ideal": answer["ideal"]["values_ohms"],
                "source_ohms": request.source.0,
                "load_ohms": request.load.0,
                "loss_db": request.loss.0,
                "in_ohms": request.input.ohms().0,
                "out_ohms": request.output.0,
                "exact": matches!(request.input, Input::Exact(_)),
            })
        })
        .collect();
    // Source: an exhaustive search in Python that shares nothing with the program.
    let found = python("buy.py", &Value::Array(inputs));
    let found = found.as_array().expect("one for each design");
    assert_eq!(found.len(), 20);
    for ((request, answer), found) in designs.iter().zip(&answers).zip(found) {
        let what = format!("{request:?}");
        let cost = number(answer, "buying.cost");
        assert_near(&what, cost, number(found, "cost"), 1e-6);
        let (ours, theirs) = (
            list(&answer["as_built"], "values_ohms"),
            list(found, "values"),
        );
        assert_eq!(ours.len(), theirs.len());
        for (ours, theirs) in ours.iter().zip(theirs) {
            let value = |of: &Value| of.as_f64().expect("a number");
            assert_ratio(&what, value(ours), value(theirs), 1e-9);
        }
    }
}

/// Far above what it takes, far below what anybody waits for; the bench prints the time itself.
#[test]
fn single_parts_are_found_in_less_than_50_ms() {
    for request in designs() {
        let ideal = design(&request).expect("it was tried");
        let start = Instant::now();
        let stock = Stock::Series(Series::E96);
        let found = buy(&request, &ideal, stock, Parts::Single, &Weights::default());
        let took = start.elapsed().as_secs_f64();
        assert!(found.is_ok());
        assert!(took < 0.05, "{request:?} took {took} s");
    }
}

#[test]
fn chosen_together_is_never_worse_than_each_nearest_and_pairs_never_worse_than_that() {
    for request in designs() {
        let answer = json(&asked(&request));
        let choices = list(&answer, "buying.choices");
        let cost = |name: &str| {
            let choice = choices.iter().find(|choice| text(choice, "parts") == name);
            number(choice.expect("each is there"), "cost")
        };
        assert!(cost("single") <= cost("nearest"), "{request:?}");
        assert!(cost("pair") <= cost("single"), "{request:?}");
    }
}

#[test]
fn a_tie_goes_to_fewer_and_equal_parts() {
    // 150 is in E24, and so is every way to make it of two; one resistor does.
    let request = Request {
        network: Network::H,
        source: Ohms(600.0),
        input: Input::Exact(Ohms(600.0)),
        output: Ohms(600.0),
        load: Ohms(600.0),
        loss: Db(20.0),
        kind: LossKind::MatchedPower,
    };
    let ideal = penstock_dsp::pad::Pad::from_values(Network::H, [150.0, 300.0, 150.0]);
    let as_it_is = Request {
        input: Input::Exact(ideal.in_ohms(request.load)),
        output: ideal.out_ohms(request.source),
        loss: ideal.loss(request.kind, request.source, request.load),
        ..request
    };
    let stock = Stock::Series(Series::E24);
    let found = buy(&as_it_is, &ideal, stock, Parts::Pair, &Weights::default()).expect("a pad");
    assert_eq!(
        found.parts(),
        [
            Part::Single(150.0),
            Part::Single(300.0),
            Part::Single(150.0)
        ]
    );
    assert_eq!((found.resistors(), found.different()), (5, 2));
}

#[test]
fn a_drawer_is_all_there_is() {
    let drawer = ["--drawer", "2k2, 4k7, 5.6k, 100, 120, 6R8, 1M"];
    let base = ["pad", "--loss-db", "40", "--network", "U"];
    let answer = json(&[&base[..], &drawer[..]].concat());
    let have = [2200.0, 4700.0, 5600.0, 100.0, 120.0, 6.8, 1e6];
    for value in list(&answer["as_built"], "values_ohms") {
        assert!(have.contains(&value.as_f64().expect("a number")), "{value}");
    }
    assert_eq!(text(&answer, "stock"), "drawer");
    // The better of the three pairs of arm and shunt that come near is found.
    let built = number(&answer, "as_built.loss_loaded_db");
    assert_near("loss", built, 40.0, 1.0);
}

#[test]
fn weights_move_the_choice() {
    let base = [
        "pad",
        "--loss-db",
        "40",
        "--network",
        "H",
        "--in-ohms",
        "600",
        "--series",
        "E24",
    ];
    let strict = json(&[&base[..], &["--loss-weight-db", "0.001"]].concat());
    let lax = json(&[&base[..], &["--loss-weight-db", "10"]].concat());
    let off = |answer: &Value| (number(answer, "as_built.loss_loaded_db") - 40.0).abs();
    assert!(off(&strict) < off(&lax), "{} {}", off(&strict), off(&lax));
    assert_near(
        "shown",
        number(&strict, "buying.weights.loss_db"),
        0.001,
        0.0,
    );
}
