//! Copies of folders for tests to change.

use std::fs;
use std::path::Path;

/// Copies a folder with what is below it, as far as its files are wanted.
pub fn copy(from: &Path, to: &Path, wanted: &dyn Fn(&Path) -> bool) {
    fs::create_dir_all(to).expect("a folder can be made");
    for entry in fs::read_dir(from).expect("a folder can be listed") {
        let path = entry.expect("an entry").path();
        let target = to.join(path.file_name().expect("a name"));
        if path.is_dir() {
            copy(&path, &target, wanted);
        } else if wanted(&path) {
            fs::copy(&path, &target).expect("a file can be copied");
        }
    }
}
