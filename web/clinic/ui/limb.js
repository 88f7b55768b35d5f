/** A limb's story: what is asked, how it stands, and the log behind it, day by day. */

import * as api from '../api.js';
import { open } from '../chart.js';
import { html, on, render } from '../../shared/html.js';
import { dayNumber, fromNumber, fullDay, today } from '../when.js';
import { LEVEL_URGENCY, limbName } from '../words.js';
import { listenToWork } from './corrections.js';
import { bookVisit, nextVisit } from './visit.js';
import { recordCall } from './contact.js';
import { dayEvidence } from './evidence.js';
import { isChild } from './growth.js';
import { page, readout, table } from './limb-page.js';
import { byDay } from './log.js';
import { act } from './signals.js';
import { listenToMessages, writeMessage } from './message.js';
import { listenToParts } from './parts.js';
import { listenToReach } from './reach.js';
import { comfortPlot, eventsPlot, fitted, hoursPlot, stackPlot, volumePlot, weightPlot } from './plots.js';

/** Notes begun and not kept, by limb: acting on a signal draws the page anew. */
const drafts = new Map();

export async function show(root, { params, query, context }) {
  const replay = Boolean(query.as_of) && query.as_of < today();
  const asOf = replay ? query.as_of : undefined; // a day to come is today
  const story = await api.limb(params.limb, asOf);
  const lines = byDay(story.days);
  const family = isChild(story.person, story.as_of) ? (await api.growth(params.limb, asOf)).family_visits : [];
  const plots = [stackPlot(story, lines), volumePlot(story, lines), comfortPlot(story, lines), eventsPlot(story, lines),
    hoursPlot(story, lines), weightPlot(story, lines)].filter(Boolean);
  const drawn = plots.filter(({ plot }) => plot);
  const last = dayNumber(story.as_of);
  const first = Math.min(last, ...lines.slice(0, 1).map((line) => line.day), ...story.sockets.slice(-1)
    .map((socket) => dayNumber(socket.fitted_on)));
  let span = 91;
  let cursor = query.day ? dayNumber(query.day) : lines.at(-1)?.day ?? last;
  let handles = [];

  render(root, page(story,
    { replay, family, plots, lines, first, last, span, cursor, context, draft: drafts.get(story.limb.id) ?? '' }));

  const withRange = (plot, i) => ({
    ...fitted(plot, span ? Math.max(first, last - span) : first, last), cursor, dates: i === 0 ||
      i === drawn.length - 1,
  });

  async function draw() {
    try {
      handles = await Promise.all(drawn.map(({ name, plot }, i) => open(root.querySelector(`canvas[data-plot=${name}]`), withRange(plot, i))));
    } catch (fault) {
      for (const place of root.querySelectorAll('.canvas')) render(place, html`<p class="hint">${fault.message}</p>`);
    }
  }

  function redraw() {
    handles.forEach((handle, i) => handle.set(withRange(drawn[i].plot, i)));
  }

  function point(at) {
    if (!lines.length) return;
    cursor = Math.min(last, Math.max(first, at));
    for (const handle of handles) handle.cursor(cursor);
    const slider = root.querySelector('#day');
    if (Number(slider.value) !== cursor) slider.value = cursor;
    const date = fromNumber(cursor);
    slider.setAttribute('aria-valuetext', fullDay(date));
    render(root.querySelector('.readout'), readout(story, lines, date, replay));
  }

  function openDay(date) {
    const found = story.days.find((one) => one.date === date);
    const place = root.querySelector('.evidence');
    render(place, found ? html`${dayEvidence(found)}<p><button type="button" class="second" data-do="shut">Close</button></p>`
      : html`<p>Nothing was logged on ${fullDay(date)}. A day nobody wrote about counts as unknown, never as zero.</p>`);
    place.hidden = false;
    place.focus({ preventScroll: true });
    place.scrollIntoView({ block: 'nearest' });
  }

  on(root, 'input', '#day', (slider) => point(Number(slider.value)));
  on(root, 'click', '[data-step]', (button) => point(cursor + Number(button.dataset.step)));
  on(root, 'click', '[data-do=open-day]', () => openDay(fromNumber(cursor)));
  on(root, 'click', '[data-open-day]', (button) => {
    point(dayNumber(button.dataset.openDay));
    openDay(button.dataset.openDay);
  });
  on(root, 'click', '[data-do=shut]', () => {
    root.querySelector('.evidence').hidden = true;
    root.querySelector('#day').focus();
  });
  on(root, 'click', '[data-open-table]', (button) => {
    const details = root.querySelector(`[data-table=${button.dataset.openTable}]`);
    if (!details) return;
    details.open = true;
    details.querySelector('summary').focus();
    details.scrollIntoView({ block: 'start' });
  });
  on(root, 'change', '[name=span]', (choice) => {
    span = Number(choice.value);
    redraw();
  });
  for (const canvas of root.querySelectorAll('canvas')) {
    const mine = () => handles[drawn.findIndex(({ name }) => name === canvas.dataset.plot)];
    canvas.addEventListener('pointermove', (event) => mine() && event.pointerType === 'mouse' && point(mine().dayAt(event)));
    canvas.addEventListener('click', (event) => {
      if (!mine()) return;
      point(mine().dayAt(event));
      openDay(fromNumber(cursor));
    });
  }
  for (const details of root.querySelectorAll('details[data-table]')) {
    details.addEventListener('toggle', () => {
      const found = plots.find(({ name }) => name === details.dataset.table);
      if (details.open) render(details.querySelector('.table'), table(found));
    });
  }
  on(root, 'click', '[data-act]', async (button) => {
    const signal = story.signals.find((one) => one.id === button.closest('[data-signal]').dataset.signal);
    const { coming } = nextVisit(story.visits, today());
    if (await act(signal, button.dataset.act, { context, nextVisit: coming?.on ?? null })) context.again();
  });
  const call = async () => {
    const signals = story.signals.filter(({ status }) => status !== 'closed')
      .sort((a, b) => LEVEL_URGENCY[b.level] - LEVEL_URGENCY[a.level]);
    if (await recordCall({ person: story.person, limbId: story.limb.id, signals, context })) context.again();
  };
  const book = async (visit = null) => {
    if (await bookVisit({ person: story.person, about: { limb_id: story.limb.id }, visit, context })) context.again();
  };
  if (!replay) listenToReach(root, context);
  const write = async () => {
    if (await writeMessage({ person: story.person, limbId: story.limb.id, context })) context.again();
  };
  listenToMessages(root, context);
  listenToParts(root, story.limb.id, context);
  on(root, 'click', '[data-do=write]', write);
  on(root, 'click', '[data-do=call]', call);
  on(root, 'click', '[data-do=book]', () => book());
  on(root, 'click', '[data-do=move-visit]', () => book(nextVisit(story.visits, today()).coming));
  listenToWork(root, context);
  on(root, 'input', '.note-form textarea', (box) => drafts.set(story.limb.id, box.value));
  on(root, 'submit', '.note-form', async (form, event) => {
    event.preventDefault();
    const text = form.elements.text.value.trim();
    if (!text) return form.elements.text.focus();
    await api.addToLimb(story.limb.id, 'notes', { text });
    drafts.delete(story.limb.id);
    context.say('The note is kept.');
    context.again();
  });

  const dark = matchMedia('(prefers-color-scheme: dark)');
  dark.addEventListener('change', redraw);
  return {
    title: `${story.person.name}, ${limbName(story.limb)}`,
    ready: async () => {
      point(cursor);
      await draw();
      if (query.day) openDay(query.day);
    },
    leave: () => {
      dark.removeEventListener('change', redraw);
      for (const handle of handles) handle.close();
      handles = [];
    },
    keys: {
      ',': { words: 'a day back', act: () => point(cursor - 1) },
      '.': { words: 'a day on', act: () => point(cursor + 1) },
      e: { words: 'open the day’s check-ins', act: () => openDay(fromNumber(cursor)) },
      ...(replay ? {} : { r: { words: 'record a call', act: call }, v: { words: 'book a visit', act: () => book() }, m: { words: 'write to the phone', act: write } }),
      n: { words: 'write a note', act: () => root.querySelector('.note-form textarea')?.focus() },
      b: { words: 'back to today’s list', act: () => context.go('today') },
    },
  };
}
