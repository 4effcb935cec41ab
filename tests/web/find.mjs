// The finder at work, held to the folio's own open data: for every build with every
// foot posture, and for every use, the shoes it lists are those whose verdicts in
// data/findings.csv do not rule them out; each says what speaks for it and, where a
// verdict is close or unknown, what counts against it.

import {readFileSync} from "node:fs";
import {join} from "node:path";
import {parseCsv} from "./compare.mjs";

/** Runs all of it; `open` opens a page of the folio, `check` counts findings. */
export async function finder({folder, open, check}) {
  const file = join(folder, "find/index.html");
  const table = (name) => parseCsv(readFileSync(join(folder, "data", name), "utf8"));
  const shoes = table("shoes.csv").map((row) => ({slug: row.shoe, title: row.title, category: row.category, verdicts: null}));
  const by = new Map(shoes.map((shoe) => [shoe.slug, shoe]));
  for (const row of table("findings.csv")) {
    const shoe = by.get(row.shoe);
    // The first fit is the one the finder asks about.
    if (row.kind === "fit" && row.verdicts && !shoe.verdicts) shoe.verdicts = row.verdicts.split(";").map((one) => one.split("=")[1]);
  }
  const noise = await open(file, {}, async (tab) => {
    const words = await tab.locator("main").textContent();
    check("find: how the posture index's limits are known", /Foot Posture Index/.test(words) && /not checked against the paper/.test(words) ? [] : "it does not say");
    check("find: nothing is listed before anything is chosen", await tab.locator("#shortlist").isVisible() ? "it is" : []);
    const [rows, columns] = await Promise.all(["row", "column"].map((name) => tab.locator(`input[name=${name}]`).count().then((count) => count - 1)));
    const most = 12;
    async function listed(what, passes, closes) {
      const wanted = shoes.filter((shoe) => shoe.verdicts && passes(shoe));
      const count = await tab.locator("#count").innerText();
      const is = await tab.locator("#list > li").evaluateAll((items) => items.map((item) => ({
        slug: item.querySelector("h3 a").getAttribute("href").split("/").at(-2),
        for: item.querySelector(".for").innerText, against: item.querySelector(".against").innerText,
      })));
      check(`find: ${what}`, is.length === Math.min(most, wanted.length) && is.every(({slug}) => wanted.includes(by.get(slug))) ? [] : `${is.length} listed of ${wanted.length} that the data lets pass`);
      check(`find: ${what}, counted`, wanted.length === 0 ? (/^No shoe/.test(count) ? [] : count) : count.startsWith(`${wanted.length} `) ? [] : `“${count}” for ${wanted.length}`);
      const findings = [];
      for (const one of is) {
        if (!/^For it: \S/.test(one.for) || !/^Against it: \S/.test(one.against)) findings.push(`${one.slug} gives no reasons`);
        const close = closes(by.get(one.slug));
        if (close.length && !close.every((verdict) => one.against.includes(verdict === "close" ? "within the figures’ uncertainty" : "a figure is missing"))) findings.push(`${one.slug}: “${one.against}” with a verdict that is ${close.join(", ")}`);
      }
      check(`find: ${what}, with reasons`, findings);
      if (is.length) check(`find: ${what}, no medical advice`, /Not medical advice/.test(await tab.locator("#shortlist").innerText()) ? [] : "the result does not say so");
    }
    // Radios by their keys: arrows choose the next of a group.
    await tab.locator("input[name=row]").first().focus();
    for (let row = 0; row < rows; row += 1) {
      await tab.locator("input[name=row]").nth(row).focus();
      await tab.keyboard.press("ArrowDown");
      await tab.locator("input[name=column]").first().check();
      await listed(`build ${row + 1}`, (shoe) => shoe.verdicts[row] !== "fails", (shoe) => [shoe.verdicts[row]].filter((verdict) => verdict === "close" || verdict === "unknown"));
      for (let column = 0; column < columns; column += 1) {
        await tab.locator("input[name=column]").nth(column).focus();
        await tab.keyboard.press("ArrowDown");
        const of = (shoe) => [shoe.verdicts[row], shoe.verdicts[rows + column]];
        await listed(`build ${row + 1}, posture ${column + 1}`, (shoe) => !of(shoe).includes("fails"), (shoe) => of(shoe).filter((verdict) => verdict === "close" || verdict === "unknown"));
      }
    }
    const shared = new URL(tab.url()).hash;
    const before = await tab.locator("#list h3").allInnerTexts();
    const again = await open([file, shared], {}, async (other) => {
      check("find: an address brings its answers back", JSON.stringify(await other.locator("#list h3").allInnerTexts()) === JSON.stringify(before) ? [] : shared);
    });
    check("find: quiet at an address", again);
    await tab.locator("button[type=reset]").focus();
    await tab.keyboard.press("Enter");
    await tab.locator("#shortlist").waitFor({state: "hidden"});
    for (const category of (await tab.locator("#use option").evaluateAll((options) => options.map((option) => option.value))).filter(Boolean)) {
      await tab.locator("#use").selectOption(category);
      await listed(`use ${category}`, (shoe) => shoe.category === category, () => []);
    }
  });
  check("find: quiet at work", noise);
}
