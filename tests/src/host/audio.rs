//! One instance while it is active: audio through it, in blocks, with changes at frames.

use std::iter;

use clack_host::events::event_types::ParamValueEvent;
use clack_host::prelude::*;

use super::handlers::Handlers;
use crate::random::Random;
use crate::wave::Wave;

/// Planar audio: a list of samples for each channel.
pub type Audio = Vec<Vec<f32>>;

/// A parameter change at a frame of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Frame, counted from the start of the run.
    pub frame: usize,
    /// CLAP's numeric id.
    pub id: u32,
    /// In CLAP's unit.
    pub value: f64,
}

/// An active instance, ready to process; may go to another thread.
pub struct Running {
    processor: PluginAudioProcessor<Handlers>,
    max_frames: usize,
    channels: usize,
    told: EventBuffer,
    steady_frames: u64,
}

impl Running {
    pub(super) fn new(
        processor: StoppedPluginAudioProcessor<Handlers>,
        max_frames: usize,
        channels: usize,
    ) -> Self {
        Self {
            processor: processor.into(),
            max_frames,
            channels,
            told: EventBuffer::new(),
            steady_frames: 0,
        }
    }

    pub(super) fn into_stopped(self) -> StoppedPluginAudioProcessor<Handlers> {
        self.processor.into_stopped()
    }

    /// Stops processing; the next block starts it again, which resets the plugin.
    pub fn stop(&mut self) {
        self.processor.ensure_processing_stopped();
    }

    /// Resets it while it processes.
    pub fn reset(&mut self) {
        self.processor.reset();
    }

    /// One call of the plugin; changes count from the block's start.
    ///
    /// # Panics
    /// When the channels are not those it was activated with, the block is too long, or the plugin
    /// fails.
    pub fn block(
        &mut self,
        input: &mut [&mut [f32]],
        output: &mut [&mut [f32]],
        changes: &[Change],
    ) {
        assert_eq!((input.len(), output.len()), (self.channels, self.channels));
        assert!(input[0].len() <= self.max_frames, "longer than promised");
        let frames = input[0].len() as u64;
        let event = |change: &Change| {
            let time = change.frame as u32;
            ParamValueEvent::new(
                time,
                ClapId::new(change.id),
                Pckn::match_all(),
                change.value,
            )
        };
        let events: Vec<ParamValueEvent> = changes.iter().map(event).collect();
        let mut input_ports = AudioPorts::with_capacity(self.channels, 1);
        let mut output_ports = AudioPorts::with_capacity(self.channels, 1);
        let input = input_ports.with_input_buffers([AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_input_only(
                input
                    .iter_mut()
                    .map(|samples| InputChannel::variable(*samples)),
            ),
        }]);
        let mut output = output_ports.with_output_buffers([AudioPortBuffer {
            latency: 0,
            channels: AudioPortBufferType::f32_output_only(
                output.iter_mut().map(|samples| &mut **samples),
            ),
        }]);
        self.told.clear();
        let processor = self
            .processor
            .ensure_processing_started()
            .expect("the plugin starts processing");
        processor
            .process(
                &input,
                &mut output,
                &InputEvents::from_buffer(&events),
                &mut OutputEvents::from_buffer(&mut self.told),
                Some(self.steady_frames),
                None,
            )
            .expect("the plugin processes");
        self.steady_frames += frames;
    }

    /// Audio through it in blocks of the given lengths (a length of 0 is a call without frames),
    /// with changes (sorted by frame) where they fall. The result is as late as the plugin.
    ///
    /// # Panics
    /// When the lengths end too early, or as [`Running::block`].
    #[must_use]
    pub fn run(
        &mut self,
        audio: &Audio,
        blocks: impl IntoIterator<Item = usize>,
        changes: &[Change],
    ) -> Audio {
        let frames = audio[0].len();
        let mut input = audio.clone();
        // Filled with what no output may keep.
        let mut output = vec![vec![f32::NAN; frames]; audio.len()];
        let (mut from, mut done) = (0, 0);
        let mut blocks = blocks.into_iter();
        while from < frames {
            let to = frames.min(from + blocks.next().expect("blocks for all frames"));
            let here = changes[done..].partition_point(|change| change.frame < to.max(from + 1));
            let mut events = changes[done..done + here].to_vec();
            events.iter_mut().for_each(|change| change.frame -= from);
            done += here;
            let mut input: Vec<_> = input
                .iter_mut()
                .map(|samples| &mut samples[from..to])
                .collect();
            let mut output: Vec<_> = output
                .iter_mut()
                .map(|samples| &mut samples[from..to])
                .collect();
            self.block(&mut input, &mut output, &events);
            from = to;
        }
        output
    }
}

/// Blocks of one length.
pub fn blocks_of(frames: usize) -> impl Iterator<Item = usize> {
    iter::repeat(frames)
}

/// Blocks of random lengths from `least` to `most`, short ones as likely as long ones.
pub fn random_blocks(seed: u64, least: usize, most: usize) -> impl Iterator<Item = usize> {
    let mut random = Random::new(seed);
    iter::repeat_with(move || {
        let frames = random.spread(least.max(1) as f64, most as f64 + 1.0);
        (frames as usize).clamp(least, most)
    })
}

impl Wave {
    /// The channels apart.
    #[must_use]
    pub fn planar(&self) -> Audio {
        (0..usize::from(self.channels))
            .map(|index| self.channel(index).samples)
            .collect()
    }

    /// From channels apart.
    ///
    /// # Panics
    /// When there are more than two channels.
    #[must_use]
    pub fn from_planar(rate_hz: u32, audio: &Audio) -> Self {
        let mono = |samples: &Vec<f32>| Self {
            rate_hz,
            channels: 1,
            samples: samples.clone(),
        };
        match audio.as_slice() {
            [one] => mono(one),
            [left, right] => Self::stereo(&mono(left), &mono(right)),
            _ => panic!("one or two channels"),
        }
    }
}
