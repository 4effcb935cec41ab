// Opens every page of folios made from hostile texts in a real browser:
//
//   node hostile.mjs FOLDER…
//
// They are served with a strict policy of their own beside the pages' own. On no
// page may a script of a text run, an element or a handler come from a text, a
// request leave the folio, a link lead to a script, or the console say anything.
// The feed and the sitemap are read as XML.
//
// Prints each finding and `N pages, N findings`; exits 1 if there is one.

import {existsSync, readFileSync} from "node:fs";
import {join, relative, resolve} from "node:path";
import {launch, leadsOn, serve, walk} from "./folio.mjs";

const folders = process.argv.slice(2).map((folder) => resolve(folder));
if (folders.length === 0 || folders.some((folder) => !existsSync(join(folder, "index.html")))) {
  console.error("usage: node hostile.mjs FOLDER…, folders that hold finished folios");
  process.exit(2);
}

const POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; require-trusted-types-for 'script'";

let findings = 0;
let pages = 0;
const found = (where, what) => { findings += 1; console.log(`${where}: ${what}`); };

const browser = await launch();

for (const folder of folders) {
  const {origin, close} = await serve(folder, {headers: {"content-security-policy": POLICY}});
  const context = await browser.newContext();
  let at = "";
  await context.route("**", (route) => {
    const url = route.request().url();
    if (url.startsWith(origin + "/") || url.startsWith("data:image/svg+xml")) return route.continue();
    found(at, `asks for ${url}`);
    return route.abort();
  });
  const page = await context.newPage();
  page.on("console", (message) => found(at, `console: ${message.text()}`));
  page.on("pageerror", (error) => found(at, `error: ${error.message}`));
  page.on("dialog", (dialog) => { found(at, "a dialog"); dialog.dismiss(); });

  for (const file of [...walk(folder)].sort()) {
    const name = relative(folder, file);
    at = `${folder}: ${name}`;
    if (file.endsWith(".xml")) {
      await page.goto("about:blank");
      const wrong = await page.evaluate((xml) => {
        const read = new DOMParser().parseFromString(xml, "application/xml");
        const names = [...read.querySelectorAll("*")].map((element) => element.localName);
        return read.querySelector("parsererror")?.textContent ?? names.find((name) => name === "x-evil" || name === "script");
      }, readFileSync(file, "utf8"));
      if (wrong) found(at, `as XML: ${wrong}`);
      continue;
    }
    // The page for a missing address and those that lead on are bound to their own address.
    if (!file.endsWith(".html") || leadsOn(readFileSync(file, "utf8")) || name === "404.html") continue;
    pages += 1;
    await page.goto(`${origin}/${name}`, {waitUntil: "load"});
    for (const what of await page.evaluate(async () => {
      const said = [];
      if (globalThis.hostile !== undefined) said.push("a text ran as a script");
      // What people do: point at everything, and let the scripts search and filter.
      for (const element of document.querySelectorAll("main *")) element.dispatchEvent(new Event("mouseover", {bubbles: true}));
      for (const field of document.querySelectorAll("input[type=search], input[type=text]")) {
        field.value = "a";
        field.dispatchEvent(new Event("input", {bubbles: true}));
      }
      for (const field of document.querySelectorAll("input[type=checkbox], input[type=radio], th button")) field.click();
      await new Promise((done) => setTimeout(done, 30));
      if (globalThis.hostile !== undefined) said.push("a text ran as a script when it was touched");
      for (const element of document.querySelectorAll("*")) {
        const name = element.localName;
        if (name === "x-evil" || ["iframe", "object", "embed", "base"].includes(name)) said.push(`an element ${name}`);
        if (name === "script" && !element.src && element.type !== "application/ld+json") said.push("a script within the page");
        for (const {name: attribute, value} of element.attributes) {
          if (attribute.startsWith("on")) said.push(`a handler ${attribute}`);
          if (["href", "src", "action", "xlink:href"].includes(attribute)
            && !/^(https?:|mailto:|#|\.{0,2}\/|[\w-]+[/.]|data:image\/svg\+xml|$)/i.test(value)) said.push(`leads to ${value}`);
        }
      }
      for (const block of document.querySelectorAll('script[type="application/ld+json"]')) JSON.parse(block.textContent);
      return [...new Set(said)];
    })) found(at, what);
  }
  await context.close();
  close();
}
await browser.close();
console.log(`${pages} pages, ${findings} findings`);
process.exit(findings === 0 && pages > 0 ? 0 : 1);
