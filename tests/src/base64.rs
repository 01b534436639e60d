//! Base64 (RFC 4648, section 4), for bytes inside JSON.

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Bytes as text.
#[must_use]
pub fn encode(bytes: &[u8]) -> String {
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let byte = |n: usize| u32::from(three.get(n).copied().unwrap_or(0));
        let bits = (byte(0) << 16) | (byte(1) << 8) | byte(2);
        for place in 0..4 {
            let letter = LETTERS[((bits >> (18 - 6 * place)) & 63) as usize];
            text.push(if place <= three.len() {
                letter.into()
            } else {
                '='
            });
        }
    }
    text
}

/// The bytes of a text.
///
/// # Panics
/// When it is no base64.
#[must_use]
pub fn decode(text: &str) -> Vec<u8> {
    let mut bytes = Vec::new();
    let (mut bits, mut count) = (0u32, 0);
    for letter in text.trim_end_matches('=').bytes() {
        let place = LETTERS.iter().position(|other| *other == letter);
        bits = (bits << 6) | place.expect("a letter of base64") as u32;
        count += 6;
        if count >= 8 {
            count -= 8;
            bytes.push((bits >> count) as u8);
        }
    }
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10.
    #[test]
    fn it_is_that_of_the_standard() {
        for (plain, text) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(encode(plain.as_bytes()), text);
            assert_eq!(decode(text), plain.as_bytes());
        }
    }
}
