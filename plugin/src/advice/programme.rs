//! Remarks on what a programme does on a plan's path: converters that clip, noise that comes close, where its
//! loudest passage stands against the distortion that is looked for, how loud it comes back.

use super::{Remark, Step};
use penstock_dsp::chain::{Clipped, OwnGains, Point, analog_settings, build_pad, return_pad};
use penstock_dsp::circuit::{GAIN_STEPS_DB, SmallSignal};
use penstock_dsp::diagram::LevelDiagram;
use penstock_dsp::plan::{KEYS, Kind, Plan, PreampKind};
use penstock_dsp::units::{Db, Dbfs, Dbu};

/// Frequency at which gains are counted, and of the sine that stands for a peak.
const TONE_HZ: f64 = 1_000.0;
/// Distortion looked for, in percent.
const PERCENT: f64 = 1.0;
/// Nearer than this the loudest passage stands at it.
const AT_IT_DB: f64 = 0.25;
/// Noise nearer to the programme than this is said (common practice, no source).
const CLOSE_NOISE_DB: f64 = 60.0;
/// Loudness that differs by less is alike: EBU R 128 allows programmes so much from their target where an
/// exact one is not practical.
const ALIKE_LU: f64 = 0.5;

/// Gains of a plan's path for small signals at 1 kHz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    /// Level at the preamplifier's output of a sine that reads 0 dBFS at the bus.
    pub out_of_full_scale: Dbu,
    /// From there to the return converter's input, as the level that counts against its full scale.
    pub back: Db,
}

impl Path {
    /// Of a plan; `None` when its pad cannot be built.
    #[must_use]
    pub fn of(plan: &Plan) -> Option<Self> {
        let build = build_pad(plan).ok()?;
        if let Some(gains) = OwnGains::of(plan) {
            let into = build.as_built.in_ohms(build.load).0;
            let line = into / (into + plan.rig.source.0);
            let sent = plan.rig.send_full_scale.0 + plan.send.trim;
            return Some(Self {
                out_of_full_scale: sent + Db::from_ratio(line * gains.pad * gains.preamp),
                back: Db::from_ratio(gains.back) - plan.back.trim,
            });
        }
        let settings = analog_settings(plan, &build);
        let pad = build.as_built.two_port().thevenin(plan.rig.source);
        let small = SmallSignal::at(&settings, TONE_HZ);
        let ratio = pad.ratio * small.from_emf.norm();
        let back = return_pad(plan).two_port();
        let back = 1.0 / (back.a + back.b / plan.rig.return_in.0);
        Some(Self {
            out_of_full_scale: plan.rig.send_full_scale.0 + plan.send.trim + Db::from_ratio(ratio),
            back: Db::from_ratio(back),
        })
    }

    /// Where a level at the bus stands at the preamplifier's output, as far as the path is linear.
    fn out(&self, bus: Dbfs) -> Dbu {
        self.out_of_full_scale + Db(bus.0)
    }
}

/// What has been heard of a programme.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Heard {
    /// Its loudest peak at the bus, as the sine of the same peak.
    pub peak: Option<Dbfs>,
    /// Its loudest RMS there.
    pub rms: Option<Dbfs>,
    /// Its loudest peak at the preamplifier's output since the plan last changed.
    pub out_peak: Option<Dbu>,
    /// Its loudest peak at the return since then.
    pub return_peak: Option<Dbfs>,
    /// Frames that clipped.
    pub clipped: Clipped,
    /// Loudness of bus and return over the same stretch, in LUFS, and its length in seconds.
    pub loudness: Option<([f64; 2], f64)>,
}

/// Remarks, the unwise first. Distortion is spoken of once its ceilings are in the diagram.
#[must_use]
pub fn programme_remarks(
    plan: &Plan,
    path: Option<&Path>,
    diagram: Option<&LevelDiagram>,
    heard: &Heard,
) -> Vec<Remark> {
    let mut remarks: Vec<Remark> = Vec::new();
    remarks.extend(send_clips(plan, heard));
    if let Some(path) = path {
        remarks.extend(return_clips(plan, path, heard));
        if let Some(diagram) = diagram {
            remarks.extend(noise(plan, path, diagram, heard));
            if plan.rig.preamp == PreampKind::Own {
                remarks.extend(own_limits(plan, path, heard));
            } else {
                remarks.extend(loudest(plan, path, diagram, heard));
            }
        }
    }
    remarks
}

/// The range of a numeric key, to stay inside.
fn within(key: &str, value: f64) -> f64 {
    let kind = KEYS.iter().find(|known| known.name == key).map(|k| k.kind);
    match kind {
        Some(Kind::Number { min, max }) => value.clamp(min, max),
        _ => value,
    }
}

/// A number of a key within its range; none where it stands there already.
fn to(key: &'static str, now: f64, value: f64) -> Option<Step> {
    let value = within(key, value);
    ((value - now).abs() >= 0.05).then(|| Step::number(key, value))
}

/// Downwards to the tenth.
fn down(value: f64) -> f64 {
    (value * 10.0).floor() / 10.0
}

fn so_far(frames: u64) -> String {
    match frames {
        0 => String::new(),
        1 => " (1 frame so far)".to_owned(),
        frames => format!(" ({frames} frames so far)"),
    }
}

fn send_clips(plan: &Plan, heard: &Heard) -> Option<Remark> {
    let over = heard.peak.map_or(0.0, |peak| peak.0 + plan.send.trim.0);
    let frames = heard.clipped.send_frames;
    if !plan.rig.converters_clip || (over <= 0.0 && frames == 0) {
        return None;
    }
    let frames = so_far(frames);
    let text = if over > 0.0 {
        format!(
            "The loudest passage passes the send converter's full scale by {over:.1} dB{frames}."
        )
    } else {
        format!("The send converter clipped{frames}.")
    };
    let trim = plan.send.trim.0;
    let step = (over > 0.0).then(|| to("send.trim_db", trim, down(trim - over)));
    Some(Remark::caution(text).with(step.flatten()))
}

fn return_clips(plan: &Plan, path: &Path, heard: &Heard) -> Option<Remark> {
    let full_scale = plan.rig.return_full_scale.0;
    let over = heard
        .out_peak
        .map_or(0.0, |peak| (peak + path.back - full_scale).0);
    let frames = heard.clipped.return_frames;
    if !plan.rig.converters_clip || (over <= 0.0 && frames == 0) {
        return None;
    }
    let frames = so_far(frames);
    let text = if over > 0.0 {
        format!(
            "Preamp out passes the return converter's full scale by {over:.1} dB{frames}: a return pad \
             spares it."
        )
    } else {
        format!("The return converter clipped{frames}.")
    };
    let pad = plan.back.pad.0;
    let step = (over > 0.0).then(|| to("return.pad_db", pad, (pad + over).ceil()));
    Some(Remark::caution(text).with(step.flatten()))
}

fn noise(plan: &Plan, path: &Path, diagram: &LevelDiagram, heard: &Heard) -> Option<Remark> {
    let floor = diagram.points[Point::PreampOut as usize].floor?;
    let above = (path.out(heard.rms?) - floor.flat).0;
    if above >= CLOSE_NOISE_DB {
        return None;
    }
    let text = format!(
        "Noise at preamp out lies {above:.0} dB under the loudest passage's RMS; with less loss before \
         the tubes it lies deeper."
    );
    // Not so much that the loudest passage is distorted more than is looked for.
    let most = headroom(plan, path, diagram, heard).map_or(f64::MAX, |room| room.0);
    let wanted = (CLOSE_NOISE_DB - above).ceil().min(most.floor());
    let attenuator = plan.preamp.attenuator.0;
    let off = least_attenuator_db(plan);
    let step = if attenuator > off && most >= attenuator - off {
        Some(Step::number("preamp.attenuator_db", off))
    } else if wanted >= 1.0 && plan.pad.owned.list().is_empty() {
        let loss = plan.pad.loss.0;
        to("pad.loss_db", loss, loss - wanted)
    } else {
        None
    };
    Some(Remark::caution(text).with(step))
}

/// The least that the attenuator can be set to.
fn least_attenuator_db(plan: &Plan) -> f64 {
    let own = plan.rig.unit.attenuators;
    match plan.rig.preamp {
        PreampKind::Own => own.list().iter().copied().reduce(f64::min).unwrap_or(0.0),
        PreampKind::Model => 0.0,
    }
}

/// From the loudest passage at the preamplifier's output up to the sine that is distorted so much there; of an
/// own unit up to the nearer of its stated limits.
fn headroom(plan: &Plan, path: &Path, diagram: &LevelDiagram, heard: &Heard) -> Option<Db> {
    if plan.rig.preamp == PreampKind::Own {
        let rooms = own_rooms(plan, path, heard)?;
        let rooms = rooms.into_iter().flatten();
        return rooms.min_by(|a, b| a.0.total_cmp(&b.0));
    }
    let ceiling = diagram.points[Point::PreampOut as usize].thd_at(TONE_HZ, PERCENT)?;
    Some(ceiling - path.out(heard.peak?))
}

/// From the loudest passage up to an own unit's largest input and output, where they are stated.
fn own_rooms(plan: &Plan, path: &Path, heard: &Heard) -> Option<[Option<Db>; 2]> {
    let out = path.out(heard.peak?);
    let unit = &plan.rig.unit;
    // Behind its attenuator, which takes its loss before the largest input.
    let inside = out - plan.preamp.gain;
    let into = unit.most_in.map(|most| most - inside);
    Some([into, unit.most_out.map(|most| most - out)])
}

/// Where the loudest passage stands against what an own unit's data sheet states, and what spares it.
fn own_limits(plan: &Plan, path: &Path, heard: &Heard) -> Vec<Remark> {
    let Some([into, out]) = own_rooms(plan, path, heard) else {
        return Vec::new();
    };
    let mut remarks = Vec::new();
    if let Some(room) = into.filter(|room| room.0 < 0.0) {
        let over = -room.0;
        let text = format!(
            "The loudest passage passes your preamp's largest input by {over:.1} dB: more loss in the pad spares \
             it."
        );
        let step = if plan.pad.owned.list().is_empty() {
            let loss = plan.pad.loss.0;
            to("pad.loss_db", loss, (loss + over).ceil())
        } else {
            let trim = plan.send.trim.0;
            to("send.trim_db", trim, down(trim - over))
        };
        remarks.push(Remark::caution(text).with(step));
    }
    match out {
        Some(room) if room.0 < 0.0 => {
            let over = -room.0;
            let text = format!(
                "The loudest passage passes your preamp's largest output by {over:.1} dB: less gain spares it."
            );
            remarks.push(Remark::caution(text).with(less_gain(plan, over)));
        }
        Some(room) => remarks.push(Remark::hint(format!(
            "Loudest passage: {:.1} dB under your preamp's largest output.",
            room.0
        ))),
        None => {}
    }
    remarks
}

/// The largest gain that an own unit has below its own of now by so much; else the send's trim.
fn less_gain(plan: &Plan, over: f64) -> Option<Step> {
    let gain = plan.preamp.gain.0;
    let steps = plan.rig.unit.gains;
    let lower = if steps.list().is_empty() {
        Some(down(gain - over)).filter(|lower| *lower >= 0.0)
    } else {
        let fits = steps.list().iter().copied();
        fits.filter(|step| *step <= gain - over).reduce(f64::max)
    };
    match lower {
        Some(lower) => Some(Step {
            key: "preamp.gain_db",
            value: lower.to_string(),
        }),
        None => {
            let trim = plan.send.trim.0;
            to("send.trim_db", trim, down(trim - over))
        }
    }
}

/// Where the loudest passage stands, and what puts it at the distortion looked for: first the gain step, which
/// decides which part works hard, then the rest by the send's trim, or by the pad where the converter would clip.
fn loudest(plan: &Plan, path: &Path, diagram: &LevelDiagram, heard: &Heard) -> Option<Remark> {
    let peak = heard.peak?;
    let room = headroom(plan, path, diagram, heard)?.0;
    let stands = format!("Loudest passage: peak {:.1} dBFS at the bus", peak.0);
    if room.abs() <= AT_IT_DB {
        let text = format!("{stands}, at {PERCENT} % THD at preamp out.");
        return Some(Remark::hint(text));
    }
    let side = if room > 0.0 { "under" } else { "over" };
    let text = format!(
        "{stands}, {:.1} dB {side} {PERCENT} % THD at preamp out.",
        room.abs()
    );
    let gain = plan.preamp.gain.0;
    let nearest = GAIN_STEPS_DB
        .into_iter()
        .filter(|step| *step <= gain + room + AT_IT_DB)
        .fold(GAIN_STEPS_DB[0], f64::max);
    let trim = plan.send.trim.0;
    let step = if nearest == gain {
        let clips = plan.rig.converters_clip && peak.0 + trim + room > 0.0;
        let trimmed = within("send.trim_db", trim + room);
        let owned = !plan.pad.owned.list().is_empty();
        if owned || (!clips && (trimmed - trim - room).abs() < 0.05) {
            to("send.trim_db", trim, trimmed)
        } else {
            to("pad.loss_db", plan.pad.loss.0, plan.pad.loss.0 - room)
        }
    } else {
        Some(Step::number("preamp.gain_db", nearest))
    };
    Some(Remark::hint(text).with(step))
}

/// How loud the programme comes back, and the fixed trim that makes it as loud as the bus; once it is measured.
#[must_use]
pub fn loudness_remark(plan: &Plan, heard: &Heard) -> Option<Remark> {
    let ([bus, back], seconds) = heard.loudness?;
    let louder = back - bus;
    let measured =
        format!("Loudness over {seconds:.0} s: bus {bus:.1} LUFS, return {back:.1} LUFS");
    if louder.abs() <= ALIKE_LU {
        return Some(Remark::hint(format!("{measured}: alike.")));
    }
    let side = if louder > 0.0 { "louder" } else { "quieter" };
    let trim = plan.back.trim.0;
    // Nothing limits: upwards no further than the peaks allow.
    let room = heard.return_peak.map_or(f64::MAX, |peak| -peak.0).max(0.0);
    let rise = (-louder).min(room);
    let held = if rise < -louder - 0.05 {
        format!(" Its peaks allow {:.1} dB more.", down(rise))
    } else {
        String::new()
    };
    let text = format!(
        "{measured}: the return is {:.1} LU {side}.{held}",
        louder.abs()
    );
    let rise = if held.is_empty() { rise } else { down(rise) };
    Some(Remark::hint(text).with(to("return.trim_db", trim, trim + rise)))
}

#[cfg(test)]
mod tests;
