//! The editor's text: plain, hostile and deep.

use super::*;

const PAGE: Standpoint<'_> = Standpoint::Page {
    root: "../../",
    top: "../../",
};
const AFAR: Standpoint<'_> = Standpoint::Afar {
    folio: "https://lab.example/",
    top: "https://lab.example/",
    page: "https://lab.example/shoes/quarrel-2/",
};

fn page(markdown: &str) -> String {
    html(&blocks(markdown, PAGE))
}

#[test]
fn plain_markdown_becomes_html() {
    let text = "# Ride\n\nEven *and* **firm**, `4 mm`.\n\n- one\n- two\n\n> said\n\n---\n";
    assert_eq!(
        page(text),
        "<h3>Ride</h3>\n<p>Even <em>and</em> <strong>firm</strong>, <code>4 mm</code>.</p>\n\
         <ul>\n<li><p>one</p>\n</li>\n<li><p>two</p>\n</li>\n</ul>\n\
         <blockquote>\n<p>said</p>\n</blockquote>\n<hr>\n"
    );
}

#[test]
fn a_numbered_list_begins_where_the_editor_began_it() {
    let item = "<li><p>lace</p>\n</li>\n";
    assert_eq!(page("1. lace"), format!("<ol>\n{item}</ol>\n"));
    assert_eq!(page("- lace"), format!("<ul>\n{item}</ul>\n"));
    for (text, start) in [("3. lace", 3), ("0. lace", 0)] {
        let expected = format!("<ol start=\"{start}\">\n{item}</ol>\n");
        assert_eq!(page(text), expected);
        let printed = blocks(text, AFAR);
        let [BlockView::List { start: at, .. }] = &printed[..] else {
            panic!("{printed:?}");
        };
        assert_eq!(*at, start);
    }
}

#[test]
fn headings_begin_under_the_page_s_own_and_skip_no_level() {
    assert_eq!(
        page("### deep first\n\n###### deeper\n\n# top\n\n### down"),
        "<h3>deep first</h3>\n<h4>deeper</h4>\n<h3>top</h3>\n<h4>down</h4>\n"
    );
}

#[test]
fn no_hostile_text_becomes_markup() {
    for hostile in [
        "<script>alert(1)</script>",
        "a <script>alert(1)</script> b",
        "<img src=x onerror=alert(1)>",
        "<svg/onload=alert(1)>",
        "<<script>script>alert(1)<</script>/script>",
        "[x](javascript:alert(1))",
        "[x](JaVaScRiPt:alert(1))",
        "[x](  javascript:alert(1))",
        "[x](java&#10;script:alert(1))",
        "[x](&#1;javascript:alert(1))",
        "[x](&#x6A;avascript:alert(1))",
        "[x](data:text/html;base64,PHNjcmlwdD4=)",
        "[x](vbscript:x)",
        "[x](file:///etc/passwd)",
        "[x](//evil.example/)",
        "[x](/\\evil.example/)",
        "[x](\\\\evil.example)",
        "[x](../../../etc/passwd)",
        "[x](%2e%2e/secret)",
        "[x](shoes/..%2F)",
        "<javascript:alert(1)>",
        "![x](javascript:alert(1))",
        "![\" onerror=\"alert(1)](x.png)",
        "[a]: javascript:alert(1)\n\n[a]",
        "`</code><script>alert(1)</script>`",
        "```\"><script>\n</pre><script>alert(1)</script>\n```",
        "[x](https://a.example/\"onmouseover=\"alert(1))",
        "> - > <iframe src=javascript:alert(1)>",
        "<!-- --><b>x</b>",
        "<?php x ?>",
        "<![CDATA[<script>]]>",
    ] {
        for from in [PAGE, AFAR] {
            let made = html(&blocks(hostile, from));
            let tags = [
                "p",
                "a",
                "code",
                "pre",
                "blockquote",
                "ul",
                "li",
                "em",
                "strong",
                "br",
                "hr",
            ];
            for tag in made.split('<').skip(1) {
                let name = tag.trim_start_matches('/');
                let name = name.split([' ', '>']).next().unwrap_or_default();
                assert!(tags.contains(&name), "{hostile:?} gave {made:?}");
                let inside = tag.split('>').next().unwrap_or_default();
                if let Some(address) = inside.strip_prefix("a href=\"") {
                    assert!(address.ends_with('"') && address.matches('"').count() == 1);
                    let safe = ["https://", "../../", "mailto:"];
                    assert!(
                        safe.iter().any(|s| address.starts_with(s)),
                        "{hostile:?}: {made:?}"
                    );
                    assert!(!address.contains("evil") && !address[6..].contains(".."));
                } else {
                    assert!(!inside.contains('='), "{hostile:?} gave {made:?}");
                }
            }
        }
    }
}

#[test]
fn a_link_keeps_safe_addresses_and_is_told_from_where_it_stands() {
    let href = |markdown: &str, from| match &blocks(markdown, from)[0] {
        BlockView::Paragraph { text } => text[0].href.clone(),
        _ => None,
    };
    assert_eq!(
        href("[x](https://a.example/?q=1)", PAGE).as_deref(),
        Some("https://a.example/?q=1")
    );
    assert_eq!(
        href("<a@b.example>", PAGE).as_deref(),
        Some("mailto:a@b.example")
    );
    assert_eq!(
        href("[x](mailto:a@b.example)", PAGE).as_deref(),
        Some("mailto:a@b.example")
    );
    assert_eq!(
        href("[x](compare/)", PAGE).as_deref(),
        Some("../../compare/index.html")
    );
    assert_eq!(href("[x](/)", PAGE).as_deref(), Some("../../index.html"));
    assert_eq!(
        href("[x](compare/?a=b#pick=quarrel-2)", PAGE).as_deref(),
        Some("../../compare/index.html?a=b#pick=quarrel-2")
    );
    assert_eq!(
        href("[x](data/shoes.csv)", PAGE).as_deref(),
        Some("../../data/shoes.csv")
    );
    assert_eq!(
        href("[x](/compare/)", AFAR).as_deref(),
        Some("https://lab.example/compare/")
    );
    assert_eq!(href("[x](#readings)", PAGE).as_deref(), Some("#readings"));
    assert_eq!(
        href("[x](#readings)", AFAR).as_deref(),
        Some("https://lab.example/shoes/quarrel-2/#readings")
    );
}

#[test]
fn a_page_in_another_language_finds_the_data_that_are_there_once() {
    let page = Standpoint::Page {
        root: "../../",
        top: "../../../",
    };
    let afar = Standpoint::Afar {
        folio: "https://lab.example/de/",
        top: "https://lab.example/",
        page: "https://lab.example/de/shoes/quarrel-2/",
    };
    for path in ["data/index.html", "guide/guide.pdf", "feed.xml"] {
        assert_eq!(safe_address(path, page), Some(format!("../../{path}")));
        let far = format!("https://lab.example/de/{path}");
        assert_eq!(safe_address(path, afar), Some(far));
    }
    for path in ["data/shoes.csv", "shoes/a/data.json", "static/icon.svg"] {
        assert_eq!(safe_address(path, page), Some(format!("../../../{path}")));
        let far = format!("https://lab.example/{path}");
        assert_eq!(safe_address(path, afar), Some(far));
    }
    let folder = safe_address("data/", page);
    assert_eq!(folder.as_deref(), Some("../../data/index.html"));
}

#[test]
fn an_image_leaves_its_alternative_text() {
    assert_eq!(
        page("![the *sole*](sole.png)"),
        "<p>the <em>sole</em></p>\n"
    );
}

#[test]
fn deep_nesting_is_told_at_the_deepest_level_and_spends_no_stack() {
    let text = format!("{}end", "> ".repeat(20_000));
    let made = page(&text);
    assert_eq!(made.matches("<blockquote>").count(), DEPTH);
    assert!(made.contains("end"));
    let list = format!("{}end", "- ".repeat(5_000));
    assert!(page(&list).matches("<ul>").count() <= DEPTH);
}

#[test]
fn the_print_s_blocks_hold_the_same_text() {
    let markdown = "Even *and* firm.\n\n1. one\n   - inner\n2. two  \nbroken";
    let texts = |from| serde_json::to_string(&blocks(markdown, from)).unwrap();
    assert_eq!(texts(PAGE), texts(AFAR));
    assert!(texts(PAGE).contains("two\\nbroken"));
}

#[test]
fn a_scheme_behind_a_slash_is_no_address() {
    for address in ["/javascript:alert(1)", "/x:y/z", "/https://x.example"] {
        let text = format!("[a]({address})");
        for root in ["", "../"] {
            let from = Standpoint::Page { root, top: root };
            assert_eq!(html(&blocks(&text, from)), "<p>a</p>\n", "{address}");
        }
        let said = markdown_as_print(&text, "https://lab.example/", "https://lab.example/x/");
        assert!(!serde_json::to_string(&said).unwrap().contains(":alert"));
    }
}
