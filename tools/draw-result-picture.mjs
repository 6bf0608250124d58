// node tools/draw-result-picture.mjs ADDRESS: docs/pictures/training-result.png, the second picture of the README: the Result page of
// the training case after release, graded and asked for by a program. ADDRESS is what a running `npm run demo` prints.
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { BROWSER_ARGS, CHROMIUM } from '../test/support/drive-desk.mjs';

const OUT = fileURLToPath(new URL('../docs/pictures/training-result.png', import.meta.url));
const [address] = process.argv.slice(2);
if (!address) throw new Error('Say the address that the demo prints.');
const browser = await chromium.launch({ executablePath: CHROMIUM, args: [...BROWSER_ARGS] });
try {
  const page = await browser.newPage({ viewport: { width: 1120, height: 1300 }, reducedMotion: 'reduce', colorScheme: 'light' });
  await page.goto(address);
  await page.waitForSelector('.head');
  await page.goto(new URL('/case/training-case-released/result', address).href);
  await page.waitForSelector('form.grade, .leak-verdict');
  await page.waitForTimeout(1500);
  if ((await page.locator('.show-verdict, .leak-verdict').count()) === 0) {
    const form = page.locator('form.grade');
    await form.locator('input[name=low]').nth(1).check({ force: true });
    await form.locator('[name=rate]').fill('72');
    await form.locator('[name=loading]').fill('none');
    await form.locator('button[type=submit]').click();
    await page.waitForSelector('.show-verdict');
  }
  if ((await page.locator('.show-verdict').count()) > 0) await page.click('.show-verdict');
  await page.waitForSelector('.leak-verdict svg');
  await page.waitForTimeout(500);
  const [sheet, verdict] = [await page.locator('#result').boundingBox(), await page.locator('.leak-verdict').boundingBox()];
  await page.screenshot({ path: OUT, clip: { x: sheet.x, y: sheet.y, width: sheet.width, height: verdict.y + verdict.height - sheet.y + 16 } });
  console.log(`docs/pictures/${OUT.split(/[\\/]/).at(-1)}`);
} finally {
  await browser.close();
}
