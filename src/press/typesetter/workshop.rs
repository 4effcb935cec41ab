//! The folder that Typst works in: templates, data, and what comes out.

use super::{Pass, PrintCause, PrintJob, Typesetter, bytes_of, process, template};
use std::{
    env,
    ffi::OsString,
    fmt::Write as _,
    fs, io,
    path::{Path, PathBuf},
    sync::atomic::{AtomicUsize, Ordering},
};

/// A temporary folder with the templates at its top. Removed when dropped.
pub(super) struct Workshop {
    root: PathBuf,
    benches: AtomicUsize,
}

impl Workshop {
    /// Makes a folder that nobody else has or may enter, and lays the templates
    /// in. A template whose name is not one is left out, so a sheet that needs
    /// it fails by name.
    pub(super) fn open(templates: &[(String, Vec<u8>)]) -> io::Result<Self> {
        let workshop = Self {
            root: fresh_folder()?,
            benches: AtomicUsize::new(0),
        };
        for (name, text) in templates.iter().filter(|(name, _)| template::is_name(name)) {
            let path = workshop.root.join(name);
            if let Some(folder) = path.parent() {
                fs::create_dir_all(folder)?;
            }
            fs::write(path, text)?;
        }
        Ok(workshop)
    }

    /// Sets one sheet in a process of its own.
    pub(super) fn single(
        &self,
        typesetter: &Typesetter,
        threads: usize,
        job: &PrintJob,
        pass: Pass,
    ) -> Result<Vec<u8>, PrintCause> {
        let bench = self.bench(&[job], |source| {
            let _ = write!(source, "#sheet-0(json(\"0.json\"))");
        })?;
        let out = bench.join("0.pdf");
        let mut arguments: Vec<OsString> = vec!["--format".into(), "pdf".into()];
        if pass == Pass::Again {
            arguments.extend(["--input".into(), "again=exactly".into()]);
        }
        arguments.extend([bench.join("main.typ").into(), out.clone().into()]);
        self.run(typesetter, threads, job, 1, &bench, &arguments)?;
        let print = bytes_of(&out, typesetter.limits.bytes);
        // What is done needs no room; an error shows when the whole is removed.
        let _ = fs::remove_dir_all(&bench);
        print
    }

    /// Sets sheets of one date in one process, each with the file it became.
    pub(super) fn bundle(
        &self,
        typesetter: &Typesetter,
        threads: usize,
        jobs: &[&PrintJob],
    ) -> Result<Vec<Result<Vec<u8>, PrintCause>>, PrintCause> {
        let Some(first) = jobs.first() else {
            return Ok(Vec::new());
        };
        let bench = self.bench(jobs, |source| {
            for index in 0..jobs.len() {
                let _ = writeln!(
                    source,
                    "#document(\"{index}.pdf\", sheet-{index}(json(\"{index}.json\")))"
                );
            }
        })?;
        let out = bench.join("out");
        let arguments = [
            "--features".into(),
            "bundle".into(),
            "--format".into(),
            "bundle".into(),
            bench.join("main.typ").into(),
            out.clone().into(),
        ];
        self.run(typesetter, threads, first, jobs.len(), &bench, &arguments)?;
        let prints = (0..jobs.len())
            .map(|index| bytes_of(&out.join(format!("{index}.pdf")), typesetter.limits.bytes))
            .collect();
        let _ = fs::remove_dir_all(&bench);
        Ok(prints)
    }

    /// Lays out a process's own folder: the sheets' data and the file that
    /// hands each to its template. Names are numbers, so nothing in a job can
    /// choose a path.
    fn bench(
        &self,
        jobs: &[&PrintJob],
        calls: impl FnOnce(&mut String),
    ) -> Result<PathBuf, PrintCause> {
        let number = self.benches.fetch_add(1, Ordering::Relaxed);
        let bench = self.root.join(format!(".bench-{number}"));
        let mut source = String::new();
        for (index, job) in jobs.iter().enumerate() {
            debug_assert!(template::is_name(&job.template));
            let _ = writeln!(
                source,
                "#import \"/{}\": sheet as sheet-{index}",
                job.template
            );
        }
        calls(&mut source);
        let lay = || {
            fs::create_dir(&bench)?;
            for (index, job) in jobs.iter().enumerate() {
                fs::write(bench.join(format!("{index}.json")), &job.data)?;
            }
            fs::write(bench.join("main.typ"), source)
        };
        lay().map_err(|error: io::Error| {
            PrintCause::System(format!("the data could not be laid out for typst: {error}"))
        })?;
        Ok(bench)
    }

    fn run(
        &self,
        typesetter: &Typesetter,
        threads: usize,
        job: &PrintJob,
        sheets: usize,
        bench: &Path,
        arguments: &[OsString],
    ) -> Result<(), PrintCause> {
        let finished = process::compile(&process::Order {
            typesetter,
            root: &self.root,
            messages: &bench.join("messages"),
            threads,
            date: job.date,
            sheets,
            arguments,
        });
        finished.map_err(|cause| match cause {
            PrintCause::Refused(message) => PrintCause::Refused(self.readable(&message)),
            cause => cause,
        })
    }

    /// Typst's message with places as the lab knows them.
    fn readable(&self, message: &str) -> String {
        let root = self.root.to_string_lossy();
        message.replace(&format!("{root}/"), "").replace(&*root, "")
    }
}

impl Drop for Workshop {
    fn drop(&mut self) {
        // Nothing can be done about a folder that can't be removed: the prints
        // are good, and the system clears its temporary folder in time.
        let _ = fs::remove_dir_all(&self.root);
    }
}

/// A new folder in the system's temporary one, mode 0700. Making it fails if the
/// name exists, so no one can have laid anything there before.
fn fresh_folder() -> io::Result<PathBuf> {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    // Typst names places by their true path; links in the way would not be found in it.
    let parent = env::temp_dir().canonicalize()?;
    loop {
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let path = parent.join(format!("solefolio-print-{}-{number}", std::process::id()));
        let mut builder = fs::DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        match builder.create(&path) {
            Ok(()) => return Ok(path),
            // Left by an earlier process of the same number that was killed.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_their_owners_alone_and_go_when_dropped() {
        let workshop = Workshop::open(&[
            ("lib/a.typ".to_owned(), b"x".to_vec()),
            ("../escape.typ".to_owned(), b"x".to_vec()),
        ])
        .expect("the temporary folder is writable");
        let root = workshop.root.clone();
        assert!(root.join("lib/a.typ").is_file());
        assert!(!root.join("../escape.typ").exists());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = fs::metadata(&root)
                .expect("it was made")
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o700);
        }
        drop(workshop);
        assert!(!root.exists());
    }
}
