//! Telling the kind of a file from its first bytes.

use crate::cli::audio::Problem;

/// How much of a file [`kind`] looks at, in bytes.
pub(super) const LEN_BYTES: u64 = 64;

/// The kinds that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Wav,
    /// AIFF and AIFF-C.
    Aiff,
    Flac,
}

/// The kind of a file that begins with `start`, or what it seems to be instead.
pub(super) fn kind(start: &[u8]) -> Result<Kind, Problem> {
    let id = start.get(..4).unwrap_or(start);
    let form = start.get(8..12);
    match (id, form) {
        (b"fLaC", _) => Ok(Kind::Flac),
        (b"RIFF", Some(b"WAVE")) => Ok(Kind::Wav),
        (b"FORM", Some(b"AIFF" | b"AIFC")) => Ok(Kind::Aiff),
        (b"RIFF" | b"FORM", None) => Err(Problem::Malformed(
            "is cut short: it ends inside its header".into(),
        )),
        _ => Err(Problem::UnknownKind(guess(start, id, form))),
    }
}

/// Names the commonest strangers, so that the refusal helps.
fn guess(start: &[u8], id: &[u8], form: Option<&[u8]>) -> String {
    match id {
        b"RF64" | b"BW64" => "a WAV file in the form for more than 4 GiB (RF64)".into(),
        b"RIFX" => "a WAV file of reversed byte order (RIFX)".into(),
        b"RIFF" | b"FORM" => {
            let form = String::from_utf8_lossy(form.unwrap_or_default());
            format!("a container of the form {:?}", form.trim_end())
        }
        b"OggS" => "an Ogg file".into(),
        [b'I', b'D', b'3', _] => "a file that begins with an ID3 tag, as MP3 does".into(),
        // The frame sync of MPEG audio: eleven bits set, then a layer that is not the reserved 0.
        [0xff, second, ..] if second & 0xe0 == 0xe0 && second & 0x06 != 0 => {
            "MPEG audio, such as MP3".into()
        }
        _ if start.get(4..8) == Some(b"ftyp") => "an MP4 file".into(),
        _ if start
            .iter()
            .all(|byte| matches!(byte, b' '..=b'~' | b'\t' | b'\n' | b'\r')) =>
        {
            "plain text".into()
        }
        _ => {
            let bytes: Vec<String> = id.iter().map(|byte| format!("{byte:02x}")).collect();
            format!(
                "of an unknown kind (its first bytes are {})",
                bytes.join(" ")
            )
        }
    }
}
