// What the checks of a finished folio share: its files, a server on loopback, the
// browser. CHROMIUM names the browser where it is not the usual one.

import {chromium} from "playwright-core";
import {createServer} from "node:http";
import {existsSync, readdirSync, readFileSync, statSync} from "node:fs";
import {join, resolve} from "node:path";

/** The files below a folder, but for those whose name, or whose folder's, begins with a dot. */
export function* walk(at) {
  for (const entry of readdirSync(at, {withFileTypes: true})) {
    if (entry.name.startsWith(".")) continue;
    const path = join(at, entry.name);
    if (entry.isDirectory()) yield* walk(path);
    else yield path;
  }
}

/** Whether a page only leads on to another. */
export const leadsOn = (source) => /http-equiv="refresh"/.test(source);

const TYPES = {html: "text/html", css: "text/css", js: "text/javascript", svg: "image/svg+xml", xml: "application/xml", json: "application/json", csv: "text/csv"};

/**
 * Serves a folder: `origin` says where, `close` ends it. `base` is the path the folio
 * lies at, `headers` go with every answer. What is not there, or not inside, is
 * answered with 404, or with the file `missing` as if it were there.
 */
export async function serve(folder, {base = "/", headers = {}, missing = null} = {}) {
  const server = createServer((request, response) => {
    const path = decodeURI(new URL(request.url, "http://localhost").pathname);
    let file = path.startsWith(base) ? resolve(folder, path.slice(base.length)) : "";
    if (file === folder || (file.startsWith(folder + "/") && existsSync(file) && statSync(file).isDirectory())) file = join(file, "index.html");
    if (!file.startsWith(folder + "/") || !existsSync(file)) file = missing ?? "";
    if (file === "") { response.writeHead(404).end(); return; }
    response.writeHead(200, {"content-type": `${TYPES[file.split(".").at(-1)] ?? "application/octet-stream"}; charset=utf-8`, ...headers});
    response.end(readFileSync(file));
  });
  await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
  return {origin: `http://127.0.0.1:${server.address().port}`, close: () => server.close()};
}

/** The browser, which asks for nothing of its own accord. */
export const launch = () => chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
