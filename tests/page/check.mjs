// The printed sheets in a real browser: axe-core (accessibility), html-validate (validity), and how they print.
//
//   node check.mjs BROWSER PAGE.html …
//
// A page named large-… may take as many pages as it likes; every other prints on two, on A4 and on Letter; what differs
// between two versions (differs-…) on three at most.
import { readFile } from "node:fs/promises";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { axeSource, launch } from "./browser.mjs";

const [browserPath, ...pages] = process.argv.slice(2);
if (!browserPath || pages.length === 0) {
  console.error("check.mjs: node check.mjs BROWSER PAGE.html …");
  process.exit(2);
}
// Inline styles carry the widths of pictures; `aria-label` on lists is what names two of a kind.
const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  rules: { "no-inline-style": "off", "aria-label-misuse": "off", "long-title": "off", "tel-non-breaking": "off" },
});

let failures = 0;
const fail = (page, words) => {
  failures += 1;
  if (failures <= 30) console.error(`${path.basename(page)}: ${words}`);
};

let browser = await launch(browserPath);

const look = async (page) => {
  const text = await readFile(page, "utf8");
  const report = await validator.validateString(text, page);
  for (const result of report.results) {
    for (const message of result.messages) fail(page, `${message.line}:${message.column} ${message.ruleId}: ${message.message}`);
  }

  const tab = await browser.newPage({ viewport: { width: 1000, height: 1400 } });
  const asked = [];
  tab.on("request", (request) => {
    if (!request.url().startsWith("file:") && !request.url().startsWith("data:")) asked.push(request.url());
  });
  await tab.goto(pathToFileURL(path.resolve(page)).href);
  await tab.evaluate(() => document.fonts.ready);
  if (asked.length > 0) fail(page, `it asks for ${asked.join(", ")}`);
  const fonts = await tab.evaluate(() => [...document.fonts].map((f) => f.status));
  if (fonts.length !== 2 || fonts.some((f) => f !== "loaded")) fail(page, `fonts: ${fonts.join(", ")}`);

  await tab.evaluate(axeSource);
  const axe = await tab.evaluate(() => window.axe.run(document));
  for (const violation of axe.violations) {
    fail(page, `axe ${violation.id}: ${violation.help}: ${violation.nodes.map((n) => n.target.join(" ")).slice(0, 3).join("; ")}`);
  }
  if (axe.passes.length < 15) fail(page, `axe looked at little: ${axe.passes.length} rules passed`);

  // On a narrow screen nothing is cut off.
  await tab.setViewportSize({ width: 400, height: 800 });
  const over = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (over > 1) fail(page, `${over} pixels too wide on a narrow screen`);

  const counts = [];
  for (const format of ["A4", "Letter"]) {
    const pdf = (await tab.pdf({ format, printBackground: true })).toString("latin1");
    const count = (pdf.match(/\/Type\s*\/Page[^s]/g) ?? []).length;
    counts.push(`${format} ${count}`);
    const large = path.basename(page).startsWith("large-");
    if (path.basename(page).startsWith("differs")) {
      if (count > 3) fail(page, `${count} pages on ${format}`);
    } else if (large ? count < 3 : count !== 2) fail(page, `${count} pages on ${format}`);
  }
  const size = await tab.evaluate(() => getComputedStyle(document.documentElement).fontSize);
  console.log(`${path.basename(page)}: ${axe.passes.length} axe rules, pages ${counts.join(", ")}, letters ${(parseFloat(size) * 0.75).toFixed(1)} pt`);
  await tab.close();
};

for (const page of pages) {
  for (let tries = 1; ; tries += 1) {
    const before = failures;
    try {
      await look(page);
      break;
    } catch (error) {
      // It may also fall over later; what the page has to answer for is said once.
      if (tries === 3 || browser.isConnected()) throw error;
      failures = before;
      browser = await launch(browserPath);
    }
  }
}
await browser.close();
console.log(failures === 0 ? "every page is sound" : `${failures} failures`);
process.exit(failures === 0 ? 0 : 1);
