// Types whole sessions at the bench desk in a real browser, and kills it:
//
//   node check.mjs SOLEFOLIO
//
// SOLEFOLIO is the built program. A new lab is laid in a temporary folder; a
// session is typed by keyboard alone; what the shoe's file then differs in must
// be the readings and nothing else. The program is killed (SIGKILL) in the
// middle of another session and started again: no trial that the page had marked
// as kept may be lost. Markup in any field or file of the lab stays text. A page of
// another origin can neither read nor write, whatever it asks for.
//
// Prints a line a finding, then `N passed, N failed`; exits 1 if any failed.
// CHROMIUM names the browser where it is not the usual one.

import {chromium} from "playwright-core";
import {execFileSync, spawn} from "node:child_process";
import {createServer, request} from "node:http";
import {mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {join, resolve} from "node:path";

if (!process.argv[2]) {
  console.error("usage: node check.mjs SOLEFOLIO, the built program");
  process.exit(2);
}
const program = resolve(process.argv[2]);
const folder = mkdtempSync(join(tmpdir(), "bench-"));
const root = join(folder, "lab");
execFileSync(program, ["begin", root, "--quiet"]);

// Markup wherever a lab's own words come onto the page.
// Their words are changed below, so what says them in German goes.
rmSync(join(root, "lab/languages"), {recursive: true});
const MARKUP = "<img src=x onerror=alert(1)>";
function mark(file, pattern) {
  const path = join(root, file);
  const before = readFileSync(path, "utf8");
  const after = before.replace(pattern, (_, key) => `${key}"${MARKUP} x"`);
  if (after === before) throw new Error(`${file} holds no ${pattern}`);
  writeFileSync(path, after);
}
mark("lab/lab.yaml", /^(name: ).*$/m);
mark("lab/lab.yaml", /^(  mara: ).*$/m);
mark("lab/lab.yaml", /^(  walking: ).*$/m);
mark("lab/protocol.yaml", /(what: )The whole shoe.*/);
mark("lab/instruments.yaml", /(label: )Bench scale no. 1.*/);
mark("shoes/pellwick-causey-3.yaml", /^(model: ).*$/m);

let passed = 0;
let failed = 0;
function check(what, holds, found = "") {
  if (holds) { passed += 1; return; }
  failed += 1;
  console.log(`${what}: ${typeof found === "string" ? found : JSON.stringify(found)}`);
}

let started = null;
process.on("exit", () => started?.kill("SIGKILL")); // also where a check throws
function start(more = []) {
  const child = started = spawn(program, ["bench", "--root", root, "--format", "json", ...more], {stdio: ["ignore", "pipe", "inherit"]});
  const address = new Promise((found, refuse) => {
    let text = "";
    child.stdout.on("data", (data) => {
      text += data;
      if (text.includes("\n")) found(JSON.parse(text).address);
    });
    child.on("exit", () => refuse(new Error(`the bench ended: ${text}`)));
  });
  return {child, address};
}
function kill(child) {
  return new Promise((gone) => { child.on("exit", gone); child.kill("SIGKILL"); });
}

// Lines that differ, as [before, after]; the files must have as many lines.
function differences(before, after) {
  const [a, b] = [before.split("\n"), after.split("\n")];
  if (a.length !== b.length) return [["lines", `${a.length} and ${b.length}`]];
  return a.map((line, at) => [line, b[at]]).filter(([x, y]) => x !== y);
}

const browser = await chromium.launch({executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox"]});
// A busy machine is slow; nothing here is judged by the clock.
const context = await browser.newContext({viewport: {width: 768, height: 1024}, hasTouch: true, isMobile: true});
const page = await context.newPage();
const complaints = [];
page.on("console", (message) => { if (["error", "warning"].includes(message.type())) complaints.push(message.text()); });
page.on("pageerror", (error) => complaints.push(String(error)));
let dialogs = 0;
page.on("dialog", (dialog) => { dialogs += 1; dialog.dismiss(); });
const requests = new Set();
page.on("request", (request) => requests.add(new URL(request.url()).host));

const field = (label, trial) => page.getByLabel(`${label}, trial ${trial}`, {exact: true});
async function kept(label, trial) {
  const box = page.locator(".trial", {has: field(label, trial)});
  await box.locator(".mark.kept").waitFor({timeout: 30000});
}

// 1. A session of a shoe that is there: keyboard alone.
const tussock = join(root, "shoes/lindqvarn-tussock.yaml");
const before = readFileSync(tussock, "utf8");
let bench = start(["--shoe", "lindqvarn-tussock"]);
let address = await bench.address;
const base = address.split("#")[0];
await page.goto(address);
await field("Mass", 1).waitFor();
check("the pointer is a finger", await page.evaluate(() => matchMedia("(pointer: coarse)").matches));
const mass = await page.locator('[data-quantity="mass"]').innerText();
check("instrument, unit and calibration are named", /Mass, g\b[^]*<img src=x onerror=alert\(1\)> x; calibrated until/.test(mass), mass);
await field("Mass", 1).focus();
for (const word of ["316", "317 g", "316"]) {
  await page.keyboard.type(word);
  await page.keyboard.press("Enter");
}
// Midfoot torque comes next: the third is off, then taken again with its unit.
for (const word of ["5.7", "5,6", "7.9"]) {
  await page.keyboard.type(word);
  await page.keyboard.press("Enter");
}
await page.locator('[data-quantity="midfoot-torque"] .advice').filter({hasText: "trial 3"}).waitFor();
check("an off trial is marked", (await page.locator('[data-quantity="midfoot-torque"] .trial.again').count()) === 1);
check("its flag is said", /the protocol allows/.test(await page.locator('[data-quantity="midfoot-torque"] .flag.stops').first().textContent()));
await field("Midfoot torque", 3).focus();
await page.keyboard.type("50 in·lbf");
await page.keyboard.press("Enter");
await page.locator('[data-quantity="midfoot-torque"] .mark', {hasText: "5.65 N·m"}).waitFor();
check("the advice goes when it is mended", (await page.locator('[data-quantity="midfoot-torque"] .trial.again').count()) === 0);
const torque = await page.locator('[data-quantity="midfoot-torque"] .answer').textContent();
check("mean, spread, band, chance and standing are said", /mean .*spread .*Torsion: .*chance \d+ %.*no\. \d+ of \d+ trail shoes/s.test(torque), torque);
check("a ruler is drawn", (await page.locator('[data-quantity="midfoot-torque"] svg.ruler').count()) >= 1);

// Out of range, then undone.
await field("Heel compression", 1).focus();
await page.keyboard.type("851");
await page.keyboard.press("Enter");
await page.locator('[data-quantity="heel-compression"] .mark.odd', {hasText: "out of range"}).waitFor();
await page.keyboard.press("*");
await page.waitForFunction(() => document.querySelector('[data-quantity="heel-compression"] input').value === "8.51");
check("undo takes it back", (await field("Heel compression", 1).inputValue()) === "8.51");

// A fourth trial by the number pad alone.
await field("Rebound travel", 3).focus();
await page.keyboard.press("End");
await page.keyboard.press("NumpadAdd");
for (const key of ["Digit1", "Digit6", "Period", "Digit4", "NumpadEnter"]) await page.keyboard.press(key);
await kept("Rebound travel", 4);

// A gauge that types like a keyboard: digits and Enter in one burst.
await field("Loaded drop", 1).focus();
const drops = [1, 2, 3].map((trial) => field("Loaded drop", trial).inputValue());
const burst = (await Promise.all(drops)).map((word) => (Number(word) + .1).toFixed(2));
await page.keyboard.type(burst.map((word) => `${word}\n`).join(""), {delay: 0});
for (const trial of [1, 2, 3]) await kept("Loaded drop", trial);
check("a gauge's burst lands a reading a trial", JSON.stringify(await Promise.all([1, 2, 3].map((trial) => field("Loaded drop", trial).inputValue()))) === JSON.stringify(burst));

// A word that is no reading is told as text.
await field("Static drop", 1).focus();
const drop = await field("Static drop", 1).inputValue();
await page.keyboard.type("<img src=x onerror=alert(1)>");
await page.keyboard.press("Enter");
await page.locator('[data-quantity="static-drop"] .trial.wrong').waitFor();
check("nothing typed is markup", (await page.locator("main img").count()) === 0 && dialogs === 0);
await page.locator("#save").click();
await page.locator("#said", {hasText: "Static drop, trial 1"}).waitFor();
check("what is no reading is not saved", readFileSync(tussock, "utf8") === before);
await field("Static drop", 1).fill("");
await page.locator("#save").click();
await page.locator("#said", {hasText: "every trial is empty"}).waitFor();
check("an emptied quantity is not quietly kept", readFileSync(tussock, "utf8") === before);

// A reload loses nothing, not even what was typed the instant before.
await field("Static drop", 1).fill(drop);
await page.reload();
await field("Mass", 1).waitFor();
check("a reload keeps what was typed", (await field("Midfoot torque", 3).inputValue()) === "50 in·lbf");
check("a reload keeps what was typed the instant before", (await field("Static drop", 1).inputValue()) === drop);
check("nothing is written before it is saved", readFileSync(tussock, "utf8") === before);
await page.locator("#save").click();
await page.locator("#said", {hasText: "saved to shoes/lindqvarn-tussock.yaml"}).waitFor();
const changed = differences(before, readFileSync(tussock, "utf8"));
check("the file differs in the readings and nothing else", JSON.stringify(changed) === JSON.stringify([
  ["      mass: [314, 315, 315]", "      mass: [316, 317 g, 316]"],
  ["      midfoot-torque: [5.70, 5.45, 5.75]", "      midfoot-torque: [5.7, 5.6, 50 in·lbf]"],
  ["      rebound-travel: [16.3, 16.5, 16.3]", "      rebound-travel: [16.3, 16.5, 16.3, 16.4]"],
  [before.match(/^ +loaded-drop: .*$/m)[0], `      loaded-drop: [${burst.join(", ")}]`],
]), changed);

// 2. Touch: targets of 48 px and more.
const small = await page.evaluate(() => [...document.querySelectorAll("button, input, select")]
  .filter((one) => one.offsetParent)
  .map((one) => [one.id || one.ariaLabel || one.textContent, one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 48 || box.height < 48).map(([name]) => name));
check("targets are 48 px and more", small.length === 0, small);
const wide = await page.evaluate(() => document.documentElement.scrollWidth > innerWidth);
check("no sideways scroll on a tablet", !wide);
check("the cautions of the press are on the page", /pinch points.*eye protection/s.test(await page.locator(".caution").textContent()));

// 3. A change of somebody else's is asked about.
await field("Mass", 1).focus();
await page.keyboard.type("318");
await page.keyboard.press("Enter");
await kept("Mass", 1);
writeFileSync(tussock, readFileSync(tussock, "utf8").replace("mass: [316, 317 g, 316]", "mass: [300]  # by hand").replace("summary: A soft", "summary: A very soft"));
await page.locator("#save").click();
await page.locator("#said button", {hasText: "Mine: 318, 317 g, 316"}).waitFor();
check("nothing was written over it", readFileSync(tussock, "utf8").includes("mass: [300]  # by hand"));
await page.locator("#said button", {hasText: "Mine: 318, 317 g, 316"}).click();
await page.locator("#said", {hasText: "saved"}).waitFor();
const merged = readFileSync(tussock, "utf8");
check("the choice is kept, the rest is merged", merged.includes("mass: [318, 317 g, 316]  # by hand") && merged.includes("summary: A very soft"), merged);

// A trial is taken out beside a comment, which stays.
writeFileSync(tussock, readFileSync(tussock, "utf8").replace("mass: [318, 317 g, 316]  # by hand", "mass:\n        - 318  # by hand\n        - 317 g  # on the old scale\n        - 316"));
await page.reload();
await field("Mass", 2).fill("");
await page.locator("#save").click();
await page.locator("#said", {hasText: "saved"}).waitFor();
check("a trial is taken out and its comment stays", readFileSync(tussock, "utf8").includes("mass:\n        - 318  # by hand\n        # on the old scale\n        - 316\n"), readFileSync(tussock, "utf8"));

// Over the protocol's time the timer says so.
await page.evaluate(() => fetch("left", {method: "POST", body: JSON.stringify({shoe: "lindqvarn-tussock", specimen: "TS-L", at: Date.now() - 31 * 60000})}));
await page.reload();
await page.locator("#timer.late", {hasText: "over the 30 min"}).waitFor();

// 4. A new shoe, and a text that tries to be markup.
await page.locator("#back").click();
const codes = (await page.evaluate(() => fetch("state").then((answer) => answer.json()))).shoes;
await page.locator("#code").fill(codes.find((one) => one.shoe === "pellwick-causey-3").code.toLowerCase());
check("a bench sheet's code picks the shoe", (await page.locator("#shoe").inputValue()) === "pellwick-causey-3");
await page.locator("#shoe").selectOption("");
const form = page.locator("#new");
for (const [name, value] of Object.entries({maker: "Ostrell <img src=x onerror=alert(1)>", model: "Inkwell", version: "2", size: "270", id: "IW-L"})) {
  await form.locator(`[name=${name}]`).fill(value);
}
const sessions = readdirSync(join(root, "shoes")).filter((name) => name.endsWith(".yaml"))
  .flatMap((name) => [...readFileSync(join(root, "shoes", name), "utf8").matchAll(/session: \{on: ([\d-]+), operator: (\w+), temperature: ([^,]+), humidity: ([^,]+), soaked: ([^,}]+)/g)]);
const last = sessions.map((found) => found[1]).sort().at(-1);
const filled = await Promise.all(["operator", "temperature", "humidity", "soaked"].map((name) => form.locator(`[name=${name}]`).inputValue()));
check("operator and conditions are those of the last session", sessions.some((found) => found[1] === last && found.slice(2).every((word, at) => word.trim() === filled[at])), filled);
check("no word of the lab's files is markup", (await page.locator("img").count()) === 0 && dialogs === 0 && (await page.locator("h1").textContent()).includes(MARKUP));
await form.getByRole("button", {name: "Begin"}).click();
await field("Mass", 1).waitFor();
check("a name is text, not markup", (await page.locator("main img").count()) === 0);
await page.locator("#left").click();
await page.locator("#timer", {hasText: "since it left conditioning; of 30 min"}).waitFor();
await field("Mass", 1).focus();
for (const word of ["241", "242"]) {
  await page.keyboard.type(word);
  await page.keyboard.press("Enter");
}
await kept("Mass", 2);

// 5. Killed in the middle of typing: every trial marked as kept comes back.
const lost = [];
const typed = [];
for (let round = 0; round < 5; round += 1) {
  const word = `${241 + (round % 2)}`;
  if (round > 0) {
    await field("Mass", 2 + round).focus();
    await page.keyboard.press("+");
  } else await field("Mass", 3).focus();
  await page.keyboard.type(word);
  await page.keyboard.press("Enter");
  await kept("Mass", 3 + round);
  typed.push(word);
  // The next one is typed and the program killed before it can answer.
  await field("Heel compression", 1).focus();
  await page.keyboard.type(`6.${round}1`);
  await kill(bench.child);
  bench = start();
  address = await bench.address;
  await page.goto("about:blank");
  await page.goto(`${address}#ostrell-img-src-x-onerror-alert-1-inkwell-2/IW-L`);
  await field("Mass", 1).waitFor();
  const now = await Promise.all(["241", "242", ...typed].map((_, at) => field("Mass", at + 1).inputValue()));
  if (JSON.stringify(now) !== JSON.stringify(["241", "242", ...typed])) lost.push(now);
}
check("kill -9 loses no kept trial", lost.length === 0, lost);
await page.locator("#timer", {hasText: "since it left conditioning"}).waitFor();
for (let at = 1; at <= 3; at += 1) { await field("Heel compression", at).fill(""); }
await page.locator("#save").click();
await page.locator("#said", {hasText: "saved to"}).waitFor();
const made = readFileSync(join(root, "shoes/ostrell-img-src-x-onerror-alert-1-inkwell-2.yaml"), "utf8");
check("the new shoe's file holds its readings", made.includes("mass: [241, 242, 241, 242, 241, 242, 241]") && made.includes("id: IW-L"), made);
execFileSync(program, ["proof", "--root", root, "--quiet", "--as-of", "2026-11-28"], {stdio: "inherit"});

// 6. Pages of another origin read and write nothing.
const port = new URL(address).port;
const other = createServer((_, response) => response.end("<!doctype html><title>x</title>"));
await new Promise((ready) => other.listen(0, "127.0.0.1", ready));
const foreign = await context.newPage();
await foreign.goto(`http://127.0.0.1:${other.address().port}/`);
const path = new URL(address).pathname;
const tried = await foreign.evaluate(async ([at]) => {
  const results = {};
  for (const [name, options] of Object.entries({read: {}, blind: {mode: "no-cors"}, write: {method: "POST", mode: "no-cors", body: JSON.stringify({shoe: "lindqvarn-tussock", specimen: "TS-L", quantity: "mass", words: ["100"]})}})) {
    try {
      const response = await fetch(at + (name === "write" ? "typed" : "state"), options);
      results[name] = response.type === "opaque" ? "opaque" : await response.text();
    } catch (error) { results[name] = "refused"; }
  }
  return results;
}, [`http://127.0.0.1:${port}${path}`]);
check("another origin reads nothing", tried.read === "refused" && ["opaque", "refused"].includes(tried.blind), tried);
const state = await (await fetch(`http://127.0.0.1:${port}${path}state`)).json();
check("another origin writes nothing", !state.unsaved.some((one) => one.shoe === "lindqvarn-tussock"), state.unsaved);
// Under another name or from a page elsewhere, no way is open; no path leads out.
const status = (way, method, headers) => new Promise((found) => {
  request({host: "127.0.0.1", port, path: way, method, headers, setHost: false}, (response) => { response.resume(); found(response.statusCode); }).end(method === "POST" ? "{}" : undefined);
});
const host = `127.0.0.1:${port}`;
for (const [method, ways] of [["GET", ["", "bench.css", "bench.js", "state"]], ["POST", ["open", "start", "typed", "undo", "left", "drop", "save"]]]) {
  for (const way of ways) {
    const refused = await Promise.all([
      status(path + way, method, {host: `lab.example:${port}`}),
      status(path + way, method, {host, origin: "http://lab.example"}),
      status(path + way, method, {host, origin: "null"}),
      status(path + way, method, {host, "sec-fetch-site": "cross-site"}),
      status(`/${way}`, method, {host}),
      status(`/${"0".repeat(32)}/${way}`, method, {host}),
    ]);
    check(`${method} ${way || "the page"} is refused to others`, refused.every((one) => one === 403), refused);
  }
}
for (const way of ["../lab/lab.yaml", "%2e%2e/lab/lab.yaml", "..%2flab%2flab.yaml", "//etc/passwd", "bench.css/../../lab/lab.yaml", "lab/lab.yaml"]) {
  const answered = await status(path + way, "GET", {host});
  check(`no path leads out by ${way}`, [400, 403, 404].includes(answered), answered);
}
const without = await fetch(`http://127.0.0.1:${port}/state`);
check("without its token nothing is answered", without.status === 403);
check("the page asks its own server only", [...requests].every((host) => host === "" || host.startsWith("127.0.0.1:")), [...requests]);
const own = complaints.filter((text) => !/ERR_CONNECTION|409|422/.test(text));
check("no complaint on the console", own.length === 0, own);

await kill(bench.child);
other.close();
await browser.close();
rmSync(folder, {recursive: true});
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
