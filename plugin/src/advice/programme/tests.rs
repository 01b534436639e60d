//! Remarks held to the path itself.

use super::*;
use penstock_dsp::analysis::measure_tone;
use penstock_dsp::diagram::distortion_ceilings;
use penstock_dsp::oversample::Oversampling;
use std::sync::atomic::AtomicBool;

fn diagram(plan: &Plan) -> LevelDiagram {
    let mut diagram = LevelDiagram::of_plan(plan).expect("a pad");
    let found = distortion_ceilings(plan, &AtomicBool::new(false)).expect("a pad");
    diagram.add_ceilings(&found.expect("nobody stops it"));
    diagram
}

fn remarks(plan: &Plan, heard: &Heard) -> Vec<Remark> {
    programme_remarks(plan, Path::of(plan).as_ref(), Some(&diagram(plan)), heard)
}

fn take(plan: &mut Plan, step: &Step) {
    let assignment = format!("{}={}", step.key, step.value);
    plan.assign(&assignment).expect("a value of the key");
}

/// The gains are those of the path: a small tone sent through it.
#[test]
fn the_paths_gains_are_those_of_a_tone() {
    let mut plan = Plan::default();
    plan.assign("send.trim_db=-3").expect("a value");
    plan.assign("return.pad_db=10").expect("a value");
    let path = Path::of(&plan).expect("a pad");
    let bus = Dbfs(-60.0);
    let tone = measure_tone(&plan, bus, Oversampling::ALL[2]).expect("a pad");
    let out = tone.points[Point::PreampOut as usize].dbu();
    assert!((path.out(bus) - out).0.abs() < 0.02, "{path:?} {out:?}");
    let back = tone.points[Point::Return as usize].dbu();
    let want = path.out(bus) + path.back + plan.back.trim;
    assert!((want - back).0.abs() < 0.02, "{want:?} {back:?}");
}

/// Whoever follows the suggestions arrives at 1 %, which the path itself confirms with a tone of the peak.
#[test]
fn following_the_suggestions_puts_the_loudest_passage_at_one_percent() {
    for (start, peak_dbfs) in [("preamp.gain_db=40", -6.0), ("preamp.gain_db=64", -1.0)] {
        let mut plan = Plan::default();
        plan.assign(start).expect("a value");
        let heard = Heard {
            peak: Some(Dbfs(peak_dbfs)),
            ..Heard::default()
        };
        let mut moves = 0;
        loop {
            let said = remarks(&plan, &heard);
            let about = said.iter().find(|r| r.text.starts_with("Loudest passage"));
            let Some(step) = about.and_then(|remark| remark.step.as_ref()) else {
                break;
            };
            take(&mut plan, step);
            moves += 1;
            assert!(moves <= 4, "{said:?}");
        }
        // Converters that clip would add to it.
        plan.rig.converters_clip = false;
        let tone = measure_tone(&plan, Dbfs(peak_dbfs), Oversampling::ALL[2]).expect("a pad");
        let thd = tone.thd_percent().expect("a tone");
        println!(
            "{start}: {moves} moves, {thd:.2} % at {}",
            plan.preamp.gain.0
        );
        assert!((0.75..=1.35).contains(&thd), "{thd} after {moves}");
    }
}

#[test]
fn converters_that_clip_are_spared_by_the_move() {
    let mut plan = Plan::default();
    plan.assign("send.trim_db=6").expect("a value");
    let heard = Heard {
        peak: Some(Dbfs(-1.0)),
        ..Heard::default()
    };
    let said = send_clips(&plan, &heard).expect("5 dB over");
    assert!(said.unwise && said.text.contains("5.0 dB"), "{said:?}");
    take(&mut plan, &said.step.expect("a step"));
    assert_eq!(send_clips(&plan, &heard), None);
    // 5.3 dB over the return's full scale: the next whole dB of pad.
    let path = Path::of(&plan).expect("a pad");
    let heard = Heard {
        out_peak: Some(plan.rig.return_full_scale.0 + Db(5.3) - path.back),
        ..heard
    };
    let said = return_clips(&plan, &path, &heard).expect("over");
    assert!(said.text.contains("5.3 dB"), "{said:?}");
    take(&mut plan, &said.step.expect("a step"));
    let path = Path::of(&plan).expect("a pad");
    assert_eq!(return_clips(&plan, &path, &heard), None);
    plan.rig.converters_clip = false;
    assert_eq!(return_clips(&plan, &path, &heard), None);
}

#[test]
fn close_noise_is_said_with_its_number() {
    let mut plan = Plan::default();
    plan.assign("pad.loss_db=70").expect("a value");
    let heard = Heard {
        rms: Some(Dbfs(-30.0)),
        peak: Some(Dbfs(-20.0)),
        ..Heard::default()
    };
    let said = remarks(&plan, &heard);
    let noise = said.iter().find(|r| r.text.starts_with("Noise"));
    let step = noise.and_then(|r| r.step.clone()).expect("a step");
    assert_eq!(step.key, "pad.loss_db");
    take(&mut plan, &step);
    let said = remarks(&plan, &heard);
    assert!(
        !said.iter().any(|r| r.text.starts_with("Noise")),
        "{said:?}"
    );
}

#[test]
fn loudness_is_made_alike_and_peaks_are_spared() {
    let plan = Plan::default();
    let mut heard = Heard {
        loudness: Some(([-20.0, -13.7], 12.0)),
        ..Heard::default()
    };
    let said = loudness_remark(&plan, &heard).expect("louder");
    assert_eq!(said.step, Some(Step::number("return.trim_db", -6.3)));
    heard.loudness = Some(([-20.0, -24.0], 12.0));
    heard.return_peak = Some(Dbfs(-2.5));
    let said = loudness_remark(&plan, &heard).expect("quieter");
    assert_eq!(said.step, Some(Step::number("return.trim_db", 2.5)));
    assert!(said.text.contains("peaks allow 2.5 dB"), "{}", said.text);
    heard.loudness = Some(([-20.0, -20.3], 12.0));
    assert_eq!(loudness_remark(&plan, &heard).and_then(|r| r.step), None);
}

const UNIT: [&str; 6] = [
    "rig.preamp.kind=own",
    "rig.preamp.in_ohms=2400",
    "rig.preamp.gain_steps_db=20,35,50,65",
    "rig.preamp.attenuator_db=0,15",
    "rig.preamp.max_out_dbu=21",
    "preamp.gain_db=50",
];

fn own(more: &[&str]) -> Plan {
    let mut plan = Plan::default();
    for set in UNIT.iter().chain(more) {
        plan.assign(set).expect("a value");
    }
    plan
}

/// Of an own unit too: a small tone by the program's own sum.
#[test]
fn an_own_units_gains_are_those_of_a_tone() {
    let plan = own(&[
        "preamp.attenuator_db=15",
        "return.pad_db=6",
        "return.trim_db=-3",
    ]);
    let path = Path::of(&plan).expect("a pad");
    let bus = Dbfs(-40.0);
    let tone = measure_tone(&plan, bus, Oversampling::ALL[2]).expect("a pad");
    let out = tone.points[Point::PreampOut as usize].dbu();
    assert!((path.out(bus) - out).0.abs() < 0.002, "{path:?} {out:?}");
    let back = tone.points[Point::Return as usize].dbu();
    let want = path.out(bus) + path.back + plan.back.trim;
    assert!((want - back).0.abs() < 0.002, "{want:?} {back:?}");
}

/// Whoever follows the suggestions brings the unit under both of its limits, as the diagram of a tone says.
#[test]
fn following_the_suggestions_keeps_an_own_unit_under_its_limits() {
    for (limits, start) in [
        (&["rig.preamp.max_in_dbu=-30"][..], "preamp.gain_db=65"),
        (&["rig.preamp.max_in_dbu=-8"][..], "preamp.gain_db=35"),
        (&[][..], "preamp.gain_db=20"),
        (&["rig.preamp.gain_steps_db=[]"][..], "preamp.gain_db=71.5"),
    ] {
        let mut plan = own(limits);
        plan.assign(start).expect("a value");
        let heard = Heard {
            peak: Some(Dbfs(-0.5)),
            rms: Some(Dbfs(-14.0)),
            ..Heard::default()
        };
        let mut moves = Vec::new();
        loop {
            let said = remarks(&plan, &heard);
            let about = said
                .iter()
                .find(|r| r.unwise && r.text.contains("your preamp's"));
            let Some(step) = about.and_then(|remark| remark.step.as_ref()) else {
                assert!(about.is_none(), "{about:?}");
                break;
            };
            take(&mut plan, step);
            moves.push(step.clone());
            assert!(moves.len() <= 4, "{said:?}");
        }
        plan.rig.converters_clip = false;
        let tone = measure_tone(&plan, Dbfs(-0.5), Oversampling::ALL[2]).expect("a pad");
        let at = |point: Point| tone.points[point as usize].peak_dbu().0;
        println!(
            "{limits:?} {start}: {moves:?}, out {:.1}",
            at(Point::PreampOut)
        );
        assert!(at(Point::PreampOut) <= 21.05, "{moves:?}");
        let most = plan.rig.unit.most_in.map_or(f64::MAX, |most| most.0);
        assert!(at(Point::MicIn) <= most + 0.05, "{moves:?}");
    }
}
