//! Sheets of each make, as the outputs plan them.

use super::output::{FolioPath, Make, Sheet, Subject};
use crate::files::Date;
use serde::Serialize;

/// A path of the folio from fixed words, addresses and weeks, which are all safe.
pub(super) fn path(text: impl Into<String>) -> FolioPath {
    FolioPath::new(text).expect("fixed words, addresses and weeks are safe names")
}

/// A page's sheet.
pub(super) fn page<'e, V: Serialize + 'static>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    template: &'static str,
    view: impl Fn() -> V + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Page {
            template: template.into(),
            view: Box::new(move || Box::new(view())),
        },
    }
}

/// A page of the folio as a whole and the data that its script reads, which lie side
/// by side in a folder: each by its template, with its view.
pub(super) fn page_and_data<'e, P: Serialize + 'static, D: Serialize + 'static>(
    output: &'static str,
    folder: &str,
    (page_template, page_view): (&'static str, impl Fn() -> P + Send + Sync + 'e),
    (data_template, data_view): (&'static str, impl Fn() -> D + Send + Sync + 'e),
) -> Vec<Sheet<'e>> {
    let at = |file: &str| path(format!("{folder}/{file}"));
    vec![
        page(
            output,
            Subject::Folio,
            at("index.html"),
            page_template,
            page_view,
        ),
        page(
            output,
            Subject::Folio,
            at("data.js"),
            data_template,
            data_view,
        ),
    ]
}

/// A print's sheet, dated `on`.
pub(super) fn print<'e, V: Serialize + 'static>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    template: &'static str,
    on: Date,
    view: impl Fn() -> V + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Print {
            template: template.into(),
            date: on.civil(),
            view: Box::new(move || Box::new(view())),
        },
    }
}

/// A sheet of the bytes themselves.
pub(super) fn bytes<'e>(
    output: &'static str,
    subject: Subject,
    path: FolioPath,
    make: impl Fn() -> Vec<u8> + Send + Sync + 'e,
) -> Sheet<'e> {
    Sheet {
        path,
        output,
        subject,
        make: Make::Bytes(Box::new(make)),
    }
}
