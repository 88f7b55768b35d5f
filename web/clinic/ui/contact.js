/** A call is recorded: a line, and one key that says what came of it. */

import * as api from '../api.js';
import { html } from '../../shared/html.js';
import { day, later, today, weekday } from '../when.js';
import { kindWord } from '../words.js';
import { ask } from './ask.js';
import { callKeys, RESULT } from './reach.js';
import { bookVisit, offered } from './visit.js';

const NEXT = [['', 'no next try'], [1, 'tomorrow'], [2, 'in two days'], [7, 'in a week']];

/** Ask what came of a call and keep it. `signals`: what it may answer, most urgent first. True when something was
 *  kept. */
export async function recordCall({ person, limbId = null, signals = [], context }) {
  const open = signals.filter((one) => one.status !== 'closed');
  let { free } = await offered();
  let given = null;
  let problem = '';
  for (;;) {
    given = await ask({ title: `Call with ${person.name}`, body: fields(person, open, free, given, problem), keys: Object.entries(RESULT) });
    if (!given) return false;
    try {
      const made = await api.recordContact(person.id, sent(given, limbId, free));
      const undo = made.signal_deed
        ? { words: 'Undo', act: () => takeBack(given.signal_id, made.signal_deed, context) } : null;
      const after = { close: ', and the signal is closed', snooze: `, and the signal comes back on ${day(nextOn(given))}` }[made.signal_deed]
        ?? (nextOn(given) ? `; it comes back on ${day(nextOn(given))}` : '');
      const visit = made.visit_id ? `, and a visit is booked for ${when(free[Number(given.visit)])}` : '';
      context.say(`The call is recorded${visit}${after}.`, undo);
      if (given.visit === OTHER) await bookVisit({ person, about: about(given, limbId), context });
      return true;
    } catch (fault) {
      if (!fault.fields) throw fault;
      problem = fault.against?.[0]?.text ?? Object.values(fault.fields)[0]?.[0] ?? fault.message;
      if (fault.code === 'taken') ({ free } = await offered());
    }
  }
}

const OTHER = 'other';
const when = ({ on, time }) => `${weekday(on)}, ${time}`;
const about = ({ signal_id: signal }, limbId) =>
  ({ ...(limbId ? { limb_id: limbId } : {}), ...(signal ? { signal_id: signal } : {}) });

async function takeBack(signalId, deed, context) {
  await api.undoOnSignal(signalId, deed);
  context.say('Undone; the call itself stays recorded.');
  context.again();
}

const nextOn = ({ next, own }) => (next === 'own' ? own || null : next ? later(today(), Number(next)) : null);

function sent(given, limbId, free) {
  const visit = free[Number(given.visit || NaN)];
  return {
    result: given.key, limb_id: limbId, signal_id: given.signal_id || null, number: given.number || null,
    said: given.said.trim() || null, agreed: given.agreed.trim() || null, next_on: nextOn(given),
    ...(given.after && given.signal_id ? { after: 'close' } : {}), ...(visit ? { visit } : {}),
  };
}

function fields(person, signals, free, before, problem) {
  const numbers = person.telephones ?? [];
  const picked = (value, other) => (String(value) === String(other) ? html` selected` : '');
  const first = before ? before.signal_id : signals[0]?.id;
  return html`${callKeys(person)}
    ${problem ? html`<p class="problem" role="alert">${problem}</p>` : ''}
    ${numbers.length > 1 ? html`<label>Which number<select name="number">${numbers.map(({ number }) => html`<option${picked(number, before?.number)}>${number}</option>`)}</select></label>`
      : html`<input type="hidden" name="number" value="${numbers[0]?.number ?? ''}">`}
    ${signals.length ? html`<label>About<select name="signal_id">${signals.map((one) => html`<option value="${one.id}"${picked(one.id, first)}>${kindWord(one.kind)}: ${one.because}</option>`)}<option value=""${picked('', first)}>none of these</option></select></label>` : html`<input type="hidden" name="signal_id" value="">`}
    <label>What was said<textarea name="said" rows="2" maxlength="1000">${before?.said ?? ''}</textarea></label>
    <label>What was agreed<input name="agreed" maxlength="1000" autocomplete="off" value="${before?.agreed ?? ''}"></label>
    <label>A visit<select name="visit"><option value="">none is booked</option>${free.map((one, i) => html`<option value="${i}"${picked(i, before?.visit)}>${when(one)}</option>`)}<option value="${OTHER}"${picked(OTHER, before?.visit)}>another time, asked next</option></select></label>
    <label>Next try<span class="in-line"><select name="next" aria-label="Next try">${NEXT.map(([days, words]) => html`<option value="${days}"${picked(days, before?.next)}>${words}</option>`)}<option value="own"${picked('own', before?.next)}>on another day</option></select>
      <input type="date" name="own" min="${later(today(), 1)}" value="${before?.own ?? ''}" aria-label="Another day"></span></label>
    ${signals.length ? html`<label class="check"><input type="checkbox" name="after" value="close"${before?.after ? html` checked` : ''}> Close what it was about</label>` : ''}
    <p class="hint">Then say what came of it:</p>`;
}
