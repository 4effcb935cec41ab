//! Writes every kind of page, from made-up views, into a folder, to look at
//! them and to check them: `sample_pages FOLDER [SHOES [TEMPLATES]]`. Templates
//! are the built-in ones, or those of a folder, such as `templates/html`, that
//! is being worked on. Says how long a review takes to render.

#[path = "../tests/pages/sample/mod.rs"]
mod sample;

use anyhow::{Context, anyhow};
use solefolio::outputs::pages::{OwnFile, Pages};
use std::{env, fs, path::Path, time::Instant};
use walkdir::WalkDir;

fn main() -> anyhow::Result<()> {
    let folder = env::args().nth(1).context("name a folder")?;
    let shoes = env::args().nth(2).map_or(Ok(36), |text| text.parse())?;
    let folder = Path::new(&folder);
    let own = env::args()
        .nth(3)
        .map_or(Ok(Vec::new()), |own| read(Path::new(&own)))?;
    let pages = Pages::load(own).map_err(|problems| anyhow!("{problems:#?}"))?;
    for (path, template, view) in sample::sheets(shoes) {
        let begun = Instant::now();
        let bytes = pages
            .render(template, &view)
            .map_err(|problems| anyhow!("{path}: {problems:#?}"))?;
        if begun.elapsed().as_millis() > 50 {
            println!("{path}: {} bytes in {:?}", bytes.len(), begun.elapsed());
        }
        write(&folder.join(path), &bytes)?;
    }
    for (name, bytes) in pages.statics() {
        write(&folder.join(name), bytes)?;
    }
    for name in ["shoes.csv", "findings.csv", "readings.csv", "folio.json"] {
        write(&folder.join("data").join(name), b"")?;
    }
    for at in 0..36 {
        let shoe = sample::shoe(at);
        write(&folder.join(&shoe.path).join("data.json"), b"{}")?;
        write(&folder.join(&shoe.path).join("review.pdf"), b"")?;
    }
    for path in [
        "guide/guide.pdf",
        "guide/guide-large.pdf",
        "weeks/2026-w48/week.pdf",
        "weeks/2026-w47/week.pdf",
        "weeks/2026-w46/week.pdf",
    ] {
        write(&folder.join(path), b"")?;
    }

    let view = serde_json::to_value(sample::review(0))?;
    let times = 200_u32;
    let begun = Instant::now();
    let mut size = 0;
    for _ in 0..times {
        size = pages
            .render("review.html", &view)
            .map_err(|problems| anyhow!("{problems:#?}"))?
            .len();
    }
    println!("a review of {size} bytes: {:?}", begun.elapsed() / times);
    Ok(())
}

fn read(folder: &Path) -> anyhow::Result<Vec<OwnFile>> {
    let mut own = Vec::new();
    for entry in WalkDir::new(folder) {
        let entry = entry?;
        if entry.file_type().is_file() {
            let name = entry.path().strip_prefix(folder)?.to_string_lossy();
            own.push(OwnFile {
                name: name.replace('\\', "/"),
                bytes: fs::read(entry.path())?,
            });
        }
    }
    Ok(own)
}

fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    fs::create_dir_all(path.parent().context("a file has a folder")?)?;
    fs::write(path, bytes).with_context(|| format!("cannot write {}", path.display()))
}
