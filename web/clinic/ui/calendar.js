/** The visits of a day, chair by chair, or of a week; moved, called off, kept or missed. And the addresses for
 *  calendars elsewhere. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { minutesOf, timeOf, weekdayOf } from '../slots.js';
import { daysBetween, fullDay, instant, later, today, weekday } from '../when.js';
import { ask } from './ask.js';
import { bookVisit, putBack } from './visit.js';
import { nameOf } from './signals.js';

const SHOWS = [['initials', 'initials only'], ['times', 'times only, nothing of anybody'], ['names', 'names and what for']];
const DECIDERS = ['prosthetist', 'manager'];

export async function show(root, { query, context }) {
  const here = today();
  const chosen = /^\d{4}-\d\d-\d\d$/.test(query.day ?? '') ? query.day : here;
  const view = query.view === 'day' ? 'day' : 'week';
  const first = view === 'day' ? chosen : later(chosen, 1 - weekdayOf(chosen));
  const last = view === 'day' ? chosen : later(first, 6);
  const [found, feeds] = await Promise.all([api.visits(first, last), api.calendarFeeds()]);
  render(root, page(found, { view, chosen, first, last, here, feeds, context }));

  const visitOf = (button) => found.visits.find(({ id }) => id === button.closest('[data-visit]').dataset.visit);
  on(root, 'click', '[data-move]', async (button) => {
    const visit = visitOf(button);
    if (await bookVisit({ person: visit.person, visit, context })) context.again();
  });
  on(root, 'click', '[data-set]', async (button) => {
    const visit = visitOf(button);
    const [values, before, words] = {
      done: [{ outcome: 'done' }, { outcome: visit.outcome }, 'The visit was kept.'],
      missed: [{ outcome: 'missed' }, { outcome: visit.outcome }, `${visit.person.name} did not come.`],
      off: [{ cancelled: true }, { cancelled: false }, 'The visit is called off.'],
      back: [{ cancelled: false, outcome: null }, { cancelled: visit.cancelled, outcome: visit.outcome }, 'The visit is back.'],
    }[button.dataset.set];
    try {
      await api.changeVisit(visit.id, values);
    } catch (fault) {
      return context.say(fault.against?.[0]?.text ?? Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
    }
    context.say(words, { words: 'Undo', act: () => putBack(visit.id, before, 'Undone.', context) });
    return context.again();
  });
  on(root, 'change', '[name=day]', (box) => box.value && context.go(`calendar?view=${view}&day=${box.value}`));
  on(root, 'submit', '.feed-form', async (form, event) => {
    event.preventDefault();
    const { url } = await api.addCalendarFeed({ label: form.elements.label.value.trim() || 'Calendar',
      shows: form.elements.shows.value });
    await ask({
      title: 'The address', words: 'Done', cancel: 'Close',
      body: html`<p>Copy it into your calendar now: it is shown this once. Whoever has it reads the visits.</p><label>Address<input class="address" readonly value="${url}"></label>
        <p><button type="button" class="second" data-copy-address>Copy</button></p>`,
    });
    context.again();
  });
  on(root, 'click', '[data-revoke-feed]', async (button) => {
    const sure = await ask({ title: 'Shut this address?', words: 'Shut it', body: html`<p>Calendars that read it get nothing more, at once. What they have read already stays with them.</p>` });
    if (!sure) return;
    await api.revokeCalendarFeed(button.dataset.revokeFeed);
    context.say('The address is shut.');
    context.again();
  });
  const copy = async (event) => {
    if (!event.target.closest?.('[data-copy-address]')) return;
    const box = document.querySelector('dialog .address');
    box.select();
    await navigator.clipboard?.writeText(box.value).catch(() => {});
  };
  document.addEventListener('click', copy);
  const go = (days) => context.go(`calendar?view=${view}&day=${later(chosen, view === 'day' ? days : 7 * days)}`);
  return {
    title: 'Visits',
    leave: () => document.removeEventListener('click', copy),
    keys: {
      ',': { words: `a ${view} back`, act: () => go(-1) },
      '.': { words: `a ${view} on`, act: () => go(1) },
      t: { words: 'today', act: () => context.go(`calendar?view=${view}`) },
      d: { words: 'the day, chair by chair', act: () => context.go(`calendar?view=day&day=${chosen}`) },
      w: { words: 'the week', act: () => context.go(`calendar?view=week&day=${chosen}`) },
    },
  };
}

function page(found, about) {
  const { view, chosen, first, last, here } = about;
  const step = view === 'day' ? 1 : 7;
  const to = (words, values, label) => html`<a class="second" href="#/calendar?${new URLSearchParams(values)}"${label ? html` aria-label="${label}"` : ''}>${words}</a>`;
  const days = Array.from({ length: daysBetween(first, last) + 1 }, (_, n) => later(first, n));
  return html`<div class="page calendar ${view}">
    <header class="page-head"><h1>${view === 'day' ? weekday(chosen) : `${weekday(first)} to ${weekday(last)}`}</h1>
      <p class="buttons">${to('−', { view, day: later(chosen, -step) }, `The ${view} before`)}${to('Today', { view })}${to('+', { view, day: later(chosen, step) }, `The ${view} after`)}
        <label class="to-day"><span class="hidden">Go to a day</span><input type="date" name="day" value="${chosen}"></label>
        ${view === 'day' ? to('Week', { view: 'week', day: chosen }) : to('Day', { view: 'day', day: chosen })}</p></header>
    ${view === 'day' ? dayView(found, chosen, about) : html`<div class="days">${days.map((date) => html`<section class="${date === here ? 'is-today' : ''}"><h2><a href="#/calendar?view=day&amp;day=${date}">${weekday(date)}</a></h2>
      ${found.closed_on.includes(date) ? html`<p class="hint">Closed.</p>` : ''}${list(found.visits.filter(({ on: day }) => day === date), found, about)}</section>`)}</div>`}
    <p class="hint">Visits are booked from a row of today’s list, from a limb, a plan, a call or a person.</p>
    ${feedsPart(about)}</div>`;
}

/** One column for each chair, and one for what has none. */
function dayView(found, date, about) {
  const named = found.chairs.filter(Boolean);
  const known = [...new Set([...named, ...found.visits.map(({ chair }) => chair ?? '')])].sort((a, b) =>
    Number(a === '') - Number(b === ''));
  const columns = known.length ? known : [''];
  return html`${found.closed_on.includes(date) ? html`<p class="notice">The clinic is closed on ${fullDay(date)}.</p>` : ''}<div class="days chairs">${columns.map((chair) => html`<section><h2>${chair || (known.length > 1 ? 'No chair yet' : 'Visits')}</h2>
    ${list(found.visits.filter((one) => (one.chair ?? '') === chair), found, about)}</section>`)}</div>`;
}

function list(visits, found, about) {
  return visits.length ? html`<ul class="visits">${visits.map((one) => card(one, found, about))}</ul>` : html`<p class="hint none">None.</p>`;
}

const stateWord = (visit) => (visit.cancelled ? 'called off' : { done: 'kept', missed: 'did not come' }[visit.outcome] ?? '');

function card(visit, found, { here, view, context }) {
  const ends = visit.time && timeOf(minutesOf(visit.time) + (visit.minutes ?? found.usual_minutes));
  const state = stateWord(visit);
  const over = visit.on <= here;
  const where = [view === 'week' && visit.chair, visit.staff_id && `with ${nameOf(context.everyone, visit.staff_id)}`].filter(Boolean).join(', ');
  return html`<li class="${visit.cancelled || visit.outcome === 'missed' ? 'gone' : ''}" data-visit="${visit.id}"><p class="time">${visit.time ? html`<time>${visit.time}</time> to ${ends}` : 'some time that day'}</p>
    <p><a class="name" href="${visit.limb_id ? `#/limbs/${visit.limb_id}` : `#/people/${visit.person.id}`}">${visit.person.name}</a>${state ? html` <span class="word">${state}</span>` : ''}</p>
    ${visit.what ? html`<p>${visit.what}</p>` : ''}${where ? html`<p class="hint">${where}</p>` : ''}
    <p class="deeds">${visit.cancelled || visit.outcome ? html`<button type="button" class="plain" data-set="back">put back</button>`
      : html`${over ? html`<button type="button" class="plain" data-set="done">kept</button><button type="button" class="plain" data-set="missed">did not come</button>` : ''}
        <button type="button" class="plain" data-move>move…</button><button type="button" class="plain" data-set="off">call off</button>`}</p></li>`;
}

function feedsPart({ feeds, context }) {
  const decides = DECIDERS.includes(context.staff.role);
  return html`<details class="feeds"><summary>For a calendar of your own</summary>
    <p class="hint">A secret address at which another calendar reads the visits and keeps up with what is moved or called off. It leaves the clinic: choose what it may show.</p>
    ${feeds.length ? html`<ul class="cards">${feeds.map((one) => html`<li class="${one.opens ? '' : 'gone'}"><strong>${one.label}</strong><span>${SHOWS.find(([code]) => code === one.shows)?.[1]}; made by ${one.by}, ${instant(one.created_at)}${
      one.opens ? one.read_at ? `, last read ${instant(one.read_at)}` : ', not read yet' : ', shut'}</span>
      ${one.opens && decides ? html`<button type="button" class="plain" data-revoke-feed="${one.id}">shut</button>` : ''}</li>`)}</ul>` : ''}
    ${decides ? html`<form class="feed-form in-line"><label>Whose<input name="label" maxlength="60" required autocomplete="off" placeholder="such as Front desk"></label>
      <label>It shows<select name="shows">${SHOWS.map(([code, words]) => html`<option value="${code}">${words}</option>`)}</select></label><button class="second">Make an address</button></form>` : ''}</details>`;
}
