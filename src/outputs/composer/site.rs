//! What every page carries: its head, and what is said of the whole folio.

use super::Composer;
use crate::lab::{MadeFor, Paper};
use crate::outputs::output::FolioPath;
use crate::outputs::own;
use crate::outputs::views::{HeadView, LanguageView, LinkView, SiteView};

impl Composer<'_> {
    /// A page's own head; `path` is the page's file, such as `compare/index.html`,
    /// from the root of its language.
    pub fn head(&self, path: &FolioPath, title: &str, description: &str) -> HeadView {
        let address = path.as_str();
        let root = path.to_root();
        let path = address.strip_suffix("index.html").unwrap_or(address);
        let top = match self.surroundings.tongue {
            Some(_) => format!("../{root}"),
            None => root.clone(),
        };
        HeadView {
            title: title.to_owned(),
            description: description.to_owned(),
            languages: self.languages(&top, path),
            path: path.to_owned(),
            root,
            top,
            linked_data: None,
            pages: Vec::new(),
            image: None,
        }
    }

    /// A page in each of the folio's languages; none where there is but one.
    fn languages(&self, top: &str, path: &str) -> Vec<LanguageView> {
        let lab = &self.edition.lab;
        if lab.tongues.is_empty() {
            return Vec::new();
        }
        let others = lab.tongues.iter().map(|tongue| &tongue.language);
        std::iter::once(&lab.language)
            .chain(others)
            .enumerate()
            .map(|(at, language)| {
                let original = at == 0;
                let folder = if original {
                    String::new()
                } else {
                    format!("{}/", language.tag)
                };
                let href = format!("{top}{folder}{path}");
                LanguageView {
                    tag: language.tag.clone(),
                    name: language.name.clone(),
                    here: self.surroundings.tongue == at.checked_sub(1),
                    original,
                    // An empty link would lead to the page itself.
                    href: if href.is_empty() { "./".into() } else { href },
                    address: format!("{}{folder}{path}", self.folio()),
                }
            })
            .collect()
    }

    /// The folio's absolute address, with a slash at its end.
    pub fn folio(&self) -> String {
        let address = &self.edition.lab.settings.address;
        format!("{}/", address.trim_end_matches('/'))
    }

    /// The folio's absolute address in this language.
    pub fn address(&self) -> String {
        match self.surroundings.tongue {
            Some(_) => format!("{}{}/", self.folio(), self.language.tag),
            None => self.folio(),
        }
    }

    /// What every page and print carries.
    pub fn site(&self) -> SiteView {
        let lab = &self.edition.lab;
        let settings = &lab.settings;
        SiteView {
            lab: settings.name.clone(),
            about: self.word(&settings.about),
            invented: settings.invented,
            drafts: self.edition.drafts,
            language: self.language.tag.clone(),
            address: self.address(),
            folio: self.folio(),
            contact: settings.contact.clone(),
            licence: LinkView {
                text: self.word(&settings.licence.title),
                href: settings.licence.address.clone(),
            },
            as_of: self.date(self.last_change()),
            protocol_version: lab.protocol.version,
            rules_version: self.edition.rules.version,
            caution: self.phrases().cautions.short.clone(),
            paper: match settings.paper {
                Paper::A4 => "a4",
                Paper::UsLetter => "us-letter",
            },
            pages: own::links(self.surroundings, MadeFor::Once, None),
        }
    }
}
