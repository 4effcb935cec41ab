//! A ripple as one page that needs no other file: to be sent around.
//!
//! No request leaves it: no script, no font, no picture but the ones drawn in it.
//! Every text that comes from the lab is escaped.

use super::Forecast;
use super::sweep::{Step, Sweep, plain};
use super::text::{self, COLUMNS, made_again, versions};
use crate::edition::{Change, ShoeChange, Way};
use crate::files::Slug;
use crate::rules::Judged;
use std::collections::BTreeMap;
use std::fmt::Write as _;

const STYLE: &str = "\
:root{color-scheme:light dark;--ink:#1d1d1b;--quiet:#5c5c57;--ground:#fff;--line:#d5d3cc;--accent:#274b73}\
@media(prefers-color-scheme:dark){:root{--ink:#eceae4;--quiet:#b1afa8;--ground:#191918;--line:#44433f;--accent:#9dbfe6}}\
body{margin:0 auto;max-width:64rem;padding:1.5rem 1rem 4rem;background:var(--ground);color:var(--ink);font:1rem/1.5 Georgia,'Times New Roman',serif}\
h1{font-size:1.6rem;line-height:1.2}h2{font-size:1.2rem;margin-top:2.5rem}\
.quiet{color:var(--quiet)}.wide{overflow-x:auto}\
table{border-collapse:collapse;font-variant-numeric:tabular-nums}\
th,td{padding:.25rem .6rem;border-bottom:1px solid var(--line);text-align:left;vertical-align:top;font-weight:normal}\
thead th{color:var(--quiet);white-space:nowrap}th[scope=row]{min-width:6rem}.n{text-align:right;white-space:nowrap}\
details{border-bottom:1px solid var(--line);padding:.4rem 0}summary{cursor:pointer}\
ul{margin:.4rem 0;padding-left:1.4rem}td ul{margin:0}svg{width:100%;min-width:34rem;max-width:45rem;height:auto;display:block}svg text{fill:var(--ink);font:12px Georgia,serif}\
.bar{fill:var(--accent)}.axis{stroke:var(--line)}.now{stroke:var(--ink);stroke-dasharray:4 3}";

/// Text as it may stand in HTML, in an attribute too.
pub fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}

fn page(title: &str, body: &str) -> String {
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"robots\" content=\"noindex\">\n\
         <title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        title = escape(title),
    )
}

/// A forecast.
pub fn forecast(forecast: &Forecast) -> String {
    let ripple = &forecast.ripple;
    let mut body = format!(
        "<h1>What would change: {}</h1>\n<p>{}, as of {}. Rule set {}; protocol {}.</p>\n",
        escape(&forecast.tried),
        escape(&forecast.lab),
        ripple.as_of,
        versions(ripple.rules),
        versions(ripple.protocol)
    );
    if forecast.drafts {
        body.push_str(
            "<p><strong>Drafts and held shoes are among them; not for publication.</strong></p>\n",
        );
    }
    for note in &forecast.notes {
        let _ = writeln!(body, "<p><strong>Note:</strong> {}</p>", escape(note));
    }
    if ripple.is_still() {
        let _ = writeln!(
            body,
            "<p>None of {} shoes would change.</p>",
            ripple.compared
        );
    } else {
        findings(&mut body, forecast);
        let _ = writeln!(
            body,
            "<h2>{} of {} shoes would change</h2>\n<p class=\"quiet\">What a reader would notice most comes first.</p>",
            ripple.shoes.len(),
            ripple.compared
        );
        for shoe in &ripple.shoes {
            self::shoe(&mut body, shoe);
        }
    }
    if let Some(sheets) = &forecast.sheets {
        let _ = writeln!(
            body,
            "<h2>Pages and prints</h2>\n<p>{}.</p>",
            made_again(sheets)
        );
        for (what, paths) in [
            (
                "Made again for more than the version they show",
                &sheets.beyond_version,
            ),
            ("All that would be made again", &sheets.again),
            ("New", &sheets.new),
            ("Removed", &sheets.gone),
        ] {
            list(&mut body, what, paths);
        }
    }
    page(&format!("What would change: {}", forecast.tried), &body)
}

/// Opens what may be wider than a screen: it can be scrolled by keyboard too.
fn wide(what: &str) -> String {
    format!(
        "<div class=\"wide\" role=\"region\" tabindex=\"0\" aria-label=\"{}\">",
        escape(what)
    )
}

fn findings(body: &mut String, forecast: &Forecast) {
    let _ = write!(
        body,
        "<h2>By finding</h2>\n{}<table>\n<thead><tr><th scope=\"col\">Finding</th>",
        wide("By finding")
    );
    for (name, _) in COLUMNS {
        let _ = write!(body, "<th scope=\"col\" class=\"n\">{name}</th>");
    }
    body.push_str("</tr></thead>\n<tbody>\n");
    for (_, count) in &forecast.ripple.findings {
        let _ = write!(body, "<tr><th scope=\"row\">{}</th>", escape(&count.label));
        for (_, of) in COLUMNS {
            let _ = write!(body, "<td class=\"n\">{}</td>", of(count));
        }
        body.push_str("</tr>\n");
    }
    body.push_str(
        "</tbody></table></div>\n<p class=\"quiet\">Counts of shoes. Up and down: to a higher or a lower band. \
         A band says how much, never how good.</p>\n",
    );
}

fn shoe(body: &mut String, shoe: &ShoeChange) {
    let _ = write!(
        body,
        "<details><summary>{}: {}</summary>\n{}<table>\n<thead><tr><th scope=\"col\">Finding</th>\
         <th scope=\"col\">is</th><th scope=\"col\">would be</th><th scope=\"col\" class=\"n\">score</th><th scope=\"col\" class=\"n\">rank</th></tr></thead>\n<tbody>\n",
        escape(&shoe.title),
        shoe.changes
            .first()
            .map_or_else(String::new, |first| escape(&first_words(first))),
        wide(&shoe.title)
    );
    for change in &shoe.changes {
        row(body, change);
    }
    body.push_str("</tbody></table></div></details>\n");
}

/// A change in a line; of a fit's cells only how many, for the table names each.
fn first_words(change: &Change) -> String {
    match change.cells.len() {
        0 | 1 => text::line(change),
        cells => format!("{}: {cells} verdicts", change.label),
    }
}

fn row(body: &mut String, change: &Change) {
    let way = match change.way {
        Some(Way::Up) => " (up)",
        Some(Way::Down) => " (down)",
        None => "",
    };
    let says = |state: &Option<crate::edition::State>| -> String {
        let Some(state) = state else {
            return "none".into();
        };
        let value = state.value.iter().filter(|value| **value != state.says);
        let mut said = vec![state.says.clone()];
        said.extend(value.cloned());
        said.join(", ")
    };
    let both = |of: fn(&crate::edition::State) -> Option<String>| -> String {
        let old = change.old.as_ref().and_then(of);
        let new = change.new.as_ref().and_then(of);
        match (old, new) {
            (Some(old), Some(new)) if old != new => format!("{old} → {new}"),
            (_, Some(new)) => new,
            (Some(old), None) => format!("{old} → none"),
            (None, None) => String::new(),
        }
    };
    let _ = write!(
        body,
        "<tr><th scope=\"row\">{}{way}</th>",
        escape(&change.label)
    );
    if change.cells.is_empty() {
        let _ = writeln!(
            body,
            "<td>{}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
            escape(&says(&change.old)),
            escape(&says(&change.new)),
            escape(&both(|state| state.score.clone())),
            escape(&both(|state| state
                .rank
                .map(|(rank, n)| format!("{rank} of {n}")))),
        );
        return;
    }
    body.push_str("<td colspan=\"4\"><ul>");
    for cell in &change.cells {
        let _ = write!(body, "<li>{}</li>", escape(cell));
    }
    body.push_str("</ul></td></tr>\n");
}

fn list(body: &mut String, what: &str, paths: &[String]) {
    if paths.is_empty() {
        return;
    }
    let _ = writeln!(
        body,
        "<details><summary>{what}: {}</summary>\n<ul>",
        paths.len()
    );
    for path in paths {
        let _ = writeln!(body, "<li>{}</li>", escape(path));
    }
    body.push_str("</ul></details>\n");
}

/// A sweep, with its picture and the table beside it; `with` is what else is tried, in
/// words.
pub fn sweep(sweep: &Sweep, with: &str, shoes: &[Judged], lab: &str, drafts: bool) -> String {
    let title = format!("{} moved", sweep.path);
    let mut body = format!(
        "<h1>{}</h1>\n<p>{}: how many of {} shoes change band as {} moves; it is {} now.</p>\n",
        escape(&title),
        escape(lab),
        sweep.shoes,
        escape(&sweep.path),
        plain(sweep.now)
    );
    if !with.is_empty() {
        let _ = writeln!(
            body,
            "<p><strong>Note:</strong> with {}, against the rules as they are.</p>",
            escape(with)
        );
    }
    if drafts {
        body.push_str(
            "<p><strong>Drafts and held shoes are among them; not for publication.</strong></p>\n",
        );
    }
    let _ = writeln!(
        body,
        "{}{}</div>",
        wide("Shoes that change band, as a picture"),
        picture(sweep)
    );
    let _ = write!(
        body,
        "{}<table>\n<thead><tr><th scope=\"col\">Value</th><th scope=\"col\" class=\"n\">shoes that change band</th>\
         <th scope=\"col\" class=\"n\">bands up</th><th scope=\"col\" class=\"n\">bands down</th><th scope=\"col\" class=\"n\">findings borderline</th></tr></thead>\n<tbody>\n",
        wide("Shoes that change band, as a table")
    );
    for step in &sweep.steps {
        let _ = write!(body, "<tr><th scope=\"row\">{}</th>", step.text);
        let _ = match &step.refused {
            Some(reason) => writeln!(
                body,
                "<td colspan=\"4\">can’t be: {}</td></tr>",
                escape(reason)
            ),
            None => {
                for count in [step.changed, step.up, step.down, step.borderline] {
                    let _ = write!(body, "<td class=\"n\">{count}</td>");
                }
                writeln!(body, "</tr>")
            }
        };
    }
    body.push_str("</tbody></table></div>\n<h2>Which shoes</h2>\n");
    let titles: BTreeMap<&Slug, String> = shoes
        .iter()
        .map(|judged| (&judged.shoe.slug, judged.shoe.title()))
        .collect();
    let mut none = true;
    for step in sweep.steps.iter().filter(|step| step.changed > 0) {
        moved(&mut body, step, &titles);
        none = false;
    }
    if none {
        body.push_str("<p>None.</p>\n");
    }
    page(&title, &body)
}

fn moved(body: &mut String, step: &Step, titles: &BTreeMap<&Slug, String>) {
    let _ = writeln!(
        body,
        "<details><summary>At {}: {} {}</summary>\n<ul>",
        step.text,
        step.changed,
        if step.changed == 1 { "shoe" } else { "shoes" }
    );
    for (shoe, changes) in &step.moved {
        let title = titles.get(shoe).map_or(shoe.as_str(), String::as_str);
        let _ = writeln!(
            body,
            "<li>{}: {}</li>",
            escape(title),
            escape(&changes.join("; "))
        );
    }
    body.push_str("</ul></details>\n");
}

/// What there is to be seen in the picture, in words.
fn described(sweep: &Sweep) -> String {
    let mut said = format!(
        "One bar for each of {} values of {}",
        sweep.steps.len(),
        sweep.path
    );
    if let (Some(first), Some(last)) = (sweep.steps.first(), sweep.steps.last()) {
        let _ = write!(said, ", from {} to {}", first.text, last.text);
    }
    let tallest = sweep.steps.iter().rev().max_by_key(|step| step.changed);
    let _ = match tallest.filter(|step| step.changed > 0) {
        None => write!(said, "; no shoe changes band at any of them."),
        Some(step) => write!(
            said,
            "; the highest is {} of {} shoes, at {}.",
            step.changed, sweep.shoes, step.text
        ),
    };
    let refused = sweep.steps.iter().filter(|step| step.refused.is_some());
    match refused.count() {
        0 => {}
        refused => {
            let _ = write!(said, " At {refused} values there can be no such rule set.");
        }
    }
    said.push_str(" The table below says the same.");
    said
}

/// A bar a value, in a box of 720 × 300.
fn picture(sweep: &Sweep) -> String {
    let most = sweep
        .steps
        .iter()
        .map(|step| step.changed)
        .max()
        .unwrap_or(0)
        .max(1);
    let (left, top, wide, high) = (40.0, 20.0, 660.0, 230.0);
    let each = wide / sweep.steps.len() as f64;
    let bottom = top + high;
    let mut svg = format!(
        "<svg viewBox=\"0 0 720 300\" role=\"img\" aria-labelledby=\"title description\">\
         <title id=\"title\">Shoes that change band</title>\
         <desc id=\"description\">{}</desc>\n",
        escape(&described(sweep))
    );
    for (at, step) in sweep.steps.iter().enumerate() {
        let x = left + each * at as f64;
        let height = high * step.changed as f64 / most as f64;
        let _ = writeln!(
            svg,
            "<rect class=\"bar\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            x + each * 0.1,
            bottom - height,
            each * 0.8,
            height
        );
        // About ten numbers fit below the bars.
        if at % sweep.steps.len().div_ceil(11) == 0 {
            let _ = writeln!(
                svg,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                x + each / 2.0,
                bottom + 18.0,
                step.text
            );
        }
    }
    let _ = writeln!(
        svg,
        "<line class=\"axis\" x1=\"{left}\" y1=\"{bottom}\" x2=\"{}\" y2=\"{bottom}\"/>\
         <text x=\"{}\" y=\"{}\" text-anchor=\"end\">{most}</text><text x=\"{}\" y=\"{bottom}\" text-anchor=\"end\">0</text>",
        left + wide,
        left - 6.0,
        top + 4.0,
        left - 6.0
    );
    if let (Some(first), Some(last)) = (sweep.steps.first(), sweep.steps.last())
        && (first.value..=last.value).contains(&sweep.now)
    {
        let share = (sweep.now - first.value) / (last.value - first.value);
        let x = left + each / 2.0 + (wide - each) * share;
        let _ = writeln!(
            svg,
            "<line class=\"now\" x1=\"{x:.1}\" y1=\"{top}\" x2=\"{x:.1}\" y2=\"{bottom}\"/>\
             <text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">now</text>",
            bottom + 36.0
        );
    }
    svg.push_str("</svg>\n");
    svg
}
