/** What can be done with a signal: acknowledge, give to somebody, put off, close with an outcome, open again, undo. */

import * as api from '../api.js';
import { html } from '../../shared/html.js';
import { choicesFor, latestFor } from '../put-off.js';
import { day, instant, later, today } from '../when.js';
import { kindWord, LEVEL_URGENCY, STATUS } from '../words.js';
import { ask } from './ask.js';
import { urgencyMark, urgencyWord } from './marks.js';
import { RESULT } from './reach.js';

const BOOKED = 'Visit booked';
const OUTCOMES = ['Called: advice given', BOOKED, 'Seen and adjusted', 'Sent to the doctor', 'Could not be reached',
  'Looked at: nothing to do'];

const DONE = { acknowledge: 'Acknowledged', assign: 'Given to', snooze: 'Put off', close: 'Closed', reopen: 'Opened again',
  undo: 'Undone' };

const EVENT = { opened: 'opened', raised: 'raised', 'seen-again': 'seen again', 'no-longer-seen': 'no longer seen',
  'reported-again': 'reported again', 'taken-back': 'taken back by who wrote it', woke: 'came back by itself',
  contact: 'called', acknowledge: 'acknowledged', assign: 'given to', snooze: 'put off', close: 'closed', reopen: 'opened again', undo: 'undid' };

/** As the server gives them, which is the order of its reason too; what was put off just now goes last. */
export const byUrgency = (signals) => [...signals].sort((a, b) => (a.status === 'snoozed') - (b.status === 'snoozed'));

export const nameOf = (everyone, id) => everyone.find((one) => one.id === id)?.name ?? (id ? 'somebody who left' : '');

/** Ask what the action needs, do it, say it with an undo. Resolves true when what is shown may have changed. */
export async function act(signal, action, { context, nextVisit = null }) {
  const given = await answersFor(signal, action, context, nextVisit);
  if (!given) return false;
  try {
    await api.actOnSignal(signal.id, action, given);
  } catch (fault) {
    if (given.outcome !== BOOKED || !fault.fields?.outcome) return told(fault, context);
    const visit = await ask({ title: fault.fields.outcome[0], words: 'Enter it and close', body: visitFields(null) });
    if (!visit) return false;
    try {
      await api.actOnSignal(signal.id, action, closing({ ...given, ...visit }));
    } catch (again) {
      return told(again, context);
    }
  }
  const about = action === 'assign' ? ` ${nameOf(context.everyone, given.staff_id)}` : action === 'snooze' ? ` until ${day(given.until)}` : '';
  const undo = { words: 'Undo', act: () => takeBack(signal, action, context).then(() => context.again()) };
  context.say(`${DONE[action]}${about}: ${kindWord(signal.kind)}.`, undo);
  return true;
}

async function takeBack(signal, action, context) {
  try {
    await api.undoOnSignal(signal.id, action);
    context.say(`${DONE.undo}: ${kindWord(signal.kind)}.`);
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
  if (action === 'acknowledge' && isAnswered(signal)) {
    return withoutBlanks(await ask({ title: `Acknowledge: ${kindWord(signal.kind)}`, words: 'Acknowledge', body: toWearer(signal) }));
  }
  if (action === 'snooze') {
    const choices = choicesFor(signal, today(), nextVisit);
    const latest = latestFor(signal, today());
    const given = await ask({
      title: 'Put off until when?', words: 'Put off',
      body: html`<fieldset><legend class="hidden">Until</legend>${choices.map(([date, words], i) => html`<label class="check">
        <input type="radio" name="choice" value="${date}"${i === 1 ? html` checked` : ''}> ${words}, ${day(date)}</label>`)}
        <label class="check"><input type="radio" name="choice" value=""> on <input type="date" name="own" min="${later(today(), 1)}"${latest ? html` max="${latest}"` : ''} aria-label="Another day"></label></fieldset>
        ${latest ? html`<p class="hint">An emergency can be put off by a week at most, until ${day(latest)}.</p>` : ''}
        <p class="hint">It comes back by itself on that day, or earlier if it gets worse.</p>${toWearer(signal)}`,
    });
    return withoutBlanks(given && { until: given.choice || given.own || null, answer: given.answer });
  }
  if (action === 'close') {
    const given = await ask({
      title: 'What came of it?', words: 'Close',
      body: html`<fieldset class="outcomes"><legend class="hidden">Outcome</legend>${OUTCOMES.map((words, i) => html`<label class="check">
        <input type="radio" name="outcome" value="${words}"${i === 0 ? html` checked` : ''}> ${words}</label>${words === BOOKED ? visitFields(nextVisit) : ''}`)}</fieldset>
        ${isAnswered(signal) ? html`<label class="check"><input type="checkbox" name="looked_clear" value="yes"> We looked at the limb: its skin is closed and well. This ends a hold on a recast.</label>` : ''}
        <label>For the record, if you like (stays at the clinic)<textarea name="note" rows="2" maxlength="1000"></textarea></label>${toWearer(signal)}`,
    });
    return given && closing(given);
  }
  return {};
}

/** Kinds whose advice stands on the wearer's phone, with what the clinic did about it. */
const isAnswered = (signal) => ['safety', 'skin'].includes(signal.kind);

function toWearer(signal) {
  return isAnswered(signal) ? html`<label class="to-wearer">Words for the wearer (optional)<textarea name="answer" rows="3" maxlength="300" aria-describedby="to-wearer-hint"></textarea></label>
    <p class="hint" id="to-wearer-hint">They stand on the phone below the advice that was shown, once it has joined the network. Up to 300 characters. Without words the phone says only that you have seen it.</p>` : '';
}

/** What was given, without the boxes left empty; null stays null. */
const withoutBlanks = (given) => given &&
  Object.fromEntries(Object.entries(given).filter(([, value]) => value !== '' && value !== undefined));

/** What is sent of a closing: a visit only where that is what came of it and a day was given. */
function closing({ visit_on: on, visit_time: time, looked_clear: clear, ...given }) {
  return { ...withoutBlanks(given), ...(clear ? { looked_clear: true } : {}),
    ...(given.outcome === BOOKED && on ? { visit: { on, time: time || null } } : {}) };
}

/** "Visit booked" can't be said without a visit: the one that is entered, or one entered here. */
function visitFields(nextVisit) {
  return html`<div class="visit-fields"><p class="hint">${nextVisit ? `The next visit is entered for ${day(nextVisit)}. Another one:` : 'None is entered yet. Enter it here:'}</p>
    <label>Day<input type="date" name="visit_on" min="${today()}"></label><label>Time<input type="time" name="visit_time"></label></div>`;
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
export function signalCard(signal, everyone, { evidence = '', acts = true } = {}) {
  const urgency = LEVEL_URGENCY[signal.level];
  const stands = standing(signal, everyone);
  return html`<li class="signal u${signal.status === 'closed' ? 0 : urgency}" data-signal="${signal.id}">
    <h3>${urgencyMark(urgency)}<span>${kindWord(signal.kind)}</span> <span class="word">${urgencyWord(urgency)}</span></h3>
    <p>${signal.because}</p>
    <p class="hint">since ${day(signal.since)}${stands ? ` · ${stands}` : ''}${evidence ? html` · ${evidence}` : ''}</p>
    ${acts ? html`<p class="buttons">${DEEDS[signal.status].map(([action, words, look]) => html`<button type="button" class="${look}" data-act="${action}">${words}</button>`)}</p>` : ''}
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
  const tail = event.event === 'contact' ? [RESULT[event.result], event.said, event.agreed && `agreed: ${event.agreed}`].filter(Boolean).join('. ') : event.outcome ?? event.because ?? '';
  return html`${by}${EVENT[event.event] ?? event.event}${about}${tail ? `: ${tail}` : ''}${event.note ? ` (${event.note})` : ''}${
    event.looked_clear ? ' (looked at, and clear)' : ''}${event.answer ? html`<span class="answer">To the wearer: “${event.answer}”</span>` : ''}`;
}
