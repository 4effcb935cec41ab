//! Solefolio from Rust: load a lab, judge a shoe, make one file in memory.
//!
//! What it is for: other programs that want a lab's findings or one of its pages
//! without running the command. It holds the rooms together as `publish` does, and
//! gives away the rooms' own types.
//!
//! What it guarantees: nothing is written, no program is run, no clock is read (the
//! edition's date is an argument), and there is no state but what you hold. The
//! crate's statics are built-in files, a table worked out once from nothing but
//! itself, and a counter that names the typesetter's temporary folders.
//!
//! What it does not do: set PDFs (that takes `press` and Typst), or commit a folio
//! to a folder (`press::publish`).
//!
//! How it fails: with [`Problem`]s, each with file and way to the value;
//! `files::yaml::place_all` finds their lines.
//!
//! # Load a lab, and look at a finding
//!
//! ```
//! use solefolio::files::Root;
//! use solefolio::library::Laboratory;
//! use solefolio::rules::Says;
//!
//! # fn main() -> anyhow::Result<()> {
//! let root = Root::open(env!("CARGO_MANIFEST_DIR"))?; // the demo lab
//! let lab = Laboratory::load(&root).expect("the demo lab has no mistake");
//! let shoe = lab.shoe("fennick-vale-quarrel-2").expect("it is there");
//! let torsion = shoe.findings["torsion"].as_ref().expect("it was judged");
//! if let Says::Band(banded) = &torsion.says {
//!     println!("{} with a chance of {:.0} %", banded.name(), 100.0 * banded.chance());
//!     assert!(banded.chance() > 0.5);
//! }
//! # Ok(())
//! # }
//! ```
//!
//! # Judge a shoe that is in no folder
//!
//! ```
//! use solefolio::files::Root;
//! use solefolio::library::Laboratory;
//!
//! # fn main() -> anyhow::Result<()> {
//! # let root = Root::open(env!("CARGO_MANIFEST_DIR"))?;
//! let lab = Laboratory::load(&root).expect("the demo lab has no mistake");
//! let text = "
//! schema: 1
//! maker: Fennick & Vale
//! model: Try
//! category: road
//! size: {system: mondopoint, value: 270}
//! specimens:
//!   - id: T-L
//!     side: left
//!     session: {on: 2026-11-18, operator: ivo, temperature: 22.8 °C, humidity: 48 %, soaked: 14 h}
//!     readings:
//!       mass: [262, 263, 262]
//!       midfoot-torque: [4.3, 38 in·lbf, 4.2 N·m]
//! ";
//! let judged = lab.judge("fennick-vale-try", text).expect("it can be read");
//! assert!(judged.findings["lightness"].is_ok());
//! let missing = judged.findings["rebound"].as_ref().unwrap_err();
//! assert_eq!(missing.reason, "rebound travel was not measured");
//!
//! let problems = lab.judge("fennick-vale-try", "schema: 1\nmaker: X\n").unwrap_err();
//! assert!(problems.iter().any(|problem| problem.code == "missing-key"));
//! # Ok(())
//! # }
//! ```
//!
//! # Make one file of the folio, in memory
//!
//! ```
//! use solefolio::files::Root;
//! use solefolio::library::Laboratory;
//!
//! # fn main() -> anyhow::Result<()> {
//! # let root = Root::open(env!("CARGO_MANIFEST_DIR"))?;
//! let lab = Laboratory::load(&root).expect("the demo lab has no mistake");
//! let folio = lab.folio("2026-11-30".parse()?).expect("its templates are sound");
//! let page = folio.file("shoes/fennick-vale-quarrel-2/index.html").expect("it is planned");
//! let html = String::from_utf8(page.expect("it renders"))?;
//! assert!(html.contains("Torsion"));
//! assert!(folio.paths().iter().any(|path| path == "data/findings.csv"));
//! # Ok(())
//! # }
//! ```

use crate::diagnostics::{KeyPath, Problem};
use crate::edition::{Edition, Scope};
use crate::files::{Date, RelPath, Root, Slug, Source};
use crate::gather::{Gathered, Reading, gather, gather_as, judge_one, read_shoe, read_templates};
use crate::lab::Lab;
use crate::outputs::{self, Make, Sheet, Surroundings, streamed};
use crate::press::{Bindery, Renderer as _};
use crate::rules::{Judged, RuleSet};
use std::sync::Arc;

/// A laboratory with all its shoes, judged.
#[derive(Debug)]
pub struct Laboratory {
    root: Root,
    gathered: Gathered,
}

impl Laboratory {
    /// Reads and judges everything in a lab's folder, on the disk or in memory.
    ///
    /// # Errors
    /// All problems of all files, if one of them is an error.
    pub fn load(root: &Root) -> Result<Laboratory, Vec<Problem>> {
        Ok(Laboratory {
            root: root.clone(),
            gathered: gather(root)?,
        })
    }

    /// What the laboratory fixes.
    pub fn lab(&self) -> &Lab {
        &self.gathered.lab
    }

    /// Its rule set.
    pub fn rules(&self) -> &RuleSet {
        &self.gathered.rules
    }

    /// Its shoes, by address; drafts and held ones too.
    pub fn shoes(&self) -> &[Judged] {
        &self.gathered.shoes
    }

    /// What is wrong and was used all the same: warnings, and doubts nobody accepted.
    pub fn problems(&self, as_of: Date) -> Vec<Problem> {
        self.gathered.problems(as_of)
    }

    /// The shoe at an address.
    pub fn shoe(&self, address: &str) -> Option<&Judged> {
        let shoes = &self.gathered.shoes;
        shoes
            .iter()
            .find(|judged| judged.shoe.slug.as_str() == address)
    }

    /// Judges a shoe from the text of its file. It is as if it lay at
    /// `shoes/ADDRESS.yaml`, where its curves are looked for.
    ///
    /// # Errors
    /// Every problem of the text, if one of them is an error.
    pub fn judge(&self, address: &str, text: &str) -> Result<Judged, Vec<Problem>> {
        let file = format!("shoes/{address}.yaml");
        let unsafe_name = |error: String| {
            let problem = Problem::error("unsafe-name", file.clone(), KeyPath::root(), error);
            vec![problem.hint("write an address such as `maker-model-2`")]
        };
        let slug: Slug = address
            .parse()
            .map_err(|error| unsafe_name(format!("{error}")))?;
        let path: RelPath = file
            .parse()
            .map_err(|error| unsafe_name(format!("{error}")))?;
        let source = Source::new(file.clone(), text);
        let mut problems = Vec::new();
        let shoe = read_shoe(
            &self.root,
            Some(self.lab()),
            slug,
            &path,
            &source,
            &mut problems,
        );
        match shoe {
            Some(shoe) if !problems.iter().any(Problem::is_error) => {
                Ok(judge_one(shoe, self.lab(), self.rules()))
            }
            _ => Err(problems),
        }
    }

    /// The folio as of a date, without prints, with the lab's own templates. The lab
    /// is read once more, with the rule set, the protocol and the control shoe's log as
    /// they were on that day.
    ///
    /// # Errors
    /// Every mistake in the lab's own templates, or in the files of that day.
    pub fn folio(self, as_of: Date) -> Result<Folio, Vec<Problem>> {
        let mut bindery = Bindery::new(read_templates(&self.root)?, None)?;
        let reading = Reading {
            as_of: Some(as_of),
            drawn: Arc::clone(&self.rules().drawn),
            ..Reading::default()
        };
        let gathered = gather_as(&self.root, &reading)?;
        bindery.keep_editions(&self.root, &gathered.frozen);
        bindery.speak(&gathered.lab);
        let surroundings = Surroundings {
            statics: bindery.statics(),
            pages: bindery.pages.own().to_vec(),
            ..Surroundings::default()
        }
        .in_tongues(gathered.lab.tongues.len());
        let (assembled, ..) = gathered.edition(as_of, Scope::Published);
        Ok(Folio {
            edition: assembled.edition,
            bindery,
            surroundings,
        })
    }
}

/// The folio of a date, to make single files of.
#[derive(Debug)]
pub struct Folio {
    edition: Edition,
    bindery: Bindery,
    surroundings: Surroundings,
}

impl Folio {
    /// What is out as of the date.
    pub fn edition(&self) -> &Edition {
        &self.edition
    }

    /// The paths of all its files, in the outputs' order.
    pub fn paths(&self) -> Vec<String> {
        self.sheets().map(|sheet| sheet.path.to_string()).collect()
    }

    /// Makes one file; none if the folio has none at this path.
    pub fn file(&self, path: &str) -> Option<Result<Vec<u8>, Vec<Problem>>> {
        let sheet = self.sheets().find(|sheet| sheet.path.as_str() == path)?;
        match &sheet.make {
            Make::Page { template, view } => Some(self.bindery.page(template, view())),
            Make::Bytes(make) => Some(Ok(make())),
            Make::Stream(write) => Some(Ok(streamed(write))),
            Make::Static { name } => self.bindery.static_file(name).map(Ok),
            // None is planned without a typesetter.
            Make::Print { .. } => None,
        }
    }

    fn sheets(&self) -> impl Iterator<Item = Sheet<'_>> {
        outputs::parts(&self.surroundings)
            .flat_map(|part| part.plan(&self.edition, &self.surroundings))
    }
}
