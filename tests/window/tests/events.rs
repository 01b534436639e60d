//! A thousand random events: whatever is done to the window, nothing breaks, no gesture stays open, and
//! what sounds is what the host's automation alone would have made.

use egui::accesskit::Action;
use egui::{Event, Key, Modifiers, MouseWheelUnit, PointerButton, Pos2, pos2, vec2};
use egui_kittest::kittest::Queryable;
use penstock::tone::Tone;
use penstock_window_tests::{Asked, Stage, Window, programme};

const EVENTS: usize = 1000;
/// Frames between two events.
const STEP: usize = 96;
const SIZE: [f32; 2] = [900.0, 700.0];
const KEYS: [Key; 12] = [
    Key::Tab,
    Key::Enter,
    Key::Escape,
    Key::ArrowUp,
    Key::ArrowDown,
    Key::ArrowLeft,
    Key::PageUp,
    Key::Home,
    Key::Delete,
    Key::Space,
    Key::Z,
    Key::Y,
];

/// The splitmix64 generator (Steele, Lea, Flood, 2014): the same events every time.
struct Random(u64);

impl Random {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % most
    }

    /// Anywhere, or on one of the things that can be clicked, each as often as the other.
    fn place(&mut self, window: &Window) -> Pos2 {
        let on: Vec<Pos2> = window
            .query_all_by(|node| node.data().supports_action(Action::Click))
            .map(|node| node.rect().center())
            .collect();
        if self.below(2) == 0 && !on.is_empty() {
            return on[self.below(on.len() as u64) as usize];
        }
        pos2(
            self.below(SIZE[0] as u64) as f32,
            self.below(SIZE[1] as u64) as f32,
        )
    }

    fn event(&mut self, window: &Window) -> Vec<Event> {
        let at = self.place(window);
        let modifiers = [
            Modifiers::NONE,
            Modifiers::NONE,
            Modifiers::SHIFT,
            Modifiers::COMMAND,
        ][self.below(4) as usize];
        let button = |pressed| Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers,
        };
        match self.below(12) {
            0 => vec![Event::PointerMoved(at), button(true)],
            1 => vec![Event::PointerMoved(at), button(false)],
            2 | 3 => vec![Event::PointerMoved(at), button(true), button(false)],
            4 => {
                let key = KEYS[self.below(KEYS.len() as u64) as usize];
                let press = |pressed| Event::Key {
                    key,
                    physical_key: None,
                    pressed,
                    repeat: false,
                    modifiers,
                };
                vec![press(true), press(false)]
            }
            5 => {
                let mut typed = vec![Event::Text(self.below(100).to_string())];
                if self.below(2) == 0 {
                    typed.push(Event::Key {
                        key: Key::Enter,
                        physical_key: None,
                        pressed: true,
                        repeat: false,
                        modifiers: Modifiers::NONE,
                    });
                }
                typed
            }
            8 | 9 => {
                let far = vec2(self.below(200) as f32 - 100.0, self.below(40) as f32 - 20.0);
                let to = at + far;
                vec![
                    Event::PointerMoved(at),
                    button(true),
                    Event::PointerMoved(at + far * 0.5),
                    Event::PointerMoved(to),
                    button(false),
                ]
            }
            6 | 10 => {
                let delta = vec2(0.0, self.below(5) as f32 - 2.0);
                let wheel = Event::MouseWheel {
                    unit: MouseWheelUnit::Line,
                    delta,
                    phase: egui::TouchPhase::Move,
                    source: egui::MouseWheelSource::Unknown,
                    modifiers,
                };
                vec![Event::PointerMoved(at), wheel]
            }
            7 => vec![Event::PointerGone],
            _ => vec![Event::PointerMoved(at)],
        }
    }
}

/// Every gesture is closed, none is nested, and nothing is set outside of one.
fn assert_balanced(asked: &[Asked]) {
    let mut open = None;
    for what in asked {
        match *what {
            Asked::Begin(i) => assert_eq!(open.replace(i), None, "{what:?}"),
            Asked::Set(i, at) => {
                assert_eq!(open, Some(i), "{what:?}");
                assert!((0.0..=1.0).contains(&at), "{what:?}");
            }
            Asked::End(i) => assert_eq!(open.take(), Some(i), "{what:?}"),
        }
    }
    assert_eq!(open, None, "a gesture is stuck");
}

/// One event, each part of it seen in a picture of its own.
fn happen(window: &mut Window, events: Vec<Event>) {
    for event in events {
        window.event(event);
        window.step();
    }
}

fn sound_is_the_automations(seed: u64, channels: usize) {
    let stage = Stage::default();
    let mut window = stage.open(SIZE, 1.0, None);
    let mut engine = stage.engine(channels);
    engine.reset(&stage.params, &stage.bridge);
    let input = programme(EVENTS * STEP, channels, 0.5);
    let (mut random, mut log) = (Random(seed), Vec::new());
    let mut heard = input.clone();
    // What was set before each block.
    let mut automation: Vec<Vec<(usize, f32)>> = Vec::new();
    for n in 0..EVENTS {
        let events = random.event(&window);
        happen(&mut window, events);
        // The alignment tone takes the output's place: it is no parameter, and no automation has it.
        stage.params.tone.set(Tone::Off);
        let asked = stage.host.take();
        let sets = asked.iter().filter_map(|asked| match asked {
            Asked::Set(i, at) => Some((*i, *at)),
            _ => None,
        });
        automation.push(sets.collect());
        log.extend(asked);
        let mut block = block_of(&mut heard, n);
        engine.process(&mut block, &stage.params, &stage.bridge, true);
    }
    drop(window);
    log.extend(stage.host.take());
    assert_balanced(&log);
    let sets: usize = automation.iter().map(Vec::len).sum();
    assert!(sets > 50, "only {sets} values were set");
    assert!(!stage.bridge.faulted(), "{}", stage.bridge.fault());

    let alone = Stage::default();
    let mut engine = alone.engine(channels);
    engine.reset(&alone.params, &alone.bridge);
    let mut wanted = input;
    for (n, sets) in automation.iter().enumerate() {
        for (i, at) in sets {
            alone.host.automate(*i, *at);
        }
        let mut block = block_of(&mut wanted, n);
        engine.process(&mut block, &alone.params, &alone.bridge, false);
    }
    for (channel, (heard, wanted)) in heard.iter().zip(&wanted).enumerate() {
        let differs = heard
            .iter()
            .zip(wanted)
            .position(|(heard, wanted)| heard.to_bits() != wanted.to_bits());
        assert_eq!(differs, None, "channel {channel}, {sets} values set");
    }
    assert!(wanted[0].iter().any(|sample| sample.abs() > 0.01), "silent");
    println!("seed {seed}: {EVENTS} events set {sets} values");
}

fn block_of(audio: &mut [Vec<f32>], n: usize) -> Vec<&mut [f32]> {
    audio
        .iter_mut()
        .map(|samples| &mut samples[n * STEP..(n + 1) * STEP])
        .collect()
}

#[test]
fn a_thousand_random_events_sound_as_their_automation_in_stereo() {
    sound_is_the_automations(1, 2);
}

#[test]
fn a_thousand_random_events_sound_as_their_automation_in_mono() {
    sound_is_the_automations(2, 1);
}
