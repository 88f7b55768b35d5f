/** What can be done with a signal: acknowledge, give to somebody, put off, close with an outcome, open again, undo. */

import * as api from '../api.js';
import { html } from '../../shared/html.js';
import { day, daysBetween, instant, later, today } from '../when.js';
import { KIND, LEVEL_URGENCY, STATUS } from '../words.js';
import { ask } from './ask.js';
import { urgencyMark, urgencyWord } from './marks.js';

const OUTCOMES = ['Called: advice given', 'Visit booked', 'Seen and adjusted', 'Sent to the doctor', 'Could not be reached',
  'Looked at: nothing to do'];

const DONE = { acknowledge: 'Acknowledged', assign: 'Given to', snooze: 'Put off', close: 'Closed', reopen: 'Opened again',
  undo: 'Undone' };

const EVENT = { opened: 'opened', raised: 'raised', 'seen-again': 'seen again', 'no-longer-seen': 'no longer seen',
  'reported-again': 'reported again', woke: 'came back by itself',
  acknowledge: 'acknowledged', assign: 'given to', snooze: 'put off', close: 'closed', reopen: 'opened again', undo: 'undid' };

export const nameOf = (everyone, id) => everyone.find((one) => one.id === id)?.name ?? (id ? 'somebody who left' : '');

/** Ask what the action needs, do it, say it with an undo. Resolves true when what is shown may have changed. */
export async function act(signal, action, { context, nextVisit = null }) {
  const given = await answersFor(signal, action, context, nextVisit);
  if (!given) return false;
  try {
    await api.actOnSignal(signal.id, action, given);
  } catch (fault) {
    return told(fault, context);
  }
  const about = action === 'assign' ? ` ${nameOf(context.everyone, given.staff_id)}` : action === 'snooze' ? ` until ${day(given.until)}` : '';
  const undo = { words: 'Undo', act: () => takeBack(signal, action, context).then(() => context.again()) };
  context.say(`${DONE[action]}${about}: ${KIND[signal.kind]}.`, undo);
  return true;
}

async function takeBack(signal, action, context) {
  try {
    await api.undoOnSignal(signal.id, action);
    context.say(`${DONE.undo}: ${KIND[signal.kind]}.`);
  } catch (fault) {
    told(fault, context);
  }
}

/** Say why it did not work. What the server refuses may have changed under the page, which is then fetched anew. */
function told(fault, context) {
  context.say(Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
  return fault.status === 422 || fault.status === 404;
}

async function answersFor(signal, action, context, nextVisit) {
  if (action === 'assign') {
    return ask({
      title: 'Give to whom?', words: 'Give',
      body: html`<fieldset><legend class="hidden">Member of staff</legend>${context.everyone.map((one) => html`<label class="check">
        <input type="radio" name="staff_id" value="${one.id}" required${one.id === (signal.assigned_to ?? context.staff.id) ? html` checked` : ''}>
        ${one.name}</label>`)}</fieldset>`,
    });
  }
  if (action === 'snooze') {
    const choices = [[1, 'tomorrow'], [3, 'in three days'], [7, 'in a week'], [14, 'in two weeks']].map(([days, words]) => [later(today(), days), words]);
    if (nextVisit && daysBetween(today(), nextVisit) > 0) choices.push([nextVisit, 'at the next visit']);
    const given = await ask({
      title: 'Put off until when?', words: 'Put off',
      body: html`<fieldset><legend class="hidden">Until</legend>${choices.map(([date, words], i) => html`<label class="check">
        <input type="radio" name="choice" value="${date}"${i === 1 ? html` checked` : ''}> ${words}, ${day(date)}</label>`)}
        <label class="check"><input type="radio" name="choice" value=""> on <input type="date" name="own" min="${later(today(), 1)}" aria-label="Another day"></label></fieldset>
        <p class="hint">It comes back by itself on that day, or earlier if it gets worse.</p>`,
    });
    return given && { until: given.choice || given.own || null };
  }
  if (action === 'close') {
    const given = await ask({
      title: 'What came of it?', words: 'Close',
      body: html`<fieldset><legend class="hidden">Outcome</legend>${OUTCOMES.map((words, i) => html`<label class="check">
        <input type="radio" name="outcome" value="${words}"${i === 0 ? html` checked` : ''}> ${words}</label>`)}</fieldset>
        <label>In your words, if you like<textarea name="note" rows="2" maxlength="1000"></textarea></label>`,
    });
    if (given && !given.note) delete given.note;
    return given;
  }
  return {};
}

const DEEDS = {
  open: [['acknowledge', 'Acknowledge', 'main'], ['assign', 'Give to…', 'second'], ['snooze', 'Put off…', 'second'], ['close', 'Close…', 'second']],
  acknowledged: [['assign', 'Give to…', 'second'], ['snooze', 'Put off…', 'second'], ['close', 'Close…', 'main']],
  snoozed: [['reopen', 'Bring back now', 'main'], ['close', 'Close…', 'second']],
  closed: [['reopen', 'Open again', 'second']],
};

export function standing(signal, everyone) {
  const parts = [signal.status === 'snoozed' ? `put off until ${day(signal.snoozed_until)}` : signal.status === 'open' ? '' : STATUS[signal.status],
    signal.assigned_to ? `with ${nameOf(everyone, signal.assigned_to)}` : '',
    signal.holds || signal.status === 'closed' ? '' : 'no longer seen in the log'];
  return parts.filter(Boolean).join(', ');
}

/** One signal with its reason, since when, how it stands, and what can be done. */
export function signalCard(signal, everyone, { evidence = '' } = {}) {
  const urgency = LEVEL_URGENCY[signal.level];
  const stands = standing(signal, everyone);
  return html`<li class="signal u${signal.status === 'closed' ? 0 : urgency}" data-signal="${signal.id}">
    <h3>${urgencyMark(urgency)}<span>${KIND[signal.kind]}</span> <span class="word">${urgencyWord(urgency)}</span></h3>
    <p>${signal.because}</p>
    <p class="hint">since ${day(signal.since)}${stands ? ` · ${stands}` : ''}${evidence ? html` · ${evidence}` : ''}</p>
    <p class="buttons">${DEEDS[signal.status].map(([action, words, look]) => html`<button type="button" class="${look}" data-act="${action}">${words}</button>`)}</p>
    ${signal.events ? history(signal.events, everyone) : ''}
  </li>`;
}

function history(events, everyone) {
  return html`<details><summary>What happened to it</summary><ol class="events">${events.map((event) => html`<li>
    <time datetime="${event.at}">${instant(event.at)}</time> ${eventWords(event, everyone)}</li>`)}</ol></details>`;
}

function eventWords(event, everyone) {
  const by = event.by ? `${nameOf(everyone, event.by)} ` : '';
  const about = event.event === 'assign' ? ` ${nameOf(everyone, event.staff_id)}` : event.event === 'snooze' ? ` until ${day(event.until)}`
    : event.event === 'undo' ? ` “${EVENT[event.undone] ?? event.undone}”` : '';
  const tail = event.outcome ?? event.because ?? '';
  return `${by}${EVENT[event.event] ?? event.event}${about}${tail ? `: ${tail}` : ''}${event.note ? ` (${event.note})` : ''}`;
}
