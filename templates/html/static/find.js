// The finder's script: from what a runner says to a shortlist that gives its
// reasons. Everything is worked out here, nothing is sent, and nothing is kept
// but in the address's fragment, which no server sees.
"use strict";
(() => {
  const data = globalThis.folioFind;
  const form = document.getElementById("wishes");
  if (!data || !form) return;
  const $ = (id) => document.getElementById(id);
  const shoes = data.shoes.map(([path, title, category, suits, rows, columns, pace, bands, cautions, provisional]) =>
    ({path, title, category, suits, rows, columns, pace, bands, cautions, provisional}));
  const MOST = 12;
  const make = (name, properties = {}, ...children) => {
    const element = document.createElement(name);
    Object.assign(element, properties);
    element.append(...children);
    return element;
  };
  const {say, inside} = globalThis.folioWords(data.words);

  function wanted() {
    const choice = (name) => form.querySelector(`input[name="${name}"]:checked`)?.value ?? "";
    const wishes = [...form.querySelectorAll("select[data-wish]")]
      .filter((field) => field.value !== "")
      .map((field) => [Number(field.dataset.wish), Number(field.value)]);
    return {row: choice("row"), column: choice("column"), use: $("use").value, tier: $("tier")?.value ?? "", wishes};
  }

  // A verdict of the lab's own rules decides; wishes and cautions only order.
  // What speaks for a shoe and what counts against it are both kept as words.
  function judge(shoe, want) {
    const reasons = {for: [], against: []};
    let points = 0;
    if (want.use && shoe.category !== want.use) return null;
    if (want.use) reasons.for.push(say("use: {what}", {what: inside($("use").selectedOptions[0].textContent)}));
    for (const [chosen, verdicts, names] of [[want.row, shoe.rows, data.rows], [want.column, shoe.columns, data.columns]]) {
      if (chosen === "") continue;
      const [key, words] = verdicts[chosen] ?? ["unknown", say("not known")];
      const line = `${inside(names[chosen])}: ${words}`;
      if (key === "other") return null;
      if (key === "suits") { points += 3; reasons.for.push(line); }
      else if (key === "close") { points += 1; reasons.against.push(say("{verdict} within the figures’ uncertainty", {verdict: line})); }
      else { points -= 1; reasons.against.push(say("{verdict}, a figure is missing", {verdict: line})); }
    }
    if (want.tier !== "") {
      if (!shoe.pace) { points -= 1; reasons.against.push(say("{what} was not judged", {what: inside(data.paceLabel)})); }
      else if (shoe.pace[0] === Number(want.tier)) { points += 2; reasons.for.push(`${inside(data.paceLabel)}: ${shoe.pace[1]}`); }
      else { points -= Math.abs(shoe.pace[0] - Number(want.tier)); reasons.against.push(say("{what}: {band}, not {wish}", {what: inside(data.paceLabel), band: shoe.pace[1], wish: data.tiers[want.tier]})); }
    }
    for (const [wish, band] of want.wishes) {
      const label = inside(data.wishes[wish].label);
      const has = shoe.bands[wish];
      if (!has) { points -= 1; reasons.against.push(say("{what} was not judged", {what: label})); continue; }
      const bandWords = has[2] ? say("{band}, borderline", {band: has[1]}) : has[1];
      if (has[0] === band) { points += 2; reasons.for.push(`${label}: ${bandWords}`); }
      else { points -= Math.abs(has[0] - band); reasons.against.push(say("{what}: {band}, not {wish}", {what: label, band: bandWords, wish: data.wishes[wish].bands[band]})); }
    }
    for (const caution of shoe.cautions) { points -= 0.5; reasons.against.push(say("caution: {what}", {what: inside(caution)})); }
    if (shoe.provisional) { points -= 0.5; reasons.against.push(say("a finding is provisional")); }
    return {shoe, points, reasons};
  }

  function item({shoe, reasons}) {
    const link = make("a", {href: data.root + shoe.path + (shoe.path.endsWith("/") ? "index.html" : ""), dir: "auto"}, shoe.title);
    const list = make("ul", {});
    list.append(make("li", {className: "for"}, make("b", {}, say("For it:")), " ", reasons.for.join("; ") || say("nothing you asked for rules it out")));
    list.append(make("li", {className: "against"}, make("b", {}, say("Against it:")), " ", reasons.against.join("; ") || say("nothing that you asked about")));
    return make("li", {}, make("h3", {}, link), make("p", {}, shoe.suits), list);
  }

  function update() {
    const want = wanted();
    const asked = want.row !== "" || want.column !== "" || want.use !== "" || want.tier !== "" || want.wishes.length > 0;
    $("shortlist").hidden = !asked;
    const found = asked ? shoes.map((shoe) => judge(shoe, want)).filter(Boolean).sort((a, b) => b.points - a.points) : [];
    $("count").textContent = !asked ? ""
      : found.length === 0 ? say("No shoe measured so far may suit all of that. Leave something open, or ask in a shop.")
      : found.length > MOST ? say("{n} shoes may suit; the {most} nearest to your wishes:", {n: found.length, most: MOST})
      : say("{n} shoes may suit, nearest to your wishes first:", {one: "{n} shoe may suit, nearest to your wishes first:", n: found.length});
    $("list").replaceChildren(...found.slice(0, MOST).map(item));
    const state = new URLSearchParams();
    for (const key of ["row", "column", "use", "tier"]) if (want[key] !== "") state.set(key, want[key]);
    if (want.wishes.length) state.set("wish", want.wishes.map((pair) => pair.join("-")).join(","));
    history.replaceState(null, "", "#" + state.toString().replaceAll("%2C", ","));
  }

  function read() {
    const from = new URLSearchParams(location.hash.slice(1));
    for (const name of ["row", "column"]) {
      for (const field of form.querySelectorAll(`input[name="${name}"]`)) field.checked = field.value === (from.get(name) ?? "");
    }
    for (const id of ["use", "tier"]) if ($(id)) { $(id).value = from.get(id) ?? ""; if ($(id).selectedIndex < 0) $(id).value = ""; }
    const wishes = new Map((from.get("wish") ?? "").split(",").map((pair) => pair.split("-")));
    for (const field of form.querySelectorAll("select[data-wish]")) {
      field.value = wishes.get(field.dataset.wish) ?? "";
      if (field.selectedIndex < 0) field.value = "";
    }
  }

  form.addEventListener("input", update);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", () => setTimeout(update));
  addEventListener("hashchange", () => { read(); update(); });
  read();
  form.hidden = false;
  update();
})();
