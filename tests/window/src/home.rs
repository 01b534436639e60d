//! Folders of this process's own in place of the user's: whatever is clicked at random, neither their
//! settings nor their home is touched.

use std::env;
use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use penstock::folder::OVERRIDE;

static FOLDER: OnceLock<PathBuf> = OnceLock::new();

/// Makes them, with the rig that is remembered in `tests/data/settings`, and tells the plugin; they are
/// gone when the process ends.
pub fn use_own_folders() {
    FOLDER.get_or_init(|| {
        let name = format!("penstock-window-{}", std::process::id());
        let folder = env::temp_dir().join(name);
        let settings = folder.join("settings");
        fs::create_dir_all(&settings).expect("the folder for temporary files can be written");
        let known = concat!(env!("CARGO_MANIFEST_DIR"), "/../data/settings/rig.toml");
        fs::copy(known, settings.join("rig.toml")).expect("the tests' own settings");
        // SAFETY: the first thing that any test here does; no other thread changes the environment.
        unsafe {
            env::set_var(OVERRIDE, settings);
            env::set_var("HOME", &folder);
        }
        // SAFETY: the function has C's interface and does not unwind.
        unsafe { libc::atexit(remove) };
        folder
    });
}

extern "C" fn remove() {
    if let Some(folder) = FOLDER.get() {
        let _ = fs::remove_dir_all(folder);
    }
}
