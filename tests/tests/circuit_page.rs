//! The circuit's page shows the circuit that sounds: drawing and tables are made from its elements.

use std::fs;
use std::path::Path;

use penstock_dsp::circuit::{ELEMENTS, GAIN_STEPS_DB};
use penstock_tests::readme::assert_block_in;
use penstock_tests::schematic::{Area, HEIGHT, Nets, WIDTH, areas, svg, switched, value, wires};
use penstock_tests::tools::workspace_dir;

const PAGE: &str = "plugin/docs/circuit.md";
const PICTURE: &str = "plugin/docs/circuit.svg";

#[test]
fn the_drawing_is_the_one_that_the_code_makes() {
    let made = svg();
    let shown = fs::read_to_string(workspace_dir().join(PICTURE)).unwrap_or_default();
    if shown != made {
        let fresh = Path::new(env!("CARGO_TARGET_TMPDIR")).join("circuit.svg");
        fs::write(&fresh, made).expect("the target folder can be written");
        panic!(
            "{PICTURE} is not what the code makes: look at {} and copy it",
            fresh.display()
        );
    }
}

#[test]
fn the_drawing_names_every_element_with_its_value() {
    let picture = svg();
    for element in &ELEMENTS {
        let written = |text: &str| picture.matches(&format!(">{text}</text>")).count();
        assert_eq!(written(element.name), 1, "{}", element.name);
        let value = value(&element.kind);
        let beside = picture.split(&format!(">{}</text>", element.name)).nth(1);
        let next = beside
            .and_then(|rest| rest.lines().nth(1))
            .unwrap_or_default();
        assert!(
            next.contains(&value),
            "{} has {next}, not {value}",
            element.name
        );
    }
}

/// The drawing read back: its wires join exactly those ends that the table has at one node.
#[test]
fn the_drawing_connects_what_the_table_connects() {
    let nets = Nets::read();
    for element in &ELEMENTS {
        assert!(
            nets.ends.iter().any(|end| end.name == element.name),
            "{}",
            element.name
        );
    }
    for (n, end) in nets.ends.iter().enumerate() {
        for (k, other) in nets.ends.iter().enumerate().take(n) {
            assert_eq!(
                nets.of[n] == nets.of[k],
                end.node == other.node,
                "{} at {:?} ({:?}) and {} at {:?} ({:?})",
                end.name,
                end.at,
                end.node,
                other.name,
                other.at,
                other.node
            );
        }
    }
}

#[test]
fn nothing_in_the_drawing_covers_anything_else() {
    let areas = areas();
    let mut found = Vec::new();
    for (n, (name, area)) in areas.iter().enumerate() {
        let inside =
            area.left >= 0 && area.top >= 0 && area.right <= WIDTH && area.bottom <= HEIGHT;
        assert!(inside, "{name} {area:?} leaves the picture");
        for (other, covered) in &areas[..n] {
            if area.overlaps(covered) {
                found.push(format!("{name} {area:?} covers {other} {covered:?}"));
            }
        }
        // A symbol stands on its wires, and so does the letter of a link; other texts must not.
        let is_text = name.contains('"') && !name.starts_with("link");
        for [from, to] in wires().into_iter().filter(|_| is_text) {
            let wire = Area {
                left: from.0.min(to.0) - 1,
                top: from.1.min(to.1) - 1,
                right: from.0.max(to.0) + 1,
                bottom: from.1.max(to.1) + 1,
            };
            if area.overlaps(&wire) {
                found.push(format!(
                    "{name} {area:?} stands on the wire {from:?} {to:?}"
                ));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn the_page_shows_the_switched_values() {
    let mut lines = vec![String::from("| |"), String::from("|---|")];
    for step in GAIN_STEPS_DB {
        lines[0].push_str(&format!(" {step} dB |"));
        lines[1].push_str("---|");
    }
    for element in &ELEMENTS {
        if let Some(values) = switched(&element.kind) {
            lines.push(format!("| {} | {} |", element.name, values.join(" | ")));
        }
    }
    assert_block_in(PAGE, "switched", &lines.join("\n"));
}

#[test]
fn the_page_lists_every_element() {
    let mut lines = vec![
        "| name | value | from | to | purpose |".to_owned(),
        "|---|---|---|---|---|".to_owned(),
    ];
    for element in &ELEMENTS {
        lines.push(format!(
            "| {} | {} | {} | {} | {} |",
            element.name,
            value(&element.kind),
            element.a.name(),
            element.b.name(),
            element.purpose
        ));
    }
    assert_block_in(PAGE, "elements", &lines.join("\n"));
}
