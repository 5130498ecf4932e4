// Drives the desk in Chromium; called by tests/peers/desk.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import http from 'node:http';
import { chromium } from 'playwright-core';

const [run, shots, profile] = process.argv.slice(2);
const NAME = '0-20000-0-99011_202101151200_temp';
const address = (desk) => fs.readFileSync(`${run}/${desk}/url`, 'utf8').trim();

// A browser that dies says nothing of the desk: exit code 97 asks for another run.
process.on('uncaughtException', (error) => {
  console.error(error);
  const died = /Target crashed|Page crashed|browser has been closed|Browser closed/i.test(error.message);
  process.exit(died ? 97 : 1);
});
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});

// A page that fails the run when anything is amiss: an error, a breach of the
// policy, a dialogue, a request to anywhere else.
async function open(desk, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 }, ...options });
  const page = await context.newPage();
  const origin = new URL(address(desk)).origin;
  page.on('console', (m) => { if (m.type() === 'error') throw new Error(`${desk}: ${m.text()}`); });
  page.on('pageerror', (e) => { throw e; });
  page.on('dialog', (d) => { throw new Error(`${desk}: a dialogue: ${d.message()}`); });
  page.on('request', (r) => assert(r.url().startsWith(origin) || r.url() === 'data:,', r.url()));
  await page.goto(address(desk));
  assert.equal(page.url(), `${origin}/`, 'the word stays in the address');
  return page;
}

const has = (page, selector, text) => page.locator(selector, { hasText: text }).first().waitFor();

// Every field and button has a name for a screen reader, and an id once.
async function named(page) {
  const bad = await page.evaluate(() => {
    const out = [];
    for (const at of document.querySelectorAll('input:not([type=hidden]), select, button, a, summary')) {
      const label = at.labels && [...at.labels].map((l) => l.textContent.trim()).join('');
      if (!(label || at.getAttribute('aria-label') || at.textContent.trim())) out.push(at.outerHTML);
    }
    const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);
    out.push(...ids.filter((id, k) => ids.indexOf(id) !== k).map((id) => `twice: ${id}`));
    return out;
  });
  assert.deepEqual(bad, []);
}

// Contrast of every text that is seen: 4.5 to 1 (WCAG 2.2, 1.4.3).
async function contrast(page) {
  const low = await page.evaluate(() => {
    const rgb = (text) => (text.match(/[\d.]+/g) || []).map(Number);
    const light = ([r, g, b]) => {
      const part = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
      return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    };
    const ground = (at) => {
      for (let e = at; e; e = e.parentElement) {
        const colour = rgb(getComputedStyle(e).backgroundColor);
        if (colour.length === 3 || colour[3] === 1) return colour;
      }
      return [255, 255, 255];
    };
    const out = [];
    for (const at of document.querySelectorAll('body *')) {
      const own = [...at.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
      if (!own || !at.checkVisibility() || at.closest('.unseen, .skip, select, option')) continue;
      const [a, b] = [light(rgb(getComputedStyle(at).color)), light(ground(at))];
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5) out.push(`${ratio.toFixed(2)} ${at.tagName}.${at.className} ${at.textContent.trim().slice(0, 40)}`);
    }
    return out;
  });
  assert.deepEqual(low, []);
}

// --- by mouse: load, clouds, a level, issue, reopen, correct
{
  const page = await open('mouse');
  await page.screenshot({ path: `${shots}/1-empty.png` });
  await page.setInputFiles('#profile-file', profile);
  await has(page, '#message pre', '41414 65470=');
  await named(page);
  await page.selectOption('[id="clouds.nh"]', '5');
  await has(page, '#message pre', '41414 55470=');
  await page.fill('[id="surface.temperature_c"]', '4.9');
  await has(page, '#message pre', '99004 04830');
  // What cannot be is said at the field, and the message waits.
  await page.fill('[id="surface.humidity_pct"]', '181');
  await has(page, '[id="fault-surface.humidity_pct"]', 'out of range');
  assert.equal(await page.getAttribute('[id="surface.humidity_pct"]', 'aria-invalid'), 'true');
  await page.screenshot({ path: `${shots}/2-fault.png` });
  await page.fill('[id="surface.humidity_pct"]', '81');
  await has(page, '#message pre', '41414 55470=');
  await page.getByRole('button', { name: 'Leave out the level at 876.43 hPa' }).click();
  assert.equal(await page.evaluate(() => document.activeElement.id), 'level.reason');
  await page.keyboard.type('sensor wet');
  await page.keyboard.press('Enter');
  await has(page, '#given', 'level at 876.43 hPa out: sensor wet');
  await has(page, '#findings .warning', 'left out by order: sensor wet');
  await page.fill('[id="withhold.from_hpa"]', '480');
  await page.fill('[id="withhold.to_hpa"]', '430');
  await page.fill('[id="withhold.reason"]', 'icing');
  await page.click('#do-withhold');
  await has(page, '#given', 'humidity withheld from 480 to 430 hPa: icing');
  await page.screenshot({ path: `${shots}/3-orders.png`, fullPage: true });
  await page.click('#undo');
  await has(page, '#notice', 'taken back: order: withhold');
  assert.equal(await page.locator('#given li').count(), 1);
  await page.click('#issue-now');
  await has(page, '#notice', `issued: ${NAME} (`);
  await has(page, '#issued th', '0-20000-0-99011 temp');
  await has(page, '#issue', 'nothing has changed');
  await page.screenshot({ path: `${shots}/4-issued.png` });
  // Another flight, then the first one again.
  await page.click('#anew');
  await has(page, '#message', 'Load a profile');
  await page.click('#issued button');
  await has(page, '#notice', `the sheet of ${NAME} is open; now load its profile, winter_jet.csv`);
  await page.getByRole('button', { name: 'winter_jet.csv' }).click();
  await has(page, '#message pre', '41414 55470=');
  await page.selectOption('[id="clouds.nh"]', '3');
  await has(page, '#changes', 'Part B');
  await has(page, '.part.changed h3', 'Part B');
  await page.screenshot({ path: `${shots}/5-correction.png` });
  await page.click('#issue-now');
  await has(page, '#notice', `issued: ${NAME}_CCA (`);
  const text = fs.readFileSync(`${run}/mouse/out/${NAME}_CCA/text.txt`, 'utf8');
  assert(text.startsWith('TTBB ') && text.includes('41414 35470=') && !text.includes('TTAA'), text);
  await page.click('#nil summary');
  await has(page, '#nil pre', 'NIL=');
  await page.fill('#nil-reason', 'invented reason');
  await page.click('#nil-now');
  await has(page, '#notice', `issued: ${NAME}-nil (`);
  assert.deepEqual(fs.readdirSync(`${run}/mouse/out`).sort(), [NAME, `${NAME}-nil`, `${NAME}_CCA`]);
  await page.context().close();
}

// --- by keyboard alone, from the watched folder to the issue
{
  const page = await open('keys');
  const at = () => page.evaluate(() => document.activeElement.id);
  // An access key is a character with Alt, which the keyboard of the driver does
  // not send.
  const devices = await page.context().newCDPSession(page);
  const access = async (letter) => {
    const key = { key: letter, unmodifiedText: letter, modifiers: 1 };
    await devices.send('Input.dispatchKeyEvent', { type: 'rawKeyDown', ...key });
    await devices.send('Input.dispatchKeyEvent', { type: 'char', text: letter, ...key });
    await devices.send('Input.dispatchKeyEvent', { type: 'keyUp', ...key });
  };
  const go = async (letter, place) => {
    await access(letter);
    await page.waitForFunction((id) => document.activeElement.id === id, place);
  };
  // Where the focus is must be seen.
  const seen = async () => {
    const outline = await page.evaluate(() => {
      const style = getComputedStyle(document.activeElement);
      return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    });
    assert(outline, `the focus on ${await at()} is not seen`);
  };
  const tab = async (wanted) => {
    for (let k = 0; k < 80; k += 1) {
      await page.keyboard.press('Tab');
      await seen();
      if (wanted === (await at())) return;
    }
    assert.fail(`no way to ${wanted} by Tab`);
  };
  await page.keyboard.press('Tab');
  assert.equal(await page.evaluate(() => document.activeElement.textContent), 'Skip to the message');
  await page.screenshot({ path: `${shots}/6-skip.png` });
  const file = await page.evaluate(() =>
    [...document.querySelectorAll('.files button')].find((b) => b.textContent === 'winter_jet.csv').id);
  await tab(file);
  await page.keyboard.press('Enter');
  await has(page, '#message pre', '41414 65470=');
  await go('s', 'surface');
  await tab('surface.temperature_c');
  await page.keyboard.press('Control+a');
  await page.keyboard.type('4.9');
  await has(page, '#message pre', '99004 04830');
  assert.equal(await at(), 'surface.temperature_c', 'typing keeps its place');
  await go('c', 'clouds');
  await tab('clouds.nh');
  await page.keyboard.type('3');
  await has(page, '#message pre', '41414 35470=');
  await go('o', 'orders');
  await tab('level.pressure_hpa');
  await page.keyboard.type('876.43');
  await page.keyboard.press('Tab');
  await page.keyboard.type('sensor wet');
  await page.keyboard.press('Enter');
  await has(page, '#given', 'level at 876.43 hPa out: sensor wet');
  // Alt+Z presses the button that takes it back.
  await access('z');
  await has(page, '#notice', 'taken back: order: level');
  await go('i', 'issue');
  await page.screenshot({ path: `${shots}/7-keys.png` });
  await tab('output-text');
  await tab('issue-now');
  await page.keyboard.press('Enter');
  await has(page, '#notice', `issued: ${NAME} (`);
  assert.deepEqual(fs.readdirSync(`${run}/keys/out`), [NAME]);
  await go('u', 'issued');
  await tab('reopen-0');
  await page.keyboard.press('Space');
  await has(page, '#notice', `the sheet of ${NAME} is open`);
  await page.context().close();
}

// --- without script: by buttons
{
  const page = await open('plain', { javaScriptEnabled: false });
  await page.setInputFiles('#profile-file', profile);
  await page.getByRole('button', { name: 'Load', exact: true }).click();
  await has(page, '#message pre', '41414 65470=');
  await page.selectOption('[id="clouds.nh"]', '5');
  // What was typed and not shown is not issued.
  await page.click('#issue-now');
  await has(page, '#notice', 'not issued');
  await has(page, '#message pre', '41414 55470=');
  await page.selectOption('[id="clouds.nh"]', '4');
  await page.getByRole('button', { name: 'Show the message' }).click();
  await has(page, '#message pre', '41414 45470=');
  await page.getByRole('button', { name: 'Leave out the level at 876.43 hPa' }).click();
  assert.equal(await page.inputValue('[id="level.pressure_hpa"]'), '876.43');
  await page.fill('[id="level.reason"]', 'sensor wet');
  await page.click('#do-level');
  await has(page, '#given', 'sensor wet');
  await page.click('#issue-now');
  await has(page, '#notice', `issued: ${NAME} (`);
  await page.context().close();
}

// --- a hostile sheet shows as text
{
  const page = await open('hostile');
  await has(page, '#who', '<script>alert(1)</script><img src=x');
  await page.setInputFiles('#profile-file', profile);
  await has(page, '#message pre', 'TTAA');
  assert.equal(await page.evaluate(() => document.scripts.length), 1);
  assert.equal(await page.locator('#who img').count(), 0);
  await page.screenshot({ path: `${shots}/8-hostile.png` });
  await page.context().close();
}

// --- who is let in
{
  const { port, pathname, search } = new URL(address('mouse'));
  const ask = (path, headers) => new Promise((done, failed) => {
    const asked = http.get({ host: '127.0.0.1', port, path, headers }, (answer) => {
      answer.resume();
      done(answer.statusCode);
    });
    asked.on('error', failed);
  });
  assert.equal(await ask('/', {}), 403, 'without the word');
  assert.equal(await ask(`${pathname}${search}`, { Host: `desk.example.org:${port}` }), 403, 'another Host');
  assert.equal(await ask(`${pathname}${search}`, {}), 303);
  const context = await browser.newContext();
  const page = await context.newPage();
  const answer = await page.goto(`http://127.0.0.1:${port}/`);
  assert.equal(answer.status(), 403);
  // A page of elsewhere cannot show the desk in a frame, nor post to it.
  await page.goto(`data:text/html,<form method=post action=http://127.0.0.1:${port}/do/nil><button>x</button></form>`);
  const [posted] = await Promise.all([page.waitForResponse(() => true), page.click('button')]);
  assert.equal(posted.status(), 403);
  await context.close();
}

// --- the looks: light and dark, wide and narrow, on paper
for (const [width, height, colorScheme] of [
  [1280, 720, 'light'], [1280, 720, 'dark'], [390, 844, 'light'], [390, 844, 'dark'],
]) {
  const page = await open('keys', { viewport: { width, height }, colorScheme });
  await has(page, '#message pre', 'TTAA');
  await page.fill('[id="surface.temperature_c"]', '9.9');
  await has(page, '#changes', 'temperature');
  await page.waitForSelector('body:not([aria-busy])');
  assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), width, 'wider than the window');
  await contrast(page);
  await named(page);
  const name = `${shots}/9-${width}-${colorScheme}`;
  await page.screenshot({ path: `${name}.png` });
  await page.screenshot({ path: `${name}-whole.png`, fullPage: true });
  if (width === 1280 && colorScheme === 'light') {
    await page.emulateMedia({ media: 'print' });
    await page.screenshot({ path: `${shots}/9-print.png`, fullPage: true });
    await page.emulateMedia({ media: 'screen' });
  }
  await page.click('#undo');
  await has(page, '#notice', 'taken back');
  await page.context().close();
}
await browser.close();
console.log('the desk in a browser: by mouse, by keyboard, without script; hostile sheet, entrance, looks');
