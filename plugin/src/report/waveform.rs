//! Waveforms of the source and of every setting, one above the other, on one scale.

use super::data::{Recording, Waveform};
use super::scale::{Linear, extent, ticks};
use super::series::{SOURCE, Series, Shown, marker};
use super::svg::{Anchor, Svg, num};
use super::text::{decimal, decimal_or_dash, duration, with_unit};

const WIDTH: f64 = 960.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 8.0;
const HEAD: f64 = 24.0;
const TRACE: f64 = 66.0;
const ROW: f64 = HEAD + TRACE + 8.0;
/// More columns than this cannot be told apart on paper.
const MOST_COLUMNS: usize = 900;

/// One trace with what stands above it.
struct Trace<'a> {
    series: Series,
    number: String,
    name: &'a str,
    peak_dbfs: Option<f64>,
    waveform: &'a Waveform,
}

/// Draws the source and the given settings.
pub fn waveforms(id: &str, of: &str, recording: &Recording, shown: &[Shown<'_>]) -> String {
    let played = recording.played_waveform();
    let mut traces = vec![Trace {
        series: SOURCE,
        number: "S".to_string(),
        name: "source",
        peak_dbfs: recording.played_peak_dbfs(),
        waveform: &played,
    }];
    traces.extend(shown.iter().map(|s| Trace {
        series: s.series,
        number: s.setting.id.to_string(),
        name: &s.setting.name,
        peak_dbfs: s.setting.peak_dbfs,
        waveform: &s.setting.waveform,
    }));
    let full = full_height(recording);
    let height = ROW * traces.len() as f64 + 44.0;
    let desc = format!(
        "{} waveforms over {}, drawn to the same scale of plus and minus {} dBFS.",
        traces.len(),
        duration(recording.seconds),
        decimal(20.0 * full.log10(), 0),
    );
    let mut svg = Svg::new(id, &format!("Waveforms of {of}"), &desc, WIDTH, height);
    let x = Linear::new((0.0, recording.seconds), (LEFT, WIDTH - RIGHT));
    for (i, trace) in traces.iter().enumerate() {
        draw_trace(&mut svg, trace, ROW * i as f64, full, recording, &x);
    }
    draw_time(&mut svg, recording, ROW * traces.len() as f64, &x);
    svg.finish("fig")
}

/// The smallest step of 3 dB, counted from full scale, that holds every signal of the recording.
fn full_height(recording: &Recording) -> f64 {
    let source = recording.played_waveform();
    let settings = recording.settings.iter().map(|s| &s.waveform);
    let samples = settings.chain([&source]).flat_map(|w| w.min_max.iter());
    let largest = extent(samples.flat_map(|&(low, high)| [low.abs(), high.abs()]));
    let largest = largest.map_or(0.0, |(_, high)| high);
    if largest == 0.0 {
        return 1.0;
    }
    let largest = largest.clamp(1.0 / 1024.0, 1024.0);
    let steps = (20.0 * largest.log10() / 3.0 - 1e-6).ceil();
    10f64.powf(steps * 3.0 / 20.0)
}

fn draw_trace(
    svg: &mut Svg,
    trace: &Trace<'_>,
    top: f64,
    full: f64,
    recording: &Recording,
    x: &Linear,
) {
    let (upper, lower) = (top + HEAD, top + HEAD + TRACE);
    let y = Linear::new((-full, full), (lower, upper));
    svg.rect("band", LEFT, upper, WIDTH - RIGHT - LEFT, TRACE);
    let (from, to) = excerpt_ends(recording, x);
    svg.rect("heard", from, upper, to - from, TRACE);
    for part in [-0.5, 0.5] {
        svg.line(
            "grid",
            (LEFT, y.at(part * full)),
            (WIDTH - RIGHT, y.at(part * full)),
        );
    }
    for (part, below) in [(1.0, 0.0), (0.5, 20.0 * 0.5f64.log10())] {
        let dbfs = decimal(20.0 * full.log10() + below, 0);
        svg.text(
            "ts",
            Anchor::End,
            LEFT - 6.0,
            y.at(part * full) + 4.0,
            &dbfs,
        );
    }
    svg.text("ts", Anchor::End, LEFT - 6.0, y.at(0.0) + 4.0, "−∞");
    let data = envelope(trace.waveform, x, &y, recording.seconds);
    svg.path(&format!("wave {}", trace.series.class), "", &data);
    svg.line("axis", (LEFT, y.at(0.0)), (WIDTH - RIGHT, y.at(0.0)));
    marker(svg, trace.series, &trace.number, LEFT + 9.0, top + 12.0);
    svg.text("t", Anchor::Start, LEFT + 24.0, top + 16.5, trace.name);
    let peak = with_unit(&decimal_or_dash(trace.peak_dbfs, 1), "dBFS");
    svg.text(
        "t",
        Anchor::End,
        WIDTH - RIGHT,
        top + 16.5,
        &format!("peak {peak}"),
    );
}

/// Closed outline: the upper edge from left to right, the lower edge back.
fn envelope(waveform: &Waveform, x: &Linear, y: &Linear, seconds: f64) -> String {
    let columns = reduce(&waveform.min_max);
    let count = columns.len() as f64;
    let at = |i: usize| x.at(seconds * (i as f64 + 0.5) / count);
    let mut data = String::new();
    for (i, &(_, high)) in columns.iter().enumerate() {
        let verb = if i == 0 { 'M' } else { 'L' };
        data.push_str(&format!("{verb}{} {}", num(at(i)), num(y.at(high))));
    }
    for (i, &(low, _)) in columns.iter().enumerate().rev() {
        data.push_str(&format!("L{} {}", num(at(i)), num(y.at(low))));
    }
    if !data.is_empty() {
        data.push('z');
    }
    data
}

/// Joins neighbouring columns until few enough are left; what is not finite counts as silence.
fn reduce(columns: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let per = columns.len().div_ceil(MOST_COLUMNS).max(1);
    columns
        .chunks(per)
        .map(|chunk| {
            let ends = chunk.iter().flat_map(|&(low, high)| [low, high]);
            extent(ends).unwrap_or((0.0, 0.0))
        })
        .collect()
}

fn excerpt_ends(recording: &Recording, x: &Linear) -> (f64, f64) {
    let excerpt = recording.excerpt;
    let to = (excerpt.start_seconds + excerpt.seconds).min(recording.seconds);
    (x.at(excerpt.start_seconds.max(0.0)), x.at(to))
}

fn draw_time(svg: &mut Svg, recording: &Recording, top: f64, x: &Linear) {
    for t in ticks(0.0, recording.seconds, 12) {
        svg.line("axis", (x.at(t), top - 8.0), (x.at(t), top - 3.0));
        let decimals = if recording.seconds < 4.0 { 1 } else { 0 };
        svg.text(
            "ts",
            Anchor::Middle,
            x.at(t),
            top + 10.0,
            &decimal(t, decimals),
        );
    }
    svg.text("tm", Anchor::End, LEFT - 6.0, 16.5, "dBFS");
    svg.text(
        "tm",
        Anchor::End,
        WIDTH - RIGHT,
        top + 28.0,
        "time in seconds",
    );
    let excerpt = recording.excerpt;
    if excerpt.seconds > 0.0 && excerpt.seconds < recording.seconds {
        let words = format!(
            "shaded: the part in the players, {} from {}",
            duration(excerpt.seconds),
            duration(excerpt.start_seconds)
        );
        svg.text("tm", Anchor::Start, LEFT, top + 28.0, &words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joining_columns_keeps_every_extreme() {
        let columns: Vec<(f64, f64)> = (0..2000)
            .map(|i| if i == 777 { (-0.9, 0.8) } else { (-0.1, 0.1) })
            .collect();
        let reduced = reduce(&columns);
        assert!(reduced.len() <= MOST_COLUMNS);
        assert_eq!(extent(reduced.iter().map(|c| c.0)), Some((-0.9, -0.1)));
        assert_eq!(extent(reduced.iter().map(|c| c.1)), Some((0.1, 0.8)));
    }

    #[test]
    fn the_scale_goes_in_steps_of_three_decibels() {
        let full = |largest: f64| {
            let waveform = Waveform {
                min_max: vec![(-largest, 0.0)],
            };
            full_height(&Recording {
                waveform,
                ..Recording::default()
            })
        };
        for (largest, dbfs) in [(0.3, -9.0), (0.5, -6.0), (1.0, 0.0), (1.2, 3.0), (0.0, 0.0)] {
            assert!(
                (20.0 * full(largest).log10() - dbfs).abs() < 1e-9,
                "{largest}"
            );
        }
        assert_eq!(full(f64::NAN), 1.0);
    }

    #[test]
    fn broken_samples_and_no_length_draw_no_nan() {
        let mut recording = Recording::default();
        recording.waveform.min_max = vec![(f64::NAN, f64::INFINITY), (-0.2, 0.3)];
        let out = waveforms("w", "x", &recording, &[]);
        assert!(!out.contains("NaN") && !out.contains("inf"), "{out}");
    }
}
