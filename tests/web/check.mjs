// Checks a finished folio in a real browser and with outside validators:
//
//   node check.mjs FOLDER
//
// Over one page of every kind in every language: HTML, CSS and SVG by the Nu
// checker; axe-core in light and dark at 320, 768 and 1280 px; no sideways scroll
// at 320 px, nor at 640 px with letters twice as large; no console message; no
// request beyond the folder; nothing beyond the sheet on paper; the same with
// scripts off; every control reached by the Tab key, in the order it is seen, and
// visible as it is; the comparison (compare.mjs), the finder (find.mjs) and the
// search do their work. Over all pages: every link and fragment within the folio
// leads somewhere. Over the style sheet: the contrast of every pair of tokens that
// stand on each other (WCAG 2.2, 1.4.3 and 1.4.11).
//
// Prints a line a finding, then `N passed, N failed`; exits 1 if any failed.
// CHROMIUM and JAVA name the programs where they are not the usual ones.

import {spawnSync} from "node:child_process";
import {createRequire} from "node:module";
import {existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {dirname, join, relative, resolve} from "node:path";
import {pathToFileURL} from "node:url";
import {comparison} from "./compare.mjs";
import {finder} from "./find.mjs";
import {launch, leadsOn, serve, walk} from "./folio.mjs";

const require = createRequire(import.meta.url);
const folder = resolve(process.argv[2] ?? "");
if (!process.argv[2] || !existsSync(join(folder, "index.html"))) {
  console.error("usage: node check.mjs FOLDER, a folder that holds a finished folio");
  process.exit(2);
}

let passed = 0;
let failed = 0;
function check(what, findings) {
  const list = Array.isArray(findings) ? findings : findings ? [findings] : [];
  if (list.length === 0) { passed += 1; return; }
  failed += 1;
  for (const finding of list) console.log(`${what}: ${finding}`);
}

// Files.

const files = [...walk(folder)].sort();
const html = files.filter((file) => file.endsWith(".html"));
const name = (file) => relative(folder, file).replaceAll("\\", "/");
const text = new Map(html.map((file) => [file, readFileSync(file, "utf8")]));

const moved = (file) => leadsOn(text.get(file));
const tongue = (file) => name(file).match(/^[a-z]{2}(-\w+)*\//)?.[0] ?? "";
const review = (file) => name(file).slice(tongue(file).length).startsWith("shoes/") && !moved(file);

// One page of every kind in every language. Reviews differ in what they lack, so of
// them the longest, the shortest and those that carry a withdrawal, an absence, a
// borderline or a provisional finding.
function kinds() {
  const groups = new Map();
  for (const file of html) {
    const path = name(file).replace(/(shoes|weeks)\/[^/]+/, "$1/*").replace(/by-[^/]+/, "by-*").replace(/\d{4}-\d\d-\d\d(-\d+)?/, "*");
    const kind = moved(file) ? `${path} moved` : path;
    groups.set(kind, [...(groups.get(kind) ?? []), file]);
  }
  const picked = [];
  for (const group of groups.values()) {
    const bySize = [...group].sort((a, b) => text.get(b).length - text.get(a).length);
    const wanted = [bySize[0]];
    if (review(group[0])) {
      wanted.push(bySize.at(-1));
      for (const sign of ['class="box withdrawal"', "not judged", '<em class="flag">borderline', "flag provisional", "<svg viewBox", "Draft, not published"]) {
        const found = group.find((file) => text.get(file).includes(sign));
        if (found) wanted.push(found);
      }
    }
    picked.push(...new Set(wanted));
  }
  return [...new Set(picked)];
}
const pages = kinds();
const openable = pages.filter((file) => !moved(file));

// Validators.

function validate(kind, list) {
  if (list.length === 0) return;
  const jar = join(dirname(require.resolve("vnu-jar/package.json")), "build/dist/vnu.jar");
  const flag = kind === "html" ? [] : [`--${kind}`];
  const ran = spawnSync(process.env.JAVA ?? "java", ["-Xss8m", "-jar", jar, "--errors-only", "--format", "gnu", ...flag, ...list], {encoding: "utf8", maxBuffer: 1 << 28});
  if (ran.error) { check(`vnu ${kind}`, ran.error.message); return; }
  let lines = ran.stderr.split("\n").filter(Boolean).map((line) => line.replaceAll(pathToFileURL(folder).href + "/", "").replaceAll("file:" + folder + "/", ""));
  // `vector-effect` is a property of SVG 2 (chapter 8.12) that the Nu checker's list lacks.
  lines = lines.filter((line) => !line.includes("“vector-effect”: Property “vector-effect” doesn't exist."));
  check(`vnu ${kind}`, lines.length || ran.status === 0 || /vector-effect/.test(ran.stderr) ? lines : `ended with ${ran.status}`);
}
const mostHtml = html.length <= 400 ? html : pages;
validate("html", mostHtml);
validate("css", files.filter((file) => file.endsWith(".css")));
validate("svg", files.filter((file) => file.endsWith(".svg")));

// The page for a missing address is shown at any depth, so its links begin with
// the path of the folio's own address; it is looked at through a server.

const base = (text.get(join(folder, "404.html")) ?? "").match(/href="(\/[^"]*)static\/folio\.css"/)?.[1] ?? "";
const served = await serve(folder, {base: base || "/", missing: join(folder, "404.html")});
function address(file) {
  return base && name(file) === "404.html"
    ? `${served.origin}${base}no/such/page.html`
    : pathToFileURL(file).href;
}

// Links.

const ids = new Map();
function idsOf(file) {
  if (!ids.has(file)) {
    const source = text.get(file) ?? readFileSync(file, "utf8");
    ids.set(file, new Set([...source.matchAll(/\sid="([^"]*)"/g)].map(([, id]) => id)));
  }
  return ids.get(file);
}
const unescape = (value) => value.replaceAll("&#39;", "'").replaceAll("&quot;", '"').replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("&amp;", "&");
for (const file of html) {
  const findings = [];
  const source = text.get(file);
  for (const id of [...source.matchAll(/\sid="([^"]*)"/g)].map(([, found]) => found).filter((id, at, all) => all.indexOf(id) !== at)) findings.push(`the id ${id} stands twice`);
  for (const [, raw] of source.matchAll(/<(?:a|link|script|img)\b[^>]*?\s(?:href|src)="([^"]*)"/g)) {
    const link = unescape(raw);
    if (/^(https?:|mailto:|data:)/.test(link)) continue;
    const [path, fragment] = link.split("#");
    const target = path === "" ? file
      : base && path.startsWith(base) ? resolve(folder, decodeURI(path.slice(base.length)))
      : resolve(dirname(file), decodeURI(path));
    if (target !== folder && !target.startsWith(folder + "/")) findings.push(`${link} leads out of the folio`);
    else if (!existsSync(target)) findings.push(`${link} leads nowhere`);
    else if (statSync(target).isDirectory()) findings.push(`${link} leads to a folder`);
    else if (fragment && target.endsWith(".html") && !fragment.includes("=") && !idsOf(target).has(decodeURIComponent(fragment))) findings.push(`${link} names no place`);
  }
  check(`links of ${name(file)}`, findings);
}

// Nothing from outside: no page, style sheet or script names a file elsewhere for
// the browser to fetch, and a script that runs is a file of the folio.

for (const file of html) {
  const source = text.get(file);
  const findings = [];
  for (const [tag] of source.matchAll(/<(?:script|img|link|iframe|video|audio|source|object|embed|use|image)\b[^>]*>/g)) {
    if (/\b(?:src|srcset|data|poster)="(?:[a-z]+:)?\/\//.test(tag)) findings.push(`${tag} comes from elsewhere`);
    if (/^<link/.test(tag) && /href="(?:https?:)?\/\//.test(tag) && !/rel="canonical"|rel="alternate" hreflang="/.test(tag)) findings.push(`${tag} comes from elsewhere`);
    if (/^<script/.test(tag) && !/\bsrc=/.test(tag) && !/type="application\/ld\+json"/.test(tag)) findings.push(`${tag} stands in the page`);
  }
  if (/\son[a-z]+="/.test(source.replace(/<script[\s\S]*?<\/script>/g, ""))) findings.push("has an attribute that is a script");
  if (/\sstyle="/.test(source)) findings.push("has a style of its own, which the policy refuses");
  const policy = source.match(/http-equiv="Content-Security-Policy" content="([^"]*)"/)?.[1] ?? "";
  if (!/default-src 'none'/.test(policy) || /unsafe|\*|https?:/.test(policy)) findings.push(`its policy is ${policy || "missing"}`);
  check(`nothing from outside: ${name(file)}`, findings);
}
for (const file of files.filter((file) => /\.(css|js)$/.test(file))) {
  const source = readFileSync(file, "utf8").replace(/http:\/\/www\.w3\.org\/2000\/svg/g, "");
  check(`nothing from outside: ${name(file)}`, /@import|url\((?!"?data:)/.test(source) || (!/data\.js$/.test(file) && /https?:\/\//.test(source)) ? "names an address elsewhere" : []);
}

// Linked data: what the vocabulary knows, by its typings; and only what is true.

const vocabulary = [];
for (const file of pages.filter((file) => !moved(file))) {
  for (const [, raw] of text.get(file).matchAll(/<script type="application\/ld\+json">([^<]*)<\/script>/g)) {
    let linked;
    try { linked = JSON.parse(raw); } catch (error) { check(`linked data of ${name(file)}`, error.message); continue; }
    vocabulary.push([name(file), linked]);
    const findings = [];
    const visit = (node, at) => {
      if (Array.isArray(node)) { node.forEach((one) => visit(one, at)); return; }
      if (!node || typeof node !== "object") return;
      for (const key of ["aggregateRating", "reviewRating", "starRating", "ratingValue", "offers"]) if (key in node) findings.push(`${at} has ${key}`);
      if (node["@type"] === "PropertyValue" && (typeof node.value !== "number" || !node.unitText)) findings.push(`${node.name} has no number or no unit`);
      for (const [key, value] of Object.entries(node)) visit(value, key);
    };
    visit(linked, linked["@type"]);
    if (/^shoes\//.test(name(file)) && !/class="box withdrawal"/.test(text.get(file))) {
      if (linked["@type"] !== "Review" || linked.itemReviewed?.["@type"] !== "Product") findings.push("is no review of a product");
      const coded = (linked.itemReviewed?.additionalProperty ?? []).filter((property) => property.unitCode);
      if (!coded.length && /class="num">\d/.test(text.get(file))) findings.push("no measured property has a unit code");
    }
    check(`linked data of ${name(file)}`, findings);
  }
}
for (const kind of ["Review", "Dataset"]) check(`linked data: ${kind}`, vocabulary.some(([, linked]) => linked["@type"] === kind) ? [] : "no page has one");
{
  const typed = (samples) => {
    const scratch = mkdtempSync(join(tmpdir(), "linked-"));
    const lines = samples.map(([, linked], at) => `export const n${at}: WithContext<${linked["@type"]}> = ${JSON.stringify(linked)};`);
    const source = join(scratch, "linked.ts");
    writeFileSync(source, `import type {WithContext, Review, Dataset} from ${JSON.stringify(join(dirname(require.resolve("schema-dts/package.json")), "dist/schema"))};\n${lines.join("\n")}\n`);
    const ran = spawnSync(process.execPath, [require.resolve("typescript/bin/tsc"), "--noEmit", "--strict", "--skipLibCheck", source], {encoding: "utf8"});
    rmSync(scratch, {recursive: true});
    return (ran.stdout ?? "").split("\n").filter(Boolean).map((line) => line.slice(0, 300));
  };
  check("linked data: the vocabulary", typed(vocabulary));
  const spoilt = structuredClone(vocabulary.slice(0, 1));
  if (spoilt.length) { spoilt[0][1].nameOfNothing = "x"; check("linked data: a property there is not", typed(spoilt).length ? [] : "was not refused"); }
}

// Units of the open data: codes that the Unified Code for Units of Measure knows.
{
  const {UcumLhcUtils} = require("@lhncbc/ucum-lhc");
  const units = UcumLhcUtils.getInstance();
  const known = (code) => units.validateUnitString(code, false).status === "valid";
  const folio = JSON.parse(readFileSync(join(folder, "data/folio.json"), "utf8"));
  const codes = new Set();
  JSON.stringify(folio, (key, value) => { if (key === "ucum" && value !== null) codes.add(value); return value; });
  check("unit codes", codes.size ? [...codes].filter((code) => !known(code)).map((code) => `${code} is no code of UCUM`) : "there are none");
  check("unit codes, spoilt", known("in.lbf") ? "was not refused" : []);
}

// The card of a page is there, is a PNG of the size it is said to be, and has words.
for (const file of html) {
  const card = text.get(file).match(/property="og:image" content="([^"]*)"/)?.[1];
  if (!card) continue;
  const path = join(dirname(file), card.split("/").at(-1));
  const size = ["width", "height"].map((side) => Number(text.get(file).match(new RegExp(`property="og:image:${side}" content="(\\d+)"`))?.[1]));
  const bytes = existsSync(path) ? readFileSync(path) : Buffer.alloc(0);
  const png = bytes.subarray(0, 8).equals(Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]));
  check(`card of ${name(file)}`, !png ? "is no PNG" : bytes.readUInt32BE(16) !== size[0] || bytes.readUInt32BE(20) !== size[1] ? "is not of the size it is said to be"
    : /property="og:image:alt" content="[^"]{20,}"/.test(text.get(file)) ? [] : "has no words for those who do not see it");
}

// Contrast of the tokens.

// Lines that only part what a space parts as well need no contrast.
const DECORATIVE = ["rule"];
const TOKENS = {
  text: [["ink", "paper"], ["ink", "wash"], ["ink-soft", "paper"], ["ink-soft", "wash"], ["accent", "paper"], ["accent", "wash"]],
  picture: [["edge", "paper"], ["edge", "wash"], ["ramp-high", "paper"], ["ink", "ramp-low"]],
};
function tokens(block) {
  return Object.fromEntries([...block.matchAll(/--([\w-]+):\s*(#[0-9a-f]{3,6})\b/g)].map(([, key, value]) => [key, value]));
}
function luminance(hex) {
  const wide = hex.length === 4 ? [...hex.slice(1)].map((c) => c + c).join("") : hex.slice(1);
  const [r, g, b] = [0, 2, 4].map((at) => parseInt(wide.slice(at, at + 2), 16) / 255)
    .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(a, b) {
  const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (high + 0.05) / (low + 0.05);
}
const sheet = readFileSync(join(folder, "static/folio.css"), "utf8");
const blocks = [...sheet.matchAll(/:root\s*\{([^}]*)\}/g)].map(([, block]) => tokens(block));
{
  const paired = new Set([...TOKENS.text.flat(), ...TOKENS.picture.flat(), ...DECORATIVE]);
  check("contrast: every token", Object.keys(blocks[0] ?? {}).filter((token) => !paired.has(token)).map((token) => `--${token} stands in no pair`));
}
["light", "dark", "paper"].forEach((scheme, at) => {
  const set = {...blocks[0], ...(at > 0 ? blocks[at] : {})};
  for (const [kind, least] of [["text", 4.5], ["picture", 3]]) {
    for (const [front, back] of TOKENS[kind]) {
      if (!blocks[at] || !set[front] || !set[back]) { check(`contrast, ${scheme}`, `--${front} or --${back} is not there`); continue; }
      const ratio = contrast(set[front], set[back]);
      check(`contrast, ${scheme}`, ratio >= least ? [] : `--${front} on --${back} is ${ratio.toFixed(2)}, under ${least}`);
    }
  }
  // The ramp must rise in one direction, so that it can be read in grey.
  if (set["ramp-low"] && set["ramp-high"]) check(`ramp, ${scheme}`, contrast(set["ramp-low"], set["ramp-high"]) >= 3 ? [] : "its ends are too alike in grey");
});

// The browser.

const browser = await launch();
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

async function open(file, options, then) {
  const context = await browser.newContext({viewport: {width: 1280, height: 900}, acceptDownloads: true, ...options});
  const noise = [];
  await context.route("**/*", (route) => {
    const address = new URL(route.request().url());
    const near = ["file:", "data:", "blob:"].includes(address.protocol) || ["127.0.0.1", "localhost", "[::1]"].includes(address.hostname);
    if (near) return route.continue();
    noise.push(`asks for ${address.href}`);
    return route.abort();
  });
  const page = await context.newPage();
  page.on("console", (message) => noise.push(`console: ${message.text()}`));
  page.on("pageerror", (error) => noise.push(`script: ${error.message}`));
  page.on("requestfailed", (request) => noise.push(`not loaded: ${request.url()}`));
  const [path, fragment] = Array.isArray(file) ? file : [file, ""];
  await page.goto(address(path) + fragment);
  try {
    await then(page);
  } catch (error) {
    noise.push(`check broke: ${error.message.split("\n")[0]}`);
  }
  await context.close();
  return noise;
}

let heaviest = 0;
const sideways = (scrolls = false) => {
  const root = document.documentElement;
  if (root.scrollWidth <= root.clientWidth) return [];
  const wide = [...document.querySelectorAll("body *")].filter((element) => element.getBoundingClientRect().right > root.clientWidth + 1 && (scrolls || !element.closest(".scroll")));
  return [`${root.scrollWidth} px wide in a window of ${root.clientWidth}: ${wide.slice(0, 3).map((e) => `${e.localName}.${e.className}`).join(", ")}`];
};

for (const file of openable) {
  for (const colorScheme of ["light", "dark"]) {
    for (const width of [320, 768, 1280]) {
      const what = `${name(file)}, ${colorScheme}, ${width} px`;
      const noise = await open(file, {colorScheme, viewport: {width, height: 900}, bypassCSP: true}, async (page) => {
        check(`${what}: scroll`, await page.evaluate(sideways));
        await page.evaluate(axe);
        const found = await page.evaluate((tags) => globalThis.axe.run(document, {runOnly: tags, resultTypes: ["violations"], preload: false}), TAGS);
        check(`${what}: axe`, found.violations.flatMap((v) => v.nodes.slice(0, 3).map((node) => `${v.id}: ${node.target.join(" ")} (${(node.any[0] ?? node.all[0] ?? node.none[0])?.message ?? v.help})`)));
      });
      check(`${what}: quiet`, noise);
    }
  }

  // Without bypassing the page's own policy: nothing it needs is refused.
  const strict = await open(file, {viewport: {width: 640, height: 900}}, async (page) => {
    const sheets = await page.evaluate(() => document.styleSheets.length);
    check(`${name(file)}: policy`, sheets === 1 ? [] : `${sheets} style sheets were let in, not 1`);
    // Letters twice as large, as with 200 % zoom of text.
    await page.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
    check(`${name(file)}: letters twice as large`, await page.evaluate(sideways));
    // On paper nothing can be scrolled: all of it has to stand on the sheet.
    await page.evaluate(() => { document.documentElement.style.fontSize = ""; });
    await page.emulateMedia({media: "print"});
    const across = await page.evaluate(() => getComputedStyle(document.querySelector("main > *") ?? document.body).page === "across");
    await page.setViewportSize(across ? {width: 980, height: 740} : {width: 680, height: 960});
    check(`${name(file)}: on paper`, await page.evaluate(sideways, true));
  });
  check(`${name(file)}: under its own policy`, strict);

  const silent = await open(file, {javaScriptEnabled: false, viewport: {width: 320, height: 900}}, async (page) => {
    const words = (await page.locator("main").innerText()).trim();
    check(`${name(file)}: without scripts`, words.length > 80 ? [] : "shows next to nothing");
    check(`${name(file)}: without scripts`, (await page.locator("main form:visible").count()) === 0 ? [] : "shows controls that do nothing");
  });
  check(`${name(file)}: quiet without scripts`, silent);

  // Tab through: everything that can be worked is reached, seen where it stands,
  // with a visible mark, and in the document's order.
  const keys = await open(file, {}, async (page) => {
    const wanted = await page.evaluate(() => {
      const list = [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex='0']")]
        .filter((e) => e.checkVisibility({checkVisibilityCSS: true}) && !e.disabled && e.tabIndex >= 0);
      // One radio of a group can be reached by Tab, the rest by arrows.
      const first = list.filter((e) => e.type !== "radio" || e.checked);
      first.forEach((e, at) => { e.dataset.nth = at; });
      return first.length;
    });
    const findings = [];
    const limit = Math.min(wanted, 160);
    let last = -1;
    let dark = 0;
    for (let press = 0; press < limit; press += 1) {
      await page.keyboard.press("Tab");
      const at = await page.evaluate(() => {
        const e = document.activeElement;
        const style = getComputedStyle(e);
        const mark = e.querySelector?.(".here-dot");
        return {nth: e.dataset?.nth === undefined ? null : Number(e.dataset.nth), outlined: style.outlineStyle !== "none" || Boolean(mark), what: `${e.localName} ${e.textContent.trim().slice(0, 30)}`};
      });
      if (at.nth === null) { findings.push(`Tab ${press + 1} went to ${at.what}, which nobody should reach`); break; }
      if (at.nth !== last + 1) { findings.push(`Tab ${press + 1} went to ${at.what}, out of order`); break; }
      if (!at.outlined && dark++ < 3) findings.push(`${at.what} does not show that it has the focus`);
      last = at.nth;
    }
    check(`${name(file)}: keyboard`, findings);
  });
  check(`${name(file)}: quiet with keys`, keys);
}

// The first screen of a review on a small phone says what it is, whom it may suit
// and how sure that is; of a language of longer words on a common one. And the first
// load is light.

const standing = (file) => review(file) && !/class="box withdrawal"/.test(text.get(file));
const own = (file) => tongue(file) === "";
for (const file of html.filter(standing)) {
  const viewport = own(file) ? {width: 320, height: 640} : {width: 360, height: 740};
  const noise = await open(file, {viewport}, async (tab) => {
    const ends = await tab.evaluate(() => ["h1", ".suits", ".glance", ".how-sure"].map((query) => {
      const element = document.querySelector(query);
      return element ? [query, Math.round(element.getBoundingClientRect().bottom)] : [query, Infinity];
    }));
    const below = ends.filter(([, bottom]) => bottom > viewport.height);
    check(`${name(file)}: the first screen`, below.map(([query, bottom]) => `${query} ends at ${bottom} px of ${viewport.height}`));
  });
  check(`${name(file)}: quiet on a phone`, noise);
}
for (const file of openable.filter((file) => standing(file) && own(file))) {
  const loaded = [];
  const context = await browser.newContext();
  const tab = await context.newPage();
  tab.on("response", (response) => loaded.push(response.body().then((body) => [response.url(), body.length], () => [response.url(), 0])));
  await tab.goto(`${served.origin}${base || "/"}${name(file)}`, {waitUntil: "networkidle"});
  const sizes = await Promise.all(loaded);
  const total = sizes.reduce((sum, [, size]) => sum + size, 0);
  heaviest = Math.max(heaviest, total);
  check(`${name(file)}: first load`, total < 60000 && sizes.length >= 2 ? [] : `${total} bytes uncompressed: ${sizes.map(([url, size]) => `${url.split("/").slice(-2).join("/")} ${size}`).join(", ")}`);
  await context.close();
}
console.log(`heaviest first load of a review: ${heaviest} bytes, uncompressed`);

// What the scripts promise.

const page = (path) => join(folder, path);
if (existsSync(page("compare/data.js"))) await comparison({folder, open, check});
if (existsSync(page("find/data.js"))) await finder({folder, open, check});
if (existsSync(page("search/data.js"))) {
  const noise = await open(page("search/index.html"), {}, async (tab) => {
    const title = await tab.evaluate(() => globalThis.folioSearch.entries[0][0]);
    await tab.locator("#query").fill(title.toUpperCase());
    check("search: finds a title", (await tab.locator("#results a").allInnerTexts()).includes(title) ? [] : `${title} is not found`);
    await tab.locator("#query").fill("zzzz-no-such");
    check("search: says that it found nothing", /Nothing/.test(await tab.locator("#count").innerText()) ? [] : "it does not");
  });
  check("search: quiet at work", noise);
}

await browser.close();
served.close();
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
