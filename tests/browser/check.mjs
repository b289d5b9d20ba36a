// Opens every page of a folder in a real browser, as wide as a phone and as a desk, and fails where one has a script error,
// breaks its own content security policy, asks for anything from outside, is wider than its window, or does not pass the
// accessibility rules of axe-core (WCAG 2.2 A and AA, and its best practices). Prints each on A4 and Letter.
//
//   node check.mjs CHROMIUM FOLDER [PICTURES]     PICTURES: a folder for screenshots and prints, to be looked at
import { existsSync, mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const [executablePath, folder, pictures] = process.argv.slice(2);
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const widths = { phone: { width: 390, height: 844 }, desk: { width: 1280, height: 900 } };
const pages = readdirSync(folder).filter((name) => name.endsWith(".html")).sort();
const letter = join("letter", "letter.html");
if (existsSync(join(folder, letter))) pages.push(letter);
if (pages.length === 0) throw new Error(`no page in ${folder}`);
if (pictures) mkdirSync(pictures, { recursive: true });

const browser = await chromium.launch({
  executablePath,
  args: [
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
  ],
});
const faults = [];
for (const name of pages) {
  for (const [width, viewport] of Object.entries(widths)) {
    const context = await browser.newContext({ viewport, deviceScaleFactor: width === "phone" ? 2 : 1 });
    const page = await context.newPage();
    const fault = (words) => faults.push(`${name}, ${width}: ${words}`);
    page.on("pageerror", (error) => fault(`script error: ${error.message}`));
    page.on("console", (message) => {
      if (["error", "warning"].includes(message.type())) fault(`console: ${message.text()}`);
    });
    page.on("request", (request) => {
      if (!request.url().startsWith("file:")) fault(`asks for ${request.url()}`);
    });
    await page.goto(pathToFileURL(resolve(folder, name)).href);
    const policy = await page.locator('meta[http-equiv="Content-Security-Policy"]').count();
    // Mail programs have policies of their own: a letter brings none.
    if (policy !== (name === letter ? 0 : 1)) fault(`has ${policy} content security policies`);
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (over > 0) fault(`is ${over} pixels wider than its window`);
    if (pictures) await page.screenshot({ path: join(pictures, `${basename(name, ".html")}-${width}.png`), fullPage: true });
    await page.evaluate(axe);
    const found = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
    for (const { id, help, nodes } of found.violations) {
      fault(`axe ${id}: ${help}: ${nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")} (${nodes.length})`);
    }
    if (width === "desk") {
      for (const format of ["A4", "Letter"]) {
        const pdf = await page.pdf({ format, preferCSSPageSize: false });
        if (pdf.length < 2000) fault(`prints nothing on ${format}`);
        if (pictures) writeFileSync(join(pictures, `${basename(name, ".html")}-${format}.pdf`), pdf);
      }
    }
    await context.close();
  }
}
await browser.close();
for (const fault of faults) console.error(fault);
if (faults.length > 0) process.exit(1);
console.log(`${pages.length} pages, each at ${Object.keys(widths).length} widths: no fault.`);
