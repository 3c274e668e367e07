//! What a person prefers on this machine, in a small file of their own. A convenience: whatever goes wrong here is passed
//! over in silence and loses the preference at worst.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::recovery::state_folder;
use super::whole_file::write_whole;

/// Longest file that is read, bytes: it holds some words.
const LARGEST: u64 = 4096;

/// What is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Preferences {
    /// Dark colours, or light ones; none follows the system.
    pub dark: Option<bool>,
    /// The start card does not come up by itself any more.
    pub without_start_card: bool,
    /// Width and height of the window when it was closed, points.
    pub window: Option<[u32; 2]>,
    /// The window filled its desktop when it was closed.
    pub maximized: bool,
}

/// What was kept last.
pub fn preferences() -> Preferences {
    file().map(|file| read(&file)).unwrap_or_default()
}

/// Changes what is kept for the next start.
pub fn prefer(change: impl FnOnce(&mut Preferences)) {
    if let Some(file) = file() {
        let mut preferences = read(&file);
        change(&mut preferences);
        write(&file, preferences);
    }
}

fn write(file: &Path, preferences: Preferences) {
    if let Some(folder) = file.parent()
        && fs::create_dir_all(folder).is_ok()
        && let Ok(text) = ron::ser::to_string_pretty(&preferences, ron::ser::PrettyConfig::new())
    {
        let _ = write_whole(file, text.as_bytes());
    }
}

fn read(file: &Path) -> Preferences {
    if !fs::metadata(file).is_ok_and(|found| found.is_file() && found.len() <= LARGEST) {
        return Preferences::default();
    }
    fs::read_to_string(file).ok().and_then(|text| ron::from_str(&text).ok()).unwrap_or_default()
}

/// Where they are kept, if the system says where such things go.
fn file() -> Option<PathBuf> {
    Some(state_folder()?.join("preferences.ron"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_kept_comes_back_and_a_damaged_file_is_no_preference() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("state").join("preferences.ron");
        assert_eq!(read(&file), Preferences::default());
        for dark in [Some(true), Some(false), None] {
            let all =
                Preferences { dark, without_start_card: true, window: Some([1600, 900]), maximized: true };
            write(&file, all);
            assert_eq!(read(&file), all);
        }
        // One that was written before there was a start card.
        fs::write(&file, "(dark: Some(true))").unwrap();
        assert_eq!(read(&file), Preferences { dark: Some(true), ..Preferences::default() });
        fs::write(&file, "(dark: perhaps)").unwrap();
        assert_eq!(read(&file), Preferences::default());
    }
}
