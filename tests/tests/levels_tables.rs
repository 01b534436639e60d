//! dBFS, dBu, dBV and volts at the ends of the chain, against level tables and closed forms.

use penstock_tests::levels::Levels;
use penstock_tests::network::decibels;
use penstock_tests::{Table, assert_near, assert_ratio, json, number};

/// "Levels to 0.001 dB".
const TOLERANCE_DB: f64 = 0.001;

/// 0 dBV in dBu: 20 log10(1 V / sqrt(0.6) V).
const DBV_IN_DBU: f64 = 2.218_487_496;

/// RMS to peak of a sine: 20 log10(sqrt 2).
const SINE_CREST_DB: f64 = 3.010_299_957;

/// By how much a pad of `in_ohms` pulls the level of a source of `source_ohms` down.
fn loading_db(in_ohms: f64, source_ohms: f64) -> f64 {
    decibels((in_ohms + source_ohms) / in_ohms)
}

/// Input impedance of the default pad as built, changed by `sets`.
fn pad_in_ohms(sets: &[&str]) -> f64 {
    let mut args = vec!["pad"];
    for set in sets {
        args.extend(["--set", set]);
    }
    number(&json(&args), "as_built.in_ohms")
}

#[test]
fn bus_and_line_out() {
    // Source: in the table. Full scale is stated unloaded, so the line is lower by the loading.
    let loading = loading_db(pad_in_ohms(&[]), 50.0);
    assert!(
        loading > 0.0 && loading < 0.5,
        "a 40 dB U pad is a light load: {loading} dB"
    );
    for row in Table::load("levels.txt").rows() {
        let full_scale = format!("rig.send.full_scale_dbu={}", row.text("full_scale_dbu"));
        let levels = Levels::at(row.number("dbfs"), &[&full_scale]);
        let what = row.label();
        assert_near(&what, levels.get("bus", "dbfs"), row.number("dbfs"), 1e-9);
        let unloaded = levels.dbu("line_out") + loading;
        assert_near(&what, unloaded, row.number("dbu"), TOLERANCE_DB);
        let lift = 10f64.powf(loading / 20.0);
        // 0.001 dB as a ratio; the printed six digits are finer.
        for key in ["volts_rms", "volts_peak"] {
            let volts = levels.get("line_out", key) * lift;
            assert_ratio(&format!("{what}: {key}"), volts, row.number(key), 1.2e-4);
        }
    }
}

#[test]
fn the_units_of_a_point_agree() {
    // Source: 0 dBu = sqrt(0.6) V, 0 dBV = 1 V.
    let levels = Levels::at(-30.0, &["preamp.gain_db=46"]);
    for point in [
        "line_out",
        "mic_in",
        "transformer_in",
        "grid_1",
        "grid_2",
        "preamp_out",
    ] {
        let dbu = levels.dbu(point);
        assert_near(point, levels.get(point, "dbv"), dbu - DBV_IN_DBU, 1e-6);
        let volts = levels.get(point, "volts_rms");
        assert_ratio(point, volts, 0.6f64.sqrt() * 10f64.powf(dbu / 20.0), 1e-9);
    }
}

#[test]
fn peak_over_rms_of_a_sine() {
    for (point, tolerance_db) in [
        ("line_out", 0.001),
        ("mic_in", 0.01),
        ("transformer_in", 0.01),
    ] {
        let levels = Levels::at(-40.0, &[]);
        let crest = decibels(levels.get(point, "volts_peak") / levels.get(point, "volts_rms"));
        assert_near(point, crest, SINE_CREST_DB, tolerance_db);
    }
}

#[test]
fn mic_in_is_line_out_less_the_pads_loss() {
    for sets in [
        &["pad.loss_db=40"][..],
        &["pad.loss_db=30", "pad.network=H", "pad.series=E24"],
        &["pad.loss_db=50", "pad.network=T", "pad.in_ohms=600"],
        &["pad.loss_db=46", "pad.network=L", "pad.series=E12"],
        &[
            "pad.loss_db=34",
            "pad.loss_kind=unloaded",
            "rig.send.source_ohms=600",
        ],
        &[
            "pad.loss_db=44",
            "pad.loss_kind=matched-power",
            "pad.network=H",
            "pad.out_ohms=200",
        ],
        &[
            "pad.loss_db=40",
            "pad.loss_kind=open-circuit",
            "pad.series=ideal",
        ],
    ] {
        let mut args = vec!["pad"];
        for set in sets {
            args.extend(["--set", set]);
        }
        let pad = json(&args);
        let levels = Levels::at(-30.0, sets);
        let loss = number(&pad, "as_built.loss_loaded_db");
        let what = format!("{sets:?}");
        assert_near(
            &what,
            levels.dbu("line_out") - levels.dbu("mic_in"),
            loss,
            TOLERANCE_DB,
        );
        let whole = number(&pad, "as_built.loss_unloaded_db");
        assert_near(
            &what,
            -30.0 + 22.0 - levels.dbu("mic_in"),
            whole,
            TOLERANCE_DB,
        );
    }
}

#[test]
fn a_balanced_pad_and_its_unbalanced_twin_are_one_to_the_signal() {
    let with = |network: &str| {
        let network = format!("pad.network={network}");
        Levels::at(-30.0, &[&network, "pad.series=ideal"])
    };
    for (balanced, unbalanced) in [("H", "T"), ("U", "L")] {
        let (one, other) = (with(balanced), with(unbalanced));
        for point in ["line_out", "mic_in", "preamp_out"] {
            assert_near(balanced, one.dbu(point), other.dbu(point), 1e-6);
        }
    }
}

#[test]
fn source_impedance_loads_the_line() {
    // Source: the voltage divider of source and pad.
    for ohms in ["1", "100", "600", "2000"] {
        let set = format!("rig.send.source_ohms={ohms}");
        let in_ohms = pad_in_ohms(&[&set]);
        let loading = loading_db(in_ohms, ohms.parse().expect("a number"));
        let levels = Levels::at(-20.0, &[&set]);
        assert_near(
            &set,
            levels.dbu("line_out"),
            22.0 - 20.0 - loading,
            TOLERANCE_DB,
        );
    }
}

#[test]
fn no_pad_is_a_wire() {
    let levels = Levels::at(-60.0, &["pad.network=none"]);
    assert_near("a wire", levels.dbu("mic_in"), levels.dbu("line_out"), 1e-9);
    let loading = -60.0 + 22.0 - levels.dbu("line_out");
    // The preamp's input alone loads the 50 ohm source now: some kilohms, so a fraction of a dB.
    assert!((0.01..1.0).contains(&loading), "loading {loading} dB");
}

#[test]
fn the_return_counts_from_its_own_full_scale() {
    for full_scale in ["15", "18", "22", "24", "8.24", "14.26"] {
        let set = format!("rig.return.full_scale_dbu={full_scale}");
        let levels = Levels::at(-30.0, &[&set]);
        let wanted = levels.dbu("preamp_out") - full_scale.parse::<f64>().expect("a number");
        assert_near(&set, levels.get("return", "dbfs"), wanted, TOLERANCE_DB);
    }
}
