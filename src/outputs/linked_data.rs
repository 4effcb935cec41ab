//! A review's facts in the schema.org vocabulary, as JSON-LD.
//!
//! It says what is true and nothing more: a product with its measured
//! properties in units, and a review by the laboratory. There is no rating,
//! because the laboratory gives none, and no offer, because it sells nothing.
//! The vocabulary requires no property (seen in its own shapes, release 30.0).

use super::composer::Composer;
use super::findings::with_spread;
use super::views::{QuantityView, ReviewView};
use crate::edition::Frozen;
use crate::quantity::Unit;
use crate::rules::Judged;
use crate::words::say;
use serde_json::{Map, Value, json};

/// A review as JSON-LD that may stand inside a script element.
pub(super) fn review(composer: &Composer<'_>, judged: &Judged, view: &ReviewView) -> String {
    let address = format!("{}{}", view.site.address, view.head.path);
    let lab = json!({
        "@type": "Organization",
        "name": view.site.lab,
        "url": view.site.address,
    });
    let measured: Vec<Value> = view
        .quantities
        .iter()
        .filter_map(|quantity| property(composer, quantity))
        .collect();
    let mut product = Map::new();
    product.insert("@type".into(), "Product".into());
    product.insert("@id".into(), format!("{address}#shoe").into());
    product.insert("name".into(), view.shoe.title.clone().into());
    product.insert(
        "brand".into(),
        json!({"@type": "Brand", "name": view.shoe.maker}),
    );
    product.insert("model".into(), view.shoe.model.clone().into());
    product.insert("category".into(), view.shoe.category.clone().into());
    product.insert("additionalProperty".into(), measured.into());
    let mut review = Map::new();
    review.insert("@context".into(), "https://schema.org".into());
    review.insert("@type".into(), "Review".into());
    review.insert("@id".into(), format!("{address}#review").into());
    review.insert("url".into(), address.into());
    review.insert("name".into(), view.head.title.clone().into());
    review.insert("inLanguage".into(), view.site.language.clone().into());
    review.insert("author".into(), lab);
    if let Some(body) = body(view) {
        review.insert("reviewBody".into(), body.into());
    }
    if let Some(published) = &view.shoe.published {
        review.insert("datePublished".into(), published.iso.clone().into());
        let changed = composer.changed(judged).to_string();
        review.insert("dateModified".into(), changed.into());
    }
    review.insert("itemReviewed".into(), product.into());
    in_script(&Value::Object(review))
}

/// The editor's sentence and whom the shoe suits, as far as they are in the page's
/// language, which `inLanguage` tells.
fn body(view: &ReviewView) -> Option<String> {
    let summary = view.summary.as_deref();
    let parts = [
        summary.filter(|_| view.summary_language.is_none()),
        Some(&*view.suits).filter(|_| view.suits_language.is_none()),
    ];
    let parts: Vec<&str> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(" "))
}

/// A quantity as a property, as it is printed. The vocabulary has no term for an
/// uncertainty, so the whole figure with its ± is the description.
fn property(composer: &Composer<'_>, quantity: &QuantityView) -> Option<Value> {
    let figure = quantity.figure.as_ref()?;
    let number = figure
        .number
        .replace('\u{2212}', "-")
        .replace(composer.language.decimal(), ".");
    let mut property = Map::new();
    property.insert("@type".into(), "PropertyValue".into());
    property.insert("name".into(), quantity.label.clone().into());
    property.insert("value".into(), serde_json::from_str(&number).ok()?);
    property.insert("description".into(), with_spread(figure).into());
    if !figure.unit.is_empty() {
        property.insert("unitText".into(), figure.unit.clone().into());
    }
    let code = Unit::all()
        .find(|unit| unit.symbol() == figure.unit)
        .and_then(common_code);
    if let Some(code) = code {
        property.insert("unitCode".into(), code.into());
    }
    Some(property.into())
}

/// A unit's code of UN/CEFACT Recommendation 20, which `unitCode` takes; from
/// memory, and only those that are certain.
fn common_code(unit: Unit) -> Option<&'static str> {
    Some(match unit {
        Unit::Millimetre => "MMT",
        Unit::Centimetre => "CMT",
        Unit::Inch => "INH",
        Unit::Gram => "GRM",
        Unit::Kilogram => "KGM",
        Unit::Ounce => "ONZ",
        Unit::Pound => "LBR",
        Unit::Newton => "NEW",
        Unit::NewtonMetre => "NU",
        Unit::Percent => "P1",
        Unit::Degree => "DD",
        Unit::Joule => "JOU",
        _ => return None,
    })
}

/// The open data as a data set.
pub(super) fn data_set(composer: &Composer<'_>) -> String {
    let names = super::package::TABLES.iter().map(|table| table.path);
    let names: Vec<&str> = names.chain([super::package::FOLIO]).collect();
    in_script(&data_set_at(composer, "data/", &names))
}

/// The open data of an edition that was sealed.
pub(super) fn sealed_data_set(composer: &Composer<'_>, frozen: &Frozen) -> String {
    let folder = super::editions::path(frozen);
    let names: Vec<&str> = frozen.files.iter().map(|file| &*file.name).collect();
    let mut set = data_set_at(composer, &folder, &names);
    set["version"] = frozen.name.clone().into();
    set["datePublished"] = frozen.on.to_string().into();
    in_script(&set)
}

/// A data set of files in a folder of the folio.
fn data_set_at(composer: &Composer<'_>, folder: &str, names: &[&str]) -> Value {
    let settings = &composer.edition.lab.settings;
    let address = composer.address();
    let folio = composer.folio();
    let files: Vec<Value> = names
        .iter()
        .filter(|name| **name != "datapackage.json")
        .map(|name| {
            let kind = match name.ends_with(".csv") {
                true => "text/csv",
                false => "application/json",
            };
            json!({
                "@type": "DataDownload",
                "encodingFormat": kind,
                "contentUrl": format!("{folio}{folder}{name}"),
            })
        })
        .collect();
    json!({
        "@context": "https://schema.org",
        "@type": "Dataset",
        "@id": format!("{folio}{folder}datapackage.json"),
        "url": format!("{address}{folder}"),
        "name": say!(
            composer,
            "{lab}: measurements of athletic shoes",
            lab = settings.name
        ),
        "description": composer.word(&settings.about),
        "creator": {"@type": "Organization", "name": settings.name, "url": address},
        "license": settings.licence.address,
        "inLanguage": composer.language.tag,
        "distribution": files,
    })
}

/// JSON that holds no character a script element or its end could be made of.
fn in_script(value: &Value) -> String {
    value
        .to_string()
        .replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::review::{Medium, review_view};
    use crate::outputs::{Surroundings, testing};

    #[test]
    fn a_body_is_of_the_page_s_language_alone_and_a_property_has_its_uncertainty() {
        let edition = testing::edition();
        let surroundings = Surroundings::default();
        let composer = Composer::new(&edition, &surroundings);
        let judged = edition.shoe(&testing::slug("quarrel-2")).unwrap();
        let mut view = review_view(&composer, judged, Medium::Page);
        let (summary, suits) = (view.summary.clone().unwrap(), view.suits.clone());
        let said = |view: &ReviewView| -> Value {
            serde_json::from_str(&review(&composer, judged, view)).unwrap()
        };
        let whole = said(&view);
        assert_eq!(whole["reviewBody"], format!("{summary} {suits}"));
        let mass = &whole["itemReviewed"]["additionalProperty"][0];
        assert_eq!(mass["value"], 262.3);
        assert_eq!(mass["description"], "262.3 \u{b1} 1.1 g");
        view.summary_language = Some("en".into());
        assert_eq!(said(&view)["reviewBody"], suits);
        view.suits_language = Some("en".into());
        assert_eq!(said(&view).get("reviewBody"), None);
    }

    #[test]
    fn linked_data_can_not_end_its_script_element() {
        let text = in_script(&json!({"name": "</script><!-- & "}));
        assert!(!text.contains(['<', '>', '&']));
        let back: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(back["name"], "</script><!-- & ");
    }
}
