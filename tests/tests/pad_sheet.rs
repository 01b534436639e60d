//! The build sheet, printed by a browser: one page a side, legible, everything on it.

use penstock_tests::tools::{browse, missing};
use penstock_tests::{TempDir, list, number, run_in};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Three sheets: the shortest, the one with most resistors, the one before the return converter.
const SHEETS: [(&str, &[&str]); 3] = [
    ("u.html", &["--network", "U", "--loss-db", "40"]),
    (
        "h.html",
        &[
            "--network",
            "H",
            "--loss-db",
            "46",
            "--in-ohms",
            "600",
            "--series",
            "E24",
            "--parts",
            "pair",
            "--paper",
            "letter",
        ],
    ),
    ("return.html", &["--return", "--loss-db", "12"]),
];

fn sheet(dir: &Path, file: &str, options: &[&str]) -> Value {
    let args = [&["pad", "--sheet", file, "--json"][..], options].concat();
    let outcome = run_in(dir, &args);
    assert_eq!(outcome.status, 0, "{}", outcome.stderr);
    serde_json::from_str(&outcome.stdout).expect("one JSON object")
}

fn print(dir: &TempDir, file: &str) -> PathBuf {
    let pdf = dir.file(&format!("{file}.pdf"));
    let print = format!("--print-to-pdf={}", pdf.display());
    let options = ["--no-pdf-header-footer", &print];
    let output = browse(dir.path(), &dir.file(file), &options);
    assert!(
        pdf.is_file(),
        "no PDF: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    pdf
}

/// What one of poppler's programs says of the PDF.
fn poppler(program: &str, args: &[&str], pdf: &Path) -> String {
    let output = Command::new(program)
        .args(args)
        .args([pdf.as_os_str(), "-".as_ref()])
        .output();
    let output = output.unwrap_or_else(|_| panic!("{}", missing("poppler-utils")));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn three_sheets_print_on_one_page_a_side() {
    for (file, options) in SHEETS {
        let dir = TempDir::new();
        let answer = sheet(dir.path(), file, options);
        let pdf = print(&dir, file);
        let info = Command::new("pdfinfo").arg(&pdf).output();
        let info = info.unwrap_or_else(|_| panic!("{}", missing("poppler-utils")));
        let info = String::from_utf8_lossy(&info.stdout).into_owned();
        let line = |name: &str| {
            let line = info.lines().find(|line| line.starts_with(name));
            line.unwrap_or_else(|| panic!("no {name} in {info}"))
                .to_owned()
        };
        assert!(line("Pages:").ends_with(" 2"), "{file}: {info}");
        let size = if options.contains(&"letter") {
            "(letter)"
        } else {
            "(A4)"
        };
        assert!(line("Page size:").contains(size), "{file}: {info}");
        let side = |page: &str| poppler("pdftotext", &["-layout", "-f", page, "-l", page], &pdf);
        let (front, back) = (side("1"), side("2"));
        for words in [
            "Schematic",
            "Bill of materials",
            "What it does",
            "for a pair",
            "Cautions",
            "licensed",
        ] {
            assert!(front.contains(words), "{file}, front: no {words}");
        }
        for words in [
            "AES14",
            "AES48",
            "push-pull",
            "must not be",
            "safety earth",
            "Polarity",
        ] {
            assert!(back.contains(words), "{file}, back: no {words}");
        }
        // Every resistor stands in the drawing.
        for resistor in list(&answer, "resistors") {
            let name = resistor["name"].as_str().expect("a name");
            assert!(front.contains(name), "{file}: no {name}");
        }
        legible(file, &poppler("pdftotext", &["-bbox"], &pdf));
    }
}

/// No word lower than 6 points from the foot of its letters to their head, none beyond the margins.
fn legible(file: &str, boxes: &str) {
    let number = |line: &str, name: &str| {
        let rest = line.split(&format!("{name}=\"")).nth(1)?;
        rest.split('"').next()?.parse::<f64>().ok()
    };
    let (mut words, mut width, mut height) = (0, 0.0, 0.0);
    for line in boxes.lines() {
        if line.contains("<page") {
            width = number(line, "width").expect("a page has a width");
            height = number(line, "height").expect("a page has a height");
        }
        if !line.contains("<word") {
            continue;
        }
        words += 1;
        let at = |name: &str| number(line, name).expect("a word has a box");
        assert!(at("yMax") - at("yMin") >= 6.0, "{file}: too small: {line}");
        assert!(
            at("xMin") > 20.0 && at("xMax") < width - 20.0,
            "{file}: {line}"
        );
        assert!(
            at("yMin") > 15.0 && at("yMax") < height - 15.0,
            "{file}: {line}"
        );
    }
    assert!(words > 400, "{file}: only {words} words");
}

/// The printed readings are those of the JSON, which `pad_spice` holds against ngspice; as printed they
/// are within 0.5 %.
#[test]
fn its_figures_are_those_of_the_answer() {
    let dir = TempDir::new();
    let (file, options) = SHEETS[0];
    let answer = sheet(dir.path(), file, options);
    let page = std::fs::read_to_string(dir.file(file)).expect("it was written");
    let page = page.replace('\u{a0}', " ");
    for key in [
        "in_open_ohms",
        "in_shorted_ohms",
        "out_open_ohms",
        "out_shorted_ohms",
        "hot_ohms",
    ] {
        let ohms = number(&answer["readings"], key);
        let close = page
            .split("<td>")
            .skip(1)
            .filter_map(|cell| {
                let cell = cell.split("</td>").next()?;
                let (number, unit) = cell.split_once(' ')?;
                let number: f64 = number.parse().ok()?;
                match unit {
                    "Ω" => Some(number),
                    "kΩ" => Some(number * 1e3),
                    _ => None,
                }
            })
            .any(|shown| (shown / ohms - 1.0).abs() < 0.005);
        assert!(close, "{key}: {ohms} is not on the sheet");
    }
    let hum = number(&answer, "hum.floating.rejection_db");
    assert!(page.contains(&format!("reject {hum:.1} dB")), "hum {hum}");
    assert!(!page.contains("http"), "nothing is fetched");
}

#[test]
fn the_caution_names_how_much_louder_without_it() {
    let dir = TempDir::new();
    for (file, options) in [
        ("strong.html", &["--loss-db", "46"][..]),
        ("back.html", &["--return", "--set", "return.pad_db=10"]),
    ] {
        let answer = sheet(dir.path(), file, options);
        let page = std::fs::read_to_string(dir.file(file)).expect("it was written");
        let loss_db = number(&answer, "as_built.loss_loaded_db");
        assert!(
            page.contains(&format!("{loss_db:.0} dB louder")),
            "{file}: {loss_db}"
        );
        assert_eq!(
            page.contains("lets through rises") && page.contains("converter itself"),
            file == "back.html",
            "{file}"
        );
    }
}
