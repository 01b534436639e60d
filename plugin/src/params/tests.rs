//! The whole table: ids, texts, and the plan the parameters make.

use super::*;

#[test]
fn ids_and_names_are_unique_and_every_row_is_explained() {
    let rows = rows();
    for (index, row) in rows.iter().enumerate() {
        assert!(
            rows[..index]
                .iter()
                .all(|other| other.id != row.id && other.name != row.name)
        );
        assert!(!row.help.is_empty());
    }
}

#[test]
fn every_text_comes_back_as_the_same_text() {
    for parameter in PlanParams::default().all {
        for step in 0..=64 {
            let normalized = step as f32 / 64.0;
            let (text, back) = match &parameter.value {
                ParamKind::Float(p) => round_trip(p, normalized),
                ParamKind::Int(p) => round_trip(p, normalized),
                ParamKind::Bool(p) => round_trip(p, normalized),
            };
            assert_eq!(text, back, "{}", parameter.row.id);
            let unit = parameter.row.unit;
            let none = matches!(text.as_str(), "unused" | "not stated");
            assert!(
                none || text.ends_with(unit),
                "{text} should end with {unit}"
            );
        }
    }
}

fn round_trip(param: &impl Param, normalized: f32) -> (String, String) {
    let text = param.normalized_value_to_string(normalized, true);
    let value = param.string_to_normalized_value(&text);
    let value = value.unwrap_or_else(|| panic!("{text} cannot be typed"));
    (text, param.normalized_value_to_string(value, true))
}

#[test]
fn numbers_are_read_as_people_write_them() {
    let params = PlanParams::default();
    let row = |id: &str| {
        params
            .find(id)
            .map(|parameter| parameter.row)
            .expect("a parameter")
    };
    let ohms = |text: &str| parse_number(row("pad.in_ohms"), text);
    for text in ["2000", " 2000 Ohm", "2k", "2 kOhm", "2,0K", "2.0e3"] {
        let wanted = if text.contains('e') {
            None
        } else {
            Some(2000.0)
        };
        assert_eq!(ohms(text), wanted, "{text}");
    }
    assert_eq!(ohms("0.05M"), Some(50_000.0));
    assert_eq!(ohms("1 GOhm"), None);
    // IEC 60062: the letter stands for the point.
    let own = |text: &str| parse_number(row("pad.resistor_1_ohms"), text);
    for (text, wanted) in [
        ("4k7", 4_700.0_f64),
        ("6R8 ohm", 6.8),
        (" 0K33", 330.0),
        ("1m2", 1.2e6),
    ] {
        let RowKind::Number { max, .. } = row("pad.resistor_1_ohms").kind else {
            panic!("resistors are numbers");
        };
        let got = own(text).unwrap_or_else(|| panic!("{text} is not read"));
        assert!(
            (got - wanted.min(max)).abs() <= 1e-9 * wanted,
            "{text}: {got}"
        );
    }
    for text in ["k7", "4k-7", "4k7k", "4.0k7", "4k7 dB"] {
        assert_eq!(own(text), None, "{text}");
    }
    assert_eq!(parse_number(row("send.trim_db"), "4k7"), None);
    let db = |text: &str| parse_number(row("send.trim_db"), text);
    assert_eq!(db("-6DB"), Some(-6.0));
    assert_eq!(db("\u{2212}6,5 db"), Some(-6.5));
    assert_eq!(db("+100"), Some(12.0));
    for text in ["nan", "inf", "-inf", "", "db", "6 ohm", "1e999"] {
        assert_eq!(db(text), None, "{text}");
    }
}

#[test]
fn what_may_be_left_out_and_what_is_one_of_a_few_can_be_typed() {
    let params = PlanParams::default();
    let row = |id: &str| params.find(id).expect("a parameter").row;
    // What may be left out says so, and a number never means that.
    let step = |text: &str| parse_number(row("rig.preamp.gain_step_7_db"), text);
    for (text, wanted) in [
        ("Unused ", -21.0),
        ("-20", -20.0),
        ("-20.4", -20.0),
        ("0", 0.0),
    ] {
        assert_eq!(step(text), Some(wanted), "{text}");
    }
    assert_eq!(step("not stated"), None);
    let row_of = row("rig.preamp.gain_step_7_db");
    assert_eq!(format_number(row_of, -20.6), "unused");
    assert_eq!(format_number(row_of, -20.0), "-20 dB");
    let gain = |text: &str| parse_choice(row("preamp.gain_db"), text);
    assert_eq!(gain("40"), gain("40 dB"));
    assert_eq!(gain("40dB"), Some(2));
    assert_eq!(gain("41"), None);
    assert_eq!(parse_choice(row("pad.series"), "e24"), Some(2));
    for (text, wanted) in [
        ("Own unit", 1),
        ("own", 1),
        ("model", 0),
        ("our circuit", 0),
    ] {
        assert_eq!(
            parse_choice(row("rig.preamp.kind"), text),
            Some(wanted),
            "{text}"
        );
    }
    assert_eq!(parse_flag(" ON "), Some(true));
}

#[test]
fn the_defaults_are_the_default_plan() {
    assert_eq!(
        PlanParams::default().plan(),
        (Plan::default(), Oversampling::Four)
    );
    assert!(!PlanParams::default().bypassed());
}
