// Holds a report folder against checkers from outside the project.
//   node page_check.mjs CHECK REPORT_FOLDER [REPORT_FOLDER ...]
// Each check ends with exit code 1 and a list of faults, or says what it looked at.
import {execFileSync} from 'node:child_process';
import {mkdtempSync, readFileSync, rmSync, statSync, writeFileSync} from 'node:fs';
import {tmpdir} from 'node:os';
import path from 'node:path';
import {pathToFileURL} from 'node:url';

const kMostBytes = 5 << 20;       // of the page
const kMostPrintedPages = 8;      // A4
const kPatience_ms = 120_000;     // a browser on a busy machine, drawing without a graphics card

const textOf = (folder, name) => readFileSync(path.join(folder, name), 'utf8');
const jsonOf = (folder, name) => JSON.parse(textOf(folder, name));
const pageOf = (folder) => pathToFileURL(path.join(path.resolve(folder), 'report.html')).href;
const collapsed = (text) => text.replace(/[\s\u00a0]+/g, ' ');

async function browse(work, options = {}) {
  const {default: puppeteer} = await import('puppeteer-core');
  // Three dimensions are drawn without a graphics card, and nothing else by that way.
  const drawing = options.solids ? ['--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist', '--disable-gpu-compositing', '--disable-gpu-rasterization']
                                 : ['--disable-gpu'];
  const profile = mkdtempSync(path.join(tmpdir(), 'aircut-page-'));
  const browser = await puppeteer.launch({
    executablePath: process.env.AIRCUT_CHROMIUM || '/usr/bin/chromium', headless: true, userDataDir: profile, timeout: kPatience_ms, protocolTimeout: kPatience_ms,
    args: ['--no-sandbox', '--disable-dev-shm-usage', ...drawing],
  });
  try {
    const page = await browser.newPage();
    await page.setViewport({width: 1200, height: 900});
    if (options.scripts === false) await page.setJavaScriptEnabled(false);
    return await work(page);
  } finally {
    await browser.close();
    rmSync(profile, {recursive: true, force: true});
  }
}

// Oracle: SARIF 2.1.0, the JSON schema of the OASIS standard.
async function sarif(folder, faults) {
  const {default: Ajv} = await import('ajv-draft-04');
  const {default: addFormats} = await import('ajv-formats');
  const {createRequire} = await import('node:module');
  const resolve = createRequire(import.meta.url).resolve;
  const schemaFile = path.join(path.dirname(resolve('sarif-schema/package.json')), 'lib/schemas/sarif-2.1.0-rtm.5.json');
  const ajv = new Ajv({strict: false, allErrors: true, unicodeRegExp: false});
  addFormats(ajv);
  const valid = ajv.compile(JSON.parse(readFileSync(schemaFile, 'utf8')));
  const log = jsonOf(folder, 'findings.sarif');
  if (!valid(log)) faults.push(...valid.errors.map((e) => `${e.instancePath} ${e.message}`));
  const broken = structuredClone(log);
  delete broken.runs[0].tool.driver.name;
  if (valid(broken)) faults.push('the schema does not notice a tool without a name');
  // An editor opens the file at the line: it must be there.
  const lines = jsonOf(folder, 'report.json').findings.filter((f) => f.line !== null).length;
  const located = log.runs[0].results.filter((r) => r.locations).length;
  if (lines !== located) faults.push(`${lines} findings have a line, ${located} results have a place`);
  return `${log.runs[0].results.length} results`;
}

// Oracle: junit.rng, written from the schema that readers of such files publish.
async function junit(folder, faults) {
  const rules = path.join(import.meta.dirname ?? path.dirname(new URL(import.meta.url).pathname), 'junit.rng');
  const file = path.join(folder, 'junit.xml');
  try {
    execFileSync('xmllint', ['--noout', '--relaxng', rules, file], {stdio: 'pipe'});
  } catch (error) {
    faults.push(String(error.stderr));
  }
  const failed = jsonOf(folder, 'report.json').checks.filter((c) => c.result === 'fail').length;
  const written = (textOf(folder, 'junit.xml').match(/<failure /g) || []).length;
  if (failed !== written) faults.push(`${failed} checks fail, ${written} failures are written`);
  return `${failed} failures`;
}

// Oracle: the HTML standard, as html-validate knows it.
async function html(folder, faults) {
  const {HtmlValidate} = await import('html-validate');
  const checker = new HtmlValidate({extends: ['html-validate:standard'], rules: {'no-inline-style': 'off', 'long-title': 'off'}});
  // The bytes of pictures and scripts are not HTML.
  const text = textOf(folder, 'report.html').replace(/data:image\/png;base64,[A-Za-z0-9+/=]+/g, 'data:,')
    .replace(/<script([^>]*)>[\s\S]*?<\/script>/g, '<script$1></script>');
  const report = await checker.validateString(text);
  for (const result of report.results) {
    for (const m of result.messages) if (m.severity === 2) faults.push(`${m.line}:${m.column} ${m.ruleId}: ${m.message}`);
  }
  const bad = await checker.validateString('<!DOCTYPE html><html lang="en"><head><title>x</title></head><body><p><div></p></body></html>');
  if (bad.valid) faults.push('the validator does not notice a div inside a p');
  const bytes = statSync(path.join(folder, 'report.html')).size;
  if (bytes >= kMostBytes) faults.push(`the page has ${bytes} bytes, must be below ${kMostBytes}`);
  return `${bytes} bytes`;
}

// The page in a browser: nothing goes wrong, nothing is asked for, all is drawn.
async function browser(folder, faults) {
  return browse(async (page) => {
    page.on('console', (message) => { if (message.type() === 'error') faults.push('console: ' + message.text()); });
    page.on('pageerror', (error) => faults.push('error: ' + error.message));
    page.on('request', (request) => {
      const url = request.url();
      if (!url.startsWith('data:') && url !== pageOf(folder)) faults.push('asks for ' + url.slice(0, 120));
    });
    await page.goto(pageOf(folder), {waitUntil: 'load', timeout: kPatience_ms});
    // Pictures of the screen must not be a way out of the page's own policy: they are
    // looked at in an empty page.
    const report = jsonOf(folder, 'report.json'), figures = jsonOf(folder, 'figures.json');
    const look = await page.browser().newPage();
    await page.bringToFront();   // a page behind another one is not drawn
    const drawn = async (selector) => {
      const shot = Buffer.from(await (await page.$(selector)).screenshot()).toString('base64');
      return look.evaluate(async (data) => {
        const image = new Image();
        image.src = 'data:image/png;base64,' + data;
        await image.decode();
        const canvas = document.createElement('canvas');
        canvas.width = image.width, canvas.height = image.height;
        const pen = canvas.getContext('2d');
        pen.drawImage(image, 0, 0);
        const bytes = pen.getImageData(0, 0, image.width, image.height).data, seen = new Map();
        for (let i = 0; i < bytes.length; i += 4) {
          const colour = (bytes[i] << 16) | (bytes[i + 1] << 8) | bytes[i + 2];
          seen.set(colour, (seen.get(colour) || 0) + 1);
        }
        return {colours: seen.size, paper: Math.max(...seen.values()) / (bytes.length / 4), data};
      }, shot);
    };
    if (figures.solids !== null) {
      await page.$eval('#solid', (place) => place.scrollIntoView());
      await page.waitForSelector('#solid canvas', {timeout: kPatience_ms}).catch(() => {});
      if (!(await page.$('#solid canvas'))) faults.push('no canvas for piece and cell');
      else {
        const before = await drawn('#solid canvas');
        if (before.colours < 40 || before.paper > 0.97) faults.push(`the piece is not drawn: ${before.colours} colours, ${before.paper} of one`);
        await page.focus('#solid canvas');
        await page.keyboard.press('ArrowLeft');
        const turned = await drawn('#solid canvas');
        if (turned.data === before.data) faults.push('an arrow key does not turn the piece');
        const cell = await page.$('#solid button[aria-label="show the cell"]');
        if (cell) {
          await cell.focus();
          await page.keyboard.press('Enter');
          const shown = await drawn('#solid canvas');
          if (shown.data === turned.data || shown.colours < 40) faults.push('the cell is not drawn');
        }
      }
    }
    if (figures.over_the_job !== null) {
      const charts = await page.$$('#charts .sheet canvas');
      if (charts.length < figures.over_the_job.traces.length) faults.push(`${charts.length} canvases for ${figures.over_the_job.traces.length} traces`);
      const trace = await drawn('#charts .sheet');
      if (trace.colours < 5) faults.push('the first trace is not drawn');
      await page.focus('#charts button[aria-label="show a shorter part of the job"]');
      await page.keyboard.press('Enter');
      if ((await drawn('#charts .sheet')).data === trace.data) faults.push('the traces cannot be gone through by keys');
    }
    // A finding lights up wherever its number stands.
    if (report.findings.length) {
      await page.focus('a.tab[data-f="1"]');
      const lit = await page.$$eval('[data-f="1"].on', (all) => all.length);
      const other = await page.$$eval('.on:not([data-f="1"])', (all) => all.length);
      const all = await page.$$eval('[data-f="1"]', (found) => found.length);
      if (lit !== all || lit < 2 || other !== 0) faults.push(`finding 1 stands at ${all} places, ${lit} are lit, ${other} others`);
    }
    // Oracle for the request watch: a page that asks for something is seen to do so.
    const watched = [];
    look.on('request', (request) => watched.push(request.url()));
    await look.setContent('<img src="http://localhost:9/never">');
    if (!watched.some((url) => url.includes('never'))) faults.push('a request would not be noticed');
    return 'opened, turned, gone through';
  }, {solids: true});
}

// What the page must say whether or not scripts run.
function toldBy(report) {
  const told = [report.headline, report.reason];
  for (const check of report.checks) told.push(check.id);
  for (const finding of report.findings.slice(0, 200)) told.push(finding.text);
  for (const spot of report.cannot_see) told.push(spot.text, spot.test);
  for (const line of [...report.first_cut.from_run, ...report.first_cut.by_people]) told.push(line.ask, line.told);
  for (const input of report.inputs) told.push(input.sha256);
  if (report.mend_first) told.push(report.mend_first.replace(/^Mend first:? ?/, ''));
  return told.map(collapsed).filter((text) => text !== '–' && text !== '');
}

// Without scripts every word is there, and no word is leave to run.
async function plain(folder, faults) {
  return browse(async (page) => {
    await page.goto(pageOf(folder), {waitUntil: 'load', timeout: kPatience_ms});
    const text = collapsed(await page.evaluate(() => document.body.innerText).catch(() => ''));
    const source = text || collapsed(textOf(folder, 'report.html').replace(/<script[\s\S]*?<\/script>/g, '').replace(/<[^>]+>/g, ''));
    const report = jsonOf(folder, 'report.json');
    for (const words of toldBy(report)) if (!source.includes(words)) faults.push('is not said without scripts: ' + words.slice(0, 90));
    for (const word of [/\bcleared to run\b/i, /\bsafe to run\b/i, /\bmay be run now\b/i, /\bapproved\b/i, /\brelease for production\b/i]) {
      if (word.test(source)) faults.push(`reads as leave to run: ${word}`);
    }
    const shown = await page.$$eval('#charts, #solid', (all) => all.filter((e) => e.offsetHeight > 0).length);
    if (shown) faults.push('places for scripts take room without scripts');
    return `${source.length} characters`;
  }, {scripts: false});
}

// On paper: A4, at most eight pages, verdict and every check legible as text.
async function print(folder, faults) {
  return browse(async (page) => {
    await page.goto(pageOf(folder), {waitUntil: 'load', timeout: kPatience_ms});
    const pdf = path.join(mkdtempSync(path.join(tmpdir(), 'aircut-pdf-')), 'report.pdf');
    await page.pdf({path: pdf, format: 'A4', preferCSSPageSize: true, printBackground: false});
    const pages = Number(/Pages:\s+(\d+)/.exec(execFileSync('pdfinfo', [pdf], {encoding: 'utf8'}))[1]);
    const words = collapsed(execFileSync('pdftotext', ['-layout', pdf, '-'], {encoding: 'utf8'}));
    const flat = words.replace(/ /g, '');
    const report = jsonOf(folder, 'report.json');
    if (pages > kMostPrintedPages) faults.push(`${pages} pages, at most ${kMostPrintedPages}`);
    if (!flat.includes(collapsed(report.headline).replace(/ /g, ''))) faults.push('the verdict is not on paper');
    for (const check of report.checks) if (!flat.includes(check.id)) faults.push(`check ${check.id} is not on paper`);
    if (process.env.AIRCUT_KEEP_PDF) writeFileSync(process.env.AIRCUT_KEEP_PDF, readFileSync(pdf));
    rmSync(path.dirname(pdf), {recursive: true, force: true});
    return `${pages} pages`;
  });
}

// Oracle: the rules of WCAG 2.1, levels A and AA, as axe-core knows them.
async function access(folder, faults) {
  const {createRequire} = await import('node:module');
  const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
  return browse(async (page) => {
    await page.setBypassCSP(true);
    await page.goto(pageOf(folder), {waitUntil: 'load', timeout: kPatience_ms});
    await page.evaluate(axe);
    const run = () => page.evaluate(() => window.axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']}));
    const result = await run();
    for (const v of result.violations) faults.push(`${v.id}: ${v.help} (${v.nodes.length}, such as ${v.nodes[0].html.slice(0, 140)})`);
    await page.evaluate(() => document.querySelector('h2').style.setProperty('color', '#eee'));
    if (!(await run()).violations.some((v) => v.id === 'color-contrast')) faults.push('the checker does not notice faint letters');
    return `${result.passes.length} rules hold`;
  });
}

// ---- numbers ------------------------------------------------------------------

function numbersIn(json, into = [], key = '') {
  if (typeof json === 'number') into.push({value: json, key});
  else if (typeof json === 'string') for (const n of writtenIn(json)) into.push({value: n.value, key: 'text'});
  else if (json && typeof json === 'object') for (const [name, below] of Object.entries(json)) numbersIn(below, into, Array.isArray(json) ? key : name);
  return into;
}

// Numbers as they are written: 1,140 and 2.06 and −5.3; 23:40 is a time.
function writtenIn(text) {
  const found = [];
  for (const m of text.matchAll(/(?:(\d+):)?(\d+):(\d\d)(?!\d)|[−-]?\d[\d,]*(?:\.\d+)?(?:e[+-]?\d+)?/g)) {
    if (m[3] !== undefined) {
      found.push({text: m[0], value: Number(m[1] || 0) * 3600 + Number(m[2]) * 60 + Number(m[3]), step: 1, clock: true});
      continue;
    }
    const plain = m[0].replace('−', '-').replace(/,(?=\d{3})/g, '').replace(/,+$/, '');
    const decimals = (/\.(\d+)/.exec(plain) || ['', ''])[1].length;
    found.push({text: m[0], value: Number(plain), step: 10 ** -decimals});
  }
  return found;
}

// Everything that a number of the files may stand as: itself, in percent, mm³ as cm³.
function shownAs(numbers) {
  const forms = [];
  for (const {value} of numbers) for (const form of [value, -value, 100 * value, value / 1000]) forms.push(form);
  return Float64Array.from(forms).sort();
}

function holds(forms, value, room) {
  let low = 0, high = forms.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (forms[middle] < value - room) low = middle + 1;
    else high = middle;
  }
  return low < forms.length && forms[low] <= value + room;
}

// Numbers that are the page's own words, not the run's.
const kOwn = [/\b90 %/g, /\b95 %/g, /SHA-256/g, /\bISO [0-9-]+/g, /\bWCAG [0-9.]+/g, /[0-9a-f]{16,}/g];

// Every number of the page is one of report.json or, for drawings, of figures.json.
// Counts of the page's own (checks, findings) are reckoned again here.
async function numbers(folder, faults) {
  const report = jsonOf(folder, 'report.json'), figures = jsonOf(folder, 'figures.json');
  const counts = [report.checks.length, report.checks.filter((c) => c.result === 'fail').length,
    report.checks.filter((c) => c.result === 'unproven').length, report.findings.length];
  for (const check of report.checks) counts.push(check.findings - 4);   // "and N more"
  const drawn = figures.histogram === null ? [] : [-4, -2, -1, 0, 1, 2, 4].map((t) => t * report.depth.tolerance_mm);
  const scale = [1, 2, 4, 8].map((t) => t * report.depth.tolerance_mm);
  const forms = shownAs([...numbersIn(report), ...numbersIn({...figures, solids: null}), ...[...counts, ...drawn, ...scale].map((value) => ({value}))]);
  const told = textOf(folder, 'report.html').replace(/<(script|style|svg class="strip"|details)[\s\S]*?<\/(script|style|svg|details)>/g, ' ')
    .replace(/<br>|<\/?(td|th|p|li|div|span|b|h\d)[^>]*>/g, ' | ').replace(/<[^>]+>/g, ' ')
    .replace(/&#39;|&quot;/g, "'").replace(/&lt;/g, '<').replace(/&gt;/g, '>').replace(/&amp;/g, '&');
  let text = collapsed(told);
  for (const own of kOwn) text = text.replace(own, ' ');
  let looked = 0;
  for (const n of writtenIn(text)) {
    ++looked;
    // Rounding, up, down or to the nearest, stays below one step of the last digit.
    if (!holds(forms, n.value, n.step * (1 + 1e-9))) faults.push(`${n.text} is in no file: ...${text.slice(Math.max(0, text.indexOf(n.text) - 40), text.indexOf(n.text) + 40)}`);
  }
  // The table of checks, cell by cell.
  for (const check of report.checks) {
    const row = new RegExp(`<tr class="${check.result}">(?:(?!</tr>)[\\s\\S])*?>${check.id}<(?:(?!</tr>)[\\s\\S])*?</tr>`).exec(textOf(folder, 'report.html'));
    if (!row) { faults.push(`check ${check.id} has no row`); continue; }
    const cells = row[0].split('<td').slice(1).map((cell) => collapsed(cell.replace(/^[^>]*>/, '').replace(/<svg[\s\S]*?<\/svg>/g, '').replace(/<[^>]+>/g, ' ')));
    for (const [column, key] of [[2, 'worst'], [3, 'limit'], [4, 'margin']]) {
      const written = writtenIn(cells[column])[0];
      if (check[key] === null ? written !== undefined : !written || Math.abs(written.value - check[key]) > written.step) {
        faults.push(`${check.id}: ${key} is ${check[key]}, the page says ${cells[column]}`);
      }
    }
  }
  if (looked < 100) faults.push(`only ${looked} numbers were found`);
  return `${looked} numbers`;
}

const checks = {sarif, junit, html, browser, plain, print, access, numbers};
const [name, ...folders] = process.argv.slice(2);
if (!checks[name] || !folders.length) {
  console.error(`usage: node page_check.mjs ${Object.keys(checks).join('|')} REPORT_FOLDER...`);
  process.exit(2);
}
let bad = 0;
for (const folder of folders) {
  const faults = [];
  const told = await checks[name](folder, faults);
  console.log(`${name} ${path.basename(folder)}: ${faults.length ? faults.length + ' faults' : told}`);
  for (const fault of faults.slice(0, 40)) console.log('  ' + fault);
  bad += faults.length;
}
process.exit(bad ? 1 : 0);
