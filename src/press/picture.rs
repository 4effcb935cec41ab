//! Pictures: an SVG that a template came to, drawn as a PNG.
//!
//! # What it guarantees
//! - Letters are those of Libertinus Serif, which is built in under the SIL Open
//!   Font License; no font of the system is looked at, so that a picture does not
//!   depend on what is installed. A script this face lacks shows empty boxes.
//! - Nothing outside is reached: an image or a style an SVG refers to is left out.
//! - A picture is at most [`LARGEST`] pixels a side, whatever the template says.
//!
//! # Limit
//! Same in, same out holds on one kind of processor. Drawing reckons in single
//! precision, and kinds that do so otherwise may differ in the last bit of a
//! pixel at an edge.
//!
//! # How it fails
//! With the template's name and what the reader of SVG said.

use crate::diagnostics::{KeyPath, Problem};
use resvg::{tiny_skia, usvg};
use std::sync::{Arc, OnceLock};

/// How the templates of pictures end.
pub(super) const TEMPLATE: &str = ".png.svg";

/// Most pixels a side.
const LARGEST: f32 = 4096.0;

const FACES: [&[u8]; 2] = [
    include_bytes!("fonts/LibertinusSerif-Regular.otf"),
    include_bytes!("fonts/LibertinusSerif-Semibold.otf"),
];

/// The family of the built-in faces.
const FAMILY: &str = "Libertinus Serif";

fn faces() -> Arc<usvg::fontdb::Database> {
    static LOADED: OnceLock<Arc<usvg::fontdb::Database>> = OnceLock::new();
    let load = || {
        let mut faces = usvg::fontdb::Database::new();
        for face in FACES {
            faces.load_font_data(face.to_vec());
        }
        faces.set_serif_family(FAMILY);
        faces.set_sans_serif_family(FAMILY);
        Arc::new(faces)
    };
    Arc::clone(LOADED.get_or_init(load))
}

/// Draws an SVG in its own size.
///
/// # Errors
/// `template-no-picture` for what is no SVG, or one without a size that can be drawn.
pub(super) fn draw(template: &str, svg: &[u8]) -> Result<Vec<u8>, Vec<Problem>> {
    let problem = |message: String| {
        let problem = Problem::error(
            "template-no-picture",
            format!("templates/html/{template}"),
            KeyPath::root(),
            format!("what the template comes to can't be drawn: {message}"),
        );
        vec![problem.hint("it must come to one SVG with a width and a height in pixels")]
    };
    let options = usvg::Options {
        fontdb: faces(),
        font_family: FAMILY.to_owned(),
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_data(svg, &options).map_err(|error| problem(error.to_string()))?;
    let size = tree.size();
    if size.width() > LARGEST || size.height() > LARGEST {
        return Err(problem(format!(
            "it is larger than {LARGEST} pixels a side"
        )));
    }
    let size = size.to_int_size();
    let mut drawn = tiny_skia::Pixmap::new(size.width(), size.height())
        .ok_or_else(|| problem("it has no size".to_owned()))?;
    resvg::render(&tree, tiny_skia::Transform::default(), &mut drawn.as_mut());
    drawn
        .encode_png()
        .map_err(|error| problem(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn svg(inside: &str) -> Vec<u8> {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"120\" height=\"40\">{inside}</svg>"
        )
        .into_bytes()
    }

    fn dark_pixels(png: &[u8]) -> usize {
        let picture = tiny_skia::Pixmap::decode_png(png).expect("a PNG");
        assert_eq!((picture.width(), picture.height()), (120, 40));
        picture.pixels().iter().filter(|p| p.alpha() > 128).count()
    }

    #[test]
    fn letters_are_drawn_in_the_built_in_face_whatever_family_is_asked_for() {
        let text = |family: &str| {
            let text =
                format!("<text y=\"30\" font-size=\"30\" font-family=\"{family}\">Drop 6</text>");
            draw("a.png.svg", &svg(&text)).expect("it is drawn")
        };
        let drawn = text(FAMILY);
        assert!(dark_pixels(&drawn) > 200);
        assert_eq!(drawn, text("serif"));
        assert_eq!(drawn, text(FAMILY), "the same twice");
    }

    #[test]
    fn nothing_outside_is_reached() {
        let folder = tempfile::tempdir().expect("a folder");
        let other = folder.path().join("other.svg");
        std::fs::write(&other, svg("<rect width=\"120\" height=\"40\"/>")).expect("written");
        let image = format!(
            "<image href=\"{}\" width=\"120\" height=\"40\"/>",
            other.display()
        );
        let drawn = draw("a.png.svg", &svg(&image)).expect("it is drawn");
        assert_eq!(dark_pixels(&drawn), 0);
    }

    #[test]
    fn what_is_no_picture_names_its_template() {
        for wrong in [
            &b"<svg"[..],
            b"",
            b"<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"99999\" height=\"9\"/>",
        ] {
            let problems = draw("card.png.svg", wrong).expect_err("no picture");
            assert_eq!(problems[0].file, "templates/html/card.png.svg");
            assert_eq!(problems[0].code, "template-no-picture");
        }
    }
}
