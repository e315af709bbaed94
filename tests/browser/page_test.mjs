// Opens pages in a real browser and checks what only a browser knows: node page_test.mjs PAGE.html...
// Without arguments the stored pages of tests/reports/golden are opened.
import { chromium } from "playwright-core";
import { createServer } from "node:http";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const axe = readFileSync(join(here, "node_modules/axe-core/axe.min.js"), "utf8");
const golden = join(here, "../reports/golden");
const pages = process.argv.length > 2
  ? process.argv.slice(2).map((page) => resolve(page))
  : readdirSync(golden).filter((name) => name.endsWith(".html")).sort().map((name) => join(golden, name));

let failures = 0;
let checks = 0;
let compared = 0;
function check(holds, sentence, detail = "") {
  ++checks;
  if (holds) return;
  ++failures;
  console.error(`FAILED: ${sentence}${detail ? `\n        ${detail}` : ""}`);
}

// A server that counts: what a page asks for beyond itself, the favicon included, shows here.
const asked = [];
const server = createServer((request, response) => {
  asked.push(request.url);
  const page = pages[Number(request.url.slice(1))];
  if (!page) {
    response.writeHead(404).end();
    return;
  }
  response.writeHead(200, { "content-type": "text/html; charset=utf-8" }).end(readFileSync(page));
});
await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
const address = (index) => `http://127.0.0.1:${server.address().port}/${index}`;
const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox"] });

async function open(index, options, use) {
  const context = await browser.newContext({ viewport: { width: 1000, height: 900 }, ...options });
  const tab = await context.newPage();
  const complaints = [];
  tab.on("console", (message) => complaints.push(message.text()));
  tab.on("pageerror", (error) => complaints.push(String(error)));
  await tab.goto(address(index), { waitUntil: "load" });
  await use(tab, complaints);
  await context.close();
}

// Contrast of two CSS colours as WCAG 2.1 defines it (relative luminance of sRGB).
const palette = `(() => {
  const probe = document.createElement("span");
  document.body.append(probe);
  const colour = (name) => {
    probe.style.color = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    const parts = getComputedStyle(probe).color.match(/[\\d.]+/g).map(Number).slice(0, 3);
    const light = parts.map((p) => p / 255).map((p) => (p <= 0.04045 ? p / 12.92 : ((p + 0.055) / 1.055) ** 2.4));
    return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2];
  };
  const ground = colour("--ground");
  const result = {};
  for (const name of ["--ink", "--soft", "--axis", "--in", "--out", "--unknown", "--s3", "--s4"]) {
    const other = colour(name);
    result[name] = (Math.max(other, ground) + 0.05) / (Math.min(other, ground) + 0.05);
  }
  probe.remove();
  return result;
})()`;

// Texts of drawings that leave their drawing or lie on each other.
const collisions = `(() => {
  const wrong = [];
  for (const svg of document.querySelectorAll("svg[role=img]")) {
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll("text")].map((text) => ({ words: text.textContent, box: text.getBoundingClientRect() }));
    texts.forEach((a, i) => {
      if (a.box.left < frame.left - 1 || a.box.right > frame.right + 1 || a.box.bottom > frame.bottom + 1 || a.box.top < frame.top - 1)
        wrong.push(svg.querySelector("title").textContent + ": '" + a.words + "' leaves the drawing");
      for (const b of texts.slice(i + 1)) {
        const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
        const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
        if (across > 1 && down > 0.35 * Math.min(a.box.height, b.box.height))
          wrong.push(svg.querySelector("title").textContent + ": '" + a.words + "' lies on '" + b.words + "'");
      }
    });
  }
  return wrong;
})()`;

// Numbers of the JSON file that belongs to a page; a customer's page is of the same result, and one that compares is of
// the results in its folder. Undefined without one.
function numbersBeside(page) {
  const own = page.replace(/(-customer)?\.html$/, ".json");
  const files = existsSync(own) ? [own] : page.endsWith("-compared.html")
    ? readdirSync(dirname(page)).filter((name) => name.endsWith(".json")).map((name) => join(dirname(page), name)) : [];
  if (files.length === 0) return undefined;
  const numbers = new Set();
  const walk = (node) => {
    // A page carries eleven significant digits; a number half-way between two of them may go to either.
    if (typeof node === "number") [node, node * (1 - 1e-15)].forEach((one) => numbers.add(Number(one.toPrecision(11))));
    else if (node !== null && typeof node === "object") Object.values(node).forEach(walk);
  };
  files.forEach((file) => walk(JSON.parse(readFileSync(file, "utf8"))));
  return numbers;
}

const units = { "%": 1e-2, "µm": 1e-6, "mm": 1e-3, "MS/m": 1e6, "kΩ": 1e3, "mΩ": 1e-3, "µΩ": 1e-6, "nΩ": 1e-9, "Ω": 1, "ns": 1e-9,
  "µs": 1e-6, "ms": 1e-3, "s": 1, "µV": 1e-6, "mV": 1e-3, "V": 1 };

// Whether the text of a number is the value, rounded no further than to its last digit.
function tells({ text, value, scale }) {
  if (["all", "none", "all seen", "none seen"].includes(text)) return value === (text.startsWith("all") ? 1 : 0);
  const [, bound, digits, unit] = text.replaceAll("\u202f", "").match(/^([<>] )?(-?[\d.]+(?:e[-+]?\d+)?)(?: (.+))?$/) ?? [];
  if (digits === undefined || (unit !== undefined && units[unit] === undefined)) return false;
  if (bound !== undefined) return value === (bound === "< " ? 0 : 1);
  const size = scale !== null ? 1 / scale : units[unit] ?? 1;
  const [mantissa, power] = digits.split("e");
  const places = mantissa.includes(".") ? mantissa.length - mantissa.indexOf(".") - 1 : mantissa === "0" ? 0 : -mantissa.match(/0*$/)[0].length;
  return Math.abs(Number(digits) * size - value) <= 1.0001 * 10 ** (Number(power ?? 0) - places) * size;
}

for (const [index, page] of pages.entries()) {
  const name = basename(page);
  const bytes = readFileSync(page).length;
  check(bytes < 400000, `${name}: below 400 kB`, `${bytes} bytes`);

  asked.length = 0;
  await open(index, {}, async (tab, complaints) => {
    check(complaints.length === 0, `${name}: the console stays silent`, complaints.join("; "));
    await tab.waitForTimeout(200);
    check(asked.length === 1, `${name}: exactly one request`, asked.join(" "));
    check((await tab.evaluate("document.scripts.length")) === 0, `${name}: no script on the page`);

    const shown = await tab.evaluate(`[...document.querySelectorAll("td data")].map((data) => ({
      text: data.textContent, value: Number(data.value), scale: data.dataset.scale === undefined ? null : Number(data.dataset.scale) }))`);
    check(shown.length > 10, `${name}: the tables have numbers`);
    const known = numbersBeside(page);
    if (known !== undefined) {
      const foreign = shown.filter((one) => !known.has(one.value));
      check(foreign.length === 0, `${name}: every number in the tables is one of the JSON file`, JSON.stringify(foreign.slice(0, 4)));
      ++compared;
    }
    const wrong = shown.filter((one) => !tells(one));
    check(wrong.length === 0, `${name}: every number in the tables is told as it is`, JSON.stringify(wrong.slice(0, 4)));
    // A cell of a table of numbers that holds digits outside its numbers is a window's limits, a unit or a half-width.
    const bare = await tab.evaluate(`[...document.querySelectorAll("table:not(.words) td")].map((cell) => {
      const copy = cell.cloneNode(true);
      copy.querySelectorAll("data").forEach((data) => data.remove());
      return copy.textContent.trim();
    }).filter((text) => /\\d/.test(text))`);
    const allowed = (text) => text.startsWith("±") || /^per 1\b/.test(text) || /^(at least|at most) |\d to -?\d/.test(text) || !/\d/.test(text.replace(/[a-z]2\b/g, ""));
    check(bare.every(allowed), `${name}: no number of the tables stands without its value`, bare.filter((t) => !allowed(t)).slice(0, 4).join("; "));
  });

  for (const [look, options] of [["light", { colorScheme: "light" }], ["dark", { colorScheme: "dark" }],
                                 ["forced colours", { forcedColors: "active" }]]) {
    for (const width of [390, 1000]) {
      await open(index, { ...options, viewport: { width, height: 900 } }, async (tab) => {
        await tab.evaluate(axe);
        const { violations } = await tab.evaluate("axe.run(document, {resultTypes: ['violations']})");
        check(violations.length === 0, `${name}, ${look}, ${width} px: accessible`,
          violations.map((v) => `${v.id}: ${v.nodes.length} times, first ${v.nodes[0].html.slice(0, 120)}`).join("; "));
        if (look === "forced colours") return;
        const contrast = await tab.evaluate(palette);
        for (const [colour, ratio] of Object.entries(contrast)) {
          const least = colour === "--ink" || colour === "--soft" ? 4.5 : 3;  // WCAG 2.1, 1.4.3 and 1.4.11
          check(ratio >= least, `${name}, ${look}: ${colour} on the ground has a contrast of at least ${least}`, ratio.toFixed(2));
        }
      });
    }
  }

  for (const width of [320, 390, 700, 1000]) {
    await open(index, { javaScriptEnabled: true, viewport: { width, height: 900 } }, async (tab) => {
      const [wide, seen] = await tab.evaluate("[document.documentElement.scrollWidth, innerWidth]");
      check(wide <= seen, `${name}, ${width} px: no sideways scroll`, `${wide} px wide`);
      const wrong = await tab.evaluate(collisions);
      check(wrong.length === 0, `${name}, ${width} px: letters of drawings are free`, wrong.slice(0, 6).join("; "));
    });
  }

  await open(index, { javaScriptEnabled: false }, async (tab) => {
    const drawings = tab.locator("figure svg[role=img]");
    const count = await drawings.count();
    check(count > 0, `${name}: figures are there without scripts`);
    for (let i = 0; i < count; ++i) {
      const box = await drawings.nth(i).boundingBox();
      const words = await drawings.nth(i).locator("title, desc").allTextContents();
      check(box !== null && box.width > 300 && box.height > 80, `${name}: figure ${i + 1} has a size`);
      check(words.length === 2 && words.every((text) => text.trim().length > 8), `${name}: figure ${i + 1} has a text alternative`);
      const next = await drawings.nth(i).locator("xpath=ancestor::figure/following-sibling::*[1]/self::table").count();
      check(next === 1, `${name}: figure ${i + 1} has its table`);
    }
  });

  await open(index, {}, async (tab) => {
    const texts = await tab.evaluate("[...document.querySelectorAll('a[href], [tabindex]')].map((stop) => stop.textContent)");
    const stops = texts.length;
    const visited = [];
    for (let i = 0; i < stops; ++i) {
      await tab.keyboard.press("Tab");
      visited.push(await tab.evaluate(`(() => {
        const at = document.activeElement, box = at.getBoundingClientRect(), style = getComputedStyle(at);
        return { text: at.textContent, shown: box.width > 0 && box.right > 0, ring: style.outlineStyle !== "none" };
      })()`));
    }
    check(visited[0]?.text === "Skip to the answer", `${name}: the first stop of the keyboard skips to the answer`, visited[0]?.text);
    check(new Set(visited.map((stop) => stop.text)).size === stops, `${name}: each link is one stop`, `${stops} links`);
    check(visited.every((stop, i) => stop.text === texts[i]), `${name}: the keyboard goes down the page in reading order`);
    check(visited.every((stop) => stop.shown && stop.ring), `${name}: each stop is seen and ringed`);
    await tab.keyboard.press("Shift+Tab");
  });

  await open(index, {}, async (tab) => {
    const paper = await tab.pdf({ preferCSSPageSize: true, printBackground: false });
    const text = paper.toString("latin1");
    const sheets = (text.match(/\/Type\s*\/Page\b/g) ?? []).length;
    const sizes = [...text.matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)/g)];
    check(sheets > 0, `${name}: prints`);
    // A4 is 210 mm x 297 mm, 595.3 x 841.9 points (ISO 216).
    check(sizes.every(([, w, h]) => Math.abs(w - 595.3) < 1.5 && Math.abs(h - 841.9) < 1.5), `${name}: prints on A4`);
    check(sheets <= 30, `${name}: thirty sheets at most`, `${sheets} sheets`);
    await tab.emulateMedia({ media: "print" });
    const lost = await tab.evaluate(`[...document.querySelectorAll("main table")].filter((table) => table.getBoundingClientRect().height < 20).length`);
    check(lost === 0, `${name}: no table is left out of the print`, `${lost} tables`);
    if (name.includes("customer")) check(sheets <= 2, `${name}: two sheets at most`, `${sheets} sheets`);
    console.log(`${name}: ${sheets} sheets of A4`);
  });
}

const stored = pages.filter((page) => dirname(page) === golden).length;
check(compared >= stored - 1, "the stored pages have their JSON files beside them, but for the comparison");
await browser.close();
server.close();
console.log(`${checks - failures} of ${checks} checks of ${pages.length} pages hold`);
process.exit(failures === 0 ? 0 : 1);
