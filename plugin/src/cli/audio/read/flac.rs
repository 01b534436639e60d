//! FLAC files (RFC 9639): the header is read here, the frames are decoded by symphonia.
//!
//! Symphonia skips what fails its checksums and goes on with the next sound FLAC frame. A gap in
//! the numbering, bytes that belong to no FLAC frame, a total that is not met and a wrong MD5 sum
//! each show that something is missing, and are refused.

use std::io::{BufReader, Cursor, ErrorKind, Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};

use symphonia::core::audio::{Audio, GenericAudioBufferRef};
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::{FormatOptions, FormatReader};
use symphonia::core::io::{MediaSourceStream, ReadOnlySource};
use symphonia::default::codecs::FlacDecoder;
use symphonia::default::formats::FlacReader as Demuxer;

use super::{Header, header_problem, unreadable};
use crate::cli::audio::{Format, Problem, check_shape};

/// Length of the STREAMINFO block's content, in bytes.
const STREAM_INFO_BYTES: usize = 34;

/// One over the full scale of symphonia's samples, which are shifted up to 32 bits.
const SCALE: f64 = 1.0 / (1u64 << 31) as f64;

/// A FLAC file, positioned at the next frame.
pub(super) struct FlacReader {
    demuxer: Demuxer<'static>,
    decoder: FlacDecoder,
    declared_frames: Option<u64>,
    /// Frames handed out so far.
    read_frames: u64,
    /// Frames handed out of the block that the decoder holds.
    taken: usize,
    /// Bytes of FLAC frames that have not been decoded yet.
    left_bytes: u64,
    ended: bool,
}

impl FlacReader {
    /// Reads the header and finds the first FLAC frame.
    pub(super) fn open(mut header: Header) -> Result<(Format, Self), Problem> {
        let (info, frames_start) = stream_info(&mut header).map_err(header_problem)?;
        let format = format_of(info)?;
        let left_bytes = header.len_bytes.saturating_sub(frames_start);
        header
            .file
            .seek(SeekFrom::Start(frames_start))
            .map_err(unreadable)?;
        let (demuxer, decoder) = guarded(|| start(info, header.file))?
            .map_err(|error| problem_at_start(error, format.frames, left_bytes))?;
        let reader = Self {
            demuxer,
            decoder,
            declared_frames: format.frames,
            read_frames: 0,
            taken: 0,
            left_bytes,
            ended: false,
        };
        Ok((format, reader))
    }

    /// Appends up to `max_frames` frames to the channels of `block`.
    pub(super) fn read(
        &mut self,
        block: &mut [Vec<f64>],
        max_frames: usize,
    ) -> Result<usize, Problem> {
        let mut done = 0;
        while done < max_frames {
            let GenericAudioBufferRef::S32(decoded) = self.decoder.last_decoded() else {
                unreachable!("FLAC decodes to 32-bit integers");
            };
            let frames = decoded
                .frames()
                .saturating_sub(self.taken)
                .min(max_frames - done);
            if frames == 0 {
                if !self.decode_next()? {
                    break;
                }
                continue;
            }
            let range = self.taken..self.taken + frames;
            for (channel, samples) in block.iter_mut().enumerate() {
                let plane = decoded.plane(channel).unwrap_or_default();
                let values = plane.get(range.clone()).unwrap_or_default();
                samples.extend(values.iter().map(|&value| f64::from(value) * SCALE));
            }
            self.taken += frames;
            self.read_frames += frames as u64;
            done += frames;
        }
        Ok(done)
    }

    /// Decodes one FLAC frame, or checks the whole at the end and returns false.
    fn decode_next(&mut self) -> Result<bool, Problem> {
        if self.ended {
            return Ok(false);
        }
        let packet = match guarded(|| self.demuxer.next_packet())? {
            Ok(packet) => packet,
            Err(Error::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => None,
            Err(Error::IoError(error)) => return Err(unreadable(error)),
            Err(error) => return Err(self.damaged(&error.to_string())),
        };
        let Some(packet) = packet else {
            self.ended = true;
            return self.check_end().map(|()| false);
        };
        if u64::try_from(packet.pts.get()) != Ok(self.read_frames) {
            return Err(self.damaged("what comes next fails its checksum or is missing"));
        }
        match guarded(|| self.decoder.decode(&packet).map(|decoded| decoded.frames()))? {
            Ok(frames) => self.check_total(frames)?,
            Err(error) => return Err(self.damaged(&error.to_string())),
        }
        self.taken = 0;
        self.left_bytes = self.left_bytes.saturating_sub(packet.data.len() as u64);
        Ok(true)
    }

    fn check_total(&self, more: usize) -> Result<(), Problem> {
        let found_frames = self.read_frames + more as u64;
        match self.declared_frames {
            Some(declared_frames) if found_frames > declared_frames => Err(Problem::WrongLength {
                declared_frames,
                found_frames,
            }),
            _ => Ok(()),
        }
    }

    fn check_end(&mut self) -> Result<(), Problem> {
        let found_frames = self.read_frames;
        match self.declared_frames {
            Some(declared_frames) if declared_frames != found_frames => {
                return Err(Problem::WrongLength {
                    declared_frames,
                    found_frames,
                });
            }
            None if found_frames == 0 => return Err(Problem::NoFrames),
            _ => {}
        }
        if self.left_bytes > 0 {
            let clause = format!("{} bytes in it are no sound FLAC data", self.left_bytes);
            return Err(self.damaged(&clause));
        }
        if self.decoder.finalize().verify_ok == Some(false) {
            return Err(self.damaged("its audio does not have the MD5 sum that its header gives"));
        }
        Ok(())
    }

    fn damaged(&self, what: &str) -> Problem {
        Problem::Damaged(match self.declared_frames {
            Some(total) => {
                format!(
                    "is damaged: {what} ({} of {total} frames are sound)",
                    self.read_frames
                )
            }
            None => format!(
                "is damaged: {what} (the first {} frames are sound)",
                self.read_frames
            ),
        })
    }
}

/// Runs the decoder so that a panic in it, which a forged file may cause, is a damaged file.
fn guarded<T>(run: impl FnOnce() -> T) -> Result<T, Problem> {
    catch_unwind(AssertUnwindSafe(run))
        .map_err(|_| Problem::Damaged("is damaged: the FLAC decoder gave up on it".into()))
}

/// A demuxer for the FLAC frames in `frames`, given a header of STREAMINFO only: tags, pictures
/// and seek tables, whose sizes a damaged file may overstate, never reach it.
fn start(
    info: [u8; STREAM_INFO_BYTES],
    frames: BufReader<std::fs::File>,
) -> Result<(Demuxer<'static>, FlacDecoder), Error> {
    // The marker, then: last metadata block, of type 0, of 34 bytes.
    let mut bytes = b"fLaC\x80\x00\x00\x22".to_vec();
    bytes.extend_from_slice(&info);
    let source = ReadOnlySource::new(Cursor::new(bytes).chain(frames));
    let stream = MediaSourceStream::new(Box::new(source), Default::default());
    let demuxer = Demuxer::try_new(stream, FormatOptions::default())?;
    let Some(CodecParameters::Audio(parameters)) = demuxer
        .tracks()
        .first()
        .and_then(|track| track.codec_params.as_ref())
    else {
        return Err(Error::DecodeError("no audio stream"));
    };
    let decoder = FlacDecoder::try_new(parameters, &AudioDecoderOptions::default().verify(true))?;
    Ok((demuxer, decoder))
}

fn problem_at_start(error: Error, declared_frames: Option<u64>, left_bytes: u64) -> Problem {
    match (error, declared_frames) {
        (Error::IoError(error), _) if error.kind() != ErrorKind::UnexpectedEof => unreadable(error),
        (Error::IoError(_), Some(declared_frames)) => Problem::WrongLength {
            declared_frames,
            found_frames: 0,
        },
        (Error::IoError(_), None) if left_bytes == 0 => Problem::NoFrames,
        (error, _) => Problem::Damaged(format!("is damaged: {error}")),
    }
}

/// The content of STREAMINFO, and the position behind the last metadata block.
fn stream_info(header: &mut Header) -> Result<([u8; STREAM_INFO_BYTES], u64), Problem> {
    let mut position = 4;
    let mut info = None;
    loop {
        header
            .file
            .seek(SeekFrom::Start(position))
            .map_err(unreadable)?;
        let mut raw = [0; 4];
        header.file.read_exact(&mut raw).map_err(unreadable)?;
        let [kind, size @ ..] = raw;
        let size_bytes = u32::from_be_bytes([0, size[0], size[1], size[2]]);
        if position == 4 {
            if kind & 0x7f != 0 || size_bytes as usize != STREAM_INFO_BYTES {
                let clause = "is no sound FLAC file: it does not begin with its stream information";
                return Err(Problem::Malformed(clause.into()));
            }
            let mut content = [0; STREAM_INFO_BYTES];
            header.file.read_exact(&mut content).map_err(unreadable)?;
            info = Some(content);
        }
        position += 4 + u64::from(size_bytes);
        if kind & 0x80 != 0 {
            break;
        }
    }
    info.map(|info| (info, position)).ok_or(Problem::NoFrames)
}

/// Rate, channels and length from STREAMINFO, refused where out of the program's limits.
fn format_of(info: [u8; STREAM_INFO_BYTES]) -> Result<Format, Problem> {
    // RFC 9639, section 8.2: 20 bits rate, 3 bits channels - 1, 5 bits depth - 1, 36 bits total.
    let packed = u64::from_be_bytes([
        info[10], info[11], info[12], info[13], info[14], info[15], info[16], info[17],
    ]);
    let bits = (packed >> 36 & 0x1f) + 1;
    if !(9..=24).contains(&bits) {
        return Err(Problem::Depth(format!("{bits}-bit integer")));
    }
    let channels = (packed >> 41 & 0x7) as usize + 1;
    let sample_rate_hz = (packed >> 44) as u32;
    check_shape(sample_rate_hz, channels)?;
    let frames = Some(packed & 0xf_ffff_ffff).filter(|&frames| frames != 0);
    Ok(Format {
        sample_rate_hz,
        channels,
        frames,
    })
}
