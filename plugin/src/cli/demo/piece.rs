//! The piece: a slow dance in D Dorian, twelve bars of six eighths, as a table, and its
//! performance by four players in a barn.

use fundsp::prelude64::*;

use super::SAMPLE_RATE_HZ;
use super::instruments::{self, Body, Note, Playing, no_box, string_box};

/// Length of an eighth note.
const EIGHTH_S: f64 = 0.24;
/// Silence of the room before the first note: only the tape is heard.
pub(super) const LEAD_IN_S: f64 = 1.0;
/// From the end of the last bar to the end of the recording.
const LEAD_OUT_S: f64 = 1.72;
/// Length of the whole recording.
pub(super) const DURATION_S: f64 = LEAD_IN_S + 6.0 * EIGHTH_S * SCORE.len() as f64 + LEAD_OUT_S;
/// When everybody plays at once, from bar 9 on: the loudest passage.
#[cfg(test)]
pub(super) const TUTTI_START_S: f64 = LEAD_IN_S + 8.0 * 6.0 * EIGHTH_S;

/// One bar: six eighths for each player.
pub(super) struct Bar {
    /// Strings, drum, reed and voice, six slots each.
    pub(super) parts: [&'static str; 4],
    /// Gain of the whole bar: where only one or two play, they play out.
    dynamics_db: f32,
}

/// A row of the score, in the order of the columns below.
const fn bar(
    strings: &'static str,
    drum: &'static str,
    reed: &'static str,
    voice: &'static str,
    dynamics_db: f32,
) -> Bar {
    Bar {
        parts: [strings, drum, reed, voice],
        dynamics_db,
    }
}

/// The score. A pitch name starts a note, `-` holds it, `.` is a rest; `x` is a soft and `X` a
/// strong drum stroke.
#[rustfmt::skip]
pub(super) const SCORE: [Bar; 12] = [
    //   strings              drum           reed                voice            dynamics_db
    bar("D3 A3 D4 F4 D4 A3", ". . . . . .", ".  .  .  . . .",   ".  . . .  . .",       -4.5),
    bar("C3 G3 C4 E4 C4 G3", ". . . . . .", ".  .  .  . . .",   ".  . . .  . .",       -4.0),
    bar("D3 A3 D4 F4 E4 D4", "x . . x . x", ".  .  .  . . .",   ".  . . .  . .",       -3.5),
    bar("G3 D4 G4 B3 G3 D4", "x . . x x .", ".  .  .  . . .",   ".  . . .  . .",       -3.0),
    bar("D3 A3 D4 F4 D4 A3", "x . . x . x", "A4 -  -  D5 - C5", ".  . . .  . .",       -0.5),
    bar("C3 G3 C4 E4 C4 G3", "x . . x x .", "B4 -  A4 G4 - -",  ".  . . .  . .",        0.0),
    bar("F3 C4 F4 A4 F4 C4", ". . . . . .", ".  .  .  .  . .",  "F4 - - G4 - A4",       0.5),
    bar("A3 E4 A4 C5 A4 E4", ". . . . . x", ".  .  .  .  . .",  "A4 - G4 E4 - -",       0.5),
    bar("D3 A3 D4 F4 D4 A3", "X . x X . x", "A4 -  B4 C5 - D5", "F4 - - A4 - -",        0.0),
    bar("C3 G3 C4 E4 C4 G3", "X . . X x .", "E5 -  -  D5 - C5", "E4 - - C4 - -",        0.0),
    bar("G3 D4 G4 B3 A3 E4", "X . x x . x", "B4 -  G4 A4 - E4", "D4 - - C4 - -",        0.5),
    bar("D3 A3 D4 A4 D5 .",  "X . . . . .", "D4 -  -  -  - -",  "D4 - - - - -",         0.5),
];

/// A player: how a note is made, what it sounds through, how long it rings after it was held, and
/// the place in the mix.
struct Player {
    make: fn(Playing) -> Note,
    body: fn() -> Body,
    ring_s: f64,
    level_db: f32,
}

/// The players, in the order of the parts.
const PLAYERS: [Player; 4] = [
    Player {
        make: instruments::string,
        body: string_box,
        ring_s: 1.6,
        level_db: -14.5,
    },
    Player {
        make: instruments::drum,
        body: no_box,
        ring_s: 0.9,
        level_db: 0.0,
    },
    Player {
        make: instruments::reed,
        body: no_box,
        ring_s: 0.1,
        level_db: -15.5,
    },
    Player {
        make: instruments::voice,
        body: no_box,
        ring_s: 0.2,
        level_db: -23.0,
    },
];

/// Fundamental of the drum, just above the lower edge of the recorder's band.
const DRUM_HZ: f32 = 96.0;
/// Level of a soft stroke against a strong one.
const SOFT_STROKE_DB: f32 = -14.0;

/// The whole piece as it sounds at the microphone; the recorder decides the level.
pub(super) fn perform() -> Wave {
    let rate_hz = f64::from(SAMPLE_RATE_HZ);
    let mut floor = Wave::zero(1, rate_hz, DURATION_S);
    for (part, player) in PLAYERS.iter().enumerate() {
        let mut notes = Sequencer::new(0, 1, ReplayMode::None);
        notes.set_sample_rate(rate_hz);
        play_part(part, player, &mut notes);
        let played = Wave::render(rate_hz, DURATION_S, &mut notes);
        let heard = played.filter(DURATION_S, (player.body)().as_mut());
        floor.mix_channel(0, 0, heard.channel(0));
    }
    floor.filter(DURATION_S, &mut barn())
}

/// Places every note of one part. Players are people: each note is up to 8 ms late and up to
/// 1.2 dB softer than written, by a hash of its place in the score.
fn play_part(part: usize, player: &Player, notes: &mut Sequencer) {
    let slots: Vec<(&str, f32)> = SCORE
        .iter()
        .flat_map(|bar| {
            bar.parts[part]
                .split_whitespace()
                .map(|slot| (slot, bar.dynamics_db))
        })
        .collect();
    for (index, &(slot, dynamics_db)) in slots.iter().enumerate() {
        let (pitch_hz, stroke_db) = match slot {
            "." | "-" => continue,
            "X" => (DRUM_HZ, 0.0),
            "x" => (DRUM_HZ, SOFT_STROKE_DB),
            name => (pitch_hz(name), 0.0),
        };
        let eighths = 1 + slots[index + 1..]
            .iter()
            .take_while(|(next, _)| *next == "-")
            .count();
        let seed = (part * 1_000 + index) as u64;
        let held_s = eighths as f64 * EIGHTH_S;
        let start_s = LEAD_IN_S + index as f64 * EIGHTH_S + 0.008 * rnd1(seed);
        let level_db = player.level_db + dynamics_db + stroke_db - 1.2 * rnd2(seed) as f32;
        let note = (player.make)(Playing {
            pitch_hz,
            held_s,
            seed,
        });
        let level = Net::wrap(note) * dc(db_amp(level_db));
        let sounding_s = held_s + player.ring_s;
        notes.push_duration(
            start_s,
            sounding_s,
            Fade::Smooth,
            0.0,
            0.05,
            Box::new(level),
        );
    }
}

/// Equal-tempered pitch of a name such as `B3` (A4 is 440 Hz, ISO 16). The mode has no sharps.
pub(super) fn pitch_hz(name: &str) -> f32 {
    let (letter, octave) = name.split_at(1);
    let semitone = match letter {
        "C" => 0,
        "D" => 2,
        "E" => 4,
        "F" => 5,
        "G" => 7,
        "A" => 9,
        "B" => 11,
        other => unreachable!("the score has no note named {other}"),
    };
    let octave: i16 = octave
        .parse()
        .expect("a note of the score ends in its octave");
    midi_hz(f32::from(12 * (octave + 1) + semitone))
}

/// The barn: direct sound and a diffuse tail of about one second from eight delay lines of
/// mutually unrelated lengths, each duller and softer on every turn.
fn barn() -> impl AudioUnit {
    const LINES_S: [f32; 8] = [
        0.0297, 0.0371, 0.0411, 0.0437, 0.0533, 0.0593, 0.0671, 0.0731,
    ];
    let line = |i: u64| {
        let length_s = LINES_S[i as usize];
        // -60 dB after one second, whatever the length of the line.
        (delay(length_s) >> lowpole_hz(3_500.0)) * db_amp(-60.0 * length_s)
    };
    let tail = split::<U8>() >> fdn::<U8, _>(stacki::<U8, _, _>(line)) >> join::<U8>();
    pass() & ((tail >> highpass_hz(180.0, 0.7)) * db_amp(-11.0))
}
