//! The static files the pages use: style sheet, scripts, marks. They lie in the
//! folio where they lie in the templates folder, such as `static/folio.css`.

use super::output::{FolioPath, Make, Output, Sheet, Subject, Surroundings};
use crate::edition::Edition;

/// The static files.
pub(super) struct Statics;

impl Output for Statics {
    fn name(&self) -> &'static str {
        "static-files"
    }

    /// A name that is no path inside the folio has no sheet: the templates
    /// refuse it before it comes here.
    fn speaks(&self) -> bool {
        false
    }

    fn plan<'e>(&self, _: &'e Edition, surroundings: &'e Surroundings) -> Vec<Sheet<'e>> {
        surroundings
            .statics
            .iter()
            .filter_map(|name| {
                Some(Sheet {
                    path: FolioPath::new(name.clone()).ok()?,
                    output: self.name(),
                    subject: Subject::Folio,
                    make: Make::Static { name: name.clone() },
                })
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::testing;

    #[test]
    fn a_static_file_keeps_its_place_and_none_leaves_the_folio() {
        let edition = testing::edition();
        let surroundings = Surroundings {
            statics: vec!["../x".into(), "static/folio.css".into()],
            ..Surroundings::default()
        };
        let sheets = Statics.plan(&edition, &surroundings);
        assert_eq!(sheets.len(), 1);
        assert_eq!(sheets[0].path.as_str(), "static/folio.css");
    }
}
