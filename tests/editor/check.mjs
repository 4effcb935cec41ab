// Opens a new lab's files in a real YAML language server, as an editor would:
//
//   node check.mjs SOLEFOLIO
//
// No file of the new lab may be marked; a mistyped key must be, on its line; keys
// must be completed and explained, with an example, in every file. Every example
// of every schema must be what its schema allows (checked by Ajv). Prints a line a
// finding, then `N passed, N failed`; exits 1 if any failed.

import {execFileSync, spawn} from "node:child_process";
import {mkdtempSync, readFileSync, readdirSync, rmSync} from "node:fs";
import {tmpdir} from "node:os";
import {join, resolve} from "node:path";
import {fileURLToPath, pathToFileURL} from "node:url";
import Ajv2020 from "ajv/dist/2020.js";

if (!process.argv[2]) {
  console.error("usage: node check.mjs SOLEFOLIO, the built program");
  process.exit(2);
}
const folder = mkdtempSync(join(tmpdir(), "editor-"));
const root = join(folder, "lab");
execFileSync(resolve(process.argv[2]), ["begin", root, "--quiet"]);

let passed = 0;
let failed = 0;
function check(what, holds, found = "") {
  if (holds) { passed += 1; return; }
  failed += 1;
  console.log(`${what}: ${typeof found === "string" ? found : JSON.stringify(found)}`);
}

const server = spawn(process.execPath, [fileURLToPath(new URL("node_modules/yaml-language-server/bin/yaml-language-server", import.meta.url)), "--stdio"], {stdio: ["pipe", "pipe", "inherit"]});
const answers = new Map();
const marks = new Map();
let number = 0;
let buffer = Buffer.alloc(0);
function send(message) {
  const text = JSON.stringify({jsonrpc: "2.0", ...message});
  server.stdin.write(`Content-Length: ${Buffer.byteLength(text)}\r\n\r\n${text}`);
}
function ask(method, params) {
  number += 1;
  const id = number;
  return new Promise((answer) => { answers.set(id, answer); send({id, method, params}); });
}
server.stdout.on("data", (data) => {
  buffer = Buffer.concat([buffer, data]);
  for (;;) {
    const head = buffer.indexOf("\r\n\r\n");
    if (head < 0) return;
    const length = Number(/Content-Length: (\d+)/i.exec(buffer.subarray(0, head))[1]);
    if (buffer.length < head + 4 + length) return;
    const message = JSON.parse(buffer.subarray(head + 4, head + 4 + length));
    buffer = buffer.subarray(head + 4 + length);
    if (message.method === "textDocument/publishDiagnostics") {
      marks.get(message.params.uri)?.(message.params.diagnostics);
    } else if (message.method === "workspace/configuration") {
      send({id: message.id, result: message.params.items.map((item) => (item.section === "yaml" ? {validate: true, completion: true, hover: true, schemaStore: {enable: false}} : {}))});
    } else if (message.method && message.id !== undefined) send({id: message.id, result: null});
    else answers.get(message.id)?.(message.result);
  }
});

await ask("initialize", {processId: process.pid, rootUri: pathToFileURL(root).href, capabilities: {workspace: {configuration: true}, textDocument: {completion: {completionItem: {documentationFormat: ["markdown"]}}, hover: {contentFormat: ["markdown"]}}}});
send({method: "initialized", params: {}});
function open(file, text) {
  const uri = pathToFileURL(join(root, file)).href;
  return new Promise((found) => {
    marks.set(uri, (diagnostics) => { marks.delete(uri); found({uri, diagnostics}); });
    send({method: "textDocument/didOpen", params: {textDocument: {uri, languageId: "yaml", version: 1, text}}});
  });
}
const read = (file) => readFileSync(join(root, file), "utf8");

const files = [...["lab", "protocol", "instruments", "rules", "phrases"].map((name) => `lab/${name}.yaml`),
  ...readdirSync(join(root, "shoes")).filter((name) => name.endsWith(".yaml")).map((name) => `shoes/${name}`)];
for (const file of files) {
  const {diagnostics} = await open(file, read(file));
  check(`${file} is not marked`, diagnostics.length === 0, diagnostics.map((one) => `line ${one.range.start.line + 1}: ${one.message}`));
}

const shoe = read("shoes/lindqvarn-tussock.yaml");
const mistyped = await open("shoes/mistyped.yaml", shoe.replace("\nmodel:", "\nmodle:"));
const line = shoe.split("\n").findIndex((text) => text.startsWith("model:"));
check("a mistyped key is marked on its line", mistyped.diagnostics.some((one) => one.range.start.line === line), mistyped.diagnostics);

const begun = `${shoe.split("\n")[0]}\nschema: 1\nmaker: A\n\n`;
const {uri} = await open("shoes/begun.yaml", begun);
const completed = await ask("textDocument/completion", {textDocument: {uri}, position: {line: 3, character: 0}});
const labels = (completed?.items ?? completed ?? []).map((one) => one.label);
check("keys are completed", ["model", "category", "specimens", "leave-out"].every((key) => labels.includes(key)), labels);
const hover = await ask("textDocument/hover", {textDocument: {uri}, position: {line: 2, character: 2}});
check("a key is explained", JSON.stringify(hover ?? "").includes("Who makes it"), hover);
check("a key has its example", JSON.stringify(hover ?? "").includes("Fennick & Vale"), hover);

// A key of each kind of file: what it is, and what it may look like.
for (const [file, key, says, example] of [
  ["lab/lab.yaml", "address:", "served from", "https://harrow-lane.example/"],
  ["lab/protocol.yaml", "    plausible:", "plausible range", "15 N·m"],
  ["lab/instruments.yaml", "    resolution:", "smallest step", "0.01 mm"],
  ["lab/rules.yaml", "    points:", "Points of the scale", "45"],
  ["lab/rules.yaml", "    kind: blend", "Several scores weighed into one", null],
  ["lab/phrases.yaml", "      short:", "few words", "turns readily"],
  ["shoes/lindqvarn-tussock.yaml", "    session:", "session it was measured in", "22.8 °C"],
]) {
  const lines = read(file).split("\n");
  const at = lines.findIndex((line) => line.startsWith(key));
  if (at < 0) { check(`${file} holds ${key}`, false); continue; }
  const told = JSON.stringify(await ask("textDocument/hover", {textDocument: {uri: pathToFileURL(join(root, file)).href}, position: {line: at, character: key.search(/\S/) + 1}}) ?? "");
  check(`${file}: ${key.trim()} is explained`, told.includes(says), told);
  if (example !== null) check(`${file}: ${key.trim()} has an example`, told.includes(example), told);
}
// In a map of the lab's own names too.
const quantity = "schema: 1\nquantities:\n  mass:\n    \n";
const inside = await open("lab/begun.yaml", `${read("lab/protocol.yaml").split("\n")[0]}\n${quantity}`);
const offered = await ask("textDocument/completion", {textDocument: {uri: inside.uri}, position: {line: 4, character: 4}});
const names = (offered?.items ?? offered ?? []).map((one) => one.label);
check("a quantity's keys are completed", ["label", "unit", "trials", "plausible"].every((key) => names.includes(key)), names);

// Every example is valid where it stands. Formats are the program's own.
let examples = 0;
for (const name of ["shoe", "lab", "protocol", "instruments", "rules", "phrases"]) {
  const schema = JSON.parse(readFileSync(join(root, `lab/schemas/${name}.json`), "utf8"));
  const ajv = new Ajv2020({strict: false, validateFormats: false});
  ajv.addSchema(schema, name);
  const walk = (of, pointer) => {
    if (of === null || typeof of !== "object") return;
    if (Array.isArray(of.examples)) {
      const validate = ajv.getSchema(`${name}#${pointer}`);
      for (const example of of.examples) {
        examples += 1;
        check(`${name}${pointer}: ${JSON.stringify(example)} is valid`, validate(example), validate.errors);
      }
    }
    for (const [word, inner] of Object.entries(of)) {
      if (word !== "examples") walk(inner, `${pointer}/${encodeURIComponent(word.replaceAll("~", "~0").replaceAll("/", "~1"))}`);
    }
  };
  walk(schema, "");
}
check("there are examples", examples > 100, String(examples));

server.kill();
rmSync(folder, {recursive: true});
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
