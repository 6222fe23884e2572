// SPDX-License-Identifier: GPL-3.0-or-later
// A report opened as people open it: no console message, no request to anywhere, nothing axe-core
// finds serious at phone and desktop width, no picture cut in the A4 print preview.
// node check.mjs REPORT.html OUTPUT_FOLDER
import { chromium } from "playwright-core";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { join } from "node:path";

const [report, folder] = process.argv.slice(2);
const axe = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox"],
});
let failed = 0;
const check = (good, what) => {
  console.log(`${good ? "ok    " : "FAILED"} ${what}`);
  if (!good) failed += 1;
};

for (const [name, width, height] of [["phone", 390, 844], ["desktop", 1280, 900]]) {
  const page = await browser.newPage({ viewport: { width, height } });
  const said = [], asked = [];
  page.on("console", (message) => said.push(message.text()));
  page.on("pageerror", (error) => said.push(String(error)));
  page.on("request", (request) => asked.push(request.url()));
  await page.goto(pathToFileURL(report).href);
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
  const outside = asked.filter((url) => !url.startsWith("file:") && !url.startsWith("data:"));
  const files = asked.filter((url) => url.startsWith("file:"));
  check(said.length === 0, `${name}: console is silent ${said.join("; ")}`);
  check(outside.length === 0 && files.length === 1, `${name}: asks for nothing else ${outside}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth);
  check(wide <= width, `${name}: ${wide} px wide in ${width}`);
  await page.addScriptTag({ path: axe });
  const found = await page.evaluate(async () => (await globalThis.axe.run()).violations);
  const serious = found.filter((v) => ["serious", "critical"].includes(v.impact));
  check(serious.length === 0, `${name}: axe-core, serious: ${serious.map((v) => v.id)}; ` +
    `others: ${found.filter((v) => !serious.includes(v)).map((v) => v.id)}`);
  await page.close();
}

// In print no picture is taller than a page's inside, and none is split.
const page = await browser.newPage();
await page.goto(pathToFileURL(report).href);
await page.emulateMedia({ media: "print" });
await page.setViewportSize({ width: 718, height: 1047 });  // A4 less 10 mm margins at 96 px an inch
const figures = await page.$$eval("figure", (all) => all.map((f) => ({
  height: f.getBoundingClientRect().height, width: f.getBoundingClientRect().width,
  whole: getComputedStyle(f).breakInside })));
check(figures.length > 0 && figures.every((f) => f.height < 1047 && f.width <= 718 && f.whole === "avoid"),
  `print: ${figures.length} pictures, each on one page`);
await page.pdf({ path: join(folder, "print.pdf"), format: "A4",
  margin: { top: "10mm", bottom: "10mm", left: "10mm", right: "10mm" } });
await browser.close();
console.log(failed ? `${failed} FAILED` : "all passed");
process.exit(failed ? 1 : 0);
