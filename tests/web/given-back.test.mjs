/** What a wearer gets back after a save and on the first page: nothing untrue, and no praise beside danger. */

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { homeScreen } from '../../web/phone/ui/home.js';
import { savedScreen } from '../../web/phone/ui/saved.js';
import { viewOf } from '../../web/phone/view.js';
import { plusDays } from '../../web/phone/when.js';

globalThis.window ??= globalThis;
Object.defineProperty(globalThis, 'navigator', { value: { userAgent: 'test', language: 'en-GB' }, configurable: true });

const TODAY = '2026-01-02'; // the year turns within the days before
const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));

let made = 0;
const row = (limb_id, ago, said = {}, state = 'kept') => {
  const id = `row-${(made += 1)}`;
  return { id, limb_id, account: 'd', state, checkin: { id, limb_id, date: plusDays(TODAY, -ago), time: '08:00',
    stack: [{ ply: 3, make: 'single' }], comfort: 7, skin: [], signs: [], tags: [], falls: null, skin_checked: true,
    signs_checked: true, ...said } };
};

function shown(screen, rows, { cursor = 'c1', role = 'wearer', limbs = ['a'], withheld = false, settings = {} } = {}) {
  const person = { id: 'p', name: 'Isla Marchbank', tags: [], withheld,
    limbs: limbs.map((id, i) => ({ id, side: ['right', 'left'][i], sockets: [] })) };
  const account = { device_id: 'd', role, cursor, clinic: { name: 'Tide', contact: {} }, people: [person] };
  const all = Object.fromEntries(limbs.map((id) => [id, rows.filter((one) => one.limb_id === id)]));
  const app = {
    screen, params: {}, settings, rows: all, drafts: [], drawers: {}, begun: [], refusedPhotos: [],
      outbox: { waiting: 0, stuck: 0, refused: 0 }, pictures: {}, flags: new Set(),
    draft: null, entryId: rows.at(-1)?.id ?? null, rules: RULES, diary: { keeps: true }, accounts: [account],
    now: () => new Date(`${TODAY}T09:00:00`), people: () => [{ ...person, account }], person: () => ({ ...person, account }), limb: () => person.limbs.find((one) => one.id === rows.at(-1)?.limb_id) ?? person.limbs[0],
  };
  return String((screen === 'saved' ? savedScreen : homeScreen)(viewOf(app)));
}

const three = (limb) => [row(limb, 2), row(limb, 1), row(limb, 0)];

test('three days in the same socks are told after the save of the third', () => {
  assert.match(shown('saved', three('a')), /takeaway">3 days in a row in 3/);
});

test('no sentence and no tip while an earlier danger stands, on this limb or the other', () => {
  const fever = { signs: ['fever_or_shivering'] };
  assert.doesNotMatch(shown('saved', [row('b', 1, fever), ...three('a')], { limbs: ['a', 'b'] }), /takeaway|Good to know/);
  const stands = [row('a', 2), row('a', 1, fever), row('a', 0)];
  assert.doesNotMatch(shown('saved', stands), /takeaway|Good to know/);
});

test('a danger that two clear days have ended keeps nobody silent', () => {
  const over = [row('a', 3, { signs: ['fever_or_shivering'] }), ...three('a')];
  assert.match(shown('saved', over), /takeaway/);
});

test('before the clinic was reached, or after the copy was wiped, no day is called the first', () => {
  assert.match(shown('home', []), /Your first line starts today/);
  assert.doesNotMatch(shown('home', [], { cursor: null }), /first line/);
  assert.match(shown('saved', [row('a', 0)]), /The first day/);
  assert.doesNotMatch(shown('saved', [row('a', 0)], { cursor: null }), /takeaway/);
  assert.doesNotMatch(shown('home', [row('a', 0)], { cursor: null }), /of 7 days/);
});

test('a caregiver from whom entries are withheld is told of no day that it was not written', () => {
  const given = { role: 'caregiver', withheld: true };
  assert.doesNotMatch(shown('home', [], given), /first line|Not yet today/);
  assert.doesNotMatch(shown('home', [row('a', 1)], { ...given, settings: { week_on: 5 } }), /of 7 days|Not yet today/);
  assert.doesNotMatch(shown('home', [row('a', 1)], { ...given, limbs: ['a', 'b'] }), /Not yet today/);
  assert.doesNotMatch(shown('saved', three('a'), given), /takeaway/);
  assert.match(shown('home', [row('a', 0)], given), /Done for today/);
});

test('a day the clinic refused is not done: it needs a fix', () => {
  const refused = [row('a', 1), row('a', 0, {}, 'refused')];
  const page = shown('home', refused);
  assert.doesNotMatch(page, /Done for today/);
  assert.match(page, /class="done ">Needs a fix/);
});

test('days are counted as they are here, whoever wrote them', () => {
  assert.doesNotMatch(shown('home', [row('a', 1)], { role: 'caregiver' }), /You wrote on/);
});
