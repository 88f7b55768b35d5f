/** Today's list: whom to call, why, and what to look at. The selected row's signals stand beside the list. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { day, weekday } from '../when.js';
import { lacking, LEVEL, limbName, many, STATE, STATE_MEANS } from '../words.js';
import { bookVisit } from './visit.js';
import { recordCall } from './contact.js';
import { dayEvidence } from './evidence.js';
import { act, byUrgency, signalCard } from './signals.js';
import { chips, plyStrip, urgencyMark } from './marks.js';
import { writeMessage } from './message.js';
import { empty, faultNotice } from './notice.js';
import { callKeys, listenToReach } from './reach.js';
import { rungs as rungsOf, sockWords } from './rungs.js';
import { RULES_STAND } from './safety-rules.js';

const FILTERS = ['q', 'show', 'clinician', 'state', 'level'];
const SHOWN = [['open', 'with something open'], ['snoozed', 'with something put off']];
const MOST = 200;
const REFRESH_MS = 60_000;
const REST_AFTER_MS = 10 * 60_000;
const LOOK_AFTER_MS = 350; // a row stayed on is a row looked at; one passed over is not read

export async function show(root, { query, context }) {
  const asked = Object.fromEntries(FILTERS.map((name) => [name, query[name] ?? '']));
  let list = await api.worklist(asked);
  let selected = null;
  let typing = null;
  let searching = null;
  let looking = null;
  let looked = null; // the story of the selected limb, once it was stayed on

  const rowOf = (limbId) => list.limbs.find((row) => row.limb_id === limbId);
  // not those folded away
  const links = () => [...root.querySelectorAll('.row a.name')].filter((link) => link.getClientRects().length);
  const narrowed = () => FILTERS.some((name) => asked[name]);

  function draw() {
    render(root, html`<div class="desk">
      <section class="list" aria-labelledby="list-title">
        <header class="list-head"><h1 id="list-title">${weekday(list.as_of)}</h1>${tally(list.counts)}${
        RULES_STAND[list.rules_agreement] ? html`<p class="rules-stand"><a href="#/settings?part=safety-rules">${RULES_STAND[list.rules_agreement]}</a></p>` : ''}${
        list.waiting ? html`<p class="rules-stand" role="status">What came last for ${many(list.waiting, 'limb')} is still being read: their rows say as of when they are.</p>` : ''}${
        list.failing ? html`<p class="rules-stand"><a href="#/settings">Something fails, and is tried again: see what</a></p>` : ''}</header>
        ${filters(asked, context)}
        <div class="rungs">${rungs()}</div>
      </section>
      <aside class="peek" aria-label="The selected limb">${peek()}</aside></div>`);
  }

  function rungs() {
    if (!list.limbs.length) {
      return narrowed()
        ? empty('Nobody fits this choice.', html`<button type="button" class="second" data-do="clear">Show everybody</button>`)
        : empty('Nobody is on the list yet.', html`<a class="main" href="#/people/new">Add the first person</a>`);
    }
    return html`${rungsOf(list.limbs, { asOf: list.as_of, everyone: context.everyone, quiet: narrowed() ? 0 : list.counts.quiet, unfolded: narrowed() })}${list.next ? html`<p class="more"><button type="button" class="second" data-do="more">Show more</button></p>` : ''}`;
  }

  function peek() {
    const row = rowOf(selected);
    if (!row) return html`<p class="hint">Choose a row to see what is asked and act on it.</p>`;
    return html`<h2>${row.person.name}</h2>
      <p>${limbName(row)}${row.person.age === null ? '' : `, ${many(row.person.age, 'year')}`}</p>${chips(row.reading_tags)}
      <div class="reach-box">${callKeys(row.person)}<p class="buttons"><button type="button" class="main" data-do="call">Record a call…</button><button type="button" class="second" data-do="book">Book a visit…</button><button type="button" class="second" data-do="write">Write…</button></p></div>
      <p class="worn">${plyStrip(row.strip)}<span>${sockWords(row.strip)}</span></p>
      <p><strong class="state">${STATE[row.state]}</strong> <span class="hint">${STATE_MEANS[row.state]}${lacking(row.lacks)}</span></p>
      ${row.signals.length ? html`<ul class="signals">${byUrgency(row.signals).map((signal) => signalCard(signal, context.everyone, { evidence: daysOf(signal, row) }))}</ul>`
        : html`<p>${row.why}</p>`}
      <p class="buttons ways-on"><a class="second" href="#/limbs/${row.limb_id}">Limb’s story</a>
      <a class="second" href="#/limbs/${row.limb_id}/visit">Visit page</a>
      <a class="second" href="#/people/${row.person.id}">Person and phones</a></p>
      ${looked?.limb.id === row.limb_id && looked.days.length ? html`<div class="last">${dayEvidence(looked.days[0])}</div>` : ''}`;
  }

  /** The days a signal was made from, each opening the story there; known once the row was stayed on. */
  function daysOf(signal, row) {
    if (looked?.limb.id !== row.limb_id) return '';
    const dates = looked.days.filter((one) => one.checkins.some(({ id }) => signal.evidence.includes(id)))
      .map((one) => one.date).sort();
    return dates.length ? html`${dates.slice(-3).map((date) => html`<a href="#/limbs/${row.limb_id}?day=${date}">${day(date)}</a> `)}` : '';
  }

  function look(limbId) {
    clearTimeout(looking);
    if (getComputedStyle(root.querySelector('.peek')).display === 'none') return;
    looking = setTimeout(async () => {
      const story = await api.limb(limbId).catch(() => null);
      await context.press.over();
      if (!story || selected !== limbId) return;
      looked = story;
      render(root.querySelector('.peek'), peek());
    }, LOOK_AFTER_MS);
  }

  function select(limbId) {
    if (selected === limbId) return;
    selected = limbId;
    context.chosen = limbId;
    for (const row of root.querySelectorAll('.row')) row.classList.toggle('chosen', row.dataset.limb === limbId);
    render(root.querySelector('.peek'), peek());
    look(limbId);
  }

  function move(step) {
    const all = links();
    const now = all.findIndex((link) => link.closest('.row').dataset.limb === selected);
    const next = all[Math.min(all.length - 1, Math.max(0, now + step))];
    next?.focus();
    next?.scrollIntoView({ block: 'nearest' });
  }

  async function refresh() {
    try {
      const limit = Math.min(MOST, Math.max(50, list.limbs.length));
      const news = await api.worklist({ ...asked, limit });
      await context.press.over();
      list = news;
    } catch (fault) {
      if (fault.status !== 401) render(root.querySelector('.rungs'), faultNotice(fault));
      return;
    }
    if (selected && !rowOf(selected)) selected = null;
    const focused = document.activeElement?.closest?.('.row')?.dataset.limb;
    render(root.querySelector('.rungs'), rungs());
    render(root.querySelector('.tally'), tallyParts(list.counts));
    render(root.querySelector('.peek'), peek());
    const kept = selected && root.querySelector(`.row[data-limb="${CSS.escape(selected)}"]`);
    kept?.classList.add('chosen');
    if ((focused && focused === selected) ||
      document.activeElement === document.body) kept?.querySelector('a.name')?.focus({ preventScroll: true });
  }

  async function actOn(signal, action) {
    const row = rowOf(selected);
    if (signal && row && await act(signal, action, { context, nextVisit: row.next_visit })) await refresh();
  }

  async function call() {
    const row = rowOf(selected);
    if (row && await recordCall({ person: row.person, limbId: row.limb_id, signals: byUrgency(row.signals),
      context })) await refresh();
  }

  async function book() {
    const row = rowOf(selected);
    const about = { limb_id: row?.limb_id, signal_id: row && byUrgency(row.signals)[0]?.id };
    if (row && await bookVisit({ person: row.person, about, context })) await refresh();
  }

  async function write() {
    const row = rowOf(selected);
    if (row) await writeMessage({ person: row.person, limbId: row.limb_id, context });
  }

  function keyAct(action) {
    const row = rowOf(selected);
    if (row) actOn(byUrgency(row.signals).find((signal) => action !== 'acknowledge' || signal.status === 'open'), action);
  }

  function narrow() {
    history.replaceState(null, '', `#/today${narrowed() ? `?${new URLSearchParams(
      Object.entries(asked).filter(([, value]) => value))}` : ''}`);
    return refresh();
  }

  draw();
  on(root, 'focusin', '.row', (row) => select(row.dataset.limb));
  on(root, 'click', '.row', (row, event) => {
    if (event.target.closest('a, button')) return;
    const link = row.querySelector('a.name');
    if (getComputedStyle(root.querySelector('.peek')).display === 'none') link.click();
    else link.focus();
  });
  on(root, 'click', '[data-act]', (button) => {
    const row = rowOf(selected);
    actOn(row?.signals.find((signal) => signal.id === button.closest('[data-signal]').dataset.signal), button.dataset.act);
  });
  on(root, 'click', '[data-do=call]', call);
  on(root, 'click', '[data-do=book]', book);
  on(root, 'click', '[data-do=write]', write);
  listenToReach(root, context);
  on(root, 'click', '[data-do=more]', async () => {
    const more = await api.worklist({ ...asked, next: list.next });
    list = { ...more, limbs: [...list.limbs, ...more.limbs] };
    render(root.querySelector('.rungs'), rungs());
  });
  on(root, 'click', '[data-do=clear]', () => {
    for (const name of FILTERS) asked[name] = '';
    root.querySelector('.filters').reset();
    for (const field of root.querySelector('.filters').elements) if (field.name) field.value = '';
    narrow();
  });
  on(root, 'change', '.filters select', (field) => {
    asked[field.name] = field.value;
    narrow();
  });
  on(root, 'input', '.filters [name=q]', (field) => {
    clearTimeout(typing);
    typing = setTimeout(() => {
      asked.q = field.value.trim();
      searching = narrow();
    }, 200);
  });
  on(root, 'submit', '.filters', (_form, event) => event.preventDefault());
  // On the way up: on the way down the same key press would also open the row it has just focused.
  on(root, 'keyup', '.filters [name=q]', async (_field, event) => {
    if (event.key !== 'Enter') return;
    await searching;
    links()[0]?.focus();
  });
  on(root, 'keydown', '.filters [name=q]', (_field, event) => {
    if (event.key === 'Escape') links()[0]?.focus();
  });

  // A screen nobody is at must not keep the session alive.
  const timer = setInterval(() => document.visibilityState === 'visible' && Date.now() - context.lastDeed < REST_AFTER_MS
    && !document.querySelector('dialog[open]') && refresh(), REFRESH_MS);
  const touch = matchMedia('(max-width: 60rem)').matches;
  // Back from a limb, one goes on where one was.
  const before = context.chosen && root.querySelector(`.row[data-limb="${CSS.escape(context.chosen)}"] a.name`);
  before?.closest('details')?.setAttribute('open', '');
  return {
    title: 'Today',
    keepsFocus: Boolean(before) || (!touch && list.limbs.length > 0),
    ready: () => {
      if (!before && touch) return;
      (before ?? links()[0])?.focus({ preventScroll: true });
      before?.scrollIntoView({ block: 'center' });
    },
    leave: () => {
      clearInterval(timer);
      clearTimeout(looking);
      clearTimeout(typing);
    },
    keys: {
      j: { words: 'next row', act: () => move(1) },
      k: { words: 'row before', act: () => move(-1) },
      Enter: { words: 'open the limb’s story', act: null },
      a: { words: 'acknowledge', act: () => keyAct('acknowledge') },
      g: { words: 'give to somebody', act: () => keyAct('assign') },
      s: { words: 'put off', act: () => keyAct('snooze') },
      c: { words: 'close with an outcome', act: () => keyAct('close') },
      r: { words: 'record a call', act: call },
      v: { words: 'book a visit', act: book },
      m: { words: 'write to the phone', act: write },
      u: { words: 'undo the last thing done', act: () => document.querySelector('#said [data-deed]')?.click() },
      '/': { words: 'search by name', act: () => root.querySelector('[name=q]').focus() },
    },
  };
}

function tallyParts(counts) {
  return [[3, counts.urgent, 'to call now'], [2, counts.call, 'to call this week'], [1, counts.note, 'to look at'], [0, counts.quiet, 'quiet']]
    .map(([urgency, count, words]) => html`<span class="${count ? '' : 'zero'}">${urgencyMark(urgency)}<b>${count}</b> ${words}</span>`);
}

const tally = (counts) => html`<p class="tally">${tallyParts(counts)}</p>`;

function filters(asked, { everyone, staff }) {
  const choice = (name, label, all, options) => html`<label><span class="label">${label}</span><select name="${name}"><option value="">${all}</option>${
    options.map(([value, words]) => html`<option value="${value}"${asked[name] === value ? html` selected` : ''}>${words}</option>`)}</select></label>`;
  const staffFirst = [...everyone].sort((a, b) => (b.id === staff.id) - (a.id === staff.id));
  return html`<form class="filters" role="search">
    <label><span class="label">Name</span><input type="search" placeholder="name" name="q" id="search" value="${asked.q}" autocomplete="off"></label>
    ${choice('show', 'Limbs', 'all limbs', SHOWN)}
    ${choice('clinician', 'Clinician', 'everybody’s', staffFirst.map((one) => [one.id, one.id === staff.id ? `${one.name} (me)` : one.name]))}
    ${choice('state', 'State', 'any state', Object.entries(STATE))}
    ${choice('level', 'Level', 'any level', Object.entries(LEVEL))}
  </form>`;
}
