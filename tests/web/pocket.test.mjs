import assert from 'node:assert/strict';
import { test } from 'node:test';

import { mayAct, turned, wornOf } from '../../web/phone/pocket.js';
import { fitWords, pocketLink, pocketScreen } from '../../web/phone/ui/pocket.js';
import { speak } from '../../web/phone/words.js';

const PLAN = { loose: 'Add one thin sock.\nAt 10-ply call us.', tight: 'Take one off.', wear: null, care: 'Wash the liner.', bring: null, at: '2025-11-03T09:00:00+00:00', by: 'ida' };
const STOP = { id: 'stop-wear-skin', level: 'stop_wear', text: { en: { title: 'Take the leg off', do: 'Call.' } }, row: { checkin: { date: '2025-11-20' }, state: 'kept' } };
const LIMB = { id: 'a', side: 'left', pocket: PLAN, sockets: [] };

const view = (more = {}) => ({
  rules: { rules: [] }, advice: [], standing: {}, answers: {}, settings: {}, notices: [], limb: LIMB,
    person: { name: 'Anouk', limbs: [LIMB] }, today: '2025-11-20', now: new Date('2025-11-20T09:30:00'), ...more,
});

test('what was loose is answered with the words for it, and when they were written', () => {
  const said = String(fitWords(view(), { fit: 'loose', date: '2025-11-20' }));
  assert.match(said, /Add one thin sock.\nAt 10-ply call us\./);
  assert.match(said, /3\u00a0Nov/);
  assert.doesNotMatch(said, /Take one off/);
  assert.match(String(fitWords(view(), { fit: 'tight', date: '2025-11-20' })), /Take one off/);
});

test('nothing is said of a good fit, of another day, or where nothing is written', () => {
  assert.equal(fitWords(view(), { fit: 'good', date: '2025-11-20' }), '');
  assert.equal(fitWords(view(), { fit: null, date: '2025-11-20' }), '');
  assert.equal(fitWords(view(), { fit: 'loose', date: '2025-11-19' }), '');
  const bare = { ...LIMB, pocket: null };
  assert.equal(fitWords(view({ limb: bare, person: { limbs: [bare] } }), { fit: 'loose', date: '2025-11-20' }), '');
  assert.equal(pocketLink(view({ person: { limbs: [bare] } })), '');
  assert.match(String(pocketLink(view())), /pocket-open/);
});

test('beside advice nothing stands that could go against it: of this entry, of this limb, of the other one', () => {
  const said = (more) => fitWords(view(more), { fit: 'loose', date: '2025-11-20' });
  assert.equal(said({ advice: [STOP] }), '');
  assert.equal(said({ standing: { a: [STOP] } }), '');
  const other = { id: 'b', side: 'right', pocket: null, sockets: [] };
  assert.equal(said({ standing: { b: [{ ...STOP, level: 'call_clinic' }] }, person: { limbs: [LIMB, other] } }), '');
  assert.equal(mayAct(view({ rules: null })), false); // nobody could say whether something stands
});

test('the page hides it too, and shows the advice and how to care', () => {
  const quiet = String(pocketScreen(view()));
  assert.match(quiet, /Add one thin sock[^]*Take one off[^]*Wash the liner/);
  const loud = String(pocketScreen(view({ standing: { a: [STOP] }, rules: { rules: [] } })));
  assert.doesNotMatch(loud, /Add one thin sock|Take one off/);
  assert.match(loud, /class="advice stop_wear"[^]*Wash the liner/);
});

test('markup in the clinic’s words is text', () => {
  const limb = { ...LIMB, pocket: { ...PLAN, loose: '<img src=x onerror=alert(1)>' } };
  assert.match(String(fitWords(view({ limb, person: { limbs: [limb] } }), { fit: 'loose', date: '2025-11-20' })), /&lt;img src=x/);
});

test('a plan that was taken back leaves the page with nothing', () => {
  const bare = { ...LIMB, pocket: null };
  assert.match(String(pocketScreen(view({ limb: bare, person: { name: 'Anouk', limbs: [bare] } }))), /Nothing yet/);
});

const at = (time) => new Date(`2025-11-20T${time}`);

test('the clock adds up what is worn in a day, and says until when', () => {
  const on = turned(undefined, at('08:00:00'));
  assert.deepEqual([wornOf(on, at('08:30:00'), 2).minutes, wornOf(on, at('08:30:00'), 2).until.getTime()], [30, at('10:00:00').getTime()]);
  const off = turned(on, at('09:00:00'));
  assert.deepEqual(off, { day: '2025-11-20', minutes: 60, since: null });
  const again = turned(off, at('15:00:00'));
  assert.equal(wornOf(again, at('15:00:00'), 2).until.getTime(), at('16:00:00').getTime());
  assert.deepEqual([wornOf(again, at('16:00:00'), 2).over, wornOf(again, at('16:00:00'), 2).until], [true, null]);
});

test('another day begins at nothing; what is still on counts on', () => {
  const off = { day: '2025-11-19', minutes: 300, since: null };
  assert.equal(wornOf(off, at('08:00:00'), 2).minutes, 0);
  const overnight = { day: '2025-11-19', minutes: 0, since: new Date('2025-11-19T23:00:00').toISOString() };
  assert.equal(wornOf(overnight, at('01:00:00')).minutes, 120);
  assert.deepEqual(turned(overnight, at('01:00:00')), { day: '2025-11-19', minutes: 120, since: null });
});

test('a clock that was set back takes nothing away', () => {
  const on = turned({ day: '2025-11-20', minutes: 10, since: null }, at('08:00:00'));
  assert.equal(wornOf(on, at('07:00:00'), 2).minutes, 10);
});

test('in Arabic the clinic’s words keep their own direction', async () => {
  await speak('ar');
  assert.match(String(fitWords(view(), { fit: 'loose', date: '2025-11-20' })), /dir="auto">Add one thin/);
  await speak('en');
});
