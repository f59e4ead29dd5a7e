import { describe, expect, it } from 'vitest';
import type { Command } from '../../../shared/schema/api.ts';
import { alarmOf } from '../../helpers/web-alarm.ts';
import { reachView } from '../../helpers/web-alarm-book.ts';
import { troubled, watchArmed, watchReady } from '../../helpers/web-alarms.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS, H } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const PARTS = ['now', 'told', 'rules', 'log', 'inside'] as const;
const last = (): Command | undefined => screens.box.commands.at(-1);

describe('every part of the Alarms place', () => {
  for (const [size, viewport] of Object.entries(SIZES)) {
    for (const look of ['day', 'night'] as const) {
      it(`is accessible, fits its page and has room for a finger (${size}, ${look})`, async () => {
        const { page, box } = screens;
        const faults: string[] = [];
        page.on('pageerror', (error) => faults.push(error.message));
        page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
        box.play(troubled());
        await page.setViewportSize(viewport);
        await screens.open('alarms', look);
        const check = async (what: string) => {
          expect([what, await screens.violations()]).toEqual([what, []]);
          expect([what, await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')]).toEqual([what, 0]);
          const small = await page.evaluate(
            `[...document.querySelectorAll('button, a, input, select, textarea')].map((e) => [e.id || e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height > 0 && (r.height < 44 || r.width < 44)).map(([t]) => t)`,
          );
          expect([what, small]).toEqual([what, []]);
        };
        for (const part of PARTS) {
          await page.evaluate(`location.hash = '#/alarms/${part}'`);
          await page.locator(`nav a[aria-current='page'][href='#/alarms/${part}']`).waitFor();
          await page.waitForLoadState('networkidle');
          await check(part);
        }
        await page.evaluate("location.hash = '#/alarms/rules'");
        if (size === 'phone') await page.getByRole('button', { name: 'The bank tonight', exact: true }).click();
        await page.getByRole('button', { name: 'Change The bank tonight' }).click();
        await check('a rule being changed');
        await page.evaluate("location.hash = '#/alarms/told'");
        await page.getByRole('button', { name: 'Change who is called' }).click();
        await page.getByRole('button', { name: 'Add who is next' }).first().click();
        await check('who is called being changed');
        expect(faults).toEqual([]);
      });
    }
  }
});

describe('what stands now', () => {
  it('is told loudest first, with what would help, what flaps, and who acknowledged; "all quiet" when nothing does', async () => {
    const { page, box } = screens;
    await screens.open('alarms');
    await page.getByRole('heading', { name: 'All quiet.' }).waitFor();
    box.play(troubled());
    await page.getByRole('heading', { name: '3 alarms stand; one is over, not yet acknowledged.' }).waitFor();
    const names = await page.locator('article').evaluateAll((all: { ariaLabel: string | null }[]) => all.map(({ ariaLabel }) => ariaLabel));
    expect(names).toEqual(['The bank tonight', 'Sensors that fell silent', 'No full charge for long', 'The cabin too warm']);
    await page.getByRole('article', { name: 'The bank tonight' }).getByText('Set 26°C: 9 points more').waitFor();
    await page.getByText('came and went 4 times within the hour').waitFor();
    await page.getByText(/acknowledged by Tablet at/i).waitFor();
    await page.getByText('held back: “Contact with the broker” is its cause').waitFor();
    await page.getByText('Remote alarms have not been reachable since 17:40.').first().waitFor();
  });

  it('is acknowledged', async () => {
    const { page, box } = screens;
    box.play(troubled());
    await screens.open('alarms');
    await page.getByRole('article', { name: 'The bank tonight' }).getByRole('button', { name: 'Acknowledge' }).click();
    await page
      .getByRole('article', { name: 'The bank tonight' })
      .getByText(/acknowledged by Tablet at/i)
      .waitFor();
    expect(last()).toMatchObject({ kind: 'acknowledge', alarmId: 'low-point', occurrence: 3 });
  });

  it('is shelved by keyboard alone with its end shown, and comes back when asked', async () => {
    const { page, box } = screens;
    box.play(troubled());
    await screens.open('alarms');
    await page.getByRole('button', { name: 'Shelve Sensors that fell silent' }).focus();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Till morning till 07:00 tomorrow' }).waitFor();
    await expect.poll(() => page.evaluate('document.activeElement.textContent')).toContain('For 1 h till 19:06');
    await page.keyboard.press('Tab');
    await page.keyboard.press('Enter');
    await page.getByText('shelved till 22:06, another').waitFor();
    expect(last()).toMatchObject({ kind: 'shelve', alarmId: 'sensor-silent', minutes: 240 });
    await page.getByRole('button', { name: 'Unshelve Sensors that fell silent' }).click();
    await page.getByRole('article', { name: 'Sensors that fell silent' }).waitFor();
    expect(last()).toMatchObject({ kind: 'unshelve', alarmId: 'sensor-silent' });
  });

  it('says why it could not be shelved', async () => {
    const { page, box } = screens;
    box.play(troubled());
    box.refuseCommands('a critical alarm cannot be shelved; mend it, or acknowledge it');
    await screens.open('alarms');
    await page.getByRole('button', { name: 'Shelve The bank tonight' }).click();
    await page.getByRole('button', { name: 'For 1 h' }).click();
    await page.getByText('a critical alarm cannot be shelved').waitFor();
  });

  it('shows what would help first on the other places too', async () => {
    screens.box.play(troubled());
    await screens.open('balance');
    await screens.page.getByText('Set 26°C: 9 points more').waitFor();
    expect(await screens.page.getByText('Leave out the cooker').count()).toBe(0);
  });

  it('is not to be acted on by a device that may only look', async () => {
    const { page, box } = screens;
    await page.addInitScript("localStorage.setItem('dawnhold.role', 'viewer')");
    box.play({ ...troubled(), snapshot: { ...troubled().snapshot, watch: watchReady() } });
    await screens.open('alarms');
    await page.getByText('This device may only look.').first().waitFor();
    for (const part of PARTS) {
      await page.evaluate(`location.hash = '#/alarms/${part}'`);
      await page.locator(`nav a[aria-current='page'][href='#/alarms/${part}']`).waitFor();
      await page.waitForLoadState('networkidle');
      expect([part, await page.getByRole('button', { name: /Acknowledge|Shelve|Test|Change|Add|Remove|Arm|Take out|Keep/ }).count()]).toEqual([part, 0]);
    }
  });
});

describe('who is told', () => {
  it('tests a route and says what came of it, live', async () => {
    const { page, box } = screens;
    await screens.open('alarms/told');
    const routes = page.getByRole('region', { name: 'Ways to reach you' });
    await routes.getByRole('button', { name: 'Test mail' }).click();
    await routes.getByText('Test: under way …').waitFor();
    expect(last()).toMatchObject({ kind: 'try-routes', route: 'mail' });
    const reach = reachView(EVENING_MS);
    const answer = (part: object) => ({ ...reach, routes: reach.routes.map((route) => (route.name === 'mail' ? { ...route, ...part } : route)) });
    box.change({ serverMs: EVENING_MS + 5000, reach: answer({ state: 'fails', reason: 'the server refused the password' }) });
    await routes.getByText('Test: not delivered yet: the server refused the password').waitFor();
    box.change({ serverMs: EVENING_MS + 60_000, reach: answer({ provenMs: EVENING_MS + 59_000 }) });
    await routes.getByText('Test: taken at 18:06.').waitFor();
    await routes.getByRole('button', { name: 'Test all of them' }).click();
    await expect.poll(last).toMatchObject({ kind: 'try-routes', route: null });
  });

  it('changes who is called, says at its field what is wrong, and hands the whole over', async () => {
    const { page } = screens;
    await screens.open('alarms/told');
    await page.getByRole('button', { name: 'Change who is called' }).click();
    const high = page.getByRole('group', { name: 'High' });
    await high.getByRole('button', { name: 'Add who is next' }).click();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await high.getByText('Choose who is next, or take the step out.').waitFor();
    expect(screens.box.commands).toEqual([]);
    await high.getByRole('group', { name: 'Who is next' }).getByLabel('mail').check();
    await high.getByLabel('Then, if nobody has acknowledged after minutes').fill('10');
    await page.getByRole('button', { name: 'Keep it' }).click();
    await page.getByRole('button', { name: 'Change who is called' }).waitFor();
    expect(last()).toMatchObject({
      kind: 'edit-alarms',
      hash: 'a1',
      change: { what: 'call-out', callOut: { high: { then: [{ after: 600, routes: ['mail'] }] } } },
    });
  });

  it('turns a briefing off', async () => {
    const { page } = screens;
    await screens.open('alarms/told');
    await page.getByLabel('In the morning: what the night cost').uncheck();
    await page.getByRole('button', { name: 'Keep it' }).click();
    await page.getByText('Kept.').waitFor();
    expect(last()).toMatchObject({ change: { what: 'briefings', briefings: { bedtime: '22:00', morning: false } } });
  });
});

describe('the rules', () => {
  it('are a line each on a phone, opened by a touch', async () => {
    const { page } = screens;
    await page.setViewportSize(SIZES.phone);
    await screens.open('alarms/rules');
    const line = page.getByRole('button', { name: 'The bank tonight', exact: true });
    await line.waitFor();
    const change = page.getByRole('button', { name: 'Change The bank tonight' });
    expect([await line.getAttribute('aria-expanded'), await change.count()]).toEqual(['false', 0]);
    await line.click();
    await change.waitFor();
    await line.click();
    await expect.poll(() => change.count()).toBe(0);
    expect(await screens.violations()).toEqual([]);
  });

  it('are changed: a refusal is shown at the field that it names, and what was typed stays', async () => {
    const { page, box } = screens;
    await screens.open('alarms/rules');
    await page.getByRole('button', { name: 'Change The cabin too warm' }).click();
    const form = page.getByRole('form', { name: 'Change The cabin too warm' });
    await form.getByText('Now: 24.4°C').waitFor();
    await form.getByLabel('Limit, °C').fill('warm');
    await form.getByRole('button', { name: 'Keep it' }).click();
    await form.getByText('Enter a number.').waitFor();
    expect(await page.evaluate('document.activeElement.id')).toBe('cabin-hot-0-0-limit');
    box.refuseCommands('when.above: got 400, expected a temperature from -60 to 90 Cel');
    await form.getByLabel('Limit, °C').fill('400');
    await form.getByRole('button', { name: 'Keep it' }).click();
    await form.getByText('got 400, expected a temperature from -60 to 90 Cel').waitFor();
    expect(await form.getByLabel('Limit, °C').inputValue()).toBe('400');
    expect(await screens.violations()).toEqual([]);
    box.refuseCommands('');
    await form.getByLabel('Limit, °C').fill('31,5');
    await form.getByRole('button', { name: 'Keep it' }).click();
    await page.getByRole('button', { name: 'Change The cabin too warm' }).waitFor();
    expect(last()).toMatchObject({ change: { what: 'rule', entry: { id: 'cabin-hot', when: { watch: 'cabin.temperature', above: 31.5 } } } });
  });

  it('take one of the person’s own', async () => {
    const { page } = screens;
    await screens.open('alarms/rules');
    await page.getByRole('button', { name: 'Add a rule of your own' }).click();
    const form = page.getByRole('form', { name: 'A rule of your own' });
    await form.getByRole('button', { name: 'Keep it' }).click();
    await form.getByText('Choose what to watch.').waitFor();
    await form.getByLabel('Its name').fill('Fridge busy');
    await form.getByLabel('What is watched', { exact: true }).selectOption('load.fridge.power');
    await form.getByText('Now: 46 W').waitFor();
    await form.getByLabel('Limit, W').fill('60');
    await form.getByLabel('What it says').fill('The fridge draws {load.fridge.power}.');
    await form.getByRole('button', { name: 'Keep it' }).click();
    await form.waitFor({ state: 'detached' });
    expect(last()).toMatchObject({
      change: { what: 'rule', entry: { id: 'fridge-busy', when: { watch: 'load.fridge.power', above: 60 }, priority: 'medium' } },
    });
  });

  it('go out of service, back as built in, and away only after a second word', async () => {
    const { page } = screens;
    await screens.open('alarms/rules');
    await page.getByRole('article', { name: 'The bank tonight' }).getByRole('button', { name: 'Take out of service' }).click();
    await expect.poll(last).toMatchObject({ change: { what: 'rule', entry: { id: 'low-point', outOfService: true } } });
    const hot = page.getByRole('article', { name: 'The cabin too warm' });
    await hot.getByRole('button', { name: 'Put back as built in …' }).click();
    expect(screens.box.commands).toHaveLength(1);
    await hot.getByRole('button', { name: 'Yes, as built in' }).click();
    await expect.poll(last).toMatchObject({ change: { what: 'drop-rule', ruleId: 'cabin-hot' } });
  });

  it('say why they cannot be changed here', async () => {
    const { page, box } = screens;
    box.play({ ...evening(), book: { ...evening().book, hash: null, whyFixed: 'A recording is played; it has no rig file to change.' } });
    await screens.open('alarms/rules');
    await page.getByText('A recording is played').waitFor();
    expect(await page.getByRole('button', { name: /Change|Add/ }).count()).toBe(0);
  });
});

describe('the log', () => {
  it('is searched, by alarm and by span, and saved as a table', async () => {
    const { page, box } = screens;
    await screens.open('alarms/log');
    await page.getByText('Told “The bank tonight”: taken').waitFor();
    await page.getByLabel('Words to find').fill('hold');
    const query = () => box.asked.filter((url) => url.pathname === '/api/alarm-log').at(-1)?.searchParams;
    await expect.poll(() => query()?.get('text')).toBe('hold');
    await page.getByLabel('Alarm', { exact: true }).selectOption('low-point');
    await expect.poll(() => query()?.get('alarm')).toBe('low-point');
    await page.getByLabel('From').selectOption('the last 30 days');
    await expect.poll(() => Number(query()?.get('toMs')) - Number(query()?.get('fromMs'))).toBe(30 * 24 * H);
    const address = new URL((await page.getByRole('link', { name: 'Save as a table' }).getAttribute('href')) ?? '', box.url);
    expect([address.searchParams.get('format'), address.searchParams.get('text'), address.searchParams.get('alarm')]).toEqual(['csv', 'hold', 'low-point']);
    await page.getByRole('row', { name: 'Alarms a day 1.4 6 or fewer · met' }).waitFor();
  });
});

describe('the watch over somebody inside', () => {
  it('is not armed before all is filled in and read; a refusal of the box says what to do; then it watches until it is disarmed', async () => {
    const { page, box } = screens;
    box.play({ ...evening(), snapshot: { ...evening().snapshot, watch: watchReady() } });
    await screens.open('alarms/inside');
    await page.getByText('This is no life-safety device.').waitFor();
    await page.getByRole('button', { name: 'Arm', exact: true }).click();
    await page.getByText('Choose two at least').waitFor();
    await page.getByText('Read what this is not, and say so here.').waitFor();
    expect(box.commands).toEqual([]);
    await page.getByLabel('Cabin temperature: 24.4°C now').check();
    await page.getByLabel('Outside temperature: 17.9°C now').check();
    await page.getByLabel('You are back by').fill('20:00');
    await page.getByLabel('Who is close by').fill('Ana, next rig');
    await page.getByLabel('I have read what this is not').check();
    box.refuseCommands('No heartbeat is set up: name an address of yours.');
    await page.getByRole('button', { name: 'Arm', exact: true }).click();
    await page.getByText('Not armed: No heartbeat is set up').waitFor();
    expect(await screens.violations()).toEqual([]);
    box.refuseCommands('');
    await page.getByRole('button', { name: 'Arm', exact: true }).click();
    await page.getByRole('heading', { name: 'Watching over somebody inside till 20:00.' }).waitFor();
    expect(last()).toMatchObject({
      kind: 'arm-watch',
      order: { thermometers: ['cabin.temperature', 'outside.temperature'], understood: true, near: 'Ana, next rig' },
    });
    await page.getByText('24.4°C').waitFor();
    expect(await screens.violations()).toEqual([]);
    await page.getByRole('button', { name: 'Disarm: I am back' }).click();
    await page.getByRole('heading', { name: "Someone inside who can't leave" }).waitFor();
    expect(last()).toMatchObject({ kind: 'disarm-watch' });
  });

  it('says that the person is late', async () => {
    const { page, box } = screens;
    const { snapshot } = evening();
    const armed = {
      thermometers: ['cabin.temperature', 'gone.temperature'],
      warmestC: 24,
      coldestC: 10,
      untilMs: EVENING_MS - 600_000,
      near: 'Ana',
      sinceMs: EVENING_MS - H,
      by: '',
    };
    box.play({ ...evening(), snapshot: { ...snapshot, watch: { ...watchReady(), armed, notes: ['The watch went on after a restart.'] } } });
    await screens.open('alarms/inside');
    await page.getByText('The watch went on after a restart.').waitFor();
    await page.getByRole('heading', { name: 'Watching: you are 10 min late.' }).waitFor();
    await page.getByText('warmer than 24°C').waitFor();
    await page.getByText('no value: go and look').waitFor();
  });
});

describe('before bed', () => {
  const LATE_MS = Date.UTC(2026, 10, 24, 21, 30);
  const spoken = () => screens.page.evaluate('window.spoken');

  it('says on every place, and speaks once an evening, that nobody can be called from afar', async () => {
    const { page, box } = screens;
    await page.addInitScript('window.spoken = []; speechSynthesis.speak = (speech) => window.spoken.push(speech.text);');
    box.play(troubled(EVENING_MS));
    await screens.open('balance');
    await page.getByText('Set 26°C').waitFor();
    expect(await page.getByText('Before you sleep').count()).toBe(0);
    box.play(troubled(LATE_MS));
    await page.getByText('Before you sleep: remote alarms have not been reachable since 17:40.').waitFor();
    expect(await spoken()).toEqual([]);
    await page.locator('main').click({ position: { x: 2, y: 2 } });
    await expect.poll(spoken).toEqual(['Before you sleep: remote alarms have not been reachable since 17:40.']);
    expect(await screens.violations()).toEqual([]);
    await page.reload();
    await page.getByText('Before you sleep').waitFor();
    await page.locator('main').click({ position: { x: 2, y: 2 } });
    await expect.poll(() => box.sounds.at(-1)).toBe('allowed');
    expect(await spoken()).toEqual([]);
    box.play({ ...troubled(LATE_MS), snapshot: { ...troubled(LATE_MS).snapshot, reach: reachView(LATE_MS) } });
    await expect.poll(() => page.getByText('Before you sleep').count()).toBe(0);
  });
});

it('tells the box with every connection, and when it changes, whether this screen may sound', async () => {
  const { page, box } = screens;
  await screens.open('alarms');
  await expect.poll(() => box.sounds).toEqual(['blocked']);
  await page.getByRole('button', { name: 'Allow sound' }).click();
  await expect.poll(() => box.sounds).toEqual(['blocked', 'allowed']);
  await box.close();
  await page.getByText('No contact with the box').waitFor();
  await screens.restart(evening());
  await expect.poll(() => screens.box.sounds).toEqual(['allowed']);
});

it('an alarm’s words from the outside stay text', async () => {
  const attack = '<img src=x onerror="window.attacked=true">';
  const { page, box } = screens;
  const { snapshot, book } = evening();
  const alarms = [alarmOf({ id: 'a', title: attack, text: attack, helps: [attack], condition: true, lifecycle: 'unacknowledged', notWatched: '' })];
  box.play({
    ...evening(),
    snapshot: { ...snapshot, alarms },
    book: { ...book, rules: book.rules.map((rule) => ({ ...rule, title: attack, message: attack })) },
  });
  for (const part of PARTS) {
    await screens.open(`alarms/${part}`);
    await page.waitForLoadState('networkidle');
    expect(await page.evaluate("[window.attacked === undefined, document.querySelectorAll('img').length]")).toEqual([true, 0]);
  }
});

it('every place says that somebody inside is watched, and till when', async () => {
  const { box, page } = screens;
  const { snapshot } = evening();
  await screens.open('balance');
  const words = page.getByText('Somebody inside is watched till 20:06');
  expect(await words.count()).toBe(0);
  box.play({ ...evening(), snapshot: { ...snapshot, watch: watchArmed(EVENING_MS) } });
  await words.waitFor();
});
