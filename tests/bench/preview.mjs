// Watches the preview in a real browser:
//
//   node preview.mjs SOLEFOLIO [LAB]
//
// SOLEFOLIO is the built program; LAB a folder with a lab, the demo's without it
// (it is copied, not changed). Changes of a shoe, a rule, a phrase, a template and
// the style must show where the page was scrolled to; a mistake must show with its
// file and line, and go when it is mended; drafts are shown and marked; foreign
// hosts are refused. Prints how long each change took to show, then `N passed,
// N failed`; with LAB given, fails if the median is 200 ms or more.

import {chromium} from "playwright-core";
import {execFileSync, spawn} from "node:child_process";
import {request} from "node:http";
import {cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join, resolve} from "node:path";

if (!process.argv[2]) {
  console.error("usage: node preview.mjs SOLEFOLIO [LAB]");
  process.exit(2);
}
const program = resolve(process.argv[2]);
const folder = mkdtempSync(join(tmpdir(), "preview-"));
const root = join(folder, "lab");
if (process.argv[3]) {
  for (const name of ["lab", "shoes", "templates"]) {
    try { cpSync(join(process.argv[3], name), join(root, name), {recursive: true}); } catch { /* it has none */ }
  }
} else execFileSync(program, ["begin", root, "--quiet"]);
mkdirSync(join(root, "templates/html/static"), {recursive: true});

// For a busy machine; how long it takes is told, and judged with LAB only.
const PATIENCE = 30000;
let passed = 0;
let failed = 0;
function check(what, holds, found = "") {
  if (holds) { passed += 1; return; }
  failed += 1;
  console.log(`${what}: ${typeof found === "string" ? found : JSON.stringify(found)}`);
}

const child = spawn(program, ["preview", "--root", root, "--format", "json", "--as-of", "2026-11-28", ...(process.env.TELL ? ["-v"] : [])], {stdio: ["ignore", "pipe", "inherit"]});
process.on("exit", () => child.kill("SIGKILL")); // also where a check throws
const address = await new Promise((found, refuse) => {
  let text = "";
  child.stdout.on("data", (data) => { text += data; if (text.includes("\n")) found(JSON.parse(text).address); });
  child.on("exit", () => refuse(new Error("the preview ended")));
});
const shoes = readdirSync(join(root, "shoes"), {recursive: true}).filter((name) => name.endsWith(".yaml")).sort();
const file = join(root, "shoes", shoes.find((name) => /summary:/.test(readFileSync(join(root, "shoes", name), "utf8"))));
const slug = file.split("/").pop().replace(".yaml", "");
const original = readFileSync(file, "utf8");

const browser = await chromium.launch({executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"]});
const page = await browser.newPage({viewport: {width: 1000, height: 500}});
await Promise.all([
  page.waitForResponse((response) => response.url().endsWith("/-/events")),
  page.goto(`${address}shoes/${slug}/`),
]);

const took = [];
async function shows(what, change, appeared) {
  await page.evaluate(() => scrollTo(0, 400));
  const scrolled = await page.evaluate(() => scrollY);
  const started = performance.now();
  change();
  try {
    await page.waitForFunction(appeared.test, appeared.text, {polling: 5, timeout: PATIENCE});
    took.push(performance.now() - started);
    console.log(`${what}: ${took.at(-1).toFixed(0)} ms`);
  } catch { check(what, false, "it did not show"); return; }
  const kept = await page.waitForFunction((was) => Math.abs(scrollY - was) < 60, scrolled, {timeout: PATIENCE}).catch(() => null);
  check(`${what} keeps the scroll position`, kept, `${scrolled}, then ${await page.evaluate(() => scrollY)}`);
}
const text = (wanted) => ({text: wanted, test: (wanted) => document.body?.textContent.includes(wanted)});

for (let round = 1; round <= 5; round += 1) {
  await shows(`a shoe's change (${round})`, () => writeFileSync(file, original.replace(/summary: .*/, `summary: A sentence of round ${round}.`)), text(`A sentence of round ${round}.`));
}
writeFileSync(file, original.replace(/^category: .*$/m, "category: moonwalk"));
await page.locator("#preview-problems .place", {hasText: `shoes/${file.split("/shoes/").pop()}:`}).waitFor({timeout: PATIENCE});
check("a mistake is shown with its line", /:\d+/.test(await page.locator("#preview-problems .place").first().textContent()));
writeFileSync(file, original);
await page.waitForFunction(() => !document.getElementById("preview-problems"), null, {timeout: PATIENCE});
check("it goes when it is mended", true);

// Every kind of file, each put back afterwards.
async function changed(what, path, edit, appeared) {
  const before = existsSync(path) ? readFileSync(path, "utf8") : null;
  const after = edit(before);
  check(`${what} is a change`, after !== before);
  await shows(`${what}'s change`, () => writeFileSync(path, after), appeared);
  if (before === null) rmSync(path); else writeFileSync(path, before);
  await page.waitForFunction(appeared.gone ?? ((wanted) => document.body && !document.body.textContent.includes(wanted)), appeared.text, {timeout: PATIENCE});
}
const builtIn = (name) => readFileSync(new URL(`../../templates/html/${name}`, import.meta.url), "utf8");
await changed("a rule", join(root, "lab/rules.yaml"), (rules) => rules.replace(/label: Torsion/, "label: Twistiness"), text("Twistiness"));
const seen = await page.locator("body").innerText();
const phrase = [...readFileSync(join(root, "lab/phrases.yaml"), "utf8").matchAll(/short: (.+)$/gm)].map((found) => found[1]).find((words) => seen.includes(words));
await changed("a phrase", join(root, "lab/phrases.yaml"), (phrases) => phrases.replaceAll(`short: ${phrase}`, `short: ${phrase}, says the new phrase`), text("says the new phrase"));
await changed("a template", join(root, "templates/html/review.html"), () => builtIn("review.html").replace(/([^]*)\{%- endblock/, "$1<p>An own template.</p>{%- endblock"), text("An own template."));
const outline = () => document.body && getComputedStyle(document.body).outlineWidth === "7px";
const plain = () => document.body && getComputedStyle(document.body).outlineWidth !== "7px";
await changed("the style", join(root, "templates/html/static/folio.css"), () => `${builtIn("static/folio.css")}\nbody { outline: 7px solid red; }`, {text: "", test: outline, gone: plain});

// A mistake in each of them shows with its file and line, and goes.
for (const [name, edit] of [
  ["lab/rules.yaml", (was) => was.replace(/points: \[\[0, 0\]/, "pionts: [[0, 0]")],
  ["lab/phrases.yaml", (was) => was.replace(/short: /, "shrot: ")],
  ["templates/html/review.html", () => "one\n{% if %}\n"],
]) {
  const path = join(root, name);
  const before = existsSync(path) ? readFileSync(path, "utf8") : null;
  await page.evaluate(() => scrollTo(0, 400));
  writeFileSync(path, edit(before));
  const place = page.locator("#preview-problems .place", {hasText: new RegExp(`${name}:\\d+`)}).first();
  await place.waitFor({timeout: PATIENCE});
  check(`a mistake in ${name} is shown with its line`, true);
  if (before === null) rmSync(path); else writeFileSync(path, before);
  await page.waitForFunction(() => document.body && !document.getElementById("preview-problems"), null, {timeout: PATIENCE});
  const there = await page.waitForFunction(() => Math.abs(scrollY - 400) < 60, null, {timeout: PATIENCE}).catch(() => null);
  check(`once ${name} is mended the page is where it was`, there, String(await page.evaluate(() => scrollY)));
}
// A template that leaves next to nothing, as one does that is read half written.
const review = join(root, "templates/html/review.html");
await page.evaluate(() => scrollTo(0, 400));
writeFileSync(review, "<!doctype html><title>x</title>");
await page.waitForFunction(() => document.body?.textContent.trim() === "", null, {timeout: PATIENCE});
rmSync(review);
const back = await page.waitForFunction(() => Math.abs(scrollY - 400) < 60, null, {timeout: PATIENCE}).catch(() => null);
check("a page that was empty for a while comes back where it was", back, String(await page.evaluate(() => scrollY)));

// A draft is shown, and says that it is one.
writeFileSync(file, original.replace(/^publish: .*\n/m, ""));
await page.waitForFunction(() => /draft/i.test(document.body?.innerText ?? ""), null, {timeout: PATIENCE});
check("a draft is shown and marked", true);

// Every way there is, from a page elsewhere or under another name.
const status = (headers, path = "/") => new Promise((found) => {
  const {port} = new URL(address);
  request({host: "127.0.0.1", port, path, headers, setHost: false}, (response) => { response.resume(); found(response.statusCode); }).end();
});
const host = new URL(address).host;
for (const path of ["/", `/shoes/${slug}/`, "/-/events", "/-/reload.js", "/static/folio.css", "/nowhere"]) {
  check(`a foreign host is refused at ${path}`, (await status({host: `lab.example:${new URL(address).port}`}, path)) === 403);
  check(`a foreign origin is refused at ${path}`, (await status({host, origin: "http://lab.example"}, path)) === 403);
}
for (const path of ["/../lab/lab.yaml", "/%2e%2e/lab/lab.yaml", "/lab/lab.yaml", "/..%2flab%2flab.yaml", "//etc/passwd", "/.solefolio/record"]) {
  const answered = await status({host}, path);
  check(`nothing outside the folio at ${path}`, answered === 404, String(answered));
}
took.sort((a, b) => a - b);
const median = took[Math.floor(took.length / 2)];
console.log(`median ${median.toFixed(0)} ms, longest ${took.at(-1).toFixed(0)} ms at ${shoes.length} shoes`);
if (process.argv[3]) check("a change shows in under 200 ms", median < 200, `${median.toFixed(0)} ms`);

child.kill("SIGKILL");
await browser.close();
rmSync(folder, {recursive: true});
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
