/** A limb's story: what is asked, how it stands, and the log behind it, day by day. */

import * as api from '../api.js';
import { open } from '../chart.js';
import { html, on, render } from '../html.js';
import { ahead, day, daysBetween, dayNumber, fromNumber, fullDay, instant, today, weekday } from '../when.js';
import { limbName, MADE, MATERIAL, pct, PURPOSE, stack, STATE, STATE_MEANS, SUSPENSION } from '../words.js';
import { dayEvidence, skinWords } from './evidence.js';
import { byDay } from './log.js';
import { act, nameOf, signalCard } from './matters.js';
import { comfortPlot, eventsPlot, marksOf, stackPlot, volumePlot } from './plots.js';

const SPANS = [[42, 'six weeks'], [91, 'three months'], [0, 'all of it']];

export async function show(root, { params, query, context }) {
  const story = await api.limb(params.limb, query.as_of);
  const replay = Boolean(query.as_of) && query.as_of < today();
  const lines = byDay(story.days);
  const plots = [volumePlot(story), stackPlot(story, lines), comfortPlot(story, lines), eventsPlot(story, lines)];
  const drawn = plots.filter(({ plot }) => plot);
  const last = dayNumber(story.as_of);
  const first = Math.min(last, ...lines.slice(0, 1).map((line) => line.day), ...story.sockets.slice(-1).map((socket) => dayNumber(socket.fitted_on)));
  let span = 91;
  let cursor = lines.at(-1)?.day ?? last;
  let handles = [];

  render(root, page(story, { replay, plots, lines, first, last, span, cursor, context }));

  const range = () => ({ from: span ? Math.max(first - 1, last - span) : first - 1, to: last + 1 });
  const withRange = (plot, i) => ({ ...plot, ...range(), cursor, dates: i === 0 || i === drawn.length - 1 });

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
    if (await act(signal, button.dataset.act, { context })) context.again();
  });
  on(root, 'submit', '.note-form', async (form, event) => {
    event.preventDefault();
    const text = form.elements.text.value.trim();
    if (!text) return form.elements.text.focus();
    await api.addToLimb(story.limb.id, 'notes', { text });
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
      n: { words: 'write a note', act: () => root.querySelector('.note-form textarea')?.focus() },
      b: { words: 'back to today’s list', act: () => context.go('today') },
    },
  };
}

function page(story, view) {
  const { person, limb } = story;
  const worn = story.sockets.filter((socket) => !socket.retired_on || socket.retired_on > story.as_of).at(-1);
  return html`<div class="story">
    ${view.replay ? html`<p class="replay" role="note">You see what was known at the end of <strong>${fullDay(story.as_of)}</strong>. Later entries and corrections are left out.
      <a class="second" href="#/limbs/${limb.id}">Back to today</a></p>` : ''}
    <header class="story-head">
      <div><p class="crumb"><a href="#/today">Today</a> · <a href="#/people/${person.id}">Person and phones</a></p>
        <h1>${person.name}</h1>
        <p class="sub">${limbName(limb)}${limb.amputated_on ? `, amputated ${day(limb.amputated_on)}` : ''}${
          worn ? html`, ${PURPOSE[worn.purpose]} socket since ${day(worn.fitted_on)}, day ${daysBetween(worn.fitted_on, story.as_of)}` : ', no socket entered'}</p></div>
      ${stateLine(story)}
    </header>
    ${figures(story)}
    <div class="story-body">
      <div class="plots">
        <div class="plot-tools"><fieldset class="spans"><legend class="hidden">How far back</legend>${SPANS.map(([days, words]) => html`<label>
          <input type="radio" name="span" value="${days}"${days === view.span ? html` checked` : ''}><span>${words}</span></label>`)}</fieldset></div>
        ${view.plots.map(section)}
        ${view.lines.length ? dayTool(view) : html`<p class="notice empty">Nothing is logged yet. Once a phone has joined, each day’s log appears here.
          <a class="main" href="#/people/${person.id}/phone">Join a phone</a></p>`}
        <section class="evidence" tabindex="-1" hidden aria-label="Check-ins of the day"></section>
      </div>
      <aside class="beside">${beside(story, view)}</aside>
    </div></div>`;
}

function stateLine({ assessment: { readiness } }) {
  const settles = readiness.settles_on;
  return html`<div class="state-box"><p><strong class="state">${STATE[readiness.state]}</strong>${readiness.since ? html` <span class="hint">since ${day(readiness.since)}</span>` : ''}</p>
    <p>${STATE_MEANS[readiness.state]}${settles ? ` Expected within the margin from ${day(settles.date)} (90 % sure: ${day(settles.low)} to ${settles.high ? day(settles.high) : 'not foreseeable'}).` : ''}</p>
    ${readiness.reasons.length ? html`<details><summary>Why</summary><ul>${readiness.reasons.map((reason) => html`<li>${reason.text}</li>`)}</ul></details>` : ''}</div>`;
}

const FIGURES = [
  ['change_pct', 'Since this socket was fitted', 'The slow level of the limb’s volume, without the swing of the day, against the day the socket was fitted. Made from sock stacks, fit answers and tape measurements.'],
  ['change_28d_pct', 'Over the last 28 days', 'The same slow level, now against 28 days ago.'],
  ['coming_28d_pct', 'Expected in the coming 28 days', 'What the limb’s own course so far says of the next 28 days. “Steady” needs this whole range inside the clinic’s margin.'],
  ['daily_swing_pct', 'Swing within a day', 'From putting on to the end of the day, where both were logged.'],
];

function figures({ assessment }) {
  return html`<dl class="figures">${FIGURES.map(([name, words, source]) => {
    const value = assessment.volume[name];
    return html`<div><dt>${words}</dt><dd>${value ? html`<b>${pct(value.value)}</b> <span>${pct(value.low)} to ${pct(value.high)}</span>` : html`<span>not known yet</span>`}
      <details class="source"><summary>from where?</summary><p>${source} ${assessment.checkins_used} check-ins were used. The range holds the true value 9 times in 10.</p></details></dd></div>`;
  })}</dl>`;
}

function section({ name, title, says, key, plot, tall, low, rows }) {
  return html`<section class="plot" aria-labelledby="plot-${name}"><h2 id="plot-${name}">${title}</h2><p class="says">${says}</p>
    ${plot ? html`<div class="canvas ${tall ? 'tall' : low ? 'low' : ''}"><canvas data-plot="${name}" role="img" aria-label="${title}. ${says}"></canvas></div>
      <ul class="key" aria-label="Key">${key.map(([look, words]) => html`<li><i class="k-${look}"></i>${words}</li>`)}</ul>` : ''}
    ${rows.length ? html`<details data-table="${name}"><summary>${title} as a table</summary><div class="table" tabindex="0" role="region" aria-label="${title}, table"></div></details>` : ''}</section>`;
}

function table({ title, head, rows }) {
  return html`<table><caption class="hidden">${title}</caption><thead><tr>${head.map((words) => html`<th scope="col">${words}</th>`)}</tr></thead>
    <tbody>${rows.map(([name, ...cells]) => html`<tr><th scope="row">${name}</th>${cells.map((cell) => html`<td>${cell}</td>`)}</tr>`)}</tbody></table>`;
}

function dayTool({ first, last, cursor }) {
  return html`<section class="day-tool" aria-label="One day">
    <p class="slide"><label for="day">Day</label><button type="button" class="second" data-step="-1" aria-label="A day back">−</button>
      <input type="range" id="day" min="${first}" max="${last}" step="1" value="${cursor}">
      <button type="button" class="second" data-step="1" aria-label="A day on">+</button></p>
    <div class="readout"></div></section>`;
}

function readout(story, lines, date, replay) {
  const line = lines.find((one) => one.date === date);
  const level = story.band.find((point) => point.date === date);
  const marks = marksOf(story).filter((mark) => mark.date === date);
  const parts = [
    level && `volume ${pct(level.pct)} (${pct(level.low)} to ${pct(level.high)})`,
    line?.morning && `morning ${stack(line.morning.stack)}, ${line.morning.stack_mm.toFixed(1)} mm`,
    line?.evening && `evening ${stack(line.evening.stack)}, ${line.evening.stack_mm.toFixed(1)} mm`,
    line && line.comfort !== null && `comfort ${line.comfort}`,
    line?.hours && `${line.hours} h worn`,
    ...(line?.skin ?? []).map(skinWords),
    line?.falls && `falls: ${line.falls}`,
    ...marks.map((mark) => mark.words),
  ].filter(Boolean);
  return html`<p><strong>${weekday(date)}</strong> ${parts.length ? parts.join(' · ') : 'nothing logged'}</p>
    <p class="buttons">${line ? html`<button type="button" class="second" data-do="open-day">Open the check-ins</button>` : ''}
    ${date < story.as_of ? html`<a class="second" href="#/limbs/${story.limb.id}?as_of=${date}">What did we know on this day?</a>` : replay ? '' : ''}</p>`;
}

function beside(story, { context, replay }) {
  const { person, limb, signals } = story;
  const live = signals.filter((signal) => signal.status !== 'closed');
  const closed = signals.filter((signal) => signal.status === 'closed');
  const days = new Map(story.days.flatMap((one) => one.checkins.map((checkin) => [checkin.id, one.date])));
  const evidence = (signal) => {
    const dates = [...new Set(signal.evidence.map((id) => days.get(id)).filter(Boolean))].sort();
    return dates.length ? html`${dates.slice(-4).map((date) => html`<button type="button" class="plain" data-open-day="${date}">${day(date)}</button> `)}` : '';
  };
  const coming = story.visits.find((visit) => !visit.cancelled && visit.on >= story.as_of);
  return html`<section><h2>Asked of you</h2>${live.length ? html`<ul class="signals">${live.map((signal) => signalCard(signal, context.everyone, { evidence: evidence(signal) }))}</ul>` : html`<p class="hint">Nothing is open.</p>`}
      ${closed.length ? html`<details><summary>Closed before: ${closed.length}</summary><ul class="signals">${closed.map((signal) => signalCard(signal, context.everyone))}</ul></details>` : ''}</section>
    <section><h2>Next visit</h2><p>${coming ? `${weekday(coming.on)}${coming.time ? `, ${coming.time}` : ''}${coming.what ? `: ${coming.what}` : ''} (${ahead(daysBetween(story.as_of, coming.on))})` : html`<span class="hint">None planned.</span>`}</p>
      <a class="plain" href="#/people/${person.id}/visit">Plan a visit</a></section>
    <section><h2>Sockets</h2>${story.sockets.length ? html`<ol class="sockets">${[...story.sockets].reverse().map(socketLine)}</ol>` : html`<p class="hint">None entered.</p>`}
      <a class="plain" href="#/limbs/${limb.id}/socket">New socket</a></section>
    <section><h2>Notes</h2>${story.notes.length ? html`<ul class="notes">${story.notes.map((note) => html`<li><p>${note.text}</p><p class="hint">${nameOf(context.everyone, note.by_staff)}, ${instant(note.created_at)}</p></li>`)}</ul>` : ''}
      ${replay ? '' : html`<form class="note-form"><label>Write a note<textarea name="text" rows="2" maxlength="4000"></textarea></label><button class="second">Keep note</button></form>`}</section>`;
}

function socketLine(socket) {
  const facts = [MADE[socket.made], MATERIAL[socket.material], SUSPENSION[socket.suspension], socket.liner_mm ? `liner ${socket.liner_mm} mm` : '',
    socket.weight_limit_kg ? `limit ${socket.weight_limit_kg} kg` : ''].filter(Boolean).join(', ');
  return html`<li><strong>${PURPOSE[socket.purpose]}</strong>, ${day(socket.fitted_on)}${socket.retired_on ? ` to ${day(socket.retired_on)}` : ' until now'}
    <span class="hint">${facts}${facts ? '. ' : ''}At fitting: ${stack(socket.stack_at_fitting)}.</span></li>`;
}

export const week = (date) => later(date, 7);
