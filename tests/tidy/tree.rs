//! The files of the repository, without what git and cargo keep beside them.

use std::{
    fs,
    path::{Path, PathBuf},
};

/// What a clone doesn't have.
const NOT_OURS: [&str; 2] = [".git", "target"];

pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the package lies in the repository")
}

/// The names at the top of the repository.
pub fn top_level() -> Vec<String> {
    let mut names: Vec<String> = entries(root())
        .iter()
        .filter_map(|path| path.file_name()?.to_str().map(str::to_owned))
        .filter(|name| !NOT_OURS.contains(&name.as_str()))
        .collect();
    names.sort();
    names
}

/// Every file, relative to the root.
pub fn files() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open: Vec<PathBuf> = top_level().iter().map(|name| root().join(name)).collect();
    while let Some(path) = open.pop() {
        if path.is_dir() {
            open.extend(entries(&path).into_iter().filter(|path| !path.ends_with("target")));
        } else if let Ok(relative) = path.strip_prefix(root()) {
            found.push(relative.to_path_buf());
        }
    }
    found.sort();
    found
}

/// A file's text; nothing if it isn't text.
pub fn text(relative: &Path) -> Option<String> {
    String::from_utf8(fs::read(root().join(relative)).expect("a file that was listed can be read")).ok()
}

fn entries(dir: &Path) -> Vec<PathBuf> {
    fs::read_dir(dir)
        .expect("a directory of the repository can be listed")
        .map(|entry| entry.expect("an entry of the repository can be read").path())
        .collect()
}
