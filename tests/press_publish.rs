//! What a publish makes, leaves, removes and refuses.

mod press_support;

use press_support::*;
use solefolio::press::{Interrupt, Obstacle, Only, Options, Outcome, Progress, Stopped};
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

fn out() -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = in_memory();
    let out = folder.path().join("out");
    (folder, out)
}

fn obstacle(stopped: Result<solefolio::press::Report, Stopped>) -> (String, Obstacle) {
    match stopped {
        Err(Stopped::InTheWay(all)) => {
            let one = all.first().expect("one");
            let path = one.path.file_name().expect("a name");
            (path.to_string_lossy().into_owned(), one.what)
        }
        other => panic!("expected something in the way, got {other:?}"),
    }
}

#[test]
fn a_first_publish_makes_every_sheet() {
    let (_folder, out) = out();
    let world = World::new(3, 1);
    let report = put(&out, &world).unwrap();
    assert_holds(&out, &world);
    assert_eq!((report.made, report.unchanged, report.removed), (12, 0, 0));
    assert_eq!(report.prints.made, 3);
}

#[test]
fn a_second_publish_renders_and_writes_nothing() {
    let (_folder, out) = out();
    let world = World::new(3, 1);
    put(&out, &world).unwrap();
    let before = fs::metadata(out.join(".solefolio/record")).unwrap();
    let fake = Fake::new(&world);
    let report = publish_with(&out, &world, &fake, How::default()).unwrap();
    assert_eq!((report.made, report.same, report.unchanged), (0, 0, 12));
    assert_eq!(report.prints.kept, 3);
    assert_eq!(fake.pages.load(Ordering::SeqCst), 0);
    assert_eq!(fake.prints.load(Ordering::SeqCst), 0);
    let after = fs::metadata(out.join(".solefolio/record")).unwrap();
    assert_eq!(before.ino(), after.ino());
}

#[test]
fn one_changed_shoe_is_made_again_alone() {
    let (_folder, out) = out();
    let mut world = World::new(3, 1);
    put(&out, &world).unwrap();
    world.shoes.insert("shoe-1".into(), "another text".into());
    let report = put_why(&out, &world);
    assert_holds(&out, &world);
    assert_eq!(report.made, 4);
    let told = told(&report);
    insta::assert_snapshot!(told.join("\n"), @r#"
    made shoes/shoe-1/data.json: its content changed (7d4d8f6f → 37b543eb)
      line 1: `{"shoe":"shoe-1","text":"text 1 of 1","phrase":"firm","padding":""}` → `{"shoe":"shoe-1","text":"another text","phrase":"firm","padding":""}`
    made shoes/shoe-1/index.html: `text` changed
      line 4: `"text": "text 1 of 1",` → `"text": "another text",`
    made shoes/shoe-1/review.pdf: `text` changed
      line 4: `"text": "text 1 of 1",` → `"text": "another text",`
    "#);
}

#[test]
fn a_changed_template_makes_its_own_sheets_again() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    world.templates.insert("review.html", "template two".into());
    let report = put_why(&out, &world);
    assert_holds(&out, &world);
    assert_eq!(report.made, 3);
    insta::assert_snapshot!(told(&report)[0], @r"
    made shoes/shoe-0/index.html: the template `review.html` or something it uses changed (7831769f → ca4c139f)
      line 1: `template review.html` → `template two`
    ");
}

#[test]
fn a_page_that_comes_out_the_same_is_not_written() {
    let (_folder, out) = out();
    let world = World::new(2, 1);
    put(&out, &world).unwrap();
    let page = out.join("index.html");
    let before = fs::metadata(&page).unwrap();
    let fake = Fake::new(&world);
    let how = How {
        program: Some("program 2"),
        ..How::default()
    };
    let report = publish_with(&out, &world, &fake, how).unwrap();
    assert_eq!((report.made, report.same), (0, 5));
    assert_eq!(fake.pages.load(Ordering::SeqCst), 3);
    let after = fs::metadata(&page).unwrap();
    assert_eq!(
        (before.ino(), before.ctime_nsec()),
        (after.ino(), after.ctime_nsec())
    );
    // And it is known from then on.
    let how = How {
        program: Some("program 2"),
        ..How::default()
    };
    assert_eq!(publish_with(&out, &world, &fake, how).unwrap().same, 0);
}

#[test]
fn another_typesetter_sets_the_prints_again_and_nothing_else() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    world.typesetter = "setter 2".into();
    let report = put_why(&out, &world);
    assert_eq!(report.made, 3);
    insta::assert_snapshot!(told(&report)[0].lines().next().unwrap(), @"made shoes/shoe-0/review.pdf: it was set by setter 1, and this is setter 2");
}

#[test]
fn fresh_makes_all_again_and_writes_only_what_differs() {
    let (_folder, out) = out();
    let world = World::new(2, 1);
    put(&out, &world).unwrap();
    let options = Options {
        fresh: true,
        ..Options::default()
    };
    let fake = Fake::new(&world);
    let how = How {
        options,
        ..How::default()
    };
    let report = publish_with(&out, &world, &fake, how).unwrap();
    assert_eq!((report.made, report.same, report.unchanged), (0, 9, 0));
    assert_eq!(fake.prints.load(Ordering::SeqCst), 2);
}

#[test]
fn what_the_edition_does_not_hold_goes_with_its_folder() {
    let (_folder, out) = out();
    let mut world = World::new(3, 1);
    put(&out, &world).unwrap();
    world.shoes.remove("shoe-1");
    let report = put_why(&out, &world);
    assert_eq!(report.removed, 3);
    assert_holds(&out, &world);
    let removed = report
        .why
        .iter()
        .find(|why| why.outcome == Outcome::Removed);
    insta::assert_snapshot!(removed.unwrap(), @"removed shoes/shoe-1/data.json: the edition doesn't hold it any more");
    world.shoes.clear();
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn a_foreign_file_stays_and_is_named_and_keeps_its_folder() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::write(out.join("mine.txt"), "mine").unwrap();
    fs::write(out.join("shoes/shoe-1/mine.txt"), "mine").unwrap();
    fs::write(out.join(".htaccess"), "mine").unwrap();
    world.shoes.remove("shoe-1");
    let report = put(&out, &world).unwrap();
    assert_eq!(report.foreign, ["mine.txt", "shoes/shoe-1/mine.txt"]);
    assert_eq!(
        fs::read(out.join("shoes/shoe-1/mine.txt")).unwrap(),
        b"mine"
    );
    assert!(!out.join("shoes/shoe-1/index.html").exists());
    insta::assert_snapshot!(report.to_string().lines().nth(1).unwrap(), @"left alone, because publish did not write them: mine.txt, shoes/shoe-1/mine.txt");
}

#[test]
fn a_foreign_file_where_a_sheet_goes_is_refused_and_nothing_is_written() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::create_dir(out.join("shoes/newcomer")).unwrap();
    fs::write(out.join("shoes/newcomer/index.html"), "mine").unwrap();
    let before = files_of(&out);
    world.shoes.insert("newcomer".into(), "new".into());
    world.phrase = "soft".into();
    let refused = obstacle(put(&out, &world));
    assert_eq!(refused, ("index.html".into(), Obstacle::ForeignFile));
    assert_eq!(files_of(&out), before);
}

#[test]
fn a_foreign_file_that_is_the_same_is_taken_over() {
    let (_folder, out) = out();
    let world = World::new(1, 1);
    fs::create_dir_all(&out).unwrap();
    fs::write(out.join("style.css"), "body {}").unwrap();
    let report = put(&out, &world).unwrap();
    assert_eq!(report.same, 1);
    assert_holds(&out, &world);
}

#[test]
fn a_folder_where_a_file_goes_is_refused_and_nothing_is_written() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::remove_file(out.join("index.html")).unwrap();
    fs::create_dir(out.join("index.html")).unwrap();
    let before = files_of(&out);
    world.shoes.insert("shoe-7".into(), "new".into());
    let refused = obstacle(put(&out, &world));
    assert_eq!(refused, ("index.html".into(), Obstacle::Folder));
    assert_eq!(files_of(&out), before);
}

#[test]
fn a_file_where_a_folder_goes_is_refused_and_nothing_is_written() {
    let (_folder, out) = out();
    fs::create_dir_all(&out).unwrap();
    fs::write(out.join("shoes"), "mine").unwrap();
    let refused = obstacle(put(&out, &World::new(1, 1)));
    assert_eq!(refused, ("shoes".into(), Obstacle::FileForFolder));
    assert_eq!(files_of(&out).len(), 1);
}

#[test]
fn no_link_is_followed_out_of_the_folio() {
    let (folder, out) = out();
    let elsewhere = folder.path().join("elsewhere");
    fs::create_dir_all(elsewhere.join("shoe-0")).unwrap();
    fs::write(elsewhere.join("style.css"), "theirs").unwrap();
    let before = files_of(&elsewhere);
    fs::create_dir(&out).unwrap();
    symlink(&elsewhere, out.join("shoes")).unwrap();
    let refused = obstacle(put(&out, &World::new(1, 1)));
    assert_eq!(refused, ("shoes".into(), Obstacle::Link));
    fs::remove_file(out.join("shoes")).unwrap();
    symlink(elsewhere.join("style.css"), out.join("style.css")).unwrap();
    let refused = obstacle(put(&out, &World::new(1, 1)));
    assert_eq!(refused, ("style.css".into(), Obstacle::Link));
    fs::remove_file(out.join("style.css")).unwrap();
    assert_eq!(files_of(&elsewhere), before);
}

#[test]
fn a_removal_does_not_reach_through_a_link() {
    let (folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    let elsewhere = folder.path().join("elsewhere");
    fs::rename(out.join("shoes"), &elsewhere).unwrap();
    symlink(&elsewhere, out.join("shoes")).unwrap();
    let before = files_of(&elsewhere);
    world.shoes.remove("shoe-1");
    let refused = obstacle(put(&out, &world));
    assert_eq!(refused, ("shoes".into(), Obstacle::Link));
    assert_eq!(files_of(&elsewhere), before);
}

#[test]
fn the_hidden_folder_may_not_be_a_link() {
    let (folder, out) = out();
    let elsewhere = folder.path().join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    fs::create_dir(&out).unwrap();
    symlink(&elsewhere, out.join(".solefolio")).unwrap();
    let stopped = put(&out, &World::new(1, 1)).unwrap_err().to_string();
    assert!(stopped.contains("replace the symbolic link"), "{stopped}");
    assert!(files_of(&elsewhere).is_empty());
}

#[test]
fn the_folio_itself_may_be_a_link() {
    let (folder, out) = out();
    let elsewhere = folder.path().join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    symlink(&elsewhere, &out).unwrap();
    let world = World::new(1, 1);
    put(&out, &world).unwrap();
    assert_holds(&elsewhere, &world);
}

#[test]
fn a_missing_file_is_made_again() {
    let (_folder, out) = out();
    let world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::remove_file(out.join("shoes/shoe-0/index.html")).unwrap();
    fs::remove_dir_all(out.join("shoes/shoe-1")).unwrap();
    let report = put_why(&out, &world);
    assert_holds(&out, &world);
    assert_eq!(report.made, 4);
    insta::assert_snapshot!(told(&report)[0], @"made shoes/shoe-0/index.html: its file was gone");
}

#[test]
fn an_altered_file_is_made_again_while_the_edition_holds_it() {
    let (_folder, out) = out();
    let world = World::new(1, 1);
    put(&out, &world).unwrap();
    fs::write(out.join("index.html"), "somebody's").unwrap();
    fs::write(out.join("style.css"), "somebody's").unwrap();
    let report = put_why(&out, &world);
    assert_holds(&out, &world);
    let told = told(&report);
    assert_eq!(told.len(), 2);
    assert!(
        told[0].contains("made index.html: its file was changed by somebody else"),
        "{told:?}"
    );
}

#[test]
fn an_altered_file_that_the_edition_does_not_hold_is_left_to_whoever_altered_it() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::write(out.join("shoes/shoe-1/index.html"), "somebody's").unwrap();
    world.shoes.remove("shoe-1");
    let report = put(&out, &world).unwrap();
    assert_eq!(report.removed, 2);
    assert_eq!(report.foreign, ["shoes/shoe-1/index.html"]);
}

#[test]
fn a_damaged_record_is_no_error_and_hides_nothing() {
    for damage in ["cut", "flip", "gone"] {
        let (folder, out) = out();
        let mut world = World::new(2, 1);
        let root = folder.path();
        let inputs = solefolio::press::Inputs {
            root,
            folders: &[],
            without: &[],
            also: Vec::new(),
            settings: String::new(),
        };
        let solefolio::press::Look::Changed { stamp, .. } =
            solefolio::press::look(&inputs, &out).unwrap()
        else {
            panic!("nothing there yet");
        };
        let how = How {
            inputs: Some(stamp),
            ..How::default()
        };
        publish_with(&out, &world, &Fake::new(&world), how).unwrap();
        let record = out.join(".solefolio/record");
        let mut bytes = fs::read(&record).unwrap();
        match damage {
            "cut" => bytes.truncate(bytes.len() / 2),
            _ => bytes[40] ^= 1,
        }
        fs::write(&record, bytes).unwrap();
        if damage == "gone" {
            fs::remove_file(&record).unwrap();
        }
        // The stamp still knows which files are the press's own, so those that
        // differ may be written over, and those not planned removed.
        world.phrase = "soft".into();
        world.shoes.remove("shoe-1");
        let report = put_why(&out, &world);
        assert_holds(&out, &world);
        assert_eq!(report.removed, 3);
        let told = told(&report);
        assert!(told[0].contains("can't be used"), "{damage}: {told:?}");
        assert_eq!(put(&out, &world).unwrap().unchanged, 6, "{damage}");
    }
}

#[test]
fn without_anything_known_same_files_are_taken_over_and_others_refused() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    fs::remove_dir_all(out.join(".solefolio")).unwrap();
    let report = put(&out, &world).unwrap();
    assert_eq!((report.made, report.same), (0, 9));
    fs::remove_dir_all(out.join(".solefolio")).unwrap();
    world.style = "main {}".into();
    let refused = obstacle(put(&out, &world));
    assert_eq!(refused, ("style.css".into(), Obstacle::ForeignFile));
}

#[test]
fn only_makes_what_is_asked_for_and_removes_nothing() {
    let (_folder, out) = out();
    let mut world = World::new(3, 1);
    put(&out, &world).unwrap();
    let before = only_files(&out);
    world.phrase = "soft".into();
    world.shoes.remove("shoe-0");
    let options = Options {
        only: Some(Only::new("shoe-1")),
        ..Options::default()
    };
    let how = How {
        options,
        ..How::default()
    };
    let report = publish_with(&out, &world, &Fake::new(&world), how).unwrap();
    assert_eq!((report.made, report.removed, report.left), (4, 0, 5));
    let after = only_files(&out);
    for (path, bytes) in &before {
        let is_same = after[path] == *bytes;
        let follows = path.contains("shoe-1") || path == "SHA256SUMS";
        assert_eq!(is_same, !follows, "{path}");
    }
    // The whole afterwards is the whole.
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn a_failed_print_names_its_shoe_and_spoils_no_other() {
    let (_folder, out) = out();
    let mut world = World::new(5, 1);
    world.failing.insert("shoe-2".into());
    let report = put(&out, &world).unwrap();
    assert_eq!(report.prints.made, 4);
    assert!(!report.is_whole());
    let failed = &report.prints.failed[0];
    assert_eq!((failed.of.as_str(), failed.kept_old), ("shoe-2", false));
    assert_eq!(
        failed.message,
        "error: shoes/shoe-2/review.pdf can't be set"
    );
    assert!(!out.join("shoes/shoe-2/review.pdf").exists());
    // Mended, it is made by the next run.
    world.failing.clear();
    assert_eq!(put(&out, &world).unwrap().made, 2);
    assert_holds(&out, &world);
}

#[test]
fn a_failed_print_keeps_the_old_one_and_is_tried_again() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    let old = fs::read(out.join("shoes/shoe-1/review.pdf")).unwrap();
    world.phrase = "soft".into();
    world.failing.insert("shoe-1".into());
    let report = put(&out, &world).unwrap();
    assert!(report.prints.failed[0].kept_old);
    assert_eq!(fs::read(out.join("shoes/shoe-1/review.pdf")).unwrap(), old);
    assert_eq!(put(&out, &world).unwrap().prints.failed.len(), 1);
    world.failing.clear();
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn prints_that_cannot_be_planned_stay_if_the_caller_says_so() {
    let (_folder, out) = out();
    let mut world = World::new(2, 1);
    put(&out, &world).unwrap();
    world.prints = false;
    let how = How {
        keep: vec!["shoes/shoe-0/review.pdf"],
        ..How::default()
    };
    let report = publish_with(&out, &world, &Fake::new(&world), how).unwrap();
    assert_eq!(report.removed, 1);
    assert!(out.join("shoes/shoe-0/review.pdf").exists());
    let standing = solefolio::press::standing(&out).unwrap();
    assert!(
        standing
            .iter()
            .any(|path| path.as_str() == "shoes/shoe-0/review.pdf")
    );
    // It is still the press's own.
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn a_problem_in_a_template_is_told_once_and_nothing_is_written() {
    let (_folder, out) = out();
    let mut world = World::new(3, 1);
    put(&out, &world).unwrap();
    let before = files_of(&out);
    world.templates.insert("review.html", "BROKEN".into());
    world.style = "main {}".into();
    let Err(Stopped::Problems(problems)) = put(&out, &world) else {
        panic!("expected problems");
    };
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].file, "templates/html/review.html");
    assert_eq!(files_of(&out), before);
    assert!(!out.join(".solefolio/staging").exists());
}

#[test]
fn an_interrupt_leaves_the_folio_as_it_was() {
    let (_folder, out) = out();
    let mut world = World::new(50, 1);
    put(&out, &world).unwrap();
    let before = files_of(&out);
    world.phrase = "soft".into();
    let interrupt = Interrupt::default();
    let mut fake = Fake::new(&world);
    fake.interrupt_after = Some((10, interrupt.clone()));
    let how = How {
        interrupt,
        ..How::default()
    };
    let stopped = publish_with(&out, &world, &fake, how);
    assert!(matches!(stopped, Err(Stopped::Interrupted)));
    assert!(fake.pages.load(Ordering::SeqCst) < 51);
    assert_eq!(files_of(&out), before);
    put(&out, &world).unwrap();
    assert_holds(&out, &world);
}

#[test]
fn files_are_readable_by_all_less_the_umask() {
    let (_folder, out) = out();
    put(&out, &World::new(1, 1)).unwrap();
    // The umask is the process's; what a plain file gets tells it.
    fs::write(out.join("plain"), "").unwrap();
    let mode = |path: &str| fs::metadata(out.join(path)).unwrap().permissions().mode() & 0o777;
    let umask = 0o666 & !mode("plain");
    assert_eq!(mode("shoes/shoe-0/index.html"), 0o644 & !umask);
    assert_eq!(mode("shoes/shoe-0"), 0o755 & !umask);
}

#[test]
fn two_sheets_that_want_one_place_are_refused() {
    use solefolio::outputs::{FolioPath, Make, Sheet, Subject};
    let (_folder, out) = out();
    let world = World::new(0, 1);
    let fake = Fake::new(&world);
    let sheet = |path: &str, output| Sheet {
        path: FolioPath::new(path).unwrap(),
        output,
        subject: Subject::Folio,
        make: Make::Bytes(Box::new(Vec::new)),
    };
    let job = solefolio::press::Job {
        out: &out,
        sheets: vec![sheet("a", "one"), sheet("a", "two"), sheet("a/b", "three")],
        renderer: &fake,
        program: "program".into(),
        inputs: None,
        keep: Vec::new(),
        missing_prints: 0,
        held_back: 0,
        options: Options::default(),
        progress: &solefolio::press::Silent,
        interrupt: Interrupt::default(),
    };
    let stopped = solefolio::press::publish(&job).unwrap_err().to_string();
    insta::assert_snapshot!(stopped, @r"
    nothing was published, because of 2 problems
    out: the outputs `one` and `two` both make a
    out: the output `three` makes a/b inside of a, which the output `two` makes as a file
    ");
    assert!(!out.exists());
}

/// Keeps what is said.
#[derive(Default)]
struct Heard(Mutex<Vec<String>>);

impl Progress for Heard {
    fn begin(&self, _: solefolio::press::Phase, _: u64) {}
    fn advance(&self, _: solefolio::press::Phase, _: u64) {}
    fn end(&self, _: solefolio::press::Phase) {}
    fn say(&self, message: &str) {
        self.0.lock().unwrap().push(message.to_owned());
    }
}

#[test]
fn a_second_publish_waits_for_the_first_and_says_so() {
    let (_folder, out) = out();
    let world = World::new(2, 1);
    put(&out, &world).unwrap();
    let lock = fs::File::open(out.join(".solefolio/lock")).unwrap();
    rustix::fs::flock(&lock, rustix::fs::FlockOperation::LockExclusive).unwrap();
    let heard = Heard::default();
    std::thread::scope(|scope| {
        let second = scope.spawn(|| {
            let how = How {
                progress: Some(&heard),
                ..How::default()
            };
            publish_with(&out, &world, &Fake::new(&world), how)
        });
        let begun = Instant::now();
        let silent = || heard.0.lock().unwrap().is_empty();
        while silent() && begun.elapsed() < Duration::from_secs(60) {
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(!second.is_finished());
        drop(lock);
        second.join().unwrap().unwrap();
    });
    let heard = heard.0.into_inner().unwrap();
    let pid = std::process::id();
    assert_eq!(heard.len(), 1);
    assert!(
        heard[0].starts_with("waiting for another publish into "),
        "{heard:?}"
    );
    assert!(heard[0].ends_with(&format!("(process {pid})")), "{heard:?}");
}

#[test]
fn a_waiting_publish_can_be_interrupted() {
    let (_folder, out) = out();
    let world = World::new(1, 1);
    put(&out, &world).unwrap();
    let lock = fs::File::open(out.join(".solefolio/lock")).unwrap();
    rustix::fs::flock(&lock, rustix::fs::FlockOperation::LockExclusive).unwrap();
    let interrupt = Interrupt::default();
    interrupt.raise();
    let how = How {
        interrupt,
        ..How::default()
    };
    let stopped = publish_with(&out, &world, &Fake::new(&world), how);
    assert!(matches!(stopped, Err(Stopped::Interrupted)));
}

#[test]
fn two_publishes_at_once_end_with_one_whole_edition() {
    let (_folder, out) = out();
    let worlds = [World::new(20, 1), World::new(30, 2)];
    put(&out, &worlds[0]).unwrap();
    for _ in 0..5 {
        std::thread::scope(|scope| {
            for world in &worlds {
                let out: &Path = &out;
                scope.spawn(move || put(out, world).unwrap());
            }
        });
        let found = only_files(&out);
        assert!(worlds.iter().any(|world| world.files() == found));
    }
}

#[test]
fn a_report_is_json_with_reasons() {
    let (_folder, out) = out();
    let mut world = World::new(1, 1);
    put(&out, &world).unwrap();
    world.style = "main {}".into();
    let mut report = put_why(&out, &world);
    report.seconds.clear();
    insta::assert_snapshot!(serde_json::to_string_pretty(&report).unwrap(), @r#"
    {
      "made": 2,
      "same": 0,
      "unchanged": 4,
      "removed": 0,
      "held_back": 0,
      "left": 0,
      "prints": {
        "made": 0,
        "kept": 1,
        "missing": 0,
        "failed": []
      },
      "foreign": [],
      "recovered": false,
      "why": [
        {
          "path": "SHA256SUMS",
          "outcome": "made",
          "reasons": [
            {
              "reason": "bytes-changed",
              "old": "52fe8482ee56debf",
              "new": "51fdd78ab68e4198"
            }
          ],
          "difference": {
            "line": 5,
            "old": "62368a1a29259b30bac235c0e75dc700c9b3bacf1513ad5708e4fe4a6c0d6560  style.css",
            "new": "153f967d08b5de278ada701541b5c56d0ab9731b9353433367587a48345b0652  style.css"
          }
        },
        {
          "path": "style.css",
          "outcome": "made",
          "reasons": [
            {
              "reason": "bytes-changed",
              "old": "bcbea094621134d8",
              "new": "47ae119b79cbdfe9"
            }
          ],
          "difference": {
            "line": 1,
            "old": "body {}",
            "new": "main {}"
          }
        }
      ],
      "seconds": {}
    }
    "#);
}
