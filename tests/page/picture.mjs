// SPDX-License-Identifier: GPL-3.0-or-later
// The customer's page as the README shows it: node picture.mjs REPORT.html PICTURE.png
import { chromium } from "playwright-core";
import { pathToFileURL } from "node:url";

const [report, picture] = process.argv.slice(2);
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
});
const page = await browser.newPage({ viewport: { width: 820, height: 900 } });
await page.goto(pathToFileURL(report).href);
const box = await (await page.$("section")).boundingBox();
await page.screenshot({ path: picture, fullPage: true,
  clip: { x: 0, y: 0, width: 820, height: Math.ceil(box.y + box.height + 12) } });
await browser.close();
