//! `levels --csv`: the JSON answer as tables, parted by empty lines. The first cell of each head is the
//! table's name; the column under it holds what the rows are about.

use serde_json::Value;

/// The channels of a table, with what the answer calls them.
const SIDES: [&str; 2] = ["left", "right"];

/// A table in the making.
struct Table {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Named, with columns before those of the rows' own keys.
    fn new(name: &str, before: &[&str]) -> Self {
        let head = [&[name], before].concat();
        Self {
            head: head.into_iter().map(str::to_owned).collect(),
            rows: Vec::new(),
        }
    }

    /// A row: cells before, then every plain value of an object but its name.
    fn add(&mut self, before: &[&str], object: &Value) {
        let mut row: Vec<String> = before.iter().map(|cell| quoted(cell)).collect();
        let is_first = self.rows.is_empty();
        for (key, value) in object.as_object().into_iter().flatten() {
            if value.is_array() || value.is_object() || key == "name" {
                continue;
            }
            if is_first {
                self.head.push(key.clone());
            }
            row.push(cell(value));
        }
        self.rows.push(row);
    }

    fn write(&self, text: &mut String) {
        if self.rows.is_empty() {
            return;
        }
        if !text.is_empty() {
            text.push_str("\r\n");
        }
        for row in std::iter::once(&self.head).chain(&self.rows) {
            text.push_str(&row.join(","));
            text.push_str("\r\n");
        }
    }
}

/// A plain value; nothing for `null`.
fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => quoted(text),
        other => other.to_string(),
    }
}

/// As RFC 4180 has it.
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Items of a list; none where there is no list.
fn items(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn name(value: &Value) -> &str {
    value["name"].as_str().unwrap_or_default()
}

/// All tables of an answer.
pub(super) fn text(answer: &Value) -> String {
    let mut tables = vec![levels(answer)];
    tables.extend(alignment(&answer["alignment"]));
    tables.extend(meter(&answer["meter"]));
    tables.extend(around(answer));
    tables.extend(statistics(&answer["statistics"]));
    tables.extend(distortion(answer));
    let mut verdict = Table::new("fail_over", &[]);
    if answer["fail_over"].is_object() {
        verdict.add(&["verdict"], &answer["fail_over"]);
    }
    tables.push(verdict);
    let mut text = String::new();
    tables.iter().for_each(|table| table.write(&mut text));
    text
}

fn levels(answer: &Value) -> Table {
    let mut table = Table::new("points", &["channel"]);
    let channels = SIDES.map(|side| (side, &answer["channels"][side]));
    for (channel, list) in [("both", &answer["points"])].into_iter().chain(channels) {
        for point in items(list) {
            table.add(&[name(point), channel], point);
        }
    }
    table
}

fn alignment(alignment: &Value) -> [Table; 2] {
    [("send", "send_alignment"), ("return", "return_alignment")].map(|(converter, name)| {
        let mut table = Table::new(name, &[]);
        for side in SIDES {
            table.add(&[side], &alignment[converter][side]);
        }
        table
    })
}

/// What a chosen meter reads, and overs.
fn meter(meter: &Value) -> [Table; 2] {
    let mut readings = Table::new("readings", &["channel", "meter"]);
    let mut overs = Table::new("overs", &[]);
    for side in SIDES {
        for point in items(&meter[side]["points"]) {
            readings.add(&[name(point), side, name(meter)], point);
        }
        if meter[side].is_object() {
            overs.add(&[side], &meter[side]);
        }
    }
    [readings, overs]
}

/// Ceilings and floors.
fn around(answer: &Value) -> [Table; 3] {
    let mut ceilings = Table::new("ceilings", &["channel"]);
    let mut thd = Table::new("thd_ceilings", &["channel"]);
    let mut floors = Table::new("floors", &["channel"]);
    for side in SIDES {
        for point in items(&answer["ceilings"][side]) {
            ceilings.add(&[name(point), side], point);
            for ceiling in items(&point["thd"]) {
                thd.add(&[name(point), side], ceiling);
            }
        }
        for point in items(&answer["floors"][side]) {
            floors.add(&[name(point), side], point);
        }
    }
    [ceilings, thd, floors]
}

fn statistics(statistics: &Value) -> [Table; 4] {
    let mut loudness = Table::new("loudness", &[]);
    for point in items(&statistics["loudness"]) {
        loudness.add(&[name(point)], point);
    }
    let mut points = Table::new("statistics", &["channel"]);
    let mut above = Table::new("above", &["channel"]);
    let mut passages = Table::new("passages", &["channel", "ceiling"]);
    for side in SIDES {
        for point in items(&statistics[side]) {
            points.add(&[name(point), side], point);
            for ceiling in items(&point["above"]) {
                above.add(&[name(point), side], ceiling);
                let kind = ceiling["ceiling"].as_str().unwrap_or_default();
                for passage in items(&ceiling["list"]) {
                    passages.add(&[name(point), side, kind], passage);
                }
            }
        }
    }
    [loudness, points, above, passages]
}

fn distortion(answer: &Value) -> [Table; 4] {
    let mut stages = Table::new("distortion", &[]);
    let mut harmonics = Table::new("harmonics", &["order", "db"]);
    let mut transfer = Table::new("transfer", &["undistorted_volts", "volts"]);
    for stage in items(&answer["distortion"]) {
        stages.add(&[name(stage)], stage);
        for (order, db) in (2..).zip(items(&stage["harmonics_db"])) {
            let row = [name(stage), &order.to_string(), &cell(db)];
            harmonics.add(&row, &Value::Null);
        }
        for pair in items(&stage["transfer_volts"]) {
            let row = [name(stage), &cell(&pair[0]), &cell(&pair[1])];
            transfer.add(&row, &Value::Null);
        }
    }
    let mut response = Table::new("response", &["hz", "db"]);
    for step in items(&answer["response"]) {
        let row = ["preamp_out", &cell(&step["hz"]), &cell(&step["db"])];
        response.add(&row, &Value::Null);
    }
    [stages, harmonics, transfer, response]
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_table_is_headed_by_its_name_and_quotes_what_must_be() {
        let mut table = Table::new("things", &["side"]);
        table.add(
            &["a", "left"],
            &json!({ "name": "a", "x": 1.5, "y": null, "z": [1] }),
        );
        table.add(
            &["b", "r,\"t\""],
            &json!({ "name": "b", "x": -2, "y": "w" }),
        );
        let mut text = String::new();
        table.write(&mut text);
        let want = "things,side,x,y\r\na,left,1.5,\r\nb,\"r,\"\"t\"\"\",-2,w\r\n";
        assert_eq!(text, want);
        Table::new("nothing", &[]).write(&mut text);
        assert_eq!(text, want);
    }
}
