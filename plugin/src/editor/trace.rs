//! How the live programme moves in the picture: figures that can be read, over a band that does not lag.

use super::PointReadout;
use egui::{Id, Ui};
use penstock_dsp::diagram::Programme;
use penstock_dsp::units::{Dbu, Volts};

/// Integration of the RMS, in seconds: common practice for a level that can be read.
const RMS_SECONDS: f64 = 0.3;
/// How long a peak is held, in seconds, and how fast it then falls, in dB a second.
const HOLD_SECONDS: f64 = 3.0;
const FALL_DB: f64 = 20.0;
/// Below this there is no programme.
const SILENCE_DBU: f64 = -150.0;
/// Between two pictures of something that falls, in seconds: 30 a second.
const FRAME_SECONDS: f64 = 1.0 / 30.0;
/// A slow RMS so near to what it follows has arrived.
const ARRIVED: f64 = 0.005;

/// The programme at one point.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Trace {
    mean_square: f64,
    held: f64,
    held_at: f64,
    /// What is heard now: RMS and the sine of the same peak, in volts.
    now: [f64; 2],
}

impl Trace {
    /// Takes the figures of now, so many seconds after the last.
    fn take(&mut self, point: &PointReadout, time: f64, since: f64) {
        let share = 1.0 - (-since / RMS_SECONDS).exp();
        let square = point.rms_volts * point.rms_volts;
        self.mean_square += share * (square - self.mean_square);
        let peak = super::format::sine_volts(point.peak_volts);
        self.now = [point.rms_volts, peak];
        if time - self.held_at > HOLD_SECONDS {
            self.held *= 10_f64.powf(-FALL_DB * since / 20.0);
        }
        if peak >= self.held {
            (self.held, self.held_at) = (peak, time);
        }
    }

    /// In how many seconds a new picture is due though nothing is heard anew; `None` at rest.
    fn due(&self, time: f64) -> Option<f64> {
        let square = self.now[0] * self.now[0];
        let is_level = |volts: f64| dbu(volts).0 > SILENCE_DBU;
        let loud = is_level(self.mean_square.sqrt()) || is_level(self.now[0]);
        if loud && (self.mean_square - square).abs() > ARRIVED * square {
            return Some(FRAME_SECONDS);
        }
        let falls = is_level(self.held) && self.held > self.now[1] * (1.0 + ARRIVED);
        falls.then(|| (self.held_at + HOLD_SECONDS - time).max(FRAME_SECONDS))
    }

    /// What the lines show: the held peak and the slow RMS.
    pub(crate) fn programme(&self) -> Option<Programme> {
        let (peak, rms) = (dbu(self.held), dbu(self.mean_square.sqrt()));
        (peak.0 > SILENCE_DBU && rms.0 > SILENCE_DBU).then_some(Programme { peak, rms })
    }

    /// What the band shows: from the RMS of now to the peak of now.
    pub(crate) fn band(&self) -> Option<[Dbu; 2]> {
        let band = self.now.map(dbu);
        (band[1].0 > SILENCE_DBU).then_some(band)
    }
}

fn dbu(volts: f64) -> Dbu {
    Dbu::from_volts(Volts(volts))
}

#[derive(Clone, Copy, Default)]
struct Traces {
    points: [Trace; 8],
    time: Option<f64>,
}

/// The traces of this picture.
pub(crate) fn traces(ui: &Ui, points: &[PointReadout; 8]) -> [Trace; 8] {
    let id = Id::unique("penstock.traces");
    let time = ui.input(|input| input.time);
    let mut all = ui.data(|data| data.get_temp::<Traces>(id).unwrap_or_default());
    // The first picture shows what is there, not a level that rises.
    let since = all.time.map_or(f64::MAX, |last| (time - last).max(0.0));
    for (trace, point) in all.points.iter_mut().zip(points) {
        trace.take(point, time, since);
    }
    all.time = Some(time);
    let due = all.points.iter().filter_map(|trace| trace.due(time));
    if let Some(seconds) = due.min_by(f64::total_cmp) {
        ui.ctx().request_repaint_after_secs(seconds as f32);
    }
    ui.data_mut(|data| data.insert_temp(id, all));
    all.points
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(rms_volts: f64, peak_volts: f64) -> PointReadout {
        PointReadout {
            rms_volts,
            peak_volts,
            ..PointReadout::default()
        }
    }

    #[test]
    fn a_peak_is_held_and_then_falls_while_the_band_follows() {
        let mut trace = Trace::default();
        trace.take(&heard(1.0, 4.0), 0.0, f64::MAX);
        let loud = trace.programme().expect("a programme");
        for n in 1..=29 {
            trace.take(&heard(0.01, 0.02), 0.1 * f64::from(n), 0.1);
        }
        let held = trace.programme().expect("a programme");
        assert_eq!(held.peak, loud.peak);
        // 2.9 s at a time constant of 0.3 s: the square has fallen by e^-9.7 or 42 dB, to 0.01 V and a bit.
        assert!((held.rms.0 - dbu(0.0128).0).abs() < 0.3, "{held:?}");
        let [rms, peak] = trace.band().expect("a band");
        assert_eq!(rms, dbu(0.01));
        assert!((peak.0 - dbu(0.02 / 2_f64.sqrt()).0).abs() < 1e-9);
        for n in 30..=40 {
            trace.take(&heard(0.01, 0.02), 0.1 * f64::from(n), 0.1);
        }
        let fallen = (loud.peak - trace.programme().expect("a programme").peak).0;
        assert!((18.0..=22.0).contains(&fallen), "{fallen}");
    }

    /// A still programme asks for no pictures; what was louder is shown falling, and then rests.
    #[test]
    fn pictures_are_due_only_while_something_falls() {
        let mut trace = Trace::default();
        trace.take(&heard(1.0, 2.0), 0.0, f64::MAX);
        assert_eq!(trace.due(0.0), None);
        let mut pictures = 0;
        let (mut time, mut last) = (0.1, 0.0);
        loop {
            trace.take(&heard(0.0, 0.0), time, time - last);
            let Some(seconds) = trace.due(time) else {
                break;
            };
            pictures += 1;
            assert!(pictures < 2_000);
            last = time;
            time += seconds;
        }
        // From the hold's end 156 dB at 20 dB a second.
        assert!((10.0..=13.0).contains(&time), "{time}");
    }

    #[test]
    fn silence_is_no_programme() {
        let mut trace = Trace::default();
        trace.take(&heard(0.0, 0.0), 0.0, f64::MAX);
        assert_eq!(trace.programme(), None);
        assert_eq!(trace.band(), None);
    }
}
