//! From the audio thread to the window: levels at every point, without locks.
//!
//! The audio thread sums over a window of about 50 ms and then stores one figure a point; a reader
//! may meet figures of two neighbouring windows side by side, which no eye sees. Nothing is summed
//! while the window is closed.
//!
//! Beside RMS and peak of that stretch there is the meter that the window has chosen
//! ([`Bridge::choose_meter`]): its reading at each point, held and falling, with DC and overs.

use penstock_dsp::chain::{AnalogBlock, Clipped, Observer};
use penstock_dsp::meter::{MeterKind, MetersAlong};
use penstock_dsp::units::SampleRate;
use std::any::Any;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicU32, AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Figures that both sides reach.
#[derive(Debug, Default)]
pub struct Bridge {
    /// RMS and peak of each point as bits of `f32`: volts, at bus and return of full scale.
    rms: [AtomicU32; 8],
    peak: [AtomicU32; 8],
    /// The chosen meter's place in [`MeterKind::ALL`]; what it shows as the sine that reads so, RMS in the
    /// same units, now and held; and DC.
    meter: AtomicU8,
    sine: [AtomicU32; 8],
    held: [AtomicU32; 8],
    dc: [AtomicU32; 8],
    /// Overs at bus and return, and what they were when the counters were cleared.
    overs: [AtomicU64; 2],
    cleared_overs: [AtomicU64; 2],
    clipped_send_frames: AtomicU64,
    clipped_return_frames: AtomicU64,
    /// What was counted when the window last cleared its counters.
    cleared_send_frames: AtomicU64,
    cleared_return_frames: AtomicU64,
    /// Sample rate in hertz, 0 while inactive.
    pub sample_rate_hz: AtomicU32,
    /// Channels, 0 while inactive.
    pub channels: AtomicU32,
    /// Latency in frames.
    pub latency_frames: AtomicU32,
    /// What the processor is kept busy with.
    pub load: crate::load::Cells,
    /// Loudness of bus and return, while it is asked for.
    pub loudness: crate::loudness::Cells,
    /// Whether the audio thread had to give up and passes the bus on, and what it said.
    faulted: AtomicBool,
    fault: Mutex<String>,
}

/// One reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reading {
    /// RMS at each point, in the order of [`penstock_dsp::chain::Point::ALL`].
    pub rms: [f32; 8],
    /// Largest magnitude at each point.
    pub peak: [f32; 8],
    /// RMS of the steady sine that the chosen meter reads so, at each point, of the louder channel.
    pub sine: [f32; 8],
    /// The same held for 2 s, then falling by 20 dB in 1.7 s.
    pub held: [f32; 8],
    /// Mean at each point, of the channel where it is larger.
    pub dc: [f32; 8],
    /// How often any channel went over full scale at bus and return since the counters were cleared.
    pub overs: [u64; 2],
    /// Frames clipped since the counters were cleared.
    pub clipped: Clipped,
}

impl Bridge {
    /// The latest figures. From the window's thread.
    #[must_use]
    pub fn read(&self) -> Reading {
        let load = |cells: &[AtomicU32; 8]| {
            std::array::from_fn(|n| f32::from_bits(cells[n].load(Ordering::Relaxed)))
        };
        // After a reset the count begins anew, below what was cleared.
        let since = |now: &AtomicU64, cleared: &AtomicU64| {
            let (now, cleared) = (now.load(Ordering::Relaxed), cleared.load(Ordering::Relaxed));
            if now >= cleared { now - cleared } else { now }
        };
        Reading {
            rms: load(&self.rms),
            peak: load(&self.peak),
            sine: load(&self.sine),
            held: load(&self.held),
            dc: load(&self.dc),
            overs: std::array::from_fn(|n| since(&self.overs[n], &self.cleared_overs[n])),
            clipped: Clipped {
                send_frames: since(&self.clipped_send_frames, &self.cleared_send_frames),
                return_frames: since(&self.clipped_return_frames, &self.cleared_return_frames),
            },
        }
    }

    /// Counts from here. From the window's thread.
    pub fn clear_clips(&self) {
        let copy = |from: &AtomicU64, to: &AtomicU64| {
            to.store(from.load(Ordering::Relaxed), Ordering::Relaxed);
        };
        copy(&self.clipped_send_frames, &self.cleared_send_frames);
        copy(&self.clipped_return_frames, &self.cleared_return_frames);
        for (overs, cleared) in self.overs.iter().zip(&self.cleared_overs) {
            copy(overs, cleared);
        }
    }

    /// Which meter the window reads. From any thread.
    #[must_use]
    pub fn meter(&self) -> MeterKind {
        let place = usize::from(self.meter.load(Ordering::Relaxed));
        MeterKind::ALL.get(place).copied().unwrap_or_default()
    }

    /// Chooses another, from the next block on. From the window's thread.
    pub fn choose_meter(&self, kind: MeterKind) {
        let place = MeterKind::ALL.iter().position(|other| *other == kind);
        self.meter
            .store(place.unwrap_or(0) as u8, Ordering::Relaxed);
    }

    /// Whether the circuit has panicked since the host last activated the plugin. From any thread.
    #[must_use]
    pub fn faulted(&self) -> bool {
        self.faulted.load(Ordering::Relaxed)
    }

    /// What the panic said. From the window's thread.
    #[must_use]
    pub fn fault(&self) -> String {
        self.lock().clone()
    }

    /// Notes a panic. From the audio thread, once, when all is lost anyway: it may allocate.
    pub fn fail(&self, panic: &(dyn Any + Send)) {
        *self.lock() = panic_text(panic);
        self.faulted.store(true, Ordering::Relaxed);
    }

    /// Begins anew. From the thread that activates.
    pub fn mend(&self) {
        self.faulted.store(false, Ordering::Relaxed);
    }

    /// Whole after every step, so a panic elsewhere does not spoil it.
    fn lock(&self) -> MutexGuard<'_, String> {
        self.fault.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Stores what was counted. From the audio thread.
    pub fn count(&self, clipped: Clipped) {
        self.clipped_send_frames
            .store(clipped.send_frames, Ordering::Relaxed);
        self.clipped_return_frames
            .store(clipped.return_frames, Ordering::Relaxed);
    }
}

/// What a panic said, on one line.
#[must_use]
pub fn panic_text(panic: &(dyn Any + Send)) -> String {
    let said = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned());
    said.unwrap_or_else(|| "it did not say why".to_owned())
}

/// Length of a window in seconds.
const WINDOW_SECONDS: f64 = 0.05;
/// How long a reading is held, in windows, and its fall in each one after: 20 dB in 1.7 s.
const HOLD_WINDOWS: u32 = 40;
const FALL: f64 = 0.934_5;
/// A reading that stands trembles, by rounding and ripple: within 0.002 dB it renews the hold all the same.
const STANDS: f64 = 0.999_8;

/// Sums on the audio thread.
#[derive(Debug)]
pub struct Gauge {
    bus_samples: f64,
    window_samples: f64,
    meters: MetersAlong,
    /// What is held at each point, and for how many windows yet.
    held: [(f64, u32); 8],
}

impl Gauge {
    /// For a rate and a number of channels.
    #[must_use]
    pub fn prepare(rate: SampleRate, channels: usize) -> Self {
        Self {
            bus_samples: 0.0,
            window_samples: WINDOW_SECONDS * rate.hz() * channels as f64,
            meters: MetersAlong::prepare(MeterKind::default(), rate, 1, channels),
            held: [(0.0, 0); 8],
        }
    }

    /// Goes on with this meter behind an oversampling factor. Never allocates.
    pub fn attend(&mut self, kind: MeterKind, factor: usize) {
        if kind != self.meters.kind() {
            self.held = [(0.0, 0); 8];
        }
        self.meters.set(kind, factor);
    }

    /// Stores the figures of a full window and begins the next; says whether it did.
    pub fn publish(&mut self, bridge: &Bridge) -> bool {
        if self.bus_samples < self.window_samples {
            return false;
        }
        self.publish_meters(bridge);
        self.bus_samples = 0.0;
        true
    }

    fn publish_meters(&mut self, bridge: &Bridge) {
        let (mut sines, mut dcs, mut overs) = ([0.0_f64; 8], [0.0_f64; 8], [0; 2]);
        let (mut squares, mut peaks, mut channels) = ([0.0; 8], [0.0_f64; 8], 0.0_f64);
        for channel in 0..2 {
            let Some(readings) = self.meters.take(channel) else {
                break;
            };
            channels += 1.0;
            for (n, reading) in readings.iter().enumerate() {
                squares[n] += reading.mean_square;
                peaks[n] = peaks[n].max(reading.peak);
                sines[n] = sines[n].max(self.meters.kind().sine_rms(reading.now));
                if reading.dc.abs() > dcs[n].abs() {
                    dcs[n] = reading.dc;
                }
            }
            let [bus, back] = self.meters.overs(channel);
            overs = [overs[0] + bus, overs[1] + back];
        }
        for (n, (held, left)) in self.held.iter_mut().enumerate() {
            if *left == 0 {
                *held *= FALL;
            }
            *left = left.saturating_sub(1);
            if sines[n] >= *held * STANDS {
                (*held, *left) = (held.max(sines[n]), HOLD_WINDOWS);
            }
            put(&bridge.rms[n], (squares[n] / channels.max(1.0)).sqrt());
            put(&bridge.peak[n], peaks[n]);
            put(&bridge.sine[n], sines[n]);
            put(&bridge.held[n], *held);
            put(&bridge.dc[n], dcs[n]);
        }
        for (cell, overs) in bridge.overs.iter().zip(overs) {
            cell.store(overs, Ordering::Relaxed);
        }
    }
}

fn put(cell: &AtomicU32, value: f64) {
    cell.store((value as f32).to_bits(), Ordering::Relaxed);
}

impl Observer for Gauge {
    fn bus(&mut self, channel: usize, samples: &[f64]) {
        self.bus_samples += samples.len() as f64;
        self.meters.bus(channel, samples);
    }

    fn analog(&mut self, channel: usize, block: &AnalogBlock<'_>) {
        self.meters.analog(channel, block);
    }

    fn back(&mut self, channel: usize, samples: &[f64]) {
        self.meters.back(channel, samples);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate() -> SampleRate {
        SampleRate::new(8_000.0).expect("a served rate")
    }

    #[test]
    fn a_window_is_published_when_it_is_full() {
        let bridge = Bridge::default();
        let mut gauge = Gauge::prepare(rate(), 1);
        for _ in 0..399 {
            gauge.bus(0, &[0.5]);
            gauge.publish(&bridge);
            assert_eq!(bridge.read(), Reading::default());
        }
        gauge.bus(0, &[-1.0]);
        gauge.publish(&bridge);
        let reading = bridge.read();
        assert_eq!(reading.peak[0], 1.0);
        let square = (399.0 * 0.25 + 1.0) / 400.0_f32;
        assert!((reading.rms[0] - square.sqrt()).abs() < 1e-6);
        assert!((reading.sine[0] - 0.5_f32.sqrt()).abs() < 1e-6, "a peak");
        assert_eq!(reading.overs, [1, 0]);
        assert!((reading.dc[0] - (399.0 * 0.5 - 1.0) / 400.0).abs() < 1e-6);
        bridge.clear_clips();
        assert_eq!(bridge.read().overs, [0, 0]);
    }

    /// Seconds of a 1 kHz sine of this peak.
    fn hear(gauge: &mut Gauge, bridge: &Bridge, seconds: f64, peak: f64) {
        for n in 0..(8_000.0 * seconds) as u32 {
            gauge.bus(
                0,
                &[peak * (std::f64::consts::TAU * f64::from(n % 8) / 8.0).sin()],
            );
            gauge.publish(bridge);
        }
    }

    #[test]
    fn the_chosen_meter_reads_holds_and_falls() {
        let bridge = Bridge::default();
        let mut gauge = Gauge::prepare(rate(), 1);
        for kind in MeterKind::ALL {
            bridge.choose_meter(kind);
            gauge.attend(bridge.meter(), 4);
            hear(&mut gauge, &bridge, 3.0, 0.5);
            let reading = bridge.read();
            let off_db = 20.0 * (f64::from(reading.sine[0]) / 0.125_f64.sqrt()).log10();
            assert!(off_db.abs() < 0.3, "{kind:?}: {off_db} dB");
            let before = reading.held[0];
            hear(&mut gauge, &bridge, 1.9, 0.0);
            let db = |held: f32| 20.0 * (held / before).log10();
            // VU and RMS first go on to the top of their window, by less than a tenth of a dB.
            assert!(db(bridge.read().held[0]).abs() < 0.1, "{kind:?}");
            hear(&mut gauge, &bridge, 1.8, 0.0);
            let fallen = db(bridge.read().held[0]);
            assert!((-23.0..=-18.0).contains(&fallen), "{kind:?}: {fallen} dB");
        }
    }
}
