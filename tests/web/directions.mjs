// Names in scripts from right to left, on every page of a folio, in a real browser:
//
//   node directions.mjs FOLDER
//
// Each letter of such a script stands in an element or between characters that
// isolate it, and what is beside it on its line stands where it was written: from
// left to right, name by name and word by word, by the rectangles the browser
// lays them out in. At 320 and 1280 px, with what the finder, the search and the
// comparison write as well.
//
// Prints each finding and `N pages, N names, N findings`; exits 1 if there is one,
// or if no name of that kind was there to be looked at.

import {existsSync, readFileSync} from "node:fs";
import {join, relative, resolve} from "node:path";
import {pathToFileURL} from "node:url";
import {launch, leadsOn, walk} from "./folio.mjs";

const folder = resolve(process.argv[2] ?? "");
if (!process.argv[2] || !existsSync(join(folder, "index.html"))) {
  console.error("usage: node directions.mjs FOLDER, a folder that holds a finished folio");
  process.exit(2);
}
const LEFTWARDS = /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefe]/;
const pages = [...walk(folder)].filter((file) => file.endsWith(".html")).sort();
const shoes = [...new Set(pages.map((file) => relative(folder, file)).filter((file) => file.startsWith("shoes/")).map((file) => file.split("/")[1]))];
// What a reader asks of the pages that answer.
const name = pages.map((file) => readFileSync(file, "utf8").match(/<h1[^>]*>[\s\S]*?<\/h1>/)?.[0].replace(/<[^>]*>/g, " ").match(/[\u0590-\u08ff]+/)?.[0]).find(Boolean) ?? "";
const asked = (file) => {
  const page = relative(folder, file);
  if (page.endsWith("compare/index.html")) return ["", `#pick=${shoes.slice(0, 3).join(",")}&x=mass&y=torsion`];
  if (page.endsWith("find/index.html")) return ["#use=road"];
  if (page.endsWith("search/index.html")) return [`#q=${encodeURIComponent(name)}`];
  return [""];
};

/** In the page: what is not isolated, what is out of order, and how many names there are. */
function look(source) {
  const leftwards = new RegExp(source);
  const findings = [];
  let names = 0;
  const isolates = (element) => element.matches("bdi, [dir=auto]");
  const outside = (node) => {
    for (let at = node.parentElement; at; at = at.parentElement) {
      if (at.matches("script, style, noscript, template")) return true;
      if (at.matches("dialog:not([open])") || at.hidden) return true;
    }
    return false;
  };
  const block = (node) => {
    let at = node.parentElement;
    while (at && getComputedStyle(at).display.startsWith("inline") && at.parentElement) at = at.parentElement;
    return at;
  };
  const isolate = (node, within) => {
    let found = null;
    for (let at = node.parentElement; at && at !== within.parentElement; at = at.parentElement) if (isolates(at)) found = at;
    return found;
  };
  // The pieces of each block in the order they were written: a word, or a name.
  const blocks = new Map();
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data.trim() || outside(node)) continue;
    const within = block(node);
    const pieces = blocks.get(within) ?? [];
    blocks.set(within, pieces);
    const held = isolate(node, within);
    const range = (from, to) => { const one = document.createRange(); one.setStart(node, from); one.setEnd(node, to); return one.getClientRects(); };
    if (held) {
      if (leftwards.test(node.data)) names += 1;
      if (pieces.at(-1)?.held !== held) pieces.push({held, text: held.textContent, rects: [...held.getClientRects()]});
      continue;
    }
    let depth = 0;
    let from = 0;
    const flush = (to, alone) => {
      const text = node.data.slice(from, to);
      if (alone && leftwards.test(text)) names += 1;
      if (!alone && leftwards.test(text)) findings.push(`“${text.trim().slice(0, 60)}” is not isolated in <${node.parentElement.localName}>`);
      if (alone) pieces.push({text, rects: [...range(from, to)]});
      else for (const word of text.matchAll(/\S+/g)) pieces.push({text: word[0], rects: [...range(from + word.index, from + word.index + word[0].length)]});
      from = to;
    };
    for (let at = 0; at < node.data.length; at += 1) {
      if (node.data[at] === "\u2068") { if (depth === 0) flush(at, false); depth += 1; }
      if (node.data[at] === "\u2069") { depth -= 1; if (depth === 0) flush(at + 1, true); }
    }
    flush(node.data.length, depth > 0);
  }
  for (const [within, pieces] of blocks) {
    if (!leftwards.test(within.textContent)) continue;
    const shown = pieces.map(({text, rects}) => ({text, rects: rects.filter(({width}) => width > 0)})).filter(({rects}) => rects.length);
    for (let nth = 1; nth < shown.length; nth += 1) {
      const [before, after] = [shown[nth - 1].rects.at(-1), shown[nth].rects[0]];
      const line = Math.min(before.bottom, after.bottom) - Math.max(before.top, after.top);
      if (line < Math.min(before.height, after.height) / 2) continue;
      if (after.left < before.right - 1) findings.push(`“${shown[nth].text.trim().slice(0, 40)}” stands before “${shown[nth - 1].text.trim().slice(0, 40)}” in <${within.localName}>`);
    }
  }
  // What is said and not seen holds the characters, because it holds no element.
  const read = [document.title, ...[...document.querySelectorAll("[aria-label], [title], option, svg title, svg desc, svg text, meta[name=description]")].flatMap((element) =>
    [element.getAttribute("aria-label"), element.getAttribute("title"), element.getAttribute("content"), element.matches("option, svg *") ? element.textContent : null])];
  for (const text of read.filter((text) => text && leftwards.test(text))) {
    const rest = text.replace(/\u2068[^\u2068\u2069]*\u2069/g, "").replace(/\u2068[^\u2068\u2069]*\u2069/g, "");
    // A name alone has nothing beside it.
    if (leftwards.test(rest) && /[a-z0-9]/i.test(rest)) findings.push(`“${text.slice(0, 60)}” is said without isolates`);
  }
  return {findings, names};
}

const browser = await launch();
let names = 0;
let findings = 0;
let opened = 0;
for (const width of [320, 1280]) {
  const context = await browser.newContext({viewport: {width, height: 900}});
  for (const file of pages) {
    if (leadsOn(readFileSync(file, "utf8"))) continue;
    for (const hash of asked(file)) {
      const page = await context.newPage();
      await page.goto(pathToFileURL(file).href + hash);
      await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done))));
      const found = await page.evaluate(`(${look})(${JSON.stringify(LEFTWARDS.source)})`);
      opened += 1;
      names += found.names;
      findings += found.findings.length;
      for (const one of new Set(found.findings)) console.log(`${relative(folder, file)}${hash} at ${width}: ${one}`);
      await page.close();
    }
  }
  await context.close();
}
await browser.close();
console.log(`${opened} pages, ${names} names, ${findings} findings`);
process.exit(findings > 0 || names === 0 ? 1 : 0);
