//! What a library must not hold: names of this machine's folders, a table of symbols.

use std::path::{Path, PathBuf};

/// Refuses a library that names one of these folders.
pub fn no_paths(library: &[u8], folders: &[PathBuf]) -> Result<(), String> {
    for folder in folders {
        // The system's root and its first level are everybody's.
        if folder.components().count() < 2 {
            continue;
        }
        let needle = format!("{}{}", folder.display(), std::path::MAIN_SEPARATOR);
        if let Some(at) = find(library, needle.as_bytes()) {
            let rest = &library[at..library.len().min(at + 120)];
            let rest: String = rest
                .iter()
                .take_while(|byte| byte.is_ascii_graphic())
                .map(|&byte| char::from(byte))
                .collect();
            return Err(format!(
                "the library names a folder of this machine at {at:#x}: {rest}"
            ));
        }
    }
    Ok(())
}

fn find(text: &[u8], needle: &[u8]) -> Option<usize> {
    let first = *needle.first()?;
    let mut from = 0;
    while let Some(at) = text[from..].iter().position(|&byte| byte == first) {
        if text[from + at..].starts_with(needle) {
            return Some(from + at);
        }
        from += at + 1;
    }
    None
}

/// The kind of section that holds symbols for debuggers; what hosts look up lies in another.
const SYMBOL_TABLE: u32 = 2;

/// Refuses an ELF library that still holds the symbols only debuggers want. Other kinds of library
/// pass unread. (Source: System V ABI, chapter 4, "ELF Header" and "Sections"; 64 bit, little endian.)
pub fn stripped(path: &Path, library: &[u8]) -> Result<(), String> {
    if !library.starts_with(b"\x7fELF\x02\x01") {
        return Ok(());
    }
    let broken = || format!("{} is a broken ELF file", path.display());
    let number = |at: usize, length: usize| -> Result<usize, String> {
        let bytes = library.get(at..at + length).ok_or_else(broken)?;
        Ok(bytes
            .iter()
            .rev()
            .fold(0, |sum, &byte| (sum << 8) | usize::from(byte)))
    };
    let (table, size, count) = (number(0x28, 8)?, number(0x3a, 2)?, number(0x3c, 2)?);
    for index in 0..count {
        let kind = number(table + index * size + 4, 4)?;
        if kind == SYMBOL_TABLE as usize {
            return Err(format!(
                "{} still holds a table of symbols; is `strip = true` gone from its profile?",
                path.display()
            ));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_of_this_machine_is_found_wherever_it_stands() {
        let folders = [PathBuf::from("/"), PathBuf::from("/u/me")];
        let library = b"\0\0/x\0//u/me/.cargo/a.rs\0rest";
        let error = no_paths(library, &folders).expect_err("named");
        assert!(error.ends_with("/u/me/.cargo/a.rs"), "{error}");
        assert_eq!(no_paths(b"/u/meadow and /u", &folders), Ok(()));
        assert_eq!(no_paths(b"", &folders), Ok(()));
    }

    /// An ELF header and sections of these kinds, nothing else in them.
    fn elf(kinds: &[u32]) -> Vec<u8> {
        let mut bytes = vec![0; 64];
        bytes[..6].copy_from_slice(b"\x7fELF\x02\x01");
        bytes[0x28] = 64;
        bytes[0x3a] = 64;
        bytes[0x3c] = kinds.len() as u8;
        for kind in kinds {
            let mut section = [0; 64];
            section[4..8].copy_from_slice(&kind.to_le_bytes());
            bytes.extend(section);
        }
        bytes
    }

    #[test]
    fn a_table_of_symbols_is_seen() {
        let path = Path::new("x.so");
        assert_eq!(stripped(path, &elf(&[0, 1, 11])), Ok(()));
        assert!(stripped(path, &elf(&[0, 11, SYMBOL_TABLE])).is_err());
        assert!(stripped(path, &elf(&[0])[..70]).is_err());
        assert_eq!(stripped(path, b"MZ"), Ok(()));
    }

    #[test]
    #[cfg(target_os = "linux")]
    fn this_very_test_program_is_not_stripped() {
        // Its profile may strip it, which then is the other half of the same check.
        let path = std::env::current_exe().expect("a path");
        let bytes = std::fs::read(&path).expect("readable");
        let output = std::process::Command::new("readelf")
            .arg("-SW")
            .arg(&path)
            .output();
        if let Ok(output) = output {
            let has = String::from_utf8_lossy(&output.stdout).contains(".symtab");
            assert_eq!(stripped(&path, &bytes).is_err(), has);
        }
    }
}
