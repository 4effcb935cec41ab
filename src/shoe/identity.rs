//! What a shoe's file says of the shoe itself and in words, checked against the
//! lab: names, texts, price, and the reasons a page shows.

use super::check::did_you_mean;
use super::check::{REASON_LEAST, REVIEW_LIMIT, SUMMARY_LIMIT, TITLE_LIMIT};
use super::file::{ShoeFile, Version};
use crate::diagnostics::text::quote;
use crate::diagnostics::{Collector, KeyPath};
use crate::files::{Key, LINE_LIMIT, PARAGRAPH_LIMIT, WORD_LIMIT, too_long};
use crate::lab::Lab;

pub(super) fn check_identity(slug: &str, file: &ShoeFile, lab: &Lab, to: &mut Collector) {
    let root = KeyPath::root();
    let texts = [
        ("maker", Some(&file.maker), TITLE_LIMIT),
        ("model", Some(&file.model), TITLE_LIMIT),
        ("colour", file.colour.as_ref(), TITLE_LIMIT),
        ("summary", file.summary.as_ref(), SUMMARY_LIMIT),
        ("review", file.review.as_ref(), REVIEW_LIMIT),
        ("notes", file.notes.as_ref(), REVIEW_LIMIT),
    ];
    check_marks(file, to);
    check_translations(file, to);
    for (key, text, limit) in texts {
        if let Some(text) = text {
            check_text(root.key(key), key, text, limit, to);
        }
    }
    if !lab.settings.categories.contains(&file.category) {
        let known: Vec<&str> = lab.settings.categories.keys().map(Key::as_str).collect();
        to.error(
            "unknown-name",
            root.key("category"),
            format!(
                "there is no category `{}`; the lab has {}",
                file.category,
                known.join(", ")
            ),
            did_you_mean(
                file.category.as_str(),
                &known,
                "name one of the lab's categories",
            ),
        );
    }
    if !file.size.is_plausible() {
        to.error(
            "out-of-range",
            root.key("size"),
            format!("size {} is no size of a shoe", file.size.text()),
            "check the system and the value",
        );
    }
    if file.formerly.iter().any(|former| former.as_str() == slug) {
        to.error(
            "leads-to-itself",
            root.key("formerly"),
            format!("`{slug}` is this shoe's present address"),
            "name only earlier addresses",
        );
    }
    if let (Some(released), Some(publish)) = (file.released, file.publish)
        && released.first() > publish
    {
        to.warning(
            "dates-out-of-order",
            root.key("released"),
            format!("released in {released}, after its review of {publish}"),
            "check both dates",
        );
    }
    if let Some(withdrawn) = &file.withdrawn
        && file.publish.is_none_or(|publish| withdrawn.on < publish)
    {
        to.error(
            "dates-out-of-order",
            root.key("withdrawn").key("on"),
            match file.publish {
                Some(publish) => format!(
                    "taken back on {}, before it was published on {publish}",
                    withdrawn.on
                ),
                None => format!("taken back on {}, but it is a draft", withdrawn.on),
            },
            "a review can only be taken back after its `publish` day",
        );
    }
}

/// A text that is shown says something, and fits its place.
fn check_text(path: KeyPath, name: &str, text: &str, limit: usize, to: &mut Collector) {
    if let Some(message) = too_long(name, text, limit) {
        to.too_long(path.clone(), message);
    }
    if text.trim().is_empty() {
        to.error(
            "nothing-given",
            path,
            format!("`{name}` is empty"),
            "write it out, or leave the key away where it may be absent",
        );
    }
}

/// Marks, and the lengths of an editor's words; whether these stand for a finding
/// and say something is checked with the rule set.
fn check_marks(file: &ShoeFile, to: &mut Collector) {
    let root = KeyPath::root();
    if let Some(Version::Word(word)) = &file.version {
        check_text(root.key("version"), "version", word, WORD_LIMIT, to);
    }
    for (at, specimen) in file.specimens.iter().enumerate() {
        let path = root.key("specimens").index(at);
        check_text(path.key("id"), "id", &specimen.id, WORD_LIMIT, to);
        if let Some(lot) = &specimen.lot {
            check_text(path.key("lot"), "lot", lot, WORD_LIMIT, to);
        }
    }
    for (key, words) in file.words.iter() {
        if let Some(message) = too_long(key.as_str(), words, PARAGRAPH_LIMIT) {
            to.too_long(root.key("words").key(key.as_str()), message);
        }
    }
}

/// What is shown in another language keeps to the limits of the lab's own.
fn check_translations(file: &ShoeFile, to: &mut Collector) {
    for (tag, there) in file.translations.iter() {
        let path = KeyPath::root().key("translations").key(tag.as_str());
        let texts = [
            ("summary", &there.summary, SUMMARY_LIMIT),
            ("review", &there.review, REVIEW_LIMIT),
        ];
        for (key, text, limit) in texts {
            if let Some(text) = text {
                check_text(path.key(key), key, text, limit, to);
            }
        }
        for (key, words) in there.words.iter() {
            let path = path.key("words").key(key.as_str());
            check_text(path, key.as_str(), words, PARAGRAPH_LIMIT, to);
        }
    }
}

pub(super) fn check_price(file: &ShoeFile, to: &mut Collector) {
    let Some(price) = &file.price else { return };
    let path = KeyPath::root().key("price");
    if price.amount < 0.0 {
        to.error(
            "out-of-range",
            path.key("amount"),
            format!("a price of {} can't be", price.amount),
            "write what it costs, or leave the price away",
        );
    }
    let code = &price.currency;
    if !(code.len() == 3 && code.bytes().all(|byte| byte.is_ascii_uppercase())) {
        let upper = code.trim().to_uppercase();
        let hint = if upper.len() == 3 && upper.bytes().all(|byte| byte.is_ascii_uppercase()) {
            format!("write `{upper}`")
        } else {
            "write a code such as EUR, USD or JPY".to_owned()
        };
        to.error(
            "wrong-form",
            path.key("currency"),
            format!(
                "{} is no code of a currency: three capital letters (ISO 4217)",
                quote(code)
            ),
            hint,
        );
    }
}

/// A reason stands on the page: readers decide by it whether to trust the figure.
pub(super) fn check_reasons(file: &ShoeFile, to: &mut Collector) {
    let root = KeyPath::root();
    let accepted = file.accept.iter().enumerate();
    let left_out = file.leave_out.iter().enumerate();
    let reasons = accepted
        .map(|(at, accept)| (root.key("accept").index(at), &accept.reason))
        .chain(left_out.map(|(at, left)| (root.key("leave-out").index(at), &left.reason)))
        .chain(
            file.withdrawn
                .iter()
                .map(|withdrawn| (root.key("withdrawn"), &withdrawn.reason)),
        );
    for (path, reason) in reasons {
        if let Some(message) = too_long("reason", reason, LINE_LIMIT) {
            to.too_long(path.key("reason"), message);
        }
        let count = reason.trim().chars().count();
        if count < REASON_LEAST {
            to.error(
                "wrong-length",
                path.key("reason"),
                format!("a reason of {count} characters; {REASON_LEAST} at least are expected"),
                "say why in a few words: the page shows it",
            );
        }
    }
}
