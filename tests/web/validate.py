"""Holds a finished folio to outside validators that are not for browsers:

    python validate.py FOLDER

Feed: the RELAX NG grammar of RFC 4287, appendix B, and that appendix's rules a
grammar can't say. Sitemap: the protocol's XML schema, and that every address
leads to a file. Open data, now and of every sealed edition: the Data Package
validator of `frictionless`, with lengths and SHA-256 of every file, and
`SHA256SUMS`. Prints: PDF/UA-1 by `page-validation`, structure by `qpdf`, at most
two pages a review, and every figure of a review's page stands in its print.

Each validator is first shown a spoilt sample, which it must refuse.
Prints a line a finding, then `N passed, N failed`; exits 1 if any failed.
"""

import hashlib
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from frictionless import Package, system
from lxml import etree, html
from page import ValidationProfile, validate_pdf

HERE = Path(__file__).resolve().parent
ATOM = "{http://www.w3.org/2005/Atom}"
MAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"

passed = failed = 0


def check(what, findings):
    global passed, failed
    if not findings:
        passed += 1
        return
    failed += 1
    for finding in findings:
        print(f"{what}: {finding}")


def refuses(what, findings):
    check(f"{what}, spoilt", [] if findings else ["was not refused"])


# Feed


def feed_findings(tree, grammar):
    found = []
    if not grammar.validate(tree):
        found += [f"line {e.line}: {e.message}" for e in grammar.error_log][:5]
    feed = tree.getroot()
    entries = feed.findall(f"{ATOM}entry")
    # RFC 4287, 4.1.1 and 4.1.2: an author for the feed or for each entry; an
    # entry without content has an alternate link; no two have one id.
    if feed.find(f"{ATOM}author") is None and any(e.find(f"{ATOM}author") is None for e in entries):
        found.append("an entry has no author, nor has the feed")
    ids = [e.findtext(f"{ATOM}id") for e in entries]
    if len(set(ids)) != len(ids):
        found.append("two entries have one id")
    for entry in entries:
        links = entry.findall(f"{ATOM}link")
        alternates = [l for l in links if l.get("rel", "alternate") == "alternate"]
        content = entry.find(f"{ATOM}content")
        if content is None and not alternates:
            found.append(f"{entry.findtext(f'{ATOM}id')} has neither content nor link")
        kinds = [(l.get("type"), l.get("hreflang")) for l in alternates]
        if len(set(kinds)) != len(kinds):
            found.append("an entry has two alternate links of one kind")
    if not any(l.get("rel") == "self" for l in feed.findall(f"{ATOM}link")):
        found.append("the feed has no link to itself")
    return found


def feed(folder):
    grammar = etree.RelaxNG(etree.parse(str(HERE / "schemas/atom.rng")))
    tree = etree.parse(str(folder / "feed.xml"))
    check("feed", feed_findings(tree, grammar))
    for entry in tree.getroot().findall(f"{ATOM}entry"):
        words = "".join(entry.find(f"{ATOM}content").itertext()) if entry.find(f"{ATOM}content") is not None else ""
        check("feed: full content", [] if len(words) > 200 or "taken back" in words else [f"{entry.findtext(f'{ATOM}id')} is short"])
    for spoil in (f"{ATOM}id", f"{ATOM}updated"):
        spoilt = etree.fromstring(etree.tostring(tree)).getroottree()
        spoilt.getroot().remove(spoilt.getroot().find(spoil))
        refuses("feed", feed_findings(spoilt, grammar))


# Sitemap


def sitemap(folder):
    schema = etree.XMLSchema(etree.parse(str(HERE / "schemas/sitemap.xsd")))
    base = json.loads((folder / "data/datapackage.json").read_text())["homepage"]
    paths = sorted(folder.glob("sitemap*.xml"))
    check("sitemap", [] if paths else ["there is none"])
    for path in paths:
        tree = etree.parse(str(path))
        check(path.name, [] if schema.validate(tree) else [str(e) for e in schema.error_log][:5])
        lost = []
        for place in tree.iter(f"{MAP}loc"):
            at = folder / place.text.removeprefix(base)
            if not place.text.startswith(base) or not (at / "index.html" if at.is_dir() else at).is_file():
                lost.append(f"{place.text} leads nowhere")
        check(f"{path.name}: addresses", lost)
        spoilt = etree.fromstring(etree.tostring(tree)).getroottree()
        next(spoilt.iter(f"{MAP}loc")).text = "nowhere"
        refuses("sitemap", [] if schema.validate(spoilt) else ["refused"])


# Open data


def package_findings(descriptor):
    with system.use_context(trusted=True):
        report = Package(str(descriptor)).validate()
    found = [str(error) for error in report.errors]
    for task in report.tasks:
        found += [f"{task.name}: {error.message}" for error in task.errors]
    return found


def data(folder):
    packages = sorted(folder.glob("data/**/datapackage.json"))
    check("data", [] if packages else ["there is no descriptor"])
    for descriptor in packages:
        name = str(descriptor.relative_to(folder))
        check(name, package_findings(descriptor))
        told = json.loads(descriptor.read_text())
        wrong = []
        for resource in told["resources"]:
            body = (descriptor.parent / resource["path"]).read_bytes()
            if resource["bytes"] != len(body) or resource["hash"] != "sha256:" + hashlib.sha256(body).hexdigest():
                wrong.append(f"{resource['path']} is not what the descriptor tells")
        check(f"{name}: lengths and sums", wrong)
        check(f"{name}: licence", [] if told["licenses"][0]["path"].startswith("https://") else ["none"])
        sums = descriptor.parent / "SHA256SUMS"
        if sums.exists():
            done = subprocess.run(["sha256sum", "--check", "--strict", "--quiet", "SHA256SUMS"], cwd=descriptor.parent, capture_output=True, text=True)
            check(f"{name}: SHA256SUMS", (done.stdout + done.stderr).split("\n")[:3] if done.returncode else [])
            check(f"{name}: version", [] if told["version"] == descriptor.parent.name else [told["version"]])
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "data"
        shutil.copytree(packages[0].parent, copy, ignore=shutil.ignore_patterns("20*"))
        table = copy / "findings.csv"
        table.write_bytes(table.read_bytes().replace(b",scale,", b",scael,", 1))
        refuses("data: a changed byte", package_findings(copy / "datapackage.json"))


# Prints


def squeezed(text):
    """Without spaces, soft hyphens and the kinds of hyphen, which setting a page changes."""
    return re.sub(r"[\s\u00a0\u202f\u2009\u00ad]+", "", text).replace("\u2010", "-").replace("\u2011", "-")


def figures(page):
    """Every figure that a review's page states: values, scores, chances, readings."""
    tree = html.parse(str(page)).getroot()
    texts = []
    for query in (
        "//p[@class='reading']//span[@class='score']",
        "//table[contains(@class, 'glance')]//td[@class='sure']/text()[1]",
        "//section[@id='numbers']//table[@class='results'][caption[starts-with(., 'Results')]]//td[@class='num']",
        "//td[@class='trials']/text()",
    ):
        for node in tree.xpath(query):
            texts.append(node if isinstance(node, str) else node.text_content())
    found = set()
    for text in texts:
        found.update(re.findall(r"\d+(?:\.\d+)?", text))
    return found


def prints(folder):
    reviews = sorted(folder.glob("**/shoes/*/review.pdf"))
    if not reviews:
        print("left out: prints, the folio holds none")
    for pdf in sorted(folder.glob("**/*.pdf")):
        name = str(pdf.relative_to(folder))
        report = validate_pdf(str(pdf), profile=ValidationProfile.PDF_UA_1)
        problems = [str(problem) for problem in report.failures]
        check(f"{name}: PDF/UA-1", [] if report.is_compliant else problems[:5] or ["not compliant"])
        structure = subprocess.run(["qpdf", "--check", str(pdf)], capture_output=True, text=True)
        check(f"{name}: structure", [] if structure.returncode == 0 else structure.stderr.split("\n")[:3])
    for pdf in reviews:
        name = str(pdf.relative_to(folder))
        info = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True).stdout
        told = dict(line.split(":", 1) for line in info.splitlines() if ":" in line)
        check(f"{name}: pages", [] if int(told["Pages"]) <= 2 else [f"{told['Pages'].strip()} pages"])
        check(f"{name}: tagged, with a title", [] if told["Tagged"].strip() == "yes" and told.get("Title", "").strip() else ["not so"])
        # The page's tables are found by their English captions.
        if pdf.parent.parent.parent != folder:
            continue
        text = squeezed(subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True).stdout)
        page = figures(pdf.parent / "index.html")
        check(f"{name}: has figures", [] if page or "not judged" in (pdf.parent / "index.html").read_text() else ["the page states none"])
        check(f"{name}: the page's figures", [f"{figure} is not in the print" for figure in sorted(page) if figure not in text][:5])
    if reviews:
        with tempfile.TemporaryDirectory() as scratch:
            spoilt = Path(scratch) / "spoilt.pdf"
            spoilt.write_bytes(reviews[0].read_bytes().replace(b"/MarkInfo", b"/MarkOnfi", 1).replace(b"/StructTreeRoot", b"/StructTreeRuut", 1))
            try:
                compliant = validate_pdf(str(spoilt), profile=ValidationProfile.PDF_UA_1).is_compliant
            except Exception:
                compliant = False
            refuses("PDF/UA-1", [] if compliant else ["refused"])


def main():
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "").resolve()
    if not (folder / "index.html").is_file():
        print("usage: python validate.py FOLDER, a folder that holds a finished folio", file=sys.stderr)
        return 2
    feed(folder)
    sitemap(folder)
    data(folder)
    prints(folder)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


sys.exit(main())
