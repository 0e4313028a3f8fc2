// The handbook in a real browser: every link and anchor, html-validate (validity), axe-core (accessibility, by day and by night),
// the search as a reader uses it, what a phone shows, what is printed, and what is left without script.
//
//   node handbook.mjs BROWSER FOLDER
import { existsSync } from "node:fs";
import { readFile, readdir } from "node:fs/promises";
import path from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { axeSource, launch } from "./browser.mjs";

const [browserPath, folder] = process.argv.slice(2);
if (!browserPath || !folder) {
  console.error("handbook.mjs: node handbook.mjs BROWSER FOLDER");
  process.exit(2);
}
const root = path.resolve(folder);
const files = (await readdir(root, { recursive: true })).filter((f) => f.endsWith(".html")).sort();
// Widths of pictures stand in the page; a region that scrolls has a name so that it can be reached; `role=search` is known to more
// readers than the newer element.
const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  rules: { "no-inline-style": "off", "long-title": "off", "prefer-native-element": "off", "tel-non-breaking": "off", "aria-label-misuse": "off" },
});

let failures = 0;
const fail = (page, words) => {
  failures += 1;
  if (failures <= 40) console.error(`${page}: ${words}`);
};

const browser = await launch(browserPath);
const url = (file) => pathToFileURL(path.join(root, file)).href;

const ids = new Map(); // the anchors of each page
const links = []; // { page, href, text }
let rules = 0;
const asked = [];
const open = async (file, options = {}) => {
  const context = await browser.newContext({ viewport: { width: 1200, height: 1000 }, ...options });
  const tab = await context.newPage();
  tab.on("request", (r) => r.url().startsWith("file:") || r.url().startsWith("data:") || asked.push(`${file} asks for ${r.url()}`));
  tab.on("pageerror", (error) => fail(file, `script: ${error.message}`));
  tab.on("console", (m) => m.type() === "error" && fail(file, `console: ${m.text()}`));
  await tab.goto(url(file));
  return tab;
};

for (const file of files) {
  const report = await validator.validateString(await readFile(path.join(root, file), "utf8"), file);
  for (const result of report.results) {
    for (const m of result.messages) fail(file, `${m.line}:${m.column} ${m.ruleId}: ${m.message}`);
  }
  const tab = await open(file);
  const seen = await tab.evaluate(() => ({
    ids: [...document.querySelectorAll("[id]")].map((e) => e.id),
    links: [...document.querySelectorAll("[href], [src]")].map((e) => e.href?.baseVal ?? e.href ?? e.src),
    headings: [...document.querySelectorAll("h1, h2, h3, h4")].map((h) => +h.tagName[1]),
    pictures: [...document.querySelectorAll("svg[role=img]")].map((s) => [s.querySelector(":scope > title")?.textContent, s.querySelector(":scope > desc")?.textContent]),
    marks: ["header", "nav", "main", "footer"].filter((m) => !document.querySelector(m)),
    lang: document.documentElement.lang,
    first: document.body.querySelector("a")?.getAttribute("href"),
  }));
  ids.set(file, new Set(seen.ids));
  if (seen.ids.length !== new Set(seen.ids).size) fail(file, "an id stands twice");
  for (const href of seen.links) links.push({ page: file, href });
  if (seen.headings[0] !== 1 || seen.headings.filter((h) => h === 1).length !== 1) fail(file, "one heading of the first rank, in the first place");
  seen.headings.forEach((h, n) => n > 0 && h > seen.headings[n - 1] + 1 && fail(file, `a heading of rank ${h} after one of ${seen.headings[n - 1]}`));
  if (seen.pictures.some(([title, desc]) => !title || !desc)) fail(file, "a picture without title or description");
  if (seen.marks.length > 0 || seen.lang !== "en" || seen.first !== "#main") fail(file, `landmarks, language or skip link: ${seen.marks} ${seen.lang} ${seen.first}`);
  // What is not seen yet is fetched too, and every picture can be drawn.
  const broken = await tab.evaluate(async () => {
    const all = [...document.images];
    all.forEach((i) => (i.loading = "eager"));
    await Promise.all(all.map((i) => i.decode().catch(() => {})));
    return all.filter((i) => i.naturalWidth === 0 || !i.alt).map((i) => i.src);
  });
  if (broken.length > 0) fail(file, `pictures: ${broken}`);
  for (const colorScheme of ["light", "dark"]) {
    await tab.emulateMedia({ colorScheme });
    if (!(await tab.evaluate(() => "axe" in window))) await tab.evaluate(axeSource);
    // It can't load style sheets anew from a folder, and needn't. Inside a picture ink stands on colours that axe can't see; a test of the pictures holds them.
    const axe = await tab.evaluate(() => window.axe.run({ exclude: ["svg"] }, { preload: false }));
    rules += axe.passes.length;
    for (const v of axe.violations) fail(file, `axe, ${colorScheme}, ${v.id}: ${v.help}: ${v.nodes.map((n) => n.target.join(" ")).slice(0, 3).join("; ")}`);
    if (axe.passes.length < 15) fail(file, `axe looked at little: ${axe.passes.length} rules passed`);
  }
  await tab.setViewportSize({ width: 360, height: 740 });
  const over = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (over > 1) fail(file, `${over} pixels too wide on a phone`);
  await tab.context().close();
}

// Every link leads somewhere within the folder, and every anchor is there.
for (const { page, href } of links) {
  const at = new URL(href, url(page));
  if (at.protocol !== "file:") {
    fail(page, `leads out: ${href}`);
    continue;
  }
  const file = path.relative(root, fileURLToPath(new URL(at.pathname, "file:")));
  if (file.startsWith("..") || !existsSync(path.join(root, file))) fail(page, `leads nowhere: ${href}`);
  else if (at.hash && !ids.get(file)?.has(decodeURIComponent(at.hash.slice(1)))) fail(page, `no such anchor: ${href}`);
}
const reached = new Set(links.filter((l) => l.page !== l.href).map((l) => path.relative(root, fileURLToPath(new URL(new URL(l.href, url(l.page)).pathname, "file:")))));
for (const file of files) if (!reached.has(file)) fail(file, "nothing leads here");

// The search, with the keyboard alone.
const find = async (file, words) => {
  const tab = await open(file);
  await tab.keyboard.press("Tab");
  const skip = await tab.evaluate(() => document.activeElement.className);
  if (skip !== "skip") fail(file, `the first stop of the keyboard is ${skip}`);
  await tab.getByRole("searchbox", { name: "Search" }).focus();
  await tab.keyboard.type(words);
  const hits = await tab.evaluate(() => [...document.querySelectorAll("#hits a")].map((a) => [a.textContent, a.href]));
  return { tab, hits, count: await tab.textContent("#count") };
};
const entries = (await readFile(path.join(root, "search-words.js"), "utf8")).split("\n").filter((l) => l.startsWith("{")).map((l) => JSON.parse(l.replace(/,$/, "")));
if (entries.length < 100) fail("search-words.js", `only ${entries.length} words`);
for (const { t, u } of entries) {
  const [file, hash] = u.split("#");
  if (!ids.has(file) || (hash && !ids.get(file).has(hash))) fail("search-words.js", `${t} leads nowhere: ${u}`);
}
for (const [file, words, first, there] of [
  ["index.html", "harbour sh", "Harbour short", "/saltmarsh/harbour-short.html"],
  ["saltmarsh/dune-column.html", "clipper burn", "irritation", "/findings.html#finding-irritation"],
  ["parts.html", "Tender BELLY", "sensitive belly", "/findings.html#finding-sensitive-belly"],
  ["tools.html", "#7f", "#7F", "/tools.html#tool-_23_7_46_"],
  ["coats.html", "hind-legs", "hind legs", "/parts.html#part-hind-legs"],
]) {
  const { tab, hits, count } = await find(file, words);
  if (hits[0]?.[0] !== first || !hits[0]?.[1].endsWith(there)) fail(file, `${words}: found ${hits[0]} (${count})`);
  await tab.keyboard.press("Enter");
  await tab.keyboard.press("Enter");
  await tab.waitForURL(`**${there}`, { timeout: 5000 }).catch(() => fail(file, `${words}: Enter leads to ${tab.url()}`));
  await tab.context().close();
}
const none = await find("index.html", "zzzz");
if (none.hits.length > 0 || !none.count.startsWith("Nothing")) fail("index.html", `zzzz: ${none.count}`);
await none.tab.context().close();

// Without script everything but the search is there, and no empty box.
const still = await open("saltmarsh/harbour-short.html", { javaScriptEnabled: false });
if (await still.locator("form.search").isVisible()) fail("without script", "a search that does nothing");
if (!(await still.getByRole("heading", { name: "Part by part" }).isVisible())) fail("without script", "the page is empty");
await still.context().close();

// Printed: ways and search are left out, pictures keep their colours, no table is cut off at the side.
const printed = [];
for (const file of ["index.html", "parts.html", "saltmarsh/harbour-short.html"]) {
  const tab = await open(file, { colorScheme: "dark" });
  await tab.emulateMedia({ media: "print" });
  if (await tab.locator("header.top").isVisible()) fail(file, "the ways are printed");
  const paper = await tab.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  if (paper !== "rgb(255, 255, 255)") fail(file, `printed on ${paper}`);
  await tab.setViewportSize({ width: 703, height: 1000 }); // 186 mm
  const over = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (over > 1) fail(file, `${over} pixels too wide on paper`);
  const pdf = (await tab.pdf({ format: "A4", printBackground: true })).toString("latin1");
  const count = (pdf.match(/\/Type\s*\/Page[^s]/g) ?? []).length;
  printed.push(`${file} ${count}`);
  if (count < 1 || count > 16) fail(file, `${count} pages`);
  await tab.context().close();
}
for (const words of asked) fail("network", words);
await browser.close();
console.log(`handbook: ${files.length} pages, ${links.length} links, ${entries.length} words, ${rules} axe rules passed; on A4: ${printed.join(", ")}`);
console.log(failures === 0 ? "the handbook is sound" : `${failures} failures`);
process.exit(failures === 0 ? 0 : 1);
