// The bench's page. Everything typed goes to the server a few keystrokes at a
// time, which keeps it on the disk before it answers; a trial is marked "kept"
// only then. Texts go into the page as text, never as markup.
"use strict";

const $ = (id) => document.getElementById(id);
const GROUP = 150; // milliseconds of keystrokes that make one group
let lab = null;
let open = null; // {shoe, specimen}
let sending = Promise.resolve();
const waiting = new Map(); // quantity -> timer
const unsent = new Set(); // quantities whose fields could not be kept yet

function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

function say(lines) {
  const said = $("said");
  said.replaceChildren();
  for (const line of [lines].flat()) if (line) said.append(element("span", {}, line), element("br"));
  said.hidden = said.childNodes.length === 0;
}

async function ask(way, body, how = {}) {
  const response = await fetch(way, body === undefined ? how : {...how, method: "POST", body: JSON.stringify(body)});
  const text = await response.text();
  let value = {};
  try { value = JSON.parse(text); } catch { value = {said: [text]}; }
  if (!response.ok) throw {status: response.status, ...value};
  return value;
}

function failed(error) {
  say(error.said ?? "the bench does not answer; is it still running? What is marked kept is on its disk.");
}

// Requests go one after the other, so that the last one typed is the last one kept.
function inTurn(work) {
  sending = sending.then(work, work).catch(failed);
  return sending;
}

async function load() {
  lab = await ask("state");
  document.title = `Bench · ${lab.lab}`;
  $("lab").textContent = `${lab.lab}: bench`;
  $("invented").hidden = !lab.invented;
  $("conditioning").textContent = lab.conditioning;
  const shoes = $("shoe");
  shoes.replaceChildren(element("option", {value: ""}, "A new shoe"));
  for (const shoe of lab.shoes) shoes.append(element("option", {value: shoe.shoe}, shoe.title));
  for (const slug of lab.broken) shoes.append(element("option", {value: slug, disabled: true}, `${slug} (its file must be mended)`));
  const form = $("new").elements;
  form.category.replaceChildren(...lab.categories.map(([key, name]) => element("option", {value: key}, name)));
  form.operator.replaceChildren(...lab.operators.map(([key, name]) => element("option", {value: key}, name)));
  form.on.value = lab.today;
  if (lab.last) for (const key of ["operator", "temperature", "humidity", "soaked"]) form[key].value = lab.last[key];
  const unsaved = $("unsaved");
  unsaved.replaceChildren();
  for (const draft of lab.unsaved) {
    const go = element("button", {type: "button"}, `Go on with ${draft.shoe}, ${draft.specimen}`);
    go.addEventListener("click", () => show(draft.shoe, draft.specimen));
    unsaved.append(go, " ");
  }
  pick();
}

function pick() {
  const shoe = lab.shoes.find((one) => one.shoe === $("shoe").value);
  $("new-shoe").hidden = Boolean(shoe);
  $("new-title").textContent = shoe ? "New specimen of it" : "New shoe and specimen";
  $("specimen").replaceChildren(...(shoe ? shoe.specimens : []).map((id) => element("option", {value: id}, id)));
  $("open").disabled = !shoe;
}

async function show(shoe, specimen) {
  try {
    const sheet = await ask("open", {shoe, specimen});
    draw(sheet);
    location.hash = `${shoe}/${encodeURIComponent(specimen)}`;
  } catch (error) { failed(error); }
}

function draw(sheet) {
  open = {shoe: sheet.shoe, specimen: sheet.specimen, left: sheet.left};
  say([]);
  $("choose").hidden = true;
  $("sheet").hidden = false;
  $("sheet-title").textContent = `${sheet.title}, ${sheet.specimen}`;
  $("session").textContent = sheet.session;
  $("undo").disabled = !sheet.undo;
  const quantities = $("quantities");
  quantities.replaceChildren();
  for (const quantity of lab.quantities) {
    const words = sheet.words[quantity.key] ?? [];
    const block = element("div", {class: "quantity", "data-quantity": quantity.key},
      element("h3", {}, `${quantity.label}${quantity.at ? ` at ${quantity.at}` : ""}, ${quantity.unit}`),
      element("p", {class: "small"}, quantity.what),
      element("p", {class: quantity.overdue ? "flag" : "small"},
        `${quantity.instrument ?? "no instrument"}; ${quantity.overdue ? "calibration overdue since" : "calibrated until"} ${quantity.due ?? "?"}`),
      element("div", {class: "trials"}),
      element("div", {class: "answer", "aria-live": "polite"}));
    const more = element("button", {type: "button", class: "more"}, "Another trial +");
    more.addEventListener("click", () => addField(block, quantity, "").focus());
    block.append(more);
    quantities.append(block);
    const fields = Math.max(quantity.trials, words.length);
    for (let at = 0; at < fields; at += 1) addField(block, quantity, words[at] ?? "");
    const answer = sheet.answers.find((one) => one.quantity === quantity.key);
    block.seen = words;
    if (answer) tell(block, answer, words);
    if (sheet.unsaved.includes(quantity.key)) markKept(block, words);
  }
  tick();
}

function inputs(block) { return [...block.querySelectorAll(".trial input")]; }
function words(block) { return inputs(block).map((input) => input.value.trim()); }

function addField(block, quantity, value) {
  const number = inputs(block).length + 1;
  const input = element("input", {
    inputmode: "decimal", enterkeyhint: "next", autocomplete: "off", spellcheck: "false", maxlength: "40",
    "aria-label": `${quantity.label}, trial ${number}`,
  });
  input.value = value;
  const mark = element("p", {class: "mark"});
  block.querySelector(".trials").append(element("div", {class: "trial"}, element("label", {}, `Trial ${number}`, input), mark));
  input.addEventListener("input", () => {
    mark.textContent = "";
    mark.className = "mark";
    later(block, GROUP);
  });
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      later(block, 0);
      next(input, event.shiftKey ? -1 : 1);
    } else if (event.key === "+" && input.value.trim() !== "") {
      event.preventDefault();
      later(block, 0);
      addField(block, quantity, "").focus();
    } else if (event.key === "*") {
      event.preventDefault();
      undo();
    }
  });
  input.addEventListener("focus", () => input.select());
  return input;
}

function next(input, step) {
  const all = [...document.querySelectorAll(".trial input")];
  const to = all[all.indexOf(input) + step];
  (to ?? $("save")).focus();
}

// Sends a quantity's fields once the keystrokes pause.
function later(block, after) {
  const quantity = block.dataset.quantity;
  clearTimeout(waiting.get(quantity));
  waiting.set(quantity, setTimeout(() => {
    waiting.delete(quantity);
    send(block);
  }, after));
}

function send(block) {
  const which = {shoe: open.shoe, specimen: open.specimen};
  return inTurn(async () => {
    const now = words(block);
    const quantity = block.dataset.quantity;
    unsent.add(quantity);
    const kept = await ask("typed", {...which, quantity, words: now, seen: block.seen});
    unsent.delete(quantity);
    block.seen = kept.words;
    $("undo").disabled = !kept.undo;
    if (kept.answer) tell(block, kept.answer, now);
    markKept(block, now);
    say([]);
  });
}

function markKept(block, sent) {
  inputs(block).forEach((input, at) => {
    const mark = input.closest(".trial").querySelector(".mark");
    if (input.value.trim() === sent[at] && sent[at] && !mark.textContent) {
      mark.textContent = "kept";
      mark.className = "mark kept";
    }
  });
}

// The quantities that still wait to be sent, which wait no longer.
function due() {
  const found = new Set([...waiting.keys(), ...unsent]);
  for (const timer of waiting.values()) clearTimeout(timer);
  waiting.clear();
  return [...found].map((quantity) => document.querySelector(`[data-quantity="${quantity}"]`));
}

// Sends all that still waits.
function flush() {
  for (const block of due()) send(block);
  return sending;
}

// A page that goes away takes requests under way with it, but those that may outlive
// it; and there is no turn to wait for. Should it come back, all is sent once more.
function leave() {
  for (const block of due()) {
    const quantity = block.dataset.quantity;
    unsent.add(quantity);
    ask("typed", {shoe: open.shoe, specimen: open.specimen, quantity, words: words(block), seen: block.seen}, {keepalive: true}).catch(() => {});
  }
}

// What is said of a quantity's fields as they were sent.
function tell(block, answer, sent) {
  let given = 0;
  inputs(block).forEach((input, at) => {
    const box = input.closest(".trial");
    box.className = "trial";
    // The answer counts given trials only; fields left empty between are passed over.
    if (!sent[at]) return;
    const trial = answer.trials[given];
    given += 1;
    // What was typed in a field since is not kept yet.
    if (!trial || input.value.trim() !== sent[at]) return;
    const mark = box.querySelector(".mark");
    const odd = trial.wrong ?? (trial.again ? "kept; measure again" : "");
    if (odd) {
      box.classList.add(trial.wrong ? "wrong" : "again");
      mark.textContent = odd;
      mark.className = "mark odd";
    } else {
      mark.textContent = trial.converted ? `kept; ${trial.converted}` : "kept";
      mark.className = "mark kept";
    }
  });
  const parts = [];
  if (answer.mean) parts.push(`mean ${answer.mean}${answer.also ? ` (${answer.also})` : ""}`);
  if (answer.spread) parts.push(`spread ${answer.spread}${answer.allowed ? `, allowed ${answer.allowed}` : ""}`);
  if (answer.value) parts.push(`shoe ${answer.value}`);
  if (answer.missing) parts.push(answer.missing);
  const told = block.querySelector(".answer");
  told.replaceChildren(element("p", {class: "figures"}, parts.join("; ")));
  for (const flag of answer.flags) told.append(element("p", {class: flag.stops ? "flag stops" : "flag"}, flag.message));
  if (answer.advice) told.append(element("p", {class: "advice"}, answer.advice));
  for (const finding of answer.findings) told.append(ofFinding(finding));
}

function ofFinding(finding) {
  if (finding.missing) return element("p", {class: "small"}, `${finding.label}: ${finding.missing}`);
  const words = [`${finding.label}: ${finding.band}, chance ${finding.chance}`];
  if (finding.neighbour) words.push(`borderline with ${finding.neighbour}`);
  words.push(finding.score, finding.standing);
  if (finding.provisional) words.push("provisional");
  const box = element("div", {class: "finding"}, element("p", {}, words.filter(Boolean).join("; ")));
  if (finding.ruler) box.append(ruler(finding));
  return box;
}

function drawn(name, attributes) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function ruler({ruler, label, band}) {
  const svg = drawn("svg", {class: "ruler", viewBox: "0 0 100 10", preserveAspectRatio: "none", role: "img", "aria-label": `${label} lies in ${band}`});
  ruler.bands.forEach(([, from, to], at) => {
    const shade = ruler.bands.length > 1 ? Math.round((at * 4) / (ruler.bands.length - 1)) : 2;
    svg.append(drawn("rect", {class: `band${shade}`, x: from, y: 4, width: to - from, height: 6}));
  });
  for (const other of ruler.others) svg.append(drawn("line", {class: "other", x1: other, x2: other, y1: 5, y2: 9}));
  const [low, high] = ruler.between;
  svg.append(drawn("line", {class: "whisker", x1: low, x2: high, y1: 2, y2: 2}));
  svg.append(drawn("rect", {class: "point", x: Math.max(0, ruler.score - .5), y: 0, width: 1, height: 4}));
  return svg;
}

function undo() {
  const which = {shoe: open.shoe, specimen: open.specimen};
  flush();
  inTurn(async () => {
    const at = document.activeElement?.getAttribute("aria-label");
    draw(await ask("undo", which));
    const again = [...document.querySelectorAll(".trial input")].find((input) => input.getAttribute("aria-label") === at);
    again?.focus();
  });
}

function save(choices = {}) {
  const which = {shoe: open.shoe, specimen: open.specimen};
  flush();
  inTurn(async () => {
    // What could not be kept would be gone from the page after saving.
    if (unsent.size > 0) return;
    try {
      const saved = await ask("save", {...which, choices});
      lab = await ask("state");
      draw(await ask("open", which));
      say(`saved to ${saved.file}`);
    } catch (error) {
      failed(error);
      for (const conflict of error.conflicts ?? []) choose(conflict, choices);
    }
  });
}

// Somebody else changed the file: whose readings count is said here, never guessed.
function choose(conflict, choices) {
  const button = (text, choice) => {
    const made = element("button", {type: "button"}, text);
    made.addEventListener("click", () => save({...choices, [conflict.quantity]: choice}));
    return made;
  };
  $("said").append(element("span", {}, `${conflict.label}: `),
    button(`Mine: ${conflict.mine.join(", ")}`, "mine"), " ",
    button(`The file’s: ${conflict.file.join(", ") || "none"}`, "file"), element("br"));
}

function tick() {
  const timer = $("timer");
  if (!open?.left) {
    timer.textContent = lab?.within ? `Not timed; the protocol allows ${lab.within} min` : "Not timed";
    timer.className = "";
    return;
  }
  const seconds = Math.max(0, Math.floor((Date.now() - open.left) / 1000));
  const clock = `${Math.floor(seconds / 60)} min ${String(seconds % 60).padStart(2, "0")} s since it left conditioning`;
  const late = lab.within && seconds > lab.within * 60;
  timer.className = late ? "late" : "";
  timer.textContent = lab.within ? `${clock}; ${late ? "over the" : "of"} ${lab.within} min` : clock;
}

$("shoe").addEventListener("change", pick);
// A bench sheet's code, typed or read by a scanner that types like a keyboard.
$("code").addEventListener("input", (event) => {
  const found = lab.shoes.find((one) => one.code === event.target.value.trim().toUpperCase());
  if (!found) return;
  $("shoe").value = found.shoe;
  pick();
  event.target.value = "";
  $("specimen").focus();
});
$("open").addEventListener("click", () => show($("shoe").value, $("specimen").value));
$("new").addEventListener("submit", async (event) => {
  event.preventDefault();
  const form = event.target.elements;
  const specimen = {};
  for (const key of ["id", "side", "on", "operator", "temperature", "humidity", "soaked"]) specimen[key] = form[key].value;
  const body = {specimen};
  if ($("shoe").value) body.shoe = $("shoe").value;
  else {
    body.new = {maker: form.maker.value, model: form.model.value, version: form.version.value,
      category: form.category.value, system: form.system.value, size: Number(form.size.value.replace(",", "."))};
  }
  try {
    const sheet = await ask("start", body);
    draw(sheet);
    location.hash = `${sheet.shoe}/${encodeURIComponent(sheet.specimen)}`;
  } catch (error) { failed(error); }
});
$("left").addEventListener("click", () => {
  open.left = Date.now();
  tick();
  inTurn(() => ask("left", {shoe: open.shoe, specimen: open.specimen, at: open.left}));
});
$("undo").addEventListener("click", undo);
$("save").addEventListener("click", () => save());
$("back").addEventListener("click", async () => {
  await flush();
  if (unsent.size > 0) return;
  open = null;
  location.hash = "";
  $("sheet").hidden = true;
  $("choose").hidden = false;
  load().catch(failed);
});
addEventListener("pagehide", leave);
// A tablet may end a page that is out of sight without a word.
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") flush(); });
setInterval(() => { if (open && !$("sheet").hidden) tick(); }, 1000);

// `#shoe` or `#shoe/specimen`, as a bench sheet's code has it.
function fromAddress() {
  const [shoe, specimen] = decodeURIComponent(location.hash.slice(1)).split("/");
  const known = lab.shoes.find((one) => one.shoe === shoe);
  if (specimen) return show(shoe, specimen);
  if (known) {
    $("shoe").value = shoe;
    pick();
    if (known.specimens.length === 1) return show(shoe, known.specimens[0]);
  }
  return undefined;
}
load().then(fromAddress).catch(failed);
