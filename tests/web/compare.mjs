// The comparison at work, held to the folio's own open data: every filter typed
// or chosen, every column sorted both ways, picked shoes side by side, the picture
// point by point, the saved table, the address. What must come out is worked out
// here from data/*.csv, never from what the page itself holds. Keys alone do all
// of it, but for the headings, which are clicked as well.

import {readFileSync} from "node:fs";
import {join} from "node:path";

/** A table of RFC 4180 as objects by its heads. */
export function parseCsv(text) {
  const rows = [];
  let row = [];
  let field = "";
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const c = text[at];
    if (quoted) {
      if (c === '"' && text[at + 1] === '"') { field += c; at += 1; }
      else if (c === '"') quoted = false;
      else field += c;
    } else if (c === '"') quoted = true;
    else if (c === ",") { row.push(field); field = ""; }
    else if (c === "\n") { rows.push([...row, field.replace(/\r$/, "")]); row = []; field = ""; }
    else field += c;
  }
  const [heads, ...body] = rows;
  return body.map((cells) => Object.fromEntries(heads.map((head, nth) => [head, cells[nth]])));
}

const PER_GRAM = {g: 1, oz: 1 / 28.349523125};        // exact (NIST SP 811, B.8)
const MOST = 4;

/** The shoes as the open data has them: each figure's number, its U, its band. */
function read(folder) {
  const table = (name) => parseCsv(readFileSync(join(folder, "data", name), "utf8"));
  const number = (text) => (text === "" ? null : Number(text));
  const shoes = table("shoes.csv").map((row) => ({
    slug: row.shoe, title: row.title, maker: row.maker, category: row.category,
    price: number(row.price), currency: row.currency, cells: {},
  }));
  const by = new Map(shoes.map((shoe) => [shoe.slug, shoe]));
  for (const row of table("findings.csv")) {
    if (row.not_judged !== "") continue;
    const cells = by.get(row.shoe).cells;
    if (row.score !== "") {
      // After ± stands the wider side of the interval.
      const [score, low, high] = [row.score, row.score_interval_low, row.score_interval_high].map(Number);
      cells[row.finding] = {value: score, u: Math.max(score - low, high - score), band: Number(row.band_number) - 1, word: row.band, borderline: row.borderline_with !== ""};
    } else if (row.value !== "") {
      const [value, low, high] = [row.value, row.interval_low, row.interval_high].map(Number);
      cells[row.finding] = {value, u: Math.max(value - low, high - value), unit: row.unit};
    }
  }
  for (const row of table("quantities.csv")) {
    if (row.absent === "") by.get(row.shoe).cells[row.quantity] = {value: Number(row.value), u: number(row.expanded_uncertainty), unit: row.unit};
  }
  const fold = (a, b) => (a < b ? -1 : a > b ? 1 : 0);
  return shoes.sort((a, b) => fold(a.title.toLowerCase(), b.title.toLowerCase()) || fold(a.slug, b.slug));
}

/** Whether two numbers are one but for the digits a page or file drops. */
const near = (a, b) => (a === null || b === null ? a === b : Math.abs(a - b) <= 2e-5 * Math.max(1, Math.abs(a)));
const same = (a, b) => a.length === b.length && a.every((one, at) => one === b[at]);
const differ = (is, wanted) => (same(is, wanted) ? [] : [`shows ${is.length} shoes (${is.slice(0, 3).join(", ")} …) where the data gives ${wanted.length} (${wanted.slice(0, 3).join(", ")} …)`]);

/** Runs all of it; `open` opens a page of the folio, `check` counts findings. */
export async function comparison({folder, open, check}) {
  const file = join(folder, "compare/index.html");
  const shoes = read(folder);
  const bySlug = new Map(shoes.map((shoe) => [shoe.slug, shoe]));
  let tab;
  let columns;
  // Only the column's key and kind are taken from the page: they name its filter.
  const cell = (shoe, key) => shoe.cells[key] ?? null;
  const slugs = () => tab.locator("#compare tbody th a").evaluateAll((links) => links.map((link) => link.getAttribute("href").split("/").at(-2)));
  // Filters wait 80 ms for the next key. This waits in the page itself, where timers
  // come in the order of their time, however slow the machine is.
  const settled = () => tab.evaluate(() => new Promise((done) => setTimeout(() => requestAnimationFrame(() => setTimeout(done)), 120)));

  /** Tabs to a control of the page, as somebody without a mouse does. */
  async function reach(id) {
    await tab.evaluate(() => { document.activeElement?.blur(); });
    await tab.locator("h1").click();                    // from the page's top
    for (let press = 0; press < 80; press += 1) {
      await tab.keyboard.press("Tab");
      if (await tab.evaluate(() => document.activeElement?.id) === id) return;
    }
    throw new Error(`Tab does not reach ${id}`);
  }
  async function type(id, text) {
    await reach(id);
    await tab.keyboard.press("ControlOrMeta+a");
    await tab.keyboard.press("Delete");
    if (text) await tab.keyboard.type(text);
    await settled();
  }
  async function choose(id, nth) {
    await reach(id);
    await tab.keyboard.press("Home");
    for (let press = 0; press < nth; press += 1) await tab.keyboard.press("ArrowDown");
    await settled();
  }
  async function clear() {
    const reset = tab.locator("#filters button[type=reset]");
    await reset.focus();
    await tab.keyboard.press("Enter");
    await settled();
  }
  const narrowed = [];
  /** The rows in view are those, and only those, that the data says pass. */
  async function shows(what, passes, among = shoes) {
    const wanted = among.filter(passes).map((shoe) => shoe.slug);
    const is = await slugs();
    check(`compare: ${what}`, differ(is, wanted));
    const words = await tab.locator("#shown").innerText();
    const number = wanted.length === shoes.length ? new RegExp(`\\b${shoes.length}\\b`) : new RegExp(`^${wanted.length} .*\\b${shoes.length}\\b`);
    check(`compare: ${what}, counted`, number.test(words) ? [] : `“${words}” for ${wanted.length} of ${shoes.length}`);
    if (wanted.length > 0 && wanted.length < shoes.length) narrowed.push(what);
    return wanted;
  }
  /** A new page at the same address shows the same. */
  async function comesBack(what) {
    const [address, wanted] = [tab.url(), await slugs()];
    const noise = await open([file, new URL(address).hash], {}, async (other) => {
      const is = await other.locator("#compare tbody th a").evaluateAll((links) => links.map((link) => link.getAttribute("href").split("/").at(-2)));
      check(`compare: ${what} from its address`, differ(is, wanted));
    });
    check(`compare: quiet at the address of ${what}`, noise);
  }

  const filters = await open(file, {}, async (page) => {
    tab = page;
    columns = await tab.evaluate(() => globalThis.folioCompare.columns.map(({key, kind, label, unit, bands}) => ({key, kind, label, unit, bands})));
    const known = new Set(shoes.flatMap((shoe) => Object.keys(shoe.cells)));
    check("compare: a column a figure", [...known].filter((key) => !columns.some((column) => column.key === key)).map((key) => `${key} of the data has no column`));
    await shows("no filter", () => true);

    const kinds = await tab.locator("#f-category option").evaluateAll((options) => options.map((option) => option.value));
    for (const [nth, category] of kinds.entries()) {
      await choose("f-category", nth);
      await shows(`category ${category || "any"}`, (shoe) => !category || shoe.category === category);
    }
    await comesBack("a category");
    await clear();
    await shows("filters cleared", () => true);

    const makers = [...new Set(shoes.map((shoe) => shoe.maker))];
    const offered = await tab.locator("#f-maker option").evaluateAll((options) => options.map((option) => option.value));
    check("compare: every maker is offered", same([...makers].sort(), offered.slice(1).sort()) ? [] : offered.join(", "));
    for (const [nth, maker] of offered.entries()) {
      await choose("f-maker", nth);
      await shows(`maker ${maker || "any"}`, (shoe) => !maker || shoe.maker === maker);
    }
    await comesBack("a maker");
    await clear();

    for (const [id, what, value] of [
      ["price", "price", (shoe) => shoe.price],
      ["mass", "mass", (shoe) => { const mass = cell(shoe, "mass"); return mass && mass.value * PER_GRAM[columns.find(({key}) => key === "mass").unit]; }],
    ]) {
      if (id === "mass" && !columns.some(({key}) => key === "mass")) continue;
      if (id === "price" && new Set(shoes.map((shoe) => shoe.currency).filter(Boolean)).size > 1) {
        check("compare: prices in several currencies", await tab.locator("#f-price").isVisible() ? "are filtered as one" : []);
        continue;
      }
      const all = shoes.map(value).filter((one) => one !== null).sort((a, b) => a - b);
      const places = id === "mass" ? 1 : 2;
      const [low, high] = [0.3, 0.6].map((share) => Number(all[Math.floor(share * (all.length - 1))].toFixed(places)));
      const within = (from, to) => (shoe) => { const one = value(shoe); return one !== null && one >= from && one <= to; };
      await type(`f-${id}-from`, String(low));
      await shows(`${what} from ${low}`, within(low, Infinity));
      await type(`f-${id}-to`, String(high));
      await shows(`${what} from ${low} to ${high}`, within(low, high));
      await comesBack(`a range of ${what}`);
      await type(`f-${id}-from`, "");
      await shows(`${what} to ${high}`, within(-Infinity, high));
      await clear();
    }

    const middle = shoes[Math.floor(shoes.length / 2)];
    for (const text of [middle.title, middle.maker.toUpperCase(), middle.title.split(" ").reverse().join("  "), middle.title.slice(1, 4), "zzzz-no-such"]) {
      await type("f-text", text);
      const words = text.toLowerCase().split(/\s+/).filter(Boolean);
      await shows(`text “${text}”`, (shoe) => words.every((word) => shoe.title.toLowerCase().includes(word)));
    }
    await type("f-text", middle.maker);
    await comesBack("a text");
    await clear();

    // Bands and tiers stand under a summary, which a key opens.
    await tab.locator("#more summary").focus();
    await tab.keyboard.press("Enter");
    for (const column of columns.filter(({kind}) => kind === "band")) {
      for (const [nth, word] of column.bands.entries()) {
        await choose(`f-${column.key}`, nth + 1);
        await shows(`${column.label} ${word}`, (shoe) => cell(shoe, column.key)?.band === nth);
      }
      await comesBack(column.label);
      await choose(`f-${column.key}`, 0);
    }
    await shows("every band left open again", () => true);

    // Several at once, all from one address.
    const [first] = columns.filter(({kind}) => kind === "band");
    const band = cell(middle, first.key)?.band;
    await choose("f-category", kinds.indexOf(middle.category));
    await choose(`f-${first.key}`, band + 1);
    await type("f-price-to", String(middle.price));
    await shows("three filters at once", (shoe) => shoe.category === middle.category && cell(shoe, first.key)?.band === band && shoe.price !== null && shoe.price <= middle.price);
    await comesBack("three filters");
  });
  check("compare: quiet while filtered", filters);
  for (const sign of ["category", "maker", "price from", "mass from", "text", ...(columns ?? []).filter(({kind}) => kind === "band").map(({label}) => label)]) {
    check(`compare: a filter narrows by ${sign}`, narrowed.some((what) => what.startsWith(sign)) ? [] : "every setting showed none or all, so nothing was shown by it");
  }

  // Every heading, clicked and by key: rising, falling, shoes without the figure last.
  const sorted = await open(file, {}, async (page) => {
    tab = page;
    const titled = (a, b) => shoes.indexOf(a) - shoes.indexOf(b);
    const label = Object.fromEntries(await tab.locator("#f-category option").evaluateAll((options) => options.map((option) => [option.value, option.textContent])));
    const keys = [
      ["title", null], ["category", (shoe) => label[shoe.category]], ["price", (shoe) => shoe.price],
      ...columns.map(({key}) => [key, (shoe) => cell(shoe, key)?.value ?? null]),
    ];
    const heads = tab.locator("#compare thead th button");
    check("compare: every column can be sorted", (await heads.count()) === keys.length ? [] : `${await heads.count()} buttons for ${keys.length} columns`);
    for (const [nth, [key, value]] of keys.entries()) {
      for (const [way, sign] of [["ascending", 1], ["descending", -1]]) {
        const byKey = (nth + (sign > 0 ? 0 : 1)) % 2 === 0;
        // The table begins in order of title, so its heading turns it at once.
        if (key === "title" && sign > 0) { await heads.nth(1).click(); }
        if (byKey) { await heads.nth(nth).focus(); await tab.keyboard.press("Enter"); } else await heads.nth(nth).click();
        const is = (await slugs()).map((slug) => bySlug.get(slug));
        const what = `sorted by ${key}, ${way}`;
        const marked = await tab.locator("#compare thead th[aria-sort]").evaluateAll((cells) => cells.map((one) => [one.cellIndex - 1, one.getAttribute("aria-sort")]));
        check(`compare: ${what}, said`, marked.length === 1 && marked[0][0] === nth && marked[0][1] === way ? [] : JSON.stringify(marked));
        check(`compare: ${what}, complete`, same(is.map((shoe) => shoe.slug).sort(), shoes.map((shoe) => shoe.slug).sort()) ? [] : `${is.length} rows of ${shoes.length}`);
        const wrong = is.slice(1).map((after, at) => [is[at], after]).filter(([before, after]) => {
          if (!value) return sign * titled(before, after) > 0;
          const [a, b] = [value(before), value(after)];
          if (a === null || b === null) return a === null && b !== null;
          const level = typeof a === "number" ? near(a, b) : a === b;
          return level ? typeof a !== "number" && titled(before, after) > 0 : sign * (a < b ? -1 : 1) > 0;
        });
        check(`compare: ${what}`, wrong.slice(0, 2).map(([before, after]) => `${before.title} stands before ${after.title}`));
      }
    }
    await comesBack("a sorting");
  });
  check("compare: quiet while sorted", sorted);

  // Four side by side, a fifth refused; each difference as the data has it.
  const picked = await open(file, {}, async (page) => {
    tab = page;
    const boxes = tab.locator("#compare tbody input[type=checkbox]");
    // The two that are alike in most figures, so that both answers are seen, and two from afar.
    const level = (a, b) => columns.filter(({key}) => cell(a, key) && cell(b, key) && Math.abs(cell(a, key).value - cell(b, key).value) <= Math.hypot(cell(a, key).u, cell(b, key).u)).length;
    const pairs = shoes.slice(0, 200).flatMap((a, at) => shoes.slice(at + 1, 200).map((b) => [level(a, b), a, b]));
    const [, one, twin] = pairs.reduce((best, pair) => (pair[0] > best[0] ? pair : best), [-1, ...shoes]);
    const wanted = [one, twin, ...[shoes[0], shoes.at(-1), ...shoes].filter((shoe, at, all) => shoe !== one && shoe !== twin && all.indexOf(shoe) === at)].slice(0, Math.min(MOST, shoes.length));
    for (const shoe of wanted) {
      await boxes.nth(shoes.indexOf(shoe)).focus();
      await tab.keyboard.press("Space");
    }
    const free = await boxes.evaluateAll((all) => all.filter((box) => !box.checked && !box.disabled).length);
    check("compare: a fifth shoe", wanted.length < MOST || free === 0 ? [] : `${free} more could be picked`);
    const other = shoes.findIndex((shoe) => !wanted.includes(shoe));
    if (other >= 0 && wanted.length === MOST) {
      await boxes.nth(other).evaluate((box) => { box.disabled = false; box.click(); });
      check("compare: a fifth shoe forced", (await tab.locator("#side-table thead th").count()) === MOST ? [] : "was taken in");
    }
    const rows = await tab.locator("#side-table tbody tr").evaluateAll((all) => all.map((row) => [...row.cells].slice(1).map((one) => [one.classList.contains("absent"), one.querySelector(".beyond") !== null, one.innerText.replaceAll("\u2212", "-")])));
    check("compare: a row a figure, side by side", rows.length === columns.length ? [] : `${rows.length} rows of ${columns.length}`);
    const findings = [];
    let beyond = 0;
    let alike = 0;
    columns.forEach((column, nth) => {
      const [first, ...others] = wanted.map((shoe) => cell(shoe, column.key));
      others.forEach((one, at) => {
        const [absent, marked, words] = rows[nth]?.[at + 1] ?? [];
        const what = `${column.label} of ${wanted[at + 1].title}`;
        if ((one === null) !== absent) findings.push(`${what} is ${absent ? "absent" : "there"}`);
        if (!one || !first) { if (!/cannot be compared/.test(words)) findings.push(`${what}: ${words}`); return; }
        const [gap, sure] = [one.value - first.value, Math.hypot(one.u, first.u)];
        if (Math.abs(Math.abs(gap) - sure) < 1e-3) return;
        const wants = Math.abs(gap) <= sure ? /alike within the uncertainties/ : gap > 0 ? /higher/ : /lower/;
        if (!wants.test(words) || marked !== Math.abs(gap) > sure) findings.push(`${what}: “${words}” for ${gap.toFixed(3)} ± ${sure.toFixed(3)}`);
        if (Math.abs(gap) > sure) {
          beyond += 1;
          const said = words.match(/([\d.]+) ± ([\d.]+) (?:higher|lower)/);
          if (!said || Math.abs(Number(said[1]) - Math.abs(gap)) > 0.51 || Math.abs(Number(said[2]) - sure) > 0.51) findings.push(`${what}: “${words}” for ${gap}`);
        } else alike += 1;
      });
    });
    check("compare: differences beyond their uncertainties", findings.slice(0, 5));
    check("compare: shoes that differ and shoes that are alike", beyond && alike ? [] : `${beyond} differ, ${alike} are alike: one of the two was not seen`);
    const noise = await open([file, new URL(tab.url()).hash], {}, async (again) => {
      const titles = await again.locator("#side-table thead th a").allInnerTexts();
      check("compare: picked shoes from their address", same(titles, wanted.map((shoe) => shoe.title)) ? [] : titles.join(", "));
    });
    check("compare: quiet at the address of picked shoes", noise);
    await tab.locator("#side-table thead button").first().focus();
    await tab.keyboard.press("Enter");
    check("compare: one taken away", (await tab.locator("#side-table thead th").count()) === wanted.length - 1 ? [] : "still stands there");
    check("compare: focus stays near what was taken away", await tab.evaluate(() => document.activeElement?.closest("#side-by-side") !== null) ? [] : "it went elsewhere");
  });
  check("compare: quiet side by side", picked);
  const five = await open([file, `#pick=${shoes.slice(0, MOST + 1).map((shoe) => shoe.slug).join(",")}`], {}, async (page) => {
    check("compare: five in an address", (await page.locator("#side-table thead th").count()) <= MOST ? [] : "all five are shown");
  });
  check("compare: quiet with five in the address", five);

  // The picture: every figure across and up, a point a shoe that has both, whiskers
  // about each, every point named by arrow keys.
  const drawn = await open(file, {}, async (page) => {
    tab = page;
    await tab.locator("#picture summary").focus();
    await tab.keyboard.press("Enter");
    for (const [nth, column] of columns.entries()) {
      const up = (nth + 1) % columns.length;
      await choose("axis-x", nth);
      await choose("axis-y", up);
      const both = shoes.filter((shoe) => cell(shoe, column.key) && cell(shoe, columns[up].key));
      const what = `${column.label} against ${columns[up].label}`;
      const paths = await tab.evaluate(() => [".dots", ".whiskers"].map((query) => (document.querySelector(`#plot ${query}`)?.getAttribute("d") ?? "").split("M").length - 1));
      check(`compare: points of ${what}`, paths[0] === both.length ? [] : `${paths[0]} of ${both.length}`);
      check(`compare: whiskers of ${what}`, both.length > 300 || paths[1] === 2 * both.length ? [] : `${paths[1]} strokes for ${both.length} shoes`);
      if (nth > 0) continue;
      const point = tab.locator("#plot a");
      await point.focus();
      const named = [];
      for (let at = 0; at < both.length; at += 1) {
        named.push(await point.getAttribute("aria-label"));
        await tab.keyboard.press("ArrowRight");
      }
      const unnamed = both.filter((shoe) => !named.some((label) => label.startsWith(`${shoe.title}:`)));
      check("compare: every point by keyboard", unnamed.map((shoe) => `${shoe.title} is not reached`));
      const [low, high] = [named[0], named.at(-1)].map((label) => Number(label.split(": ")[1].match(/-?[\d.]+/)[0]));
      check("compare: points from left to right", low <= high ? [] : `${low} stands left of ${high}`);
      await tab.keyboard.press("End");
      check("compare: the last point by its key", (await point.getAttribute("aria-label")) === named.at(-1) ? [] : "it is another");
      await tab.keyboard.press("Enter");
      await tab.waitForURL(/shoes\//);
      await tab.goBack();
      check("compare: the picture is there again", await tab.locator("#plot a").count() === 1 ? [] : "it is not");
    }
  });
  check("compare: quiet as a picture", drawn);

  // What is saved is what is shown, in its order, with the data's own numbers.
  const saved = await open(file, {}, async (page) => {
    tab = page;
    const middle = shoes[Math.floor(shoes.length / 2)];
    const nth = await tab.locator("#f-category option").evaluateAll((options, value) => options.findIndex((option) => option.value === value), middle.category);
    await choose("f-category", nth);
    await tab.locator("#compare thead th button").nth(3).click();
    const shownNow = await slugs();
    const coming = tab.waitForEvent("download");
    await reach("export");
    await tab.keyboard.press("Enter");
    const rows = parseCsv(readFileSync(await (await coming).path(), "utf8"));
    check("compare: saved rows", differ(rows.map((row) => row.slug), shownNow));
    check("compare: saved rows are fewer than all", rows.length && rows.length < shoes.length ? [] : `${rows.length} of ${shoes.length}`);
    const findings = [];
    for (const row of rows) {
      const shoe = bySlug.get(row.slug);
      if (row.title !== shoe.title || row.maker !== shoe.maker || (row.price === "" ? null : Number(row.price)) !== shoe.price) findings.push(`${row.slug}: ${row.title}, ${row.maker}, ${row.price}`);
      for (const column of columns) {
        const unit = column.kind === "band" ? "score of 100" : column.unit ?? "1";
        const [value, u] = [row[`${column.key} (${unit})`], row[`${column.key} U (${unit})`]];
        const wanted = cell(shoe, column.key);
        if (value === undefined || u === undefined) { findings.push(`${column.key} is not saved in ${unit}`); continue; }
        const factor = wanted?.unit && column.unit && wanted.unit !== column.unit ? PER_GRAM[column.unit] : 1;
        if (!wanted ? value !== "" : !near(Number(value), wanted.value * factor) || !near(Number(u), wanted.u * factor)) findings.push(`${column.key} of ${row.slug}: ${value} ± ${u}, not ${wanted?.value} ± ${wanted?.u}`);
        if (column.kind === "band" && wanted && (row[`${column.key} band`] !== wanted.word || (row[`${column.key} borderline`] === "yes") !== wanted.borderline)) findings.push(`${column.key} of ${row.slug} is ${row[`${column.key} band`]}`);
      }
    }
    check("compare: saved figures", findings.slice(0, 5));
  });
  check("compare: quiet while saving", saved);

  // Without scripts: every shoe in the plain table, and the lists made beforehand.
  const plain = await open(file, {javaScriptEnabled: false}, async (page) => {
    const all = await page.locator("main table.compare-table tbody th a").evaluateAll((links) => links.map((link) => link.getAttribute("href").split("/").at(-2)));
    check("compare: the plain table", differ(all, shoes.map((shoe) => shoe.slug)));
    const lists = await page.locator(".others a").evaluateAll((links) => links.map((link) => link.getAttribute("href")));
    check("compare: lists made beforehand", lists.length ? [] : "there are none");
    for (const list of lists) {
      const key = list.match(/by-([a-z0-9-]+)\//)?.[1] ?? "";
      const noise = await open(join(folder, "compare", list), {javaScriptEnabled: false}, async (sheet) => {
        const is = await sheet.locator("main tbody th a").evaluateAll((links) => links.map((link) => link.getAttribute("href").split("/").at(-2)));
        const values = is.map((slug) => cell(bySlug.get(slug), key)?.value ?? Infinity);
        check(`compare: the list ${list}`, is.length !== shoes.length || new Set(is).size !== is.length ? `${is.length} of ${shoes.length} shoes` : values.some((value, at) => at > 0 && values[at - 1] > value && !near(values[at - 1], value)) ? "is out of order" : []);
      });
      check(`compare: quiet in the list ${list}`, noise);
    }
  });
  check("compare: quiet without scripts", plain);
}
