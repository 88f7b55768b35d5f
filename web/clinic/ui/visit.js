/** A visit is booked or moved: a free time is offered, what stands in its way is said, and it is booked all the same
 *  if so wished. */

import * as api from '../api.js';
import { html } from '../../shared/html.js';
import { freeTimes } from '../slots.js';
import { ahead, daysBetween, fullDay, later, today, weekday } from '../when.js';
import { ask } from './ask.js';

const AHEAD = 28; // days looked at for a free time
const LENGTHS = [15, 30, 45, 60, 90, 120];

/** What the clinic's calendar holds, and the free times to offer for a visit of so many minutes (none: the usual). */
export async function offered({ minutes: wanted = null, without = null } = {}) {
  const here = today();
  const clinic = await api.visits(here, later(here, AHEAD));
  const minutes = wanted ?? clinic.usual_minutes;
  const visits = clinic.visits.filter(({ id }) => id !== without);
  return { clinic, minutes, free: freeTimes({ ...clinic, today: here, visits }, minutes) };
}

/** Ask for day, time and what for, and book it. With `visit` that one is moved. True when something was kept. */
export async function bookVisit({ person, about = {}, visit = null, what = '', context }) {
  const { clinic, minutes, free } = await offered({ minutes: visit?.minutes, without: visit?.id });
  let given = visit ? { ...visit, when: 'own', minutes }
    : { when: free.length ? '0' : 'own', on: later(today(), 1), time: '', minutes, chair: '', staff_id: '', what };
  let against = [];
  let problem = '';
  for (;;) {
    given = await ask({
      title: visit ? `Move the visit of ${person.name}` : `Book a visit for ${person.name}`,
      words: against.length ? 'Book it all the same' : visit ? 'Move' : 'Book',
      body: fields(given, { free, clinic, context, against, problem, minutes }),
    });
    if (!given) return false;
    try {
      return await keep(given, { person, about, visit, free, against, context });
    } catch (fault) {
      if (!fault.fields) throw fault;
      against = fault.code === 'taken' ? fault.against : [];
      problem = against.length ? '' : Object.values(fault.fields)[0]?.[0] ?? fault.message;
    }
  }
}

async function keep(given, { person, about, visit, free, against, context }) {
  const when = given.when === 'own' ? { on: given.on || null, time: given.time || null } : free[Number(given.when)];
  const values = {
    ...when, minutes: Number(given.minutes), chair: given.chair || null, staff_id: given.staff_id || null,
      what: given.what.trim() || null,
    ...(against.length ? { anyway: against.map(({ key }) => key) } : {}),
  };
  const words = `${fullDay(when.on)}${when.time ? `, ${when.time}` : ''}`;
  if (visit) {
    const before = { on: visit.on, time: visit.time, minutes: visit.minutes, chair: visit.chair,
      staff_id: visit.staff_id, what: visit.what };
    await api.changeVisit(visit.id, values);
    context.say(`The visit of ${person.name} is moved to ${words}.`, { words: 'Undo', act: () => putBack(visit.id, before, 'The visit is back where it was.', context) });
  } else {
    const { id } = await api.addToPerson(person.id, 'visits', { ...values, ...about });
    context.say(`Booked: ${person.name}, ${words}.`, { words: 'Undo', act: () => putBack(id, { cancelled: true }, 'The visit is called off.', context) });
  }
  return true;
}

/** Undo: the other way round; what stands in the way by now is said and nothing is changed. */
export async function putBack(visitId, values, words, context) {
  try {
    await api.changeVisit(visitId, values);
    context.say(words);
  } catch (fault) {
    context.say(fault.against?.[0]?.text ?? Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
  }
  context.again();
}

function fields(given, { free, clinic, context, against, problem, minutes }) {
  const option = (value, words, chosen) => html`<option value="${value}"${String(value) === String(chosen ?? '') ? html` selected` : ''}>${words}</option>`;
  const lengths = [...new Set([...LENGTHS, minutes])].sort((a, b) => a - b);
  return html`${problem ? html`<p class="problem" role="alert">${problem}</p>` : ''}
    ${against.length ? html`<div role="alert"><p><strong>This stands in the way:</strong></p><ul class="against">${against.map(({ text }) => html`<li>${text}</li>`)}</ul></div>` : ''}
    <fieldset class="free"><legend class="hidden">When</legend>${free.map((one, i) => html`<label class="check"><input type="radio" name="when" value="${i}"${given.when === String(i) ? html` checked` : ''}> ${weekday(one.on)}, ${one.time}</label>`)}
      <label class="check"><input type="radio" name="when" value="own"${given.when === 'own' ? html` checked` : ''}> another day</label>
      <div class="in-line own-day"><label>Day<input type="date" name="on" value="${given.on ?? ''}"></label><label>Time<input type="time" name="time" value="${given.time ?? ''}"></label></div></fieldset>
    <div class="in-line"><label>How long<select name="minutes">${lengths.map((one) => option(one, `${one} minutes`, given.minutes))}</select></label>
    ${clinic.chairs.length ? html`<label>Chair<select name="chair">${option('', 'any', given.chair)}${clinic.chairs.map((one) => option(one, one, given.chair))}</select></label>` : html`<input type="hidden" name="chair" value="${given.chair ?? ''}">`}
    <label>With<select name="staff_id">${option('', 'anybody', given.staff_id)}${context.everyone.map((one) => option(one.id, one.name, given.staff_id))}</select></label></div>
    <label>What for<input name="what" maxlength="200" autocomplete="off" value="${given.what ?? ''}" aria-describedby="what-hint"></label><p class="hint" id="what-hint">The person sees this on their phone.</p>`;
}

/** The next visit that stands, and its words. */
export function nextVisit(visits, day) {
  const coming = visits.find((one) => !one.cancelled && one.outcome === null && one.on >= day);
  return { coming, words: coming ? `${weekday(coming.on)}${coming.time ? `, ${coming.time}` : ''}${coming.what ? `: ${coming.what}` : ''} (${ahead(daysBetween(day, coming.on))})` : null };
}
