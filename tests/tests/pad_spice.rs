//! Built pads against ngspice: the resistors that the program names, put into decks of another hand.

use penstock_tests::spice::{printed, simulate};
use penstock_tests::{TempDir, assert_near, assert_ratio, json, list, number, text};
use serde_json::Value;
use std::collections::BTreeMap;

/// What the checks below ask the program for: every balanced network, and options that change the figures.
const ASKED: [&[&str]; 5] = [
    &["--network", "U", "--loss-db", "40"],
    &["--network", "H", "--loss-db", "40", "--in-ohms", "600"],
    &[
        "--network",
        "H",
        "--loss-db",
        "26",
        "--in-ohms",
        "2000",
        "--series",
        "E24",
        "--tolerance-percent",
        "5",
    ],
    &[
        "--network",
        "O",
        "--loss-db",
        "34",
        "--in-ohms-min",
        "1000",
        "--common-mode-ohms",
        "100000",
    ],
    &[
        "--network",
        "U",
        "--loss-db",
        "50",
        "--source-ohms",
        "600",
        "--tolerance-percent",
        "0.1",
    ],
];
const UNBALANCED: [&[&str]; 3] = [
    &["--network", "T", "--loss-db", "40", "--in-ohms", "600"],
    &["--network", "L", "--loss-db", "30"],
    &["--network", "pi", "--loss-db", "20", "--in-ohms", "600"],
];

fn ask(options: &[&str]) -> Value {
    json(&[&["pad", "--load-ohms", "1500"][..], options].concat())
}

/// Lines of the pad's resistors, of these ohms or its own, and the name of the cold output.
fn pad_lines(answer: &Value, ohms: Option<&[f64]>) -> (String, &'static str) {
    let mut lines = String::new();
    let mut cold = "InCold";
    for (place, resistor) in list(answer, "resistors").iter().enumerate() {
        let ends = list(resistor, "between");
        let [a, b] = [0, 1].map(|end| ends[end].as_str().expect("a node"));
        if [a, b].contains(&"OutCold") {
            cold = "OutCold";
        }
        let own = number(resistor, "ohms");
        let value = ohms.map_or(own, |ohms| ohms[place]);
        // What the program took out stands as 0: the shunt of a centre tap.
        if value > 0.0 {
            lines += &format!("R{place} {a} {b} {value:e}\n");
        }
    }
    (lines, cold)
}

fn run(title: &str, circuit: &str, commands: &str) -> BTreeMap<String, f64> {
    let dir = TempDir::new();
    let deck = format!(
        "{title}\n{circuit}.options temp=20 reltol=1e-9 gmin=1e-18\n.control\nset numdgt=15\n{commands}\nquit\n.endc\n.end\n"
    );
    printed(&simulate(dir.path(), &deck))
}

/// A source of these volts in each leg, half its impedance with it.
fn source(answer: &Value, hot: &str, cold: &str) -> String {
    let half = number(answer, "source_ohms") / 2.0;
    format!("Vh eh 0 {hot}\nVc ec 0 {cold}\nRh eh InHot {half:e}\nRc ec InCold {half:e}\n")
}

/// Rejection at the corner that the program calls the worst, floating and centre-tapped.
#[test]
fn hum_of_unequal_legs() {
    for options in ASKED {
        let answer = ask(options);
        for (case, tapped) in [("floating", false), ("centre_tapped", true)] {
            let hum = &answer["hum"][case];
            let worst: Vec<f64> = list(hum, "worst_ohms")
                .iter()
                .map(|ohms| ohms.as_f64().expect("a number"))
                .collect();
            let taps = |halves: [f64; 2]| {
                let ends = ["OutHot", "OutCold"];
                let middle = ["MidHot", "MidCold"];
                let ends = if text(&answer, "as_built.network") == "H" {
                    middle
                } else {
                    ends
                };
                format!(
                    "Rta {} 0 {:e}\nRtb {} 0 {:e}\n",
                    ends[0], halves[0], ends[1], halves[1]
                )
            };
            let shunt = number(&answer, "as_built.shunt_ohms");
            let ohms = number(&answer, "hum.common_mode_ohms");
            let load =
                format!("Rl OutHot OutCold 1500\nRca OutHot 0 {ohms:e}\nRcb OutCold 0 {ohms:e}\n");
            let mut nominal: Vec<f64> = list(&answer, "resistors")
                .iter()
                .map(|resistor| number(resistor, "ohms"))
                .collect();
            let mut even = String::new();
            if tapped {
                let place = worst
                    .iter()
                    .position(|ohms| *ohms == 0.0)
                    .expect("the shunt");
                nominal[place] = 0.0;
                even = taps([shunt / 2.0, shunt / 2.0]);
            }
            let uneven = if tapped {
                taps([worst[5], worst[6]])
            } else {
                String::new()
            };
            let volts = |pad: &[f64], tap: &str, hot: &str, cold: &str| {
                let (lines, _) = pad_lines(&answer, Some(pad));
                let circuit = source(&answer, hot, cold) + &lines + tap + &load;
                let found = run(
                    "hum",
                    &circuit,
                    "op\nlet left = v(OutHot)-v(OutCold)\nlet whole = v(OutHot)\nprint left whole",
                );
                (found["left"], found["whole"])
            };
            let (programme, _) = volts(&nominal, &even, "0.5", "-0.5");
            let (left, _) = volts(&worst, &uneven, "1", "1");
            let (_, common) = volts(&nominal, &even, "1", "1");
            let what = format!("{options:?}, {case}");
            let rejection = 20.0 * (programme / left).abs().log10();
            assert_near(&what, number(hum, "rejection_db"), rejection, 0.001);
            let rise = 20.0 * (common / programme).abs().log10();
            assert_near(&what, number(hum, "rise_db"), rise, 0.001);
        }
    }
}

#[test]
fn heat_currents_and_levels_at_full_scale() {
    for options in ASKED.iter().chain(&UNBALANCED) {
        let answer = ask(options);
        let emf = 0.6f64.sqrt() * 10f64.powf(number(&answer, "full_scale.unloaded_dbu") / 20.0);
        let (lines, cold) = pad_lines(&answer, None);
        let circuit = format!(
            "Ve e 0 {emf:e}\nRs e InHot {:e}\nRg InCold 0 1e-9\n{lines}Rl OutHot {cold} 1500\n",
            number(&answer, "source_ohms")
        );
        let mut commands = format!(
            "op\nlet sent = v(InHot)-v(InCold)\nlet mic = v(OutHot)-v({cold})\nlet amps = -i(Ve)\n\
             print sent mic amps\n"
        );
        for (place, resistor) in list(&answer, "resistors").iter().enumerate() {
            let ends = list(resistor, "between");
            let [a, b] = [0, 1].map(|end| ends[end].as_str().expect("a node"));
            let ohms = number(resistor, "ohms");
            commands += &format!("let p{place} = (v({a})-v({b}))^2/{ohms:e}\nprint p{place}\n");
        }
        let found = run("heat", &circuit, &commands);
        let what = format!("{options:?}");
        let full = &answer["full_scale"];
        assert_ratio(&what, number(full, "line_volts_rms"), found["sent"], 1e-6);
        assert_ratio(&what, number(full, "mic_volts_rms"), found["mic"], 1e-6);
        assert_ratio(&what, number(full, "line_amps_rms"), found["amps"], 1e-6);
        for (place, resistor) in list(&answer, "resistors").iter().enumerate() {
            let want = found[&format!("p{place}")];
            let what = format!("{what}: R{}", place + 1);
            assert_ratio(&what, number(resistor, "heat_watts"), want, 1e-5);
        }
        // The loss that the levels of the test procedure show.
        let loss = 20.0 * (found["sent"] / found["mic"]).log10();
        for level in list(&answer, "readings.levels") {
            let apart = number(level, "line_dbu") - number(level, "mic_dbu");
            assert_near(&what, apart, loss, 1e-6);
        }
    }
}

#[test]
fn an_ohmmeter_on_the_finished_pad() {
    for options in ASKED.iter().chain(&UNBALANCED) {
        let answer = ask(options);
        let (lines, cold) = pad_lines(&answer, None);
        let readings = &answer["readings"];
        for (key, from, to, joined) in [
            ("in_open_ohms", "InHot", "InCold", None),
            ("in_shorted_ohms", "InHot", "InCold", Some(("OutHot", cold))),
            ("out_open_ohms", "OutHot", cold, None),
            (
                "out_shorted_ohms",
                "OutHot",
                cold,
                Some(("InHot", "InCold")),
            ),
            ("hot_ohms", "InHot", "OutHot", None),
            ("cold_ohms", "InCold", cold, None),
        ] {
            if from == to {
                assert_near(key, number(readings, key), 0.0, 0.0);
                continue;
            }
            let mut circuit = format!("{lines}Im {to} {from} 1m\nRg {to} 0 1e-9\n");
            if let Some((a, b)) = joined {
                circuit += &format!("Vj {a} {b} 0\n");
            }
            let found = run(
                "ohmmeter",
                &circuit,
                &format!("op\nlet ohms = (v({from})-v({to}))/1m\nprint ohms"),
            );
            let what = format!("{options:?}: {key}");
            assert_ratio(&what, number(readings, key), found["ohms"], 1e-5);
        }
    }
}

#[test]
fn noise_at_the_open_output() {
    for options in ASKED {
        let answer = ask(options);
        let (lines, _) = pad_lines(&answer, None);
        let source = source(&answer, "dc 0 ac 1", "0");
        let circuit = source + &lines;
        let found = run(
            "noise",
            &circuit,
            "noise v(OutHot,OutCold) Vh dec 100 20 20000\nsetplot noise2\nprint onoise_total",
        );
        // ngspice prints volts RMS over the band.
        let dbu = 20.0 * (found["onoise_total"] / 0.6f64.sqrt()).log10();
        // 0.5 % in volts is 0.043 dB; the simulator's own integral is that of straight lines.
        assert_near(
            &format!("{options:?}"),
            number(&answer, "noise.open_dbu"),
            dbu,
            0.005,
        );
    }
}

#[test]
fn response_with_cables() {
    for options in ASKED.iter().chain(&UNBALANCED) {
        let cables = ["--line-cable-pf", "3000", "--mic-cable-pf", "4700"];
        let answer = ask(&[options, &cables[..]].concat());
        let (lines, cold) = pad_lines(&answer, None);
        let circuit = format!(
            "Ve e 0 dc 0 ac 1\nRs e InHot {:e}\nRg InCold 0 1e-9\n{lines}Rl OutHot {cold} 1500\n\
             Ca InHot InCold 3000p\nCb OutHot {cold} 4700p\n",
            number(&answer, "source_ohms")
        );
        for hz in [10.0, 1e4, 1e5] {
            let at = |hz: f64| {
                let found = run(
                    "response",
                    &circuit,
                    &format!(
                        "ac lin 1 {hz:e} {hz:e}\nlet size = mag(v(OutHot)-v({cold}))\nprint size"
                    ),
                );
                found["size"]
            };
            let want = 20.0 * (at(hz) / at(1000.0)).log10();
            let found = list(&answer, "response")
                .iter()
                .find(|point| (number(point, "hz") / hz).ln().abs() < 1e-6)
                .expect("a point");
            assert_near(
                &format!("{options:?} at {hz} Hz"),
                number(found, "db"),
                want,
                1e-4,
            );
        }
    }
}

/// Phantom power left on, into an output that grounds its legs by half its impedance each.
#[test]
fn phantom_power_through_the_pad() {
    for options in ASKED {
        let answer = ask(options);
        let (lines, _) = pad_lines(&answer, None);
        let circuit = source(&answer, "0", "0")
            + &lines
            + "Vp p 0 48\nRfa p OutHot 6810\nRfb p OutCold 6810\n";
        let found = run(
            "phantom",
            &circuit,
            "op\nlet hot = (48-v(OutHot))/6810\nlet into = i(Vh)\nprint hot into",
        );
        let phantom = &answer["phantom"];
        let what = format!("{options:?}");
        assert_ratio(&what, number(phantom, "hot_amps"), found["hot"], 1e-6);
        assert_ratio(
            &what,
            number(phantom, "source_amps"),
            found["into"].abs(),
            1e-6,
        );
    }
}
