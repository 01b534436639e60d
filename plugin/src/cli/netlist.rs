//! `penstock netlist`: the plan as a complete deck for ngspice.

use super::args::NetlistArgs;
use super::audio::Reader;
use super::error::Failure;
use penstock_dsp::analysis::upsample;
use penstock_dsp::chain::{build_pad, heard_plan, return_load};
use penstock_dsp::circuit::{Settings, write_deck};
use penstock_dsp::pad::{Network, Pad};
use penstock_dsp::plan::{Plan, Polarity};
use penstock_dsp::units::Dbfs;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// How finely a recording is laid out for the simulator, which draws straight lines between points.
const UPSAMPLING: usize = 256;
/// Start of a tone, in seconds: half a cosine.
const START_SECONDS: f64 = 0.02;
/// Frames read at once.
const READ_FRAMES: usize = 8192;
/// The first line of what is laid out; only a file that begins so is ever replaced.
const MARK: &str = "# Penstock: volts of the send, unloaded, by time\n";
/// Longest simulation taken, in seconds: more is a mistake.
const MOST_SECONDS: f64 = 600.0;

/// Prints the deck.
pub(super) fn run(args: &NetlistArgs) -> Result<u8, Failure> {
    if args.common.json {
        return Err(Failure::usage(
            "a deck is no JSON: leave --json out, or ask levels or pad for numbers",
        ));
    }
    let plan = args.common.plan()?;
    if let Some(data) = &args.data {
        bearable(data, args.wav.is_some())?;
    }
    let seconds = positive("--seconds", args.seconds, MOST_SECONDS)?;
    let steps = positive("--steps-per-second", args.steps_per_second, 1e9)?;
    let signal = match (&args.wav, args.tone_hz, args.level_dbfs) {
        (Some(file), _, _) => recording(file, seconds, args.data.as_deref(), &plan)?,
        (None, Some(hz), Some(level)) => tone(hz, Dbfs(level), &plan)?,
        _ => {
            return Err(Failure::usage(
                "say --tone-hz with --level-dbfs, or --wav FILE",
            ));
        }
    };
    print!(
        "{}",
        deck(&plan, &signal, seconds, steps, args.data.as_deref())?
    );
    Ok(0)
}

/// Refuses a name that the simulator would not keep: it parts commands at blanks, and reads the name
/// of a recording in small letters.
fn bearable(data: &Path, recorded: bool) -> Result<(), Failure> {
    let name = data.display().to_string();
    let odd = |c: char| c.is_whitespace() || c.is_control() || "\"'`$;\\{}".contains(c);
    let what = if name.contains(odd) {
        "without blanks and quotes"
    } else if recorded && name.contains(char::is_uppercase) {
        "in small letters when there is a recording"
    } else {
        return Ok(());
    };
    Err(Failure::usage(format!(
        "--data is {name}; ngspice takes names {what} only (a path from its folder will do)"
    )))
}

fn positive(name: &str, value: f64, most: f64) -> Result<f64, Failure> {
    if value > 0.0 && value <= most {
        Ok(value)
    } else {
        Err(Failure::usage(format!(
            "{name} is {value}; it must be above 0 and at most {most}"
        )))
    }
}

/// The send's unloaded voltage: the one line, and what it refers to.
struct Signal {
    /// After `Bsend send_hot send_cold`.
    source: String,
    /// Lines before it.
    before: String,
}

/// Peak volts of full scale at the send, trim and polarity counted.
fn send_volts(plan: &Plan) -> f64 {
    plan.rig.send_full_scale.peak().0 * plan.send.trim.ratio() * sign(plan)
}

fn sign(plan: &Plan) -> f64 {
    match plan.send.polarity {
        Polarity::Normal => 1.0,
        Polarity::Inverted => -1.0,
    }
}

fn tone(hz: f64, level: Dbfs, plan: &Plan) -> Result<Signal, Failure> {
    if !(0.1..=200_000.0).contains(&hz) {
        return Err(Failure::usage(format!(
            "--tone-hz is {hz}; it must be from 0.1 to 200000"
        )));
    }
    let peak = 10f64.powf(level.0 / 20.0) * send_volts(plan);
    Ok(Signal {
        source: format!(
            "V = {peak:e}*(0.5-0.5*cos(pi*min(time/{START_SECONDS:e},1)))*sin(2*pi*{hz:e}*time)"
        ),
        before: String::new(),
    })
}

/// A recording's first channel, laid out beside the data.
fn recording(
    file: &Path,
    seconds: f64,
    data: Option<&Path>,
    plan: &Plan,
) -> Result<Signal, Failure> {
    let Some(data) = data else {
        return Err(Failure::usage(
            "--wav needs --data FILE: the recording is laid out beside it as FILE.src",
        ));
    };
    let mut reader = Reader::open(file)?;
    let rate_hz = f64::from(reader.format().sample_rate_hz);
    let wanted = (seconds * rate_hz).ceil() as usize + 1;
    let samples = first_channel(&mut reader, wanted)?;
    let fine = upsample(&samples, UPSAMPLING);
    let volts = send_volts(plan);
    let mut text = String::with_capacity(40 * fine.len());
    text += MARK;
    for (n, sample) in fine.iter().enumerate() {
        let at = n as f64 / (rate_hz * UPSAMPLING as f64);
        writeln!(text, "{at:.12e} {:.15e}", sample * volts)
            .map_err(|error| Failure::usage(error.to_string()))?;
    }
    let mut source = data.as_os_str().to_owned();
    source.push(".src");
    let source = PathBuf::from(source);
    lay_out(&source, &text)?;
    Ok(Signal {
        source: "V = v(recording)".to_owned(),
        before: format!(
            "Afile %v([recording]) file\n.model file filesource (file=\"{}\" amploffset=[0] \
             amplscale=[1] timeoffset=0 timescale=1 timerelative=false amplstep=false)\n\
             Rfile recording 0 1e6\n",
            source.display()
        ),
    })
}

/// Writes aside, then renames: never half a file, and never over a stranger's.
fn lay_out(path: &Path, text: &str) -> Result<(), Failure> {
    let refused = |what: String| Failure::usage(format!("{}: {what}", path.display()));
    if let Ok(mut there) = File::open(path) {
        let mut start = vec![0; MARK.len()];
        if there.read_exact(&mut start).is_err() || start != MARK.as_bytes() {
            return Err(refused("exists and is not ours to replace".to_owned()));
        }
    }
    let mut aside = path.as_os_str().to_owned();
    aside.push(format!(".{}.partial", std::process::id()));
    let aside = PathBuf::from(aside);
    let written = fs::write(&aside, text).and_then(|()| fs::rename(&aside, path));
    written.map_err(|error| {
        // Nothing is left behind; that this may fail too changes nothing.
        let _ = fs::remove_file(&aside);
        refused(format!("cannot be written: {error}"))
    })
}

fn first_channel(reader: &mut Reader, wanted: usize) -> Result<Vec<f64>, Failure> {
    let channels = reader.format().channels;
    let mut block = vec![Vec::new(); channels];
    let mut samples = Vec::new();
    while samples.len() < wanted && reader.read(&mut block, READ_FRAMES)? > 0 {
        samples.extend_from_slice(&block[0]);
    }
    samples.resize(wanted, 0.0);
    Ok(samples)
}

fn deck(
    plan: &Plan,
    signal: &Signal,
    seconds: f64,
    steps: f64,
    data: Option<&Path>,
) -> Result<String, Failure> {
    let plan = &heard_plan(plan);
    let build = build_pad(plan)?;
    let settings = Settings {
        source: build.as_built.out_ohms(plan.rig.source),
        attenuator: plan.preamp.attenuator.0 > 0.0,
        gain: plan.preamp.gain,
        load: return_load(plan),
        noise: false,
    };
    let mut text = String::from("Penstock: a bus through its pad and the preamplifier, ngspice\n");
    let lines = || -> Result<String, std::fmt::Error> {
        let mut text = String::new();
        text += &signal.before;
        writeln!(text, "Bsend send_hot send_cold {}", signal.source)?;
        pad_lines(&mut text, &build.as_built, plan.rig.source.0)?;
        write_deck(&mut text, &settings)?;
        let step = 1.0 / steps;
        writeln!(
            text,
            ".options method=trap trtol=1e7 reltol=1e-6 abstol=1e-13 vntol=1e-9 temp=20"
        )?;
        writeln!(text, ".tran {step:e} {seconds:e} 0 {step:e}")?;
        text += ".control\nset numdgt=15\nset wr_singlescale\nset wr_vecnames=0\n";
        // With a recording's XSPICE device the simulator would replace the trtol above by 1.
        text += "set xtrtol=1e7\nrun\n";
        if let Some(data) = data {
            let sign = sign(plan);
            writeln!(text, "let out = {sign}*(v(out_hot)-v(out_cold))")?;
            writeln!(text, "set nobreak\nwrdata {} out", data.display())?;
        }
        text += "quit\n.endc\n.end\n";
        Ok(text)
    };
    text += &lines().map_err(|error| Failure::usage(error.to_string()))?;
    Ok(text)
}

/// The send's impedance, half in each leg, and the pad as built, up to the terminals.
fn pad_lines(text: &mut String, pad: &Pad, source_ohms: f64) -> std::fmt::Result {
    writeln!(text, "Rsend_hot send_hot line_hot {:e}", source_ohms / 2.0)?;
    writeln!(
        text,
        "Rsend_cold send_cold line_cold {:e}",
        source_ohms / 2.0
    )?;
    let mut arm = |name: &str, from: &str, to: &str, ohms: f64| {
        if ohms.is_infinite() {
            // A shunt that is left out.
            Ok(())
        } else if ohms > 0.0 {
            writeln!(text, "R{name} {from} {to} {ohms:e}")
        } else {
            writeln!(text, "V{name} {from} {to} 0")
        }
    };
    let balanced = pad.network().is_balanced();
    let cold = |ohms: f64| if balanced { ohms } else { 0.0 };
    let (arm_in, arm_out) = (pad.arm_in().0, pad.arm_out().0);
    if pad.network().is_pi() {
        arm("pad_shunt_in", "line_hot", "line_cold", pad.shunt_in().0)?;
        arm("pad_in_hot", "line_hot", "mic_hot", arm_in)?;
        arm("pad_in_cold", "line_cold", "mic_cold", cold(arm_in))?;
        return arm("pad_shunt", "mic_hot", "mic_cold", pad.shunt().0);
    }
    arm("pad_in_hot", "line_hot", "pad_hot", arm_in)?;
    arm("pad_in_cold", "line_cold", "pad_cold", cold(arm_in))?;
    arm("pad_out_hot", "pad_hot", "mic_hot", arm_out)?;
    arm("pad_out_cold", "pad_cold", "mic_cold", cold(arm_out))?;
    if pad.network() != Network::None {
        arm("pad_shunt", "pad_hot", "pad_cold", pad.r3().0)?;
    }
    Ok(())
}
