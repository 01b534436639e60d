//! `penstock levels --csv`: what Python's own reader finds in it is what the JSON says.

use penstock_tests::recordings::{self, arg};
use penstock_tests::{TempDir, Wave, json_in, list, python, refused_in, run_in, text};
use serde_json::{Value, json as value};
use std::fs;

/// A cell is a value, nothing for `null`. Of a number the last two bits are not judged: the reader of the JSON
/// here does not promise them.
fn assert_cell(what: &str, cell: &Value, value: &Value) {
    let cell = cell
        .as_str()
        .unwrap_or_else(|| panic!("{what}: no such cell"));
    match value {
        Value::Null => assert_eq!(cell, "", "{what}"),
        Value::String(text) => assert_eq!(cell, text, "{what}"),
        Value::Bool(truth) => assert_eq!(cell, truth.to_string(), "{what}"),
        number => {
            let (got, want) = (cell.parse::<f64>(), number.as_f64());
            let (got, want) = got
                .ok()
                .zip(want)
                .unwrap_or_else(|| panic!("{what}: {cell} {number}"));
            assert!(
                (got - want).abs() <= 2.0 * f64::EPSILON * want.abs(),
                "{what}: {got} {want}"
            );
        }
    }
}

/// Rows are these objects, in order, each with its cells before.
fn assert_rows(tables: &Value, name: &str, objects: &[(Vec<(&str, &str)>, &Value)]) {
    let rows = list(tables, name);
    assert_eq!(rows.len(), objects.len(), "{name}");
    assert!(!rows.is_empty(), "{name} is empty");
    for (row, (before, object)) in rows.iter().zip(objects) {
        for (key, cell) in before {
            assert_cell(&format!("{name}.{key}"), &row[*key], &value!(cell));
        }
        for (key, value) in object.as_object().into_iter().flatten() {
            if key == "name" {
                assert_cell(&format!("{name}.name"), &row[name], value);
            } else if !value.is_array() && !value.is_object() {
                assert_cell(&format!("{name}.{key}"), &row[key], value);
            }
        }
    }
}

/// The objects of a list in both channels.
fn of_sides<'a>(
    of: &'a Value,
    sides: &[&'static str],
) -> Vec<(Vec<(&'a str, &'a str)>, &'a Value)> {
    let side = |side: &'static str| {
        let objects = list(of, side).iter();
        objects.map(move |object| (vec![("channel", side)], object))
    };
    sides.iter().copied().flat_map(side).collect()
}

#[test]
fn every_figure_is_in_both() {
    let dir = TempDir::new();
    let recording = arg(&recordings::loud_stereo());
    let more = ["--oversampling", "1", "--distortion", "--meter", "vu"];
    let args = [&["levels", &recording, "--csv", "out.csv"][..], &more].concat();
    let answer = json_in(dir.path(), &args);
    let tables = python("tables.py", &value!({ "path": arg(&dir.file("out.csv")) }));
    let sides = ["left", "right"];
    let mut points: Vec<_> = list(&answer, "points")
        .iter()
        .map(|p| (vec![("channel", "both")], p))
        .collect();
    points.extend(of_sides(&answer["channels"], &sides));
    assert_rows(&tables, "points", &points);
    for table in ["ceilings", "floors", "statistics"] {
        assert_rows(&tables, table, &of_sides(&answer[table], &sides));
    }
    let read = |side: &'static str| {
        let points = list(&answer["meter"][side], "points").iter();
        points.map(move |point| (vec![("channel", side), ("meter", "vu")], point))
    };
    let read: Vec<_> = sides.into_iter().flat_map(read).collect();
    assert_rows(&tables, "readings", &read);
    let nested = |of: &'static str, key: &'static str| {
        let points = of_sides(&answer[of], &sides).into_iter();
        let inner = points.flat_map(move |(before, point)| {
            let before = [
                before,
                vec![(
                    if key == "thd" { "thd_ceilings" } else { key },
                    text(point, "name"),
                )],
            ]
            .concat();
            list(point, key)
                .iter()
                .map(move |object| (before.clone(), object))
        });
        inner.collect::<Vec<_>>()
    };
    assert_rows(&tables, "thd_ceilings", &nested("ceilings", "thd"));
    assert_rows(&tables, "above", &nested("statistics", "above"));
    let passages: Vec<_> = nested("statistics", "above")
        .into_iter()
        .flat_map(|(before, above)| {
            let name = before
                .iter()
                .find(|(key, _)| *key == "above")
                .expect("a point")
                .1;
            let before = vec![
                ("passages", name),
                before[0],
                ("ceiling", text(above, "ceiling")),
            ];
            list(above, "list")
                .iter()
                .map(move |passage| (before.clone(), passage))
        })
        .collect();
    assert_rows(&tables, "passages", &passages);
    judge_distortion(&answer, &tables);
}

/// What stands in lists of its own.
fn judge_distortion(answer: &Value, tables: &Value) {
    let whole = |key: &str| -> Vec<(Vec<(&str, &str)>, &Value)> {
        let objects = list(answer, key);
        objects.iter().map(|object| (Vec::new(), object)).collect()
    };
    assert_rows(tables, "distortion", &whole("distortion"));
    assert_rows(tables, "response", &whole("response"));
    assert_rows(tables, "loudness", &whole("statistics.loudness"));
    let harmonics = list(answer, "distortion").iter().flat_map(|stage| {
        let orders = (2..).zip(list(stage, "harmonics_db"));
        orders.map(|(order, db)| value!({ "order": order, "db": db, "name": stage["name"] }))
    });
    let harmonics: Vec<Value> = harmonics.collect();
    let harmonics: Vec<_> = harmonics.iter().map(|row| (Vec::new(), row)).collect();
    assert_rows(tables, "harmonics", &harmonics);
    assert_eq!(list(tables, "transfer").len(), 6 * 64);
}

#[test]
fn no_file_is_lost() {
    let dir = TempDir::new();
    Wave::programme(48_000, 0.2, 0.5, 1).write(&dir.file("in.wav"));
    fs::write(dir.file("out.csv"), "precious").expect("the folder can be written");
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--csv", "out.csv"],
        &["out.csv", "--force"],
    );
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--csv", "in.wav", "--force"],
        &["in.wav", "recording"],
    );
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--html", "./in.wav", "--force"],
        &["recording"],
    );
    let both = ["levels", "in.wav", "--html", "new", "--csv", "new"];
    refused_in(dir.path(), &both, &["new"]);
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--csv", "nowhere/out.csv"],
        &["nowhere/out.csv"],
    );
    refused_in(
        dir.path(),
        &["levels", "in.wav", "--csv", "/dev/null", "--force"],
        &["/dev/null"],
    );
    let forced = run_in(
        dir.path(),
        &["levels", "in.wav", "--csv", "out.csv", "--force"],
    );
    assert_eq!(forced.status, 0, "{}", forced.stderr);
    let text = fs::read_to_string(dir.file("out.csv")).expect("it was written");
    assert!(text.starts_with("points,channel,"), "{text}");
    let left: Vec<_> = fs::read_dir(dir.path()).expect("a folder").collect();
    assert_eq!(left.len(), 2, "{left:?}");
}
