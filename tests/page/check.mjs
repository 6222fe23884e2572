// SPDX-License-Identifier: GPL-3.0-or-later
// A report looked at as people look at it: no console message, no request, nothing that axe-core finds
// serious; no text that overlaps, is cut, or is smaller than 9 pt; the PDF says what the page says.
// node check.mjs REPORT_FOLDER OUTPUT_FOLDER
import { chromium } from "playwright-core";
import { createRequire } from "node:module";
import { execFileSync } from "node:child_process";
import { pathToFileURL } from "node:url";
import { basename, join } from "node:path";
import { overlapping, textBoxes, tooSmall } from "./boxes.mjs";

const [folder, output] = process.argv.slice(2);
const name = basename(folder);
const html = pathToFileURL(join(folder, "report.html")).href, pdf = join(folder, "report.pdf");
const axe = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
let failed = 0, passed = 0;
const check = (good, what) => {
  if (good) passed += 1;
  else failed += 1, console.log(`FAILED ${name}: ${what}`);
};
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
});

for (const [view, width, height, colorScheme] of [["phone", 390, 844, "light"], ["desktop", 1280, 900, "light"],
                                                  ["phone-dark", 390, 844, "dark"], ["dark", 1280, 900, "dark"]]) {
  const page = await browser.newPage({ viewport: { width, height }, colorScheme });
  const said = [], asked = [];
  page.on("console", (message) => said.push(message.text()));
  page.on("pageerror", (error) => said.push(String(error)));
  page.on("request", (request) => asked.push(request.url()));
  await page.goto(html);
  check(said.length === 0, `${view}: console: ${said.join("; ")}`);
  check(asked.length === 1, `${view}: asks for ${asked.slice(1)}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  check(wide <= width, `${view}: ${wide} px wide in ${width}`);
  const boxes = await page.evaluate(textBoxes);
  const outside = boxes.filter((box) => box.left < -1 || box.right > width + 1).map((box) => box.text);
  check(outside.length === 0, `${view}: cut: ${outside.slice(0, 5).join(" | ")}`);
  check(overlapping(boxes).length === 0, `${view}: overlap: ${overlapping(boxes).slice(0, 5).join(" | ")}`);
  check(tooSmall(boxes).length === 0, `${view}: smaller than 9 pt: ${tooSmall(boxes).slice(0, 5).join(" | ")}`);
  await page.addScriptTag({ path: axe });
  const found = await page.evaluate(async () => (await globalThis.axe.run()).violations);
  const serious = found.filter((v) => ["serious", "critical"].includes(v.impact));
  check(serious.length === 0, `${view}: axe-core: ${serious.map((v) => `${v.id} ${v.nodes[0].html.slice(0, 90)}`)}`);
  const first = await page.$("section");
  await first.screenshot({ path: join(output, `${name}-${view}.png`) });
  await page.close();
}

// Printed by the browser: A4 and Letter, nothing cut, no picture split.
for (const [paper, width, height] of [["A4", 695, 1024], ["Letter", 717, 957]]) {
  const page = await browser.newPage({ viewport: { width, height } });
  await page.goto(html);
  await page.emulateMedia({ media: "print" });
  const boxes = await page.evaluate(textBoxes);
  check(boxes.every((box) => box.right <= width + 1), `${paper}: cut at the right`);
  check(overlapping(boxes).length === 0, `${paper}: overlap: ${overlapping(boxes).slice(0, 5).join(" | ")}`);
  check(tooSmall(boxes).length === 0, `${paper}: smaller than 9 pt: ${tooSmall(boxes).slice(0, 5).join(" | ")}`);
  const whole = await page.$$eval("figure", (all) => all.map((figure) => ({
    height: figure.getBoundingClientRect().height, inside: getComputedStyle(figure).breakInside })));
  check(whole.every((figure) => figure.height < height && figure.inside === "avoid"), `${paper}: a picture is split`);
  const first = await page.$eval("section", (section) => section.getBoundingClientRect().height);
  check(first <= height, `${paper}: the customer's page is ${Math.round(first)} px high in ${height}`);
  await page.pdf({ path: join(output, `${name}-${paper}.pdf`), format: paper, preferCSSPageSize: true });
  await page.close();
}

// The PDF: the customer's page is one page, without a code, and says what the page says.
const run = (program, ...args) => execFileSync(program, args, { encoding: "utf8", maxBuffer: 1 << 28 });
const page = await browser.newPage();
await page.goto(html);
const onPage = await page.$eval("section", (section) => section.innerText);
await browser.close();
const words = (text) => text.normalize("NFKC").replace(/[\u2068\u2069•]/g, " ").split(/\s+/).filter(Boolean).sort();
const printed = run("pdftotext", "-f", "1", "-l", "1", "-raw", pdf, "-");
const lines = printed.trimEnd().replace(/\f/g, "").split("\n");
check(!/[A-Z]+_[A-Z_]+/.test(printed), `PDF: a code on the customer's page: ${printed.match(/[A-Z]+_[A-Z_]+/)}`);
check(!/[A-Z]+_[A-Z_]+/.test(onPage), `page: a code on the customer's page: ${onPage.match(/[A-Z]+_[A-Z_]+/)}`);
const foot = lines.filter((line) => / 1 (of|von|sur|de|van) \d+$/.test(line));
check(foot.length === 1, "PDF: the first page has no number");
const here = words(onPage), there = words(lines.filter((line) => !foot.includes(line)).join(" "));
const left = (a, b) => { const rest = [...b]; return a.filter((w) => { const at = rest.indexOf(w); if (at >= 0) rest.splice(at, 1); return at < 0; }); };
// A long word, such as a file's name, may be broken at a line's end.
const joined = there.join(""), only = left(here, there).filter((word) => !joined.includes(word));
check(only.length === 0, `on the page only: ${only.slice(0, 12).join(" ")}`);
const extra = left(there, here).filter((word) => !here.join("").includes(word));
check(extra.length === 0, `in the PDF only: ${extra.slice(0, 12).join(" ")}`);
const second = run("pdftotext", "-f", "2", "-l", "2", "-raw", pdf, "-");
check(second.startsWith("For the technician"), `PDF: the customer's page is longer than one: ${second.slice(0, 60)}`);
check(/Tagged:\s+yes/.test(run("pdfinfo", pdf)), "PDF: not tagged");
check(/Title:\s+\S/.test(run("pdfinfo", pdf)), "PDF: no title");
const pages = [...run("pdftotext", "-bbox", pdf, "-").matchAll(/<page [^>]*>(.*?)<\/page>/gs)];
pages.forEach(([, body], k) => {
  const boxes = [...body.matchAll(/xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)</g)]
    .map(([, left, top, right, bottom, text]) => ({ left: +left, top: +top, right: +right, bottom: +bottom, text }));
  // Boxes hold the whole line's height; letters take half of it.
  const tight = boxes.map((box) => ({ ...box, top: box.top + 0.25 * (box.bottom - box.top), bottom: box.bottom - 0.25 * (box.bottom - box.top) }));
  check(overlapping(tight).length === 0, `PDF page ${k + 1}: overlap: ${overlapping(tight).slice(0, 5).join(" | ")}`);
  check(boxes.every((box) => box.left > 30 && box.right < 585), `PDF page ${k + 1}: text in the margin`);
});
run("pdftoppm", "-r", "80", "-png", pdf, join(output, `${name}-pdf`));
console.log(`${name}: ${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
