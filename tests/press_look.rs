//! Whether a run sees at a glance that nothing was touched, and never when
//! something was.

mod press_support;

use press_support::*;
use solefolio::press::{Inputs, InputsStamp, Look, Only, Options, Touched, look};
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// A lab on the disk, and its folio.
struct Lab {
    folder: tempfile::TempDir,
    also: Vec<PathBuf>,
    settings: String,
}

impl Lab {
    fn new() -> Self {
        let lab = Lab {
            folder: in_memory(),
            also: Vec::new(),
            settings: "as-of 2026-11-26".into(),
        };
        lab.write("lab/rules.yaml", "rules");
        lab.write("shoes/road/a.yaml", "a");
        lab.write("shoes/b.yaml", "b");
        lab
    }

    fn root(&self) -> &Path {
        self.folder.path()
    }

    fn out(&self) -> PathBuf {
        self.root().join("out")
    }

    fn write(&self, path: &str, text: &str) {
        let path = self.root().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// Sets a file's time back, so that it isn't racy, and says to when.
    fn age(&self, path: &str) -> SystemTime {
        let when = SystemTime::now() - Duration::from_secs(3600);
        let file = fs::File::options()
            .write(true)
            .open(self.root().join(path))
            .unwrap();
        file.set_modified(when).unwrap();
        when
    }

    fn look(&self) -> Look {
        let inputs = Inputs {
            root: self.root(),
            folders: &["lab", "shoes", "templates"],
            without: &["lab/.typed"],
            also: self.also.clone(),
            settings: self.settings.clone(),
        };
        look(&inputs, &self.out()).unwrap()
    }

    fn stamp(&self) -> InputsStamp {
        match self.look() {
            Look::Changed { stamp, .. } => stamp,
            Look::Unchanged { .. } => panic!("nothing to stamp"),
        }
    }

    fn touched(&self) -> Vec<Touched> {
        match self.look() {
            Look::Changed { why, .. } => why,
            Look::Unchanged { .. } => Vec::new(),
        }
    }

    /// Publishes what the shoes' files say.
    fn publish(&self) {
        let stamp = self.stamp();
        let how = How {
            inputs: Some(stamp),
            ..How::default()
        };
        let world = World::new(3, 1);
        publish_with(&self.out(), &world, &Fake::new(&world), how).unwrap();
    }

    /// A lab that was published and rested since.
    fn rested() -> Self {
        let lab = Lab::new();
        std::thread::sleep(Duration::from_millis(30));
        lab.publish();
        lab
    }
}

#[test]
fn what_no_edition_is_made_from_is_no_input() {
    let lab = Lab::rested();
    lab.write("lab/.typed", "4.1");
    assert_eq!(lab.touched(), []);
    lab.write("lab/typed", "4.1");
    let new = Touched::InputNew {
        path: "lab/typed".to_owned(),
    };
    assert_eq!(lab.touched(), [new]);
}

#[test]
fn a_first_look_finds_no_stamp_and_stamps_the_inputs() {
    let lab = Lab::new();
    assert_eq!(lab.touched(), [Touched::NoStamp]);
    assert_eq!(
        lab.stamp().content("shoes/road/a.yaml"),
        Some(blake3::hash(b"a"))
    );
    assert_eq!(lab.stamp().content("shoes/none.yaml"), None);
}

#[test]
fn nothing_touched_is_seen_and_nothing_is_written() {
    let lab = Lab::rested();
    let stamp = fs::read(lab.out().join(".solefolio/stamp")).unwrap();
    let before = fs::metadata(lab.out().join(".solefolio/stamp")).unwrap();
    let Look::Unchanged { sheets, .. } = lab.look() else {
        panic!("{:?}", lab.touched());
    };
    assert_eq!(sheets, 12);
    assert_eq!(fs::read(lab.out().join(".solefolio/stamp")).unwrap(), stamp);
    let after = fs::metadata(lab.out().join(".solefolio/stamp")).unwrap();
    assert_eq!(before.modified().unwrap(), after.modified().unwrap());
}

#[test]
fn a_stamp_taken_of_files_that_rested_needs_no_look_into_them() {
    let lab = Lab::new();
    std::thread::sleep(Duration::from_millis(30));
    let world = World::new(40, 1);
    let how = How {
        inputs: Some(lab.stamp()),
        ..How::default()
    };
    publish_with(&lab.out(), &world, &Fake::new(&world), how).unwrap();
    let Look::Unchanged { compared, .. } = lab.look() else {
        panic!("{:?}", lab.touched());
    };
    assert_eq!(compared, 0);
}

#[test]
fn a_changed_input_is_named() {
    let lab = Lab::rested();
    lab.write("shoes/b.yaml", "other");
    let path = "shoes/b.yaml".to_owned();
    assert_eq!(lab.touched(), [Touched::InputChanged { path }]);
}

#[test]
fn a_new_input_is_named_and_one_that_is_gone_is_counted() {
    let lab = Lab::rested();
    lab.write("templates/html/review.html", "mine");
    let path = "templates/html/review.html".to_owned();
    assert_eq!(lab.touched(), [Touched::InputNew { path }]);
    fs::remove_file(lab.root().join("shoes/road/a.yaml")).unwrap();
    assert_eq!(lab.touched().len(), 2);
    assert!(lab.touched().contains(&Touched::InputsGone { count: 1 }));
}

#[test]
fn a_renamed_input_is_one_new_and_one_gone() {
    let lab = Lab::rested();
    fs::rename(
        lab.root().join("shoes/b.yaml"),
        lab.root().join("shoes/c.yaml"),
    )
    .unwrap();
    let path = "shoes/c.yaml".to_owned();
    assert_eq!(
        lab.touched(),
        [Touched::InputNew { path }, Touched::InputsGone { count: 1 }]
    );
}

#[test]
fn a_touched_input_with_the_same_content_is_unchanged() {
    let lab = Lab::rested();
    lab.age("shoes/b.yaml");
    lab.write("shoes/road/a.yaml", "a");
    let Look::Unchanged { compared, .. } = lab.look() else {
        panic!("{:?}", lab.touched());
    };
    assert!(compared >= 2);
}

#[test]
fn a_change_that_hides_its_size_and_time_is_seen() {
    let lab = Lab::rested();
    let when = lab.age("shoes/b.yaml");
    // As long as nothing else is known, the aged file is compared by content.
    assert!(lab.touched().is_empty());
    lab.write("lab/rules.yaml", "rules 2");
    lab.publish();
    lab.write("shoes/b.yaml", "B");
    let file = fs::File::options()
        .write(true)
        .open(lab.root().join("shoes/b.yaml"));
    file.unwrap().set_modified(when).unwrap();
    let path = "shoes/b.yaml".to_owned();
    assert_eq!(lab.touched(), [Touched::InputChanged { path }]);
}

#[test]
fn a_change_within_the_clocks_tick_is_seen_every_time() {
    // Inputs written a moment before the look, then changed to the same size: on
    // a coarse clock size and times may well be the same.
    for round in 0..200 {
        let lab = Lab::new();
        lab.write("shoes/b.yaml", "b");
        lab.publish();
        lab.write("shoes/b.yaml", "B");
        let path = "shoes/b.yaml".to_owned();
        assert_eq!(lab.touched(), [Touched::InputChanged { path }], "{round}");
        lab.publish();
        // The same of an output.
        fs::write(lab.out().join("style.css"), "BODY {}").unwrap();
        let path = "style.css".to_owned();
        assert_eq!(lab.touched(), [Touched::OutputAltered { path }], "{round}");
    }
}

#[test]
fn an_input_changed_after_it_was_stamped_is_seen_by_the_next_look() {
    let lab = Lab::new();
    let stamp = lab.stamp();
    lab.write("shoes/b.yaml", "B");
    let world = World::new(3, 1);
    let how = How {
        inputs: Some(stamp),
        ..How::default()
    };
    publish_with(&lab.out(), &world, &Fake::new(&world), how).unwrap();
    let path = "shoes/b.yaml".to_owned();
    assert_eq!(lab.touched(), [Touched::InputChanged { path }]);
}

#[test]
fn an_output_altered_or_gone_is_named() {
    let lab = Lab::rested();
    fs::write(lab.out().join("index.html"), "mine").unwrap();
    fs::remove_file(lab.out().join("style.css")).unwrap();
    assert_eq!(
        lab.touched(),
        [
            Touched::OutputMissing {
                path: "style.css".into()
            },
            Touched::OutputAltered {
                path: "index.html".into()
            }
        ]
    );
}

#[test]
fn other_settings_and_another_program_are_changes() {
    let mut lab = Lab::new();
    let program = lab.root().join("program");
    fs::write(&program, "one").unwrap();
    lab.also.push(program.clone());
    lab.publish();
    assert!(lab.touched().is_empty());
    fs::write(&program, "two").unwrap();
    let path = program.display().to_string();
    assert_eq!(lab.touched(), [Touched::InputChanged { path }]);
    fs::write(&program, "one").unwrap();
    lab.settings = "as-of 2026-11-27".into();
    insta::assert_snapshot!(lab.touched()[0], @"settings: `as-of 2026-11-26` → `as-of 2026-11-27`");
}

#[test]
fn what_a_part_of_the_folio_or_a_failed_print_leaves_is_to_be_done() {
    let lab = Lab::rested();
    let mut world = World::new(3, 1);
    lab.write("shoes/b.yaml", "B");
    let options = Options {
        only: Some(Only::new("shoe-1")),
        ..Options::default()
    };
    let how = How {
        inputs: Some(lab.stamp()),
        options,
        ..How::default()
    };
    publish_with(&lab.out(), &world, &Fake::new(&world), how).unwrap();
    insta::assert_snapshot!(lab.touched()[0], @"the last run left something to do: only a part of the folio was asked for");
    world.failing.insert("shoe-1".into());
    world.phrase = "soft".into();
    let how = How {
        inputs: Some(lab.stamp()),
        ..How::default()
    };
    publish_with(&lab.out(), &world, &Fake::new(&world), how).unwrap();
    insta::assert_snapshot!(lab.touched()[0], @"the last run left something to do: 1 prints could not be set");
}

#[test]
fn a_damaged_stamp_or_record_is_a_change_and_no_error() {
    let lab = Lab::rested();
    let stamp = lab.out().join(".solefolio/stamp");
    let whole = fs::read(&stamp).unwrap();
    for cut in [0, 10, whole.len() / 2, whole.len() - 1] {
        fs::write(&stamp, &whole[..cut]).unwrap();
        assert!(
            matches!(lab.touched()[..], [Touched::StampUnreadable { .. }]),
            "{cut}"
        );
    }
    fs::write(&stamp, &whole).unwrap();
    assert!(lab.touched().is_empty());
    fs::write(lab.out().join(".solefolio/record"), "").unwrap();
    assert_eq!(lab.touched(), [Touched::RecordChanged]);
}

#[test]
fn an_interrupted_commit_is_a_change() {
    let lab = Lab::rested();
    fs::write(lab.out().join(".solefolio/journal"), "").unwrap();
    assert_eq!(lab.touched(), [Touched::Interrupted]);
    lab.publish();
    assert!(lab.touched().is_empty());
}

#[test]
fn a_link_to_a_folder_among_the_inputs_is_never_taken_for_unchanged() {
    let lab = Lab::new();
    std::os::unix::fs::symlink(lab.root().join("lab"), lab.root().join("shoes/more")).unwrap();
    lab.publish();
    let path = "shoes/more".to_owned();
    assert_eq!(lab.touched(), [Touched::InputLink { path }]);
}

#[test]
fn the_stamp_names_no_input() {
    let lab = Lab::new();
    lab.write("shoes/held-back-newcomer.yaml", "secret");
    lab.publish();
    for file in ["stamp", "record"] {
        let bytes = fs::read(lab.out().join(".solefolio").join(file)).unwrap();
        let text = String::from_utf8_lossy(&bytes);
        assert!(!text.contains("newcomer"), "{file}");
    }
}

#[test]
fn many_files_compared_by_content_earn_a_new_stamp() {
    let lab = Lab::new();
    for at in 0..150 {
        lab.write(&format!("shoes/{at}.yaml"), "text");
    }
    std::thread::sleep(Duration::from_millis(30));
    lab.publish();
    for at in 0..150 {
        lab.age(&format!("shoes/{at}.yaml"));
    }
    std::thread::sleep(Duration::from_millis(30));
    let compared = || match lab.look() {
        Look::Unchanged { compared, .. } => compared,
        Look::Changed { why, .. } => panic!("{why:?}"),
    };
    assert!(compared() >= 150);
    assert_eq!(compared(), 0);
}
