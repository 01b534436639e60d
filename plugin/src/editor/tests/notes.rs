//! Notes, harmonics and comparison: what can be unfolded or stands beside the diagram.

use super::super::desk::Note;
use super::{Asked, Window, assert_balanced};
use egui::{Key, Modifiers};
use penstock_dsp::analysis::StageDistortion;
use penstock_dsp::chain::Point;
use penstock_dsp::units::Dbu;

/// Where a screen reader finds a name.
fn place(window: &mut Window, name: &str) -> egui::Rect {
    window
        .places(name)
        .pop()
        .unwrap_or_else(|| panic!("no {name}"))
}

fn advised(window: &mut Window) {
    let gain = window.desk.index("preamp.gain_db");
    window.desk.readout.notes = vec![Note {
        text: "Loudest passage: peak -6.0 dBFS at the bus, 12.3 dB under 1 % THD at preamp out."
            .to_owned(),
        unwise: false,
        step: Some((gain, 4.0 / 6.0)),
    }];
}

#[test]
fn a_suggested_move_is_clicked_in_two_actions_and_undone_in_one() {
    let mut window = Window::new();
    advised(&mut window);
    window.desk.readout.clipped_send_frames = 7;
    window.frames(2);
    let fold = place(&mut window, "Notes: 1");
    window.click(fold.center());
    window.frames(3);
    let button = place(&mut window, "Set Preamp Gain to 52 dB");
    window.click(button.center());
    window.frames(2);
    assert_eq!(window.decibels("preamp.gain_db"), "52 dB");
    assert_balanced(&window.desk.asked);
    // What clipped before it says nothing any more.
    assert!(window.desk.asked.contains(&Asked::Clear));
    window.key(Key::Z, Modifiers::COMMAND);
    assert_eq!(window.decibels("preamp.gain_db"), "40 dB");
}

#[test]
fn a_wide_window_has_everything_beside_the_diagram() {
    let mut window = Window::sized(1280.0, 800.0);
    advised(&mut window);
    window.frames(2);
    for name in ["Harmonics", "Notes", "Compare", "Measure loudness"] {
        let rect = place(&mut window, name);
        assert!(rect.left() > 900.0, "{name}: {rect:?}");
    }
    let button = place(&mut window, "Set Preamp Gain to 52 dB");
    window.click(button.center());
    assert_eq!(window.decibels("preamp.gain_db"), "52 dB");
}

#[test]
fn harmonics_are_asked_for_only_while_somebody_looks() {
    let mut window = Window::new();
    window.frames(5);
    assert_eq!(window.desk.stages_asked, 0);
    window.desk.view.harmonics_open = true;
    let stage = StageDistortion {
        point: Point::Grid2,
        peak: Dbu(0.0),
        harmonics: std::array::from_fn(|n| 10_f64.powf(-2.0 * n as f64)),
        thd_percent: Some(1.0),
        thd_n_percent: None,
        smpte_percent: None,
        ccif_percent: None,
        curve: Vec::new(),
    };
    window.desk.readout.stages = Some(vec![stage].into());
    window.frames(2);
    assert!(window.desk.stages_asked > 0);
    let names = window.names();
    // 40 dB down by 1/100 for each order; under -100 dB there is a dash.
    let row =
        "Grid 2: H2 \u{2212}40.0 dB, H3 \u{2212}80.0 dB, H4 \u{2013} dB, H5 \u{2013} dB, THD 1.0 %";
    assert!(names.iter().any(|name| name == row), "{names:?}");
}

#[test]
fn loudness_is_measured_on_request_and_its_trim_clicked() {
    let mut window = Window::sized(860.0, 620.0);
    let fold = place(&mut window, "Compare");
    window.click(fold.center());
    window.frames(3);
    let button = place(&mut window, "Measure loudness");
    window.click(button.center());
    assert!(window.desk.readout.measures_loudness);
    let trim = window.desk.index("return.trim_db");
    window.desk.readout.loudness = Some(Note {
        text: "Loudness over 12 s: bus -20.0 LUFS, return -13.7 LUFS: the return is 6.3 LU louder."
            .to_owned(),
        unwise: false,
        step: Some((trim, 0.537)),
    });
    window.frames(3);
    let button = place(&mut window, "Set Return Trim to -6.3 dB");
    window.click(button.center());
    assert_eq!(window.decibels("return.trim_db"), "-6.3 dB");
    assert_balanced(&window.desk.asked);
}
