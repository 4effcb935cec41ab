//! A full disk and files that may not be touched: a clear error, `out/` as it was.

mod press_support;
#[path = "common/tools.rs"]
mod tools;

use press_support::*;
use solefolio::press::Stopped;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use tools::left_out;

/// Whether the test runs as root.
fn is_root(what: &str) -> bool {
    let root = rustix::process::geteuid().is_root();
    if !root {
        left_out(&format!("only root may {what}"));
    }
    root
}

/// A small file system in memory, unmounted at the end.
struct Small(PathBuf);

impl Small {
    fn mount(at: &Path, kilobytes: usize) -> Option<Self> {
        fs::create_dir_all(at).unwrap();
        let options = format!("size={kilobytes}k");
        let done = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &options, "tmpfs"])
            .arg(at)
            .status();
        if done.is_ok_and(|status| status.success()) {
            return Some(Small(at.to_owned()));
        }
        left_out("a small file system can't be mounted here");
        None
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let done = Command::new("umount").arg(&self.0).status();
        if !done.is_ok_and(|status| status.success()) {
            eprintln!("{} stays mounted", self.0.display());
        }
    }
}

fn trouble(stopped: Result<solefolio::press::Report, Stopped>) -> String {
    match stopped {
        Err(Stopped::Trouble(trouble)) => trouble.to_string(),
        other => panic!("expected trouble, got {other:?}"),
    }
}

#[test]
fn a_full_disk_leaves_the_folio_as_it_was() {
    if !is_root("mount a small file system") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let Some(small) = Small::mount(&folder.path().join("small"), 1024) else {
        return;
    };
    let out = small.0.join("out");
    let mut world = World::new(10, 1);
    world.padding = 8_000;
    put(&out, &world).unwrap();
    let before = files_of(&out);
    // Both editions together don't fit.
    world.padding = 40_000;
    let said = trouble(put(&out, &world));
    assert!(
        said.contains("No space left") && said.ends_with("free some space and publish again"),
        "{said}"
    );
    assert_eq!(files_of(&out), before);
    assert!(
        !out.join(".solefolio/staging").exists(),
        "what was staged is dropped"
    );
    // With less to write it fits again.
    world.padding = 2_000;
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn a_disk_with_any_room_left_holds_one_whole_edition() {
    if !is_root("mount a small file system") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut old = World::new(6, 1);
    old.padding = 3_000;
    let mut new = World::new(9, 2);
    new.padding = 5_000;
    new.shoes.remove("shoe-0");
    let mut outcomes = [0, 0];
    for kilobytes in (160..400).step_by(4) {
        let Some(small) = Small::mount(&folder.path().join("small"), kilobytes) else {
            return;
        };
        let out = small.0.join("out");
        if put(&out, &old).is_err() {
            continue;
        }
        let before = files_of(&out);
        match put(&out, &new) {
            Ok(_) => {
                assert_holds(&out, &new);
                outcomes[0] += 1;
            }
            Err(_) => {
                assert_eq!(files_of(&out), before, "{kilobytes} KiB");
                outcomes[1] += 1;
            }
        }
    }
    assert!(outcomes[0] > 3 && outcomes[1] > 3, "{outcomes:?}");
}

#[test]
fn a_folio_that_may_not_be_written_is_told_and_left() {
    if rustix::process::geteuid().is_root() {
        // A file that not even root may touch stands in below.
        return eprintln!("left out: root may write anywhere");
    }
    let folder = in_memory();
    let out = folder.path().join("out");
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    let before = files_of(&out);
    let shoe = out.join("shoes/shoe-1");
    fs::set_permissions(&shoe, fs::Permissions::from_mode(0o555)).unwrap();
    world.phrase = "soft".into();
    let said = trouble(put(&out, &world));
    assert!(said.contains("give yourself the right"), "{said}");
    assert_eq!(files_of(&out), before);
    fs::set_permissions(&shoe, fs::Permissions::from_mode(0o755)).unwrap();
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn a_file_that_may_not_be_touched_is_told_and_everything_is_taken_back() {
    if !is_root("make a file immutable") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("out");
    let mut world = World::new(5, 1);
    put(&out, &world).unwrap();
    let before = files_of(&out);
    let page = out.join("shoes/shoe-3/index.html");
    let immutable = |how: &str| Command::new("chattr").arg(how).arg(&page).status();
    if !immutable("+i").is_ok_and(|status| status.success()) {
        return left_out("this file system has no immutable files");
    }
    world.phrase = "soft".into();
    world.shoes.insert("newcomer".into(), "new".into());
    world.shoes.remove("shoe-0");
    let stopped = put(&out, &world);
    let found = files_of(&out);
    assert!(immutable("-i").is_ok_and(|status| status.success()));
    let said = trouble(stopped);
    assert!(said.contains("shoe-3/index.html"), "{said}");
    assert!(
        said.ends_with("give yourself the right to write there and publish again"),
        "{said}"
    );
    assert_eq!(found, before);
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}
