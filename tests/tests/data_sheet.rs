//! The preamplifier's data sheet, measured on the model: the README's tables, made here.
//!
//! Stated from 150 ohm into 10 kohm without the attenuator, where nothing else is said. What a
//! figure must be is asserted beside its measurement.

mod attenuator;
mod cores;
mod noise;
mod overload;
mod sources;
mod stages;
mod steps;

use penstock_tests::readme::assert_block;

/// What the sheet holds, in its order: each measures, asserts and writes a table or a sentence.
const SECTIONS: [fn() -> String; 7] = [
    steps::section,
    stages::section,
    cores::section,
    noise::section,
    sources::section,
    attenuator::section,
    overload::section,
];

#[test]
fn the_readme_shows_the_measured_data_sheet() {
    let sections: Vec<String> = SECTIONS.iter().map(|section| section()).collect();
    assert_block("sheet", &sections.join("\n\n"));
}
