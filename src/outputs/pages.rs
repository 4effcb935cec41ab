//! The template engine of the folio's pages.
//!
//! What it is for: filling a template with a view. The templates are built into
//! the program; a lab replaces or adds single files by handing their text in,
//! so this room reads no file.
//!
//! What it guarantees:
//! - everything a template writes is escaped, in `.html`, `.xml` and `.svg`
//!   alike, and characters that no HTML or XML document may hold are dropped
//!   or replaced; only the filters named `safe` and `json` lift the escaping;
//! - a name in a script from right to left leaves the order around it as it is,
//!   in every template, without its asking (`isolate`);
//! - a style sheet among the static files loses its comments and its spaces for show;
//! - each language has an engine of its own, whose filter `say` speaks it; a
//!   template's name with a language's tag before it, such as `de/review.html`,
//!   is the template in that language;
//! - rendering needs no lock, so any number of threads may render at once;
//! - [`Pages::fingerprint`] covers exactly the text a template uses, its
//!   parents, includes and components, however far away, and nothing else.
//!
//! What it does not do: sanitise a view's own HTML (`review_html`), or check
//! that a lab's own page is valid HTML.
//!
//! How it fails: with problems that name the template's file, line and column,
//! the missing value, and what there is in its place.

mod escape;
mod filters;
mod header;
mod isolate;
mod mistakes;
mod needs;
mod slim;

pub use header::{OwnPage, PageHeader};

use super::view::View;
use crate::diagnostics::{KeyPath, Problem};
use crate::words::{Language, Text, scan};
use include_dir::{Dir, include_dir};
use needs::Needs;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;
use tera::Tera;

/// The built-in templates and their static files.
static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/templates/html");

/// Where the templates lie, for messages: relative to the lab's root.
const FOLDER: &str = "templates/html/";

/// Raised whenever this code changes what a template comes to.
const ENGINE: &str = "pages 3";

/// A file that replaces or joins the built-in ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnFile {
    /// Its path under `templates/html/`, with forward slashes: `review.html`.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// The templates, ready to render, and their static files.
#[derive(Debug)]
pub struct Pages {
    /// The lab's own language first.
    tongues: Vec<Tongue>,
    needs: Needs,
    /// The templates by name, as they were read.
    templates: Vec<(String, String)>,
    statics: BTreeMap<String, Cow<'static, [u8]>>,
    own: Vec<OwnPage>,
    scripts: Arc<BTreeMap<String, String>>,
}

/// The templates in one language.
#[derive(Debug)]
struct Tongue {
    language: Arc<Language>,
    tera: Tera,
}

impl Pages {
    /// Takes the built-in files, puts the lab's own in place of those of the
    /// same name or beside them, and reads the templates.
    ///
    /// # Errors
    /// Every template that is not text, breaks the template language, or names
    /// a parent, include, component, filter or test that there is not.
    pub fn load(files_of_lab: impl IntoIterator<Item = OwnFile>) -> Result<Self, Vec<Problem>> {
        let mut files: BTreeMap<String, Cow<'static, [u8]>> = BTreeMap::new();
        collect(&BUILT_IN, &mut files);
        for file in files_of_lab {
            files.insert(file.name, Cow::Owned(file.bytes));
        }

        let mut statics = BTreeMap::new();
        let mut templates: Vec<(String, String)> = Vec::new();
        let mut problems = Vec::new();
        let mut own = Vec::new();
        for (name, bytes) in files {
            if name.starts_with("static/") {
                let bytes = match std::str::from_utf8(&bytes) {
                    Ok(css) if name.ends_with(".css") => Cow::Owned(slim::slim(css).into_bytes()),
                    _ => bytes,
                };
                statics.insert(name, bytes);
                continue;
            }
            match String::from_utf8(bytes.into_owned()) {
                Ok(text) => {
                    match header::read(&name, &text) {
                        None => {}
                        Some(Ok(page)) => own.push(page),
                        Some(Err(found)) => problems.extend(found),
                    }
                    templates.push((name, text));
                }
                Err(_) => problems.push(
                    Problem::error(
                        "template-not-text",
                        format!("{FOLDER}{name}"),
                        KeyPath::root(),
                        "the template is not UTF-8 text",
                    )
                    .hint("save it as UTF-8, or move it to `static/` if it is no template"),
                ),
            }
        }

        let scripts: Arc<BTreeMap<String, String>> = Arc::new(
            statics
                .iter()
                .filter_map(|(name, bytes)| {
                    let text = std::str::from_utf8(bytes.as_ref()).ok()?;
                    Some((name.clone(), text.to_owned()))
                })
                .collect(),
        );
        let english = Arc::new(Language::original("en"));
        let mut tera = engine(&english, &scripts);
        if let Err(error) = tera.add_raw_templates(templates.clone()) {
            let bare = || engine(&english, &scripts);
            problems.extend(mistakes::of_loading(&error, &templates, bare));
        }
        if problems.is_empty() {
            Ok(Pages {
                tongues: vec![Tongue {
                    language: english,
                    tera,
                }],
                needs: Needs::new(&templates),
                templates,
                statics,
                own,
                scripts,
            })
        } else {
            Err(problems)
        }
    }

    /// Makes the templates speak some languages, the lab's own first.
    pub fn speak(&mut self, languages: &[Arc<Language>]) {
        let spoken = languages.iter().map(|language| {
            let mut tera = engine(language, &self.scripts);
            // They were read once before, and a language changes nothing they name.
            tera.add_raw_templates(self.templates.clone())
                .expect("the templates are sound");
            Tongue {
                language: language.clone(),
                tera,
            }
        });
        self.tongues = spoken.collect();
    }

    /// Fills a template, such as `review.html`, with a view.
    ///
    /// # Errors
    /// A value the template names and the view lacks, a wrong type, or a
    /// template that there is not.
    pub fn render(&self, template: &str, view: &dyn View) -> Result<Vec<u8>, Vec<Problem>> {
        self.fill(template, &Pages::context(template, view)?)
    }

    /// What a template sees of a view.
    ///
    /// # Errors
    /// If the view is no map.
    pub fn context(template: &str, view: &dyn View) -> Result<tera::Context, Vec<Problem>> {
        let context = view.context();
        context.map_err(|error| vec![mistakes::of_rendering(&error, template)])
    }

    /// Fills a template with what it sees of a view, which can be gone by then.
    ///
    /// # Errors
    /// As [`Pages::render`].
    pub fn fill(&self, template: &str, context: &tera::Context) -> Result<Vec<u8>, Vec<Problem>> {
        let (tongue, template) = self.tongue(template)?;
        let mut page = Vec::with_capacity(self.needs.size(template) * 2);
        tongue
            .tera
            .render_to(template, context, &mut page)
            .map_err(|error| vec![mistakes::of_rendering(&error, template)])?;
        Ok(isolate::settle(template, page))
    }

    /// A hash of all text the template uses: its own, its parents', its
    /// includes' and its components', and of the engine's own version. Two
    /// templates that share nothing that changed keep theirs.
    ///
    /// A name that is no template has the hash of nothing but its name.
    pub fn fingerprint(&self, template: &str) -> blake3::Hash {
        let mut hasher = blake3::Hasher::new();
        hasher.update(ENGINE.as_bytes());
        let mut put = |piece: &str| {
            hasher.update(&(piece.len() as u64).to_le_bytes());
            hasher.update(piece.as_bytes());
        };
        let Ok((tongue, template)) = self.tongue(template) else {
            put(template);
            return hasher.finalize();
        };
        // What scripts and the filter `inside` are told of a language beyond its texts.
        let language = &tongue.language;
        put(&language.decimal().to_string());
        put(&language.keeps_capitals().to_string());
        self.needs.visit(template, |part, text| {
            put(part);
            put(text);
            self.words_of(language, text, &mut put);
        });
        hasher.finalize()
    }

    /// Hands over what a language says for each text of a part, and of the
    /// scripts the part names.
    fn words_of(&self, language: &Language, part: &str, put: &mut impl FnMut(&str)) {
        if language.texts().is_empty() {
            return;
        }
        let mut say = |source: &str| {
            for found in scan::page(source) {
                match language.text(&found.text) {
                    Some(Text::One(said)) => put(said),
                    Some(Text::Forms(forms)) => forms.values().for_each(|form| put(form)),
                    None => {}
                }
            }
        };
        say(part);
        for (name, source) in self.scripts.iter() {
            if part.contains(&format!("\"{name}\" | words")) {
                say(source);
            }
        }
    }

    /// The engine a template's name asks for, and the name without its language.
    fn tongue<'t>(&self, template: &'t str) -> Result<(&Tongue, &'t str), Vec<Problem>> {
        let tagged = template.split_once('/').and_then(|(tag, name)| {
            let others = self.tongues.iter().skip(1);
            let tongue = others
                .into_iter()
                .find(|tongue| tongue.language.tag == tag)?;
            Some((tongue, name))
        });
        let own = || Some((self.tongues.first()?, template));
        tagged.or_else(own).ok_or_else(|| {
            vec![Problem::error(
                "template-reference",
                format!("{FOLDER}{template}"),
                KeyPath::root(),
                "there is no language to fill the template in",
            )]
        })
    }

    /// The static files, by name, such as `static/folio.css`; they lie in the
    /// folio under the same path.
    pub fn statics(&self) -> Vec<(&str, &[u8])> {
        self.statics
            .iter()
            .map(|(name, bytes)| (name.as_str(), bytes.as_ref()))
            .collect()
    }

    /// One static file's bytes.
    pub fn static_file(&self, name: &str) -> Option<&[u8]> {
        self.statics.get(name).map(AsRef::as_ref)
    }

    /// The pages that templates with a header add, by the templates' names.
    pub fn own(&self) -> &[OwnPage] {
        &self.own
    }

    /// Whether there is a template of this name.
    pub fn contains(&self, template: &str) -> bool {
        self.tongue(template)
            .is_ok_and(|(tongue, name)| tongue.tera.contains_template(name))
    }
}

/// An engine without templates: escaping, filters.
fn engine(language: &Arc<Language>, scripts: &Arc<BTreeMap<String, String>>) -> Tera {
    let mut tera = Tera::default();
    tera.autoescape_on([".html", ".xml", ".svg"]);
    tera.set_escape_fn(escape::escape);
    filters::register(&mut tera, language, scripts);
    tera
}

/// Gathers a built-in folder's files by their names.
fn collect(folder: &'static Dir<'static>, files: &mut BTreeMap<String, Cow<'static, [u8]>>) {
    for file in folder.files() {
        let name = file.path().to_string_lossy().replace('\\', "/");
        files.insert(name, Cow::Borrowed(file.contents()));
    }
    for inner in folder.dirs() {
        collect(inner, files);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn own(name: &str, text: &str) -> OwnFile {
        OwnFile {
            name: name.into(),
            bytes: text.as_bytes().to_vec(),
        }
    }

    fn page(template: &str, view: &serde_json::Value) -> String {
        let pages = Pages::load([own("own.html", template)]).expect("the template loads");
        String::from_utf8(pages.render("own.html", view).expect("it renders")).expect("text")
    }

    #[test]
    fn markup_in_a_view_is_escaped_in_html_xml_and_svg() {
        for name in ["own.html", "own.xml", "own.svg"] {
            let pages = Pages::load([own(name, "<p title=\"{{ a }}\">{{ a }}</p>")]).unwrap();
            let text = pages.render(name, &json!({"a": "<b>&\"'"})).unwrap();
            assert_eq!(
                String::from_utf8(text).unwrap(),
                "<p title=\"&lt;b&gt;&amp;&quot;&#39;\">&lt;b&gt;&amp;&quot;&#39;</p>",
                "{name}"
            );
        }
    }

    #[test]
    fn characters_no_document_may_hold_do_not_reach_it() {
        assert_eq!(
            page("{{ a }}", &json!({"a": "a\u{0}b\u{8}c\u{fffe}d\u{85}°\n"})),
            "abc\u{fffd}d°\n"
        );
    }

    #[test]
    fn json_cannot_close_a_script_element() {
        let text = page(
            "{{ a | json }}",
            &json!({"a": {"x": "</script><!--\u{2028}&"}}),
        );
        assert_eq!(
            text,
            "{\"x\":\"\\u003c/script\\u003e\\u003c!--\\u2028\\u0026\"}"
        );
    }

    #[test]
    fn links_are_relative_and_name_a_file() {
        let view = json!({"root": "../../"});
        for (path, expected) in [
            ("shoes/a/", "../../shoes/a/index.html"),
            ("", "../../index.html"),
            ("feed.xml", "../../feed.xml"),
            ("method/#torsion", "../../method/index.html#torsion"),
            ("https://example.invalid/a/", "https://example.invalid/a/"),
            ("javascript:alert(1)", "../../javascript:alert(1)"),
        ] {
            let text = page(&format!("{{{{ \"{path}\" | link(root=root) }}}}"), &view);
            assert_eq!(text, expected);
        }
        assert_eq!(
            page(
                "{{ \"javascript:alert(1)\" | link(root=\"\") }}",
                &json!({})
            ),
            "./javascript:alert(1)"
        );
    }

    #[test]
    fn a_missing_value_names_file_line_and_what_there_is_instead() {
        let pages = Pages::load([own("own.html", "one\n  {{ shoe.titel }}")]).unwrap();
        let problems = pages
            .render(
                "own.html",
                &json!({"shoe": {"title": "Quarrel", "slug": "q"}}),
            )
            .unwrap_err();
        assert_eq!(problems.len(), 1);
        let problem = &problems[0];
        assert_eq!(problem.file, "templates/html/own.html");
        assert_eq!(problem.place.unwrap().line, 2);
        assert!(problem.message.contains("`titel`"), "{}", problem.message);
        let hint = problem.hint.as_deref().unwrap();
        assert!(hint.starts_with("did you mean `title`?"), "{hint}");
    }

    #[test]
    fn every_broken_template_is_reported_with_its_place() {
        let problems = Pages::load([
            own("a.html", "{% if %}"),
            own("b.html", "\n\n{{ x | nosuch }}"),
            own("c.html", "{% extends \"nowhere.html\" %}"),
        ])
        .unwrap_err();
        let files: Vec<_> = problems.iter().map(|p| p.file.as_str()).collect();
        for name in ["a.html", "b.html", "c.html"] {
            assert!(
                files.contains(&format!("templates/html/{name}").as_str()),
                "{name} is missing from {problems:?}"
            );
        }
        let b = problems
            .iter()
            .find(|p| p.file.ends_with("b.html"))
            .unwrap();
        assert_eq!(b.place.unwrap().line, 3);
        assert!(b.message.contains("nosuch"));
    }

    #[test]
    fn a_file_that_is_no_text_is_refused() {
        let problems = Pages::load([OwnFile {
            name: "own.html".into(),
            bytes: vec![0xff, 0xfe],
        }])
        .unwrap_err();
        assert_eq!(problems[0].code, "template-not-text");
    }

    #[test]
    fn a_labs_own_static_file_replaces_the_built_in_one() {
        let pages = Pages::load([own("static/folio.css", "body{}")]).unwrap();
        assert_eq!(pages.static_file("static/folio.css"), Some(&b"body{}"[..]));
        assert!(
            Pages::load([])
                .unwrap()
                .static_file("static/folio.css")
                .is_some_and(|bytes| bytes.len() > 1000)
        );
    }

    #[test]
    fn a_fingerprint_changes_with_how_the_language_writes_numbers_and_labels() {
        let print = |decimal, capitals| {
            let (texts, labels) = (BTreeMap::new(), BTreeMap::new());
            let name = String::new();
            let language = Language::new("de".into(), name, decimal, capitals, texts, labels);
            let mut pages = Pages::load([own("own.html", "{{ a | inside }}")]).unwrap();
            pages.speak(&[Arc::new(language)]);
            pages.fingerprint("own.html")
        };
        assert_eq!(print(',', true), print(',', true));
        assert_ne!(print(',', true), print(',', false));
        assert_ne!(print(',', true), print('.', true));
    }

    #[test]
    fn a_fingerprint_changes_with_what_the_template_uses_and_with_nothing_else() {
        let files = [
            ("base.html", "{% block a %}{% endblock %}{{ <Used /> }}"),
            (
                "own.html",
                "{% extends \"base.html\" %}{% block a %}{% include \"inc.html\" %}{% endblock %}",
            ),
            ("inc.html", "included"),
            (
                "parts.html",
                "{% component Used() %}{{ <Deep /> }}{% endcomponent %}{% component Deep() %}deep{% endcomponent %}{% component Idle() %}idle{% endcomponent %}",
            ),
            ("other.html", "other"),
        ];
        let load = |changed: Option<(&str, &str, &str)>| {
            let files: Vec<OwnFile> = files
                .iter()
                .map(|(name, text)| match changed {
                    Some((file, from, to)) if file == *name => {
                        assert!(text.contains(from));
                        own(name, &text.replace(from, to))
                    }
                    _ => own(name, text),
                })
                .collect();
            // The built-in pages do not load upon another base; only these files are wanted.
            let texts: Vec<(String, String)> = files
                .into_iter()
                .map(|f| (f.name, String::from_utf8(f.bytes).unwrap()))
                .collect();
            Pages {
                tongues: vec![Tongue {
                    language: Arc::new(Language::original("en")),
                    tera: Tera::default(),
                }],
                needs: Needs::new(&texts),
                templates: texts,
                statics: BTreeMap::new(),
                own: Vec::new(),
                scripts: Arc::default(),
            }
            .fingerprint("own.html")
        };
        let before = load(None);
        assert_eq!(before, load(None));
        for used in [
            ("base.html", "block a", "block  a"),
            ("inc.html", "included", "included too"),
            ("parts.html", "deep", "deeper"),
            ("own.html", "include", " include"),
        ] {
            assert_ne!(before, load(Some(used)), "{used:?} is used");
        }
        for unused in [
            ("parts.html", "idle", "busy"),
            ("other.html", "other", "others"),
        ] {
            assert_eq!(before, load(Some(unused)), "{unused:?} is not used");
        }
    }
}
