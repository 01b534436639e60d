//! The drawing: whole, inside its frame, no words upon others.

use super::*;
use crate::diagram::MeterReading;
use crate::plan::Plan;

#[test]
fn everything_drawn_is_inside_and_finite() {
    let diagram = LevelDiagram::of_plan(&Plan::default());
    let commands = draw(&diagram.expect("a pad"), 960.0, 620.0);
    let mut lines = 0;
    for command in &commands {
        let points = match command {
            Command::Line { from, to, .. } => {
                lines += 1;
                vec![*from, *to]
            }
            Command::Text { at, words, .. } => {
                assert!(!words.is_empty());
                vec![*at]
            }
        };
        for [x, y] in points {
            assert!((0.0..=960.0).contains(&x), "{command:?}");
            assert!((0.0..=620.0).contains(&y), "{command:?}");
        }
    }
    assert!(lines > 20);
    for name in ["Bus", "Mic in", "Return", "468", "clip", "grid"] {
        let says = |c: &Command| matches!(c, Command::Text { words, .. } if words == name);
        assert!(commands.iter().any(says), "{name}");
    }
}

/// Half the height is the mean width of a letter, an eighth more is plenty: "clip", "peak", "0.1 %".
fn place_of(command: &Command) -> Option<([f64; 2], [f64; 2], &str)> {
    let Command::Text {
        at,
        side,
        size,
        words,
        ..
    } = command
    else {
        return None;
    };
    let width = 0.5 * size * words.chars().count() as f64;
    let left = match side {
        Side::Start => at[0],
        Side::Middle => at[0] - 0.5 * width,
        Side::End => at[0] - width,
    };
    // From the line the letters stand on, as high as capitals and figures are.
    Some(([left, left + width], [at[1] - 0.72 * size, at[1]], words))
}

#[test]
fn no_words_lie_upon_others_at_any_size_and_level() {
    let plan = Plan::default();
    let mut full = LevelDiagram::of_plan(&plan).expect("a pad");
    let stop = std::sync::atomic::AtomicBool::new(false);
    let found = crate::diagram::distortion_ceilings(&plan, &stop).expect("a pad");
    full.add_ceilings(&found.expect("not stopped"));
    let gains: Vec<f64> = (0..8)
        .map(|n| full.points[n].clip.map_or(-20.0, |clip| clip.0))
        .collect();
    for (wide, high) in [
        (736.0, 196.0),
        (736.0, 230.0),
        (815.0, 280.0),
        (960.0, 620.0),
    ] {
        for step in 0..24 {
            for (point, gain) in full.points.iter_mut().zip(&gains) {
                let peak = Dbu(gain + 6.0 - 2.5 * f64::from(step));
                let rms = Dbu(peak.0 - f64::from(step % 5) * 3.0);
                point.programme = Some(crate::diagram::Programme { peak, rms });
            }
            let commands = draw(&full, wide, high);
            let all: Vec<_> = commands.iter().filter_map(place_of).collect();
            let apart = |a: [f64; 2], b: [f64; 2]| a[1] <= b[0] + 0.3 || b[1] <= a[0] + 0.3;
            for (n, one) in all.iter().enumerate() {
                for other in &all[..n] {
                    assert!(
                        apart(one.0, other.0) || apart(one.1, other.1),
                        "{one:?} upon {other:?} in {wide} x {high}, step {step}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_chosen_meter_has_a_row_of_its_own_unit() {
    let diagram = LevelDiagram::of_plan(&Plan::default());
    let mut diagram = diagram.expect("a pad");
    for point in &mut diagram.points {
        point.reading = Some(MeterReading {
            kind: MeterKind::Ppm2a,
            sine: Dbu(0.0),
        });
    }
    let commands = draw(&diagram, 960.0, 620.0);
    let count = |said: &str| {
        let says = |c: &&Command| matches!(c, Command::Text { words, .. } if words == said);
        commands.iter().filter(says).count()
    };
    // IEC 60268-10: mark 4 is 0 dBu.
    assert_eq!((count("4.0 PPM"), count("PPM IIa")), (8, 1));
    let inside = |c: &Command| !matches!(c, Command::Text { at, .. } if at[1] > 620.0);
    assert!(commands.iter().all(inside));
    // A short one has peak, headroom and the meter below each other, no two on one line.
    let commands = draw(&diagram, 960.0, 200.0);
    let mut rows: Vec<f64> = ["peak", "headroom", "PPM IIa"]
        .iter()
        .filter_map(|row| {
            commands.iter().find_map(|command| match command {
                Command::Text { at, words, .. } if words == row => Some(at[1]),
                _ => None,
            })
        })
        .collect();
    rows.push(200.0);
    assert_eq!(rows.len(), 4);
    assert!(
        rows.windows(2).all(|pair| pair[1] - pair[0] >= 8.0),
        "{rows:?}"
    );
}

#[test]
fn a_sign_is_written_but_for_zero() {
    assert_eq!(signed(-12.34, 1), "\u{2212}12.3");
    assert_eq!(signed(0.04, 1), "0.0");
    assert_eq!(signed(4.0, 0), "+4");
}
