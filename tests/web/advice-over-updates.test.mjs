/** Advice stands over an update of the app: what an older version kept is read by today's rules and home page. */

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

globalThis.window ??= globalThis;
Object.defineProperty(globalThis, 'navigator', { value: { userAgent: 'test', language: 'en-GB' }, configurable: true });
const { homeScreen } = await import('../../web/phone/ui/home.js');
const { viewOf } = await import('../../web/phone/view.js');

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));
const OLD = readFileSync(new URL('fixtures/diary-v1.json', import.meta.url), 'utf8');
const NOW = new Date(2025, 8, 20, 9, 0);

/** The first page of a phone whose store the first version of the app wrote, with `said` in its older entry. */
function home(said, { rules = RULES, account = {}, looks = [] } = {}) {
  const kept = JSON.parse(OLD.replaceAll('DATE', '2025-09-15'));
  const [owner] = kept.stores.accounts;
  const rows = kept.stores.checkins;
  Object.assign(rows[0].checkin, said);
  Object.assign(owner, account);
  for (const date of looks) rows.push({ ...rows[0], id: date,
    checkin: { ...rows[0].checkin, skin: [], id: date, date } });
  const people = owner.people.map((one) => ({ ...one, account: owner }));
  return String(homeScreen(viewOf({
    screen: 'home', params: {}, accounts: kept.stores.accounts, settings: kept.small.settings, rows: { LIMB: rows },
      drafts: [], drawers: {},
    outbox: { waiting: 2, refused: 0 }, refusedPhotos: [], pictures: {}, draft: null, flags: new Set(),
      diary: { keeps: true }, rules, now: () => NOW,
    people: () => people, person: () => people[0], limb: () => people[0].limbs[0],
  })));
}
const BLISTER = { skin: [{ place: 'calf', finding: 'blister' }] };
const STOP = /Do not wear the socket now/;

test('a danger in the store of the first version stands on the first page of this one, days later', () => {
  const page = home(BLISTER);
  assert.match(page, STOP);
  assert.match(page, /id="advice-LIMB"/);
  assert.match(page, /alarm/, 'and as a bar at the foot');
  assert.doesNotMatch(home({}), STOP);
});

test('an account of an older version has no answers, hours or numbers yet: the card stands all the same', () => {
  for (const account of [{ clinic: null, seen: undefined }, { clinic: {}, seen: {} },
    { clinic: { contact: null }, seen: { LIMB: {} } }]) {
    assert.match(home(BLISTER, { account }), STOP, JSON.stringify(account));
  }
});

test('a rule that came with the update speaks of what was said before it', () => {
  const older = { ...RULES, rules: RULES.rules.filter(({ id }) => id !== 'stop-wear-skin') };
  assert.doesNotMatch(home(BLISTER, { rules: older }), STOP);
  assert.match(home(BLISTER), STOP);
});

test('clear days of an app that did not ask for the signs yet go on counting', () => {
  assert.match(home(BLISTER, { looks: ['2025-09-16'] }), STOP);
  assert.doesNotMatch(home(BLISTER, { looks: ['2025-09-16', '2025-09-17'] }), STOP);
});
