//! Whether two trees hold the same bytes.

use std::path::{Path, PathBuf};

use super::place;

/// Compares every file; the error names the first that differs or is in one tree only. Answers how
/// many files there are.
pub fn trees(one: &Path, two: &Path) -> Result<usize, String> {
    let (ours, theirs) = (relative(one)?, relative(two)?);
    for (one, two, word) in [(&ours, &theirs, "first"), (&theirs, &ours, "second")] {
        if let Some(path) = one.iter().find(|path| !two.contains(path)) {
            return Err(format!("{} is in the {word} build only", path.display()));
        }
    }
    for path in &ours {
        let read = |tree: &Path| {
            std::fs::read(tree.join(path))
                .map_err(|error| format!("{} cannot be read: {error}", path.display()))
        };
        if let Some(told) = differ(&read(one)?, &read(two)?) {
            return Err(format!("{} differs: {told}", path.display()));
        }
    }
    Ok(ours.len())
}

fn relative(tree: &Path) -> Result<Vec<PathBuf>, String> {
    let files = place::files(tree)?.into_iter();
    Ok(files
        .map(|path| path.strip_prefix(tree).map_or(path.clone(), Path::to_owned))
        .collect())
}

/// Where two files differ first; None when they do not.
fn differ(one: &[u8], two: &[u8]) -> Option<String> {
    if one.len() != two.len() {
        return Some(format!("{} against {} bytes", one.len(), two.len()));
    }
    let count = one.iter().zip(two).filter(|(a, b)| a != b).count();
    let first = one.iter().zip(two).position(|(a, b)| a != b)?;
    Some(format!("{count} bytes, the first at {first:#x}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bundle::temp::Temp;

    #[test]
    fn the_first_difference_is_named() {
        let temp = Temp::new("compare");
        let (one, two) = (temp.folder().join("one"), temp.folder().join("two"));
        let put = |tree: &Path, path: &str, content: &str| {
            let path = tree.join(path);
            std::fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
            std::fs::write(path, content).expect("a file");
        };
        for tree in [&one, &two] {
            put(tree, "a/b", "same");
            put(tree, "c", "same");
        }
        assert_eq!(trees(&one, &two), Ok(2));
        put(&two, "c", "sane");
        assert_eq!(
            trees(&one, &two),
            Err("c differs: 1 bytes, the first at 0x2".into())
        );
        put(&two, "a/b", "longer");
        assert_eq!(
            trees(&one, &two),
            Err("a/b differs: 4 against 6 bytes".into())
        );
        put(&two, "a/only", "");
        assert_eq!(
            trees(&one, &two),
            Err("a/only is in the second build only".into())
        );
        assert_eq!(
            trees(&two, &one),
            Err("a/only is in the first build only".into())
        );
    }
}
