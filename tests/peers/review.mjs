// What `tests/peers/review` holds a browser to. Arguments: folder of the pages,
// folder for pictures or nothing, names of the pages.
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const [folder, pictures, ...names] = process.argv.slice(2);
const fail = (name, what) => { throw new Error(`${name}: ${what}`); };

// A browser for each sheet, so that nothing piles up in it.
const launch = () => chromium.launch({
  executablePath: "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
let browser;

// The levels marked on diagram and table, and the groups marked in the message.
const marked = (page) => page.evaluate(() => {
  const of = (what, key) => Array.from(document.querySelectorAll(what), (one) => one.dataset[key] ?? one.id);
  return {
    levels: of("svg .level.on", "level"),
    rows: of("tr.on", "level"),
    groups: Array.from(document.querySelectorAll(".group.on"), (one) => one.id),
    guides: document.querySelectorAll(".guide").length,
    shown: document.getElementById("readout").textContent,
  };
});
const same = (a, b) => [...a].sort().join() === [...b].sort().join();

async function holds(name, page) {
  const groups = await page.evaluate(() => Array.from(document.querySelectorAll(".group"), (one) => ({
    id: one.id, levels: (one.dataset.levels ?? "").split(" ").filter(Boolean),
  })));
  const drawn = await page.evaluate(() => Array.from(document.querySelectorAll("svg .level"), (one) => one.dataset.level));
  const source = readFileSync(`${folder}/${name}.html`, "utf8");
  if (groups.length !== source.split("class=\"group\"").length - 1) fail(name, "groups are lost on reading");
  const about = (level) => groups.filter((one) => one.levels.includes(level)).map((one) => one.id);
  const check = async (how, levels, own) => {
    const now = await marked(page);
    const expected = new Set([...levels.flatMap(about), ...own]);
    if (!same(now.rows, levels)) fail(name, `${how}: rows ${now.rows}, not ${levels}`);
    const there = levels.filter((level) => drawn.includes(level));
    if (!same(now.levels, there)) fail(name, `${how}: drawn levels ${now.levels}, not ${there}`);
    if (now.guides !== there.length) fail(name, `${how}: ${now.guides} lines across the diagram`);
    if (!same(now.groups, expected)) fail(name, `${how}: groups ${now.groups}, not ${[...expected]}`);
    return now.shown;
  };
  const sample = groups.filter((one, i) => i % 7 === 0 || one.levels.length > 1);
  for (const one of sample) {
    const meaning = await page.evaluate((id) => {
      const group = document.getElementById(id);
      return document.getElementById(group.getAttribute("aria-describedby")).textContent;
    }, one.id);
    for (const how of ["hover", "focus"]) {
      await page.keyboard.press("Escape");
      if (how === "hover") await page.locator(`[id="${one.id}"]`).hover();
      else await page.locator(`[id="${one.id}"]`).focus();
      const shown = await check(`${how} of ${one.id}`, one.levels, [one.id]);
      if (!shown.includes(meaning)) fail(name, `${one.id}: \`${shown}\` lacks \`${meaning}\``);
    }
  }
  if (groups.length > 1) {
    await page.locator(`[id="${groups[0].id}"]`).focus();
    await page.keyboard.press("ArrowRight");
    await check("arrow key", groups[1].levels, [groups[1].id]);
  }
  const levels = await page.evaluate(() => Array.from(document.querySelectorAll("tr[data-level]"), (one) => one.dataset.level));
  for (const level of levels.filter((_, i) => i % 5 === 0)) {
    await page.keyboard.press("Escape");
    await page.locator(`[id="row-${level}"] th > *`).hover();
    await check(`row of level ${level}`, [level], []);
    await page.keyboard.press("Escape");
    await page.locator(`[id="row-${level}"] th > *`).focus();
    await check(`focused row of level ${level}`, [level], []);
  }
  // On the diagram the nearest mark is meant: the middle of a tick is one of its own.
  for (const level of drawn.filter((_, i) => i % 9 === 0)) {
    await page.keyboard.press("Escape");
    await page.evaluate((n) => document.querySelector(`#level-${n} .tick`).scrollIntoView({ block: "center" }), level);
    const at = await page.evaluate((n) => {
      const box = document.querySelector(`#level-${n} .tick`).getBoundingClientRect();
      return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    }, level);
    await page.mouse.move(0, 0);
    await page.keyboard.press("Escape");
    await page.mouse.move(at.x, at.y);
    const now = await marked(page);
    if (now.levels.length !== 1) fail(name, `tick of level ${level}: levels ${now.levels}`);
    await check(`tick of level ${level}`, now.levels, []);
  }
  // A click keeps the mark, Escape lets go.
  const tied = groups.find((one) => one.levels.length === 1);
  if (tied) {
    await page.locator(`[id="${tied.id}"]`).click();
    await page.locator(`[id="${groups[0].id}"]`).hover();
    await check("kept", tied.levels, [tied.id]);
    await page.keyboard.press("Escape");
    if ((await marked(page)).groups.length) fail(name, "Escape does not let go");
  }
}

async function open(name, options) {
  const page = await browser.newPage(options);
  const said = [];
  page.on("console", (message) => said.push(message.text()));
  page.on("pageerror", (error) => said.push(error.message));
  const own = pathToFileURL(`${folder}/${name}.html`).href;
  page.on("request", (request) => { if (request.url() !== own) said.push(`asks for ${request.url()}`); });
  await page.goto(own);
  return [page, said];
}

async function sheet(name) {
  const [page, said] = await open(name, { viewport: { width: 1280, height: 720 } });
  await holds(name, page);
  await page.pdf({ path: `${folder}/${name}.pdf`, preferCSSPageSize: true });
  if (said.length) fail(name, said.join("; "));
  await page.close();
  for (const [width, height] of [[1280, 720], [390, 844]]) {
    const [narrow, words] = await open(name, { viewport: { width, height } });
    const wide = await narrow.evaluate(() => document.documentElement.scrollWidth);
    if (wide > width) fail(name, `${wide} px wide in a window of ${width}`);
    if (words.length) fail(name, words.join("; "));
    await narrow.close();
  }
  // Without the script the meaning stands beside each group all the same.
  const [still, words] = await open(name, { javaScriptEnabled: false, viewport: { width: 1280, height: 720 } });
  const bare = await still.locator(".group:not([title])").count();
  if (bare || words.length) fail(name, `without script: ${bare} groups say nothing; ${words.join("; ")}`);
  await still.close();
  if (pictures) {
    for (const [how, width, height, colorScheme] of [["light", 1280, 720, "light"], ["dark", 1280, 720, "dark"], ["narrow", 390, 844, "light"]]) {
      const [shown] = await open(name, { viewport: { width, height }, colorScheme });
      const group = shown.locator(".group[data-levels]").nth(20);
      if (await group.count()) {
        await group.click();
        await shown.evaluate(() => document.querySelector(".picture").scrollIntoView({ block: "start" }));
        await shown.screenshot({ path: `${pictures}/${name}-${how}-marked.png` });
      }
      await shown.screenshot({ path: `${pictures}/${name}-${how}.png`, fullPage: true });
      await shown.close();
    }
  }
}

// The page of a month has no script: it prints, fits the window, and asks for nothing.
async function month(name) {
  const [page, said] = await open(name, { viewport: { width: 1280, height: 720 } });
  await page.pdf({ path: `${folder}/${name}.pdf`, preferCSSPageSize: true });
  const bare = await page.evaluate(() => Array.from(document.querySelectorAll("svg"))
    .filter((one) => one.getAttribute("aria-hidden") !== "true" && !(one.querySelector("title") && one.querySelector("desc"))).length);
  if (bare) fail(name, `${bare} charts without a text`);
  if (said.length) fail(name, said.join("; "));
  await page.close();
  for (const [how, width, height, colorScheme] of [["light", 1280, 720, "light"], ["dark", 1280, 720, "dark"], ["narrow", 390, 844, "light"]]) {
    const [shown, words] = await open(name, { javaScriptEnabled: false, viewport: { width, height }, colorScheme });
    const wide = await shown.locator("html").evaluate((html) => html.scrollWidth);
    if (wide > width) fail(name, `${wide} px wide in a window of ${width}`);
    if (words.length) fail(name, words.join("; "));
    if (pictures) await shown.screenshot({ path: `${pictures}/${name}-${how}.png`, fullPage: true });
    await shown.close();
  }
}

// A browser that dies says nothing of the sheet: it is begun anew, once. What the sheet
// does not hold fails at once.
const died = (error) => /Target crashed|Page crashed|browser has been closed|Browser closed/i.test(error.message);
for (const name of names) {
  for (let tries = 1; ; tries += 1) {
    browser = await launch();
    try {
      await (name === "month" ? month(name) : sheet(name));
      break;
    } catch (error) {
      if (tries > 1 || !died(error)) throw error;
      console.error(`${name}: the browser died (${error.message.split("\n")[0]}); once more`);
    } finally {
      await browser.close().catch(() => {});
    }
  }
}
