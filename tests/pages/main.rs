//! Every page, rendered from made-up views: nothing hostile gets through,
//! nothing leaks that a reader should not see, and links name files.

mod sample;

use solefolio::outputs::pages::Pages;

fn folio() -> Vec<(String, String)> {
    let pages = Pages::load([]).expect("the built-in templates are sound");
    sample::sheets(200)
        .into_iter()
        .map(|(path, template, view)| {
            let bytes = pages
                .render(template, &view)
                .unwrap_or_else(|problems| panic!("{path}: {problems:?}"));
            (path, String::from_utf8(bytes).expect("pages are text"))
        })
        .collect()
}

#[test]
fn hostile_text_stays_text_on_every_page() {
    for (path, text) in folio() {
        assert!(!text.contains("<script>alert"), "{path}");
        assert!(!text.contains("alert(\"x\")"), "{path}");
        assert!(
            !text.contains(" 49 "),
            "{path}: a template in the data was run"
        );
    }
}

#[test]
fn no_missing_value_is_printed() {
    for (path, text) in folio() {
        if path.ends_with(".js") {
            continue;
        }
        let words = text.replace("type=\"application", "");
        for word in ["NaN", ">null<", ">None<", ">inf<", "undefined", "[object"] {
            assert!(!words.contains(word), "{path} prints {word}");
        }
    }
}

#[test]
fn every_page_carries_policy_caution_and_notices() {
    for (path, text) in folio() {
        if !path.ends_with(".html") {
            continue;
        }
        assert!(text.contains("default-src 'none'"), "{path} has no policy");
        assert!(text.contains("licensed clinician"), "{path} has no caution");
        assert!(
            text.contains("Invented: laboratory"),
            "{path} hides that it is invented"
        );
        assert!(
            !text.contains(" style=\""),
            "{path} has a style its policy refuses"
        );
        assert!(
            !text.contains(" onclick="),
            "{path} has a script its policy refuses"
        );
        if !path.starts_with("shoes/renamed") {
            assert!(
                text.contains("Draft edition"),
                "{path} hides that it is a draft"
            );
        }
    }
}

#[test]
fn links_name_files_so_that_they_work_from_a_disk() {
    for (path, text) in folio() {
        if !path.ends_with(".html") {
            continue;
        }
        for link in text.split("<a ").skip(1).filter_map(|rest| {
            let rest = rest.split_once("href=\"")?.1;
            rest.split_once('"').map(|(link, _)| link)
        }) {
            let file = link.split('#').next().unwrap_or_default();
            let outside = file.contains("://") || file.starts_with("mailto:");
            assert!(
                outside || !file.ends_with('/') && !file.starts_with('/'),
                "{path} links to {link}"
            );
        }
    }
}

#[test]
fn a_review_links_to_a_print_only_if_there_is_one() {
    let folio = folio();
    let text = |path: &str| {
        &folio
            .iter()
            .find(|(p, _)| p == path)
            .expect("it is there")
            .1
    };
    assert!(text("shoes/shoe-0/index.html").contains("review.pdf"));
    assert!(!text("shoes/shoe-1/index.html").contains(".pdf"));
}

#[test]
fn a_review_says_what_it_could_not_judge_and_why() {
    let folio = folio();
    let (_, text) = folio
        .iter()
        .find(|(path, _)| path == "shoes/shoe-5/index.html")
        .expect("it is there");
    assert!(text.contains("Not judged: rebound travel was not measured."));
}

#[test]
fn a_review_taken_back_shows_no_figure_and_links_to_no_data() {
    let folio = folio();
    let (_, text) = folio
        .iter()
        .find(|(path, _)| path == "shoes/shoe-7/index.html")
        .expect("it is there");
    assert!(text.contains("Withdrawn on"));
    for word in ["data.json", "class=\"ruler\"", "± "] {
        assert!(!text.contains(word), "{word} stands in a withdrawn review");
    }
}

#[test]
fn many_threads_render_the_same_bytes() {
    let pages = Pages::load([]).expect("the built-in templates are sound");
    let view = serde_json::to_value(sample::review(0)).expect("plain data");
    let once = pages.render("review.html", &view).expect("it renders");
    std::thread::scope(|scope| {
        let all: Vec<_> = (0..4)
            .map(|_| scope.spawn(|| pages.render("review.html", &view).expect("it renders")))
            .collect();
        for one in all {
            assert_eq!(one.join().expect("no thread fails"), once);
        }
    });
}

#[test]
fn a_review_page_is_light() {
    let pages = Pages::load([]).expect("the built-in templates are sound");
    let view = serde_json::to_value(sample::review(0)).expect("plain data");
    let page = pages
        .render("review.html", &view)
        .expect("it renders")
        .len();
    let loaded: usize = ["static/folio.css", "static/icon.svg"]
        .iter()
        .map(|name| pages.static_file(name).expect("it is built in").len())
        .sum();
    assert!(page + loaded < 60_000, "{page} + {loaded} bytes");
}
