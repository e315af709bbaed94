// Pictures of pages for a person to look at, in pieces of a screen's height: node look.mjs OUT_FOLDER PAGE.html...
import { chromium } from "playwright-core";
import { basename, resolve } from "node:path";

const [out, ...pages] = process.argv.slice(2);
const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox"] });
for (const page of pages) {
  for (const [width, piece] of [[390, 2000], [1000, 1500]]) {
    for (const colorScheme of ["light", "dark"]) {
      const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, javaScriptEnabled: false });
      const tab = await context.newPage();
      await tab.goto("file://" + resolve(page));
      const height = (await tab.locator("html").boundingBox()).height;
      for (let y = 0, part = 1; y < height; y += piece, ++part) {
        await tab.screenshot({
          path: `${out}/${basename(page, ".html")}-${width}-${colorScheme}-${String(part).padStart(2, "0")}.png`,
          fullPage: true,
          clip: { x: 0, y, width, height: Math.min(piece, height - y) },
        });
      }
      await context.close();
    }
  }
}
await browser.close();
