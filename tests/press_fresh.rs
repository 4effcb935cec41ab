//! After any sequence of edits `out/` is what a first publish would make.

mod press_support;

use press_support::*;
use proptest::prelude::*;
use solefolio::press::{Only, Options, Stopped};
use std::fs;
use std::path::Path;

/// Something that happens between two publishes.
#[derive(Clone, Debug)]
enum Edit {
    Add(u8, u8),
    Change(u8, u8),
    Rename(u8, u8),
    Remove(u8),
    Phrase(u8),
    Template(u8, u8),
    Style(u8),
    Typesetter(u8),
    Prints(bool),
    Failing(u8, bool),
    /// Somebody alters, removes or empties a file of the folio.
    Alter(u8),
    Unlink(u8),
    LoseRecord,
    LoseStamp,
    /// A publish of a part, or of all again.
    Only(u8),
    Fresh,
    Publish,
}

fn edit() -> impl Strategy<Value = Edit> {
    let n = any::<u8>;
    prop_oneof![
        3 => (n(), n()).prop_map(|(at, text)| Edit::Add(at, text)),
        3 => (n(), n()).prop_map(|(at, text)| Edit::Change(at, text)),
        2 => (n(), n()).prop_map(|(at, to)| Edit::Rename(at, to)),
        2 => n().prop_map(Edit::Remove),
        1 => n().prop_map(Edit::Phrase),
        1 => (n(), n()).prop_map(|(at, text)| Edit::Template(at, text)),
        1 => n().prop_map(Edit::Style),
        1 => n().prop_map(Edit::Typesetter),
        1 => any::<bool>().prop_map(Edit::Prints),
        1 => (n(), any::<bool>()).prop_map(|(at, fails)| Edit::Failing(at, fails)),
        1 => n().prop_map(Edit::Alter),
        1 => n().prop_map(Edit::Unlink),
        1 => Just(Edit::LoseRecord),
        1 => Just(Edit::LoseStamp),
        1 => n().prop_map(Edit::Only),
        1 => Just(Edit::Fresh),
        4 => Just(Edit::Publish),
    ]
}

fn nth(world: &World, at: u8) -> Option<String> {
    let count = world.shoes.len();
    (count > 0)
        .then(|| world.shoes.keys().nth(usize::from(at) % count).cloned())
        .flatten()
}

fn a_file(out: &Path, at: u8) -> Option<std::path::PathBuf> {
    let files = only_files(out);
    let count = files.len();
    (count > 0)
        .then(|| files.keys().nth(usize::from(at) % count).cloned())
        .flatten()
        .map(|path| out.join(path))
}

fn apply(edit: &Edit, world: &mut World, root: &Path, out: &Path) {
    match edit {
        Edit::Add(at, text) => {
            world
                .shoes
                .insert(format!("shoe-{}", at % 12), format!("text {text}"));
        }
        Edit::Change(at, text) => {
            if let Some(slug) = nth(world, *at) {
                world.shoes.insert(slug, format!("text {}", text % 4));
            }
        }
        Edit::Rename(at, to) => {
            if let Some(slug) = nth(world, *at) {
                let text = world.shoes.remove(&slug).expect("it is there");
                world.shoes.insert(format!("shoe-{}", to % 12), text);
            }
        }
        Edit::Remove(at) => {
            if let Some(slug) = nth(world, *at) {
                world.shoes.remove(&slug);
            }
        }
        Edit::Phrase(text) => world.phrase = format!("phrase {}", text % 3),
        Edit::Template(at, text) => {
            let name = ["front.html", "review.html", "review.typ"][usize::from(at % 3)];
            world
                .templates
                .insert(name, format!("template {}", text % 3));
        }
        Edit::Style(text) => world.style = format!("style {}", text % 3),
        Edit::Typesetter(text) => world.typesetter = format!("setter {}", text % 3),
        Edit::Prints(prints) => world.prints = *prints,
        Edit::Failing(at, fails) => {
            let slug = format!("shoe-{}", at % 12);
            if *fails {
                world.failing.insert(slug);
            } else {
                world.failing.remove(&slug);
            }
        }
        Edit::Alter(at) => {
            if let Some(file) = a_file(out, *at) {
                fs::write(file, format!("altered {at}")).expect("altered");
            }
        }
        Edit::Unlink(at) => {
            if let Some(file) = a_file(out, *at) {
                fs::remove_file(file).expect("removed");
            }
        }
        Edit::LoseRecord => {
            // Only where the stamp still knows which files are the press's own.
            if out.join(".solefolio/stamp").exists() {
                let _ = fs::remove_file(out.join(".solefolio/record"));
            }
        }
        Edit::LoseStamp => {
            if out.join(".solefolio/record").exists() {
                let _ = fs::remove_file(out.join(".solefolio/stamp"));
            }
        }
        Edit::Only(at) => {
            let only = Some(Only::new(format!("shoe-{}", at % 12)));
            let options = Options {
                only,
                ..Options::default()
            };
            run(world, root, out, options);
        }
        Edit::Fresh => {
            let options = Options {
                fresh: true,
                ..Options::default()
            };
            run(world, root, out, options);
        }
        Edit::Publish => run(world, root, out, Options::default()),
    }
}

fn run(world: &World, root: &Path, out: &Path, options: Options) {
    let inputs = solefolio::press::Inputs {
        root,
        folders: &[],
        without: &[],
        also: Vec::new(),
        settings: format!("{world:?}"),
    };
    let look = solefolio::press::look(&inputs, out).expect("looked");
    let stamp = match look {
        solefolio::press::Look::Changed { stamp, .. } => Some(stamp),
        solefolio::press::Look::Unchanged { .. } => None,
    };
    let how = How {
        options,
        inputs: stamp,
        ..How::default()
    };
    let publish = |how: How<'_>| publish_with(out, world, &Fake::new(world), how);
    let again = How {
        options: how.options.clone(),
        inputs: how.inputs.clone(),
        ..How::default()
    };
    match publish(how) {
        Ok(_) => {}
        // What somebody altered after its sheet was gone is theirs: should the
        // sheet come back, it isn't written over. They take it away, and go on.
        Err(Stopped::InTheWay(files)) => {
            for file in files {
                let bytes = fs::read(&file.path).expect("a file in the way");
                assert!(bytes.starts_with(b"altered"), "{file:?} is our own");
                fs::remove_file(&file.path).expect("taken away");
            }
            publish(again).expect("published");
        }
        Err(other) => panic!("{other:?}"),
    }
}

fn check(edits: &[Edit]) {
    let folder = in_memory();
    let root = folder.path();
    let out = root.join("out");
    let mut world = World::new(3, 1);
    for edit in edits {
        apply(edit, &mut world, root, &out);
    }
    // Whatever failed before, in the end all prints can be set; what somebody
    // altered and the edition doesn't hold is theirs and may stay.
    world.failing.clear();
    run(&world, root, &out, Options::default());
    let fresh = root.join("fresh");
    put(&fresh, &world).expect("published");
    assert_holds(&fresh, &world);
    let mut found = only_files(&out);
    found.retain(|_, bytes| !bytes.starts_with(b"altered"));
    assert_eq!(
        found.keys().collect::<Vec<_>>(),
        only_files(&fresh).keys().collect::<Vec<_>>()
    );
    assert!(found == only_files(&fresh), "bytes differ");
    // The records agree too, but for folders that somebody's own file keeps:
    // then the next run has nothing to do.
    let report = put(&out, &world).expect("published");
    assert_eq!((report.made, report.removed), (0, 0));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]
    #[test]
    fn prop_incremental_is_fresh(edits in proptest::collection::vec(edit(), 1..14)) {
        check(&edits);
    }
}

#[test]
fn a_file_altered_after_its_sheet_was_gone_is_not_written_over() {
    check(&[
        Edit::Fresh,
        Edit::Alter(191),
        Edit::Rename(46, 2),
        Edit::Fresh,
        Edit::Add(61, 0),
    ]);
}

#[test]
fn one_thread_and_many_make_the_same_files_and_the_same_record() {
    let folder = in_memory();
    let world = World::new(40, 1);
    let record = |threads: usize| {
        let out = folder.path().join(format!("out-{threads}"));
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads")
            .install(|| put(&out, &world))
            .expect("published");
        assert_holds(&out, &world);
        fs::read(out.join(".solefolio/record")).expect("a record")
    };
    assert_eq!(record(1), record(7));
}
