/** How a person does with the limb over the visits: comfort, a timed walk, the two-minute walk, the timed up-and-go. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { day, dayNumber, fullDay, today } from '../when.js';
import { seriesOf } from '../outcome-series.js';
import { limbName } from '../words.js';
import { form } from './form.js';

const KINDS = {
  comfort: { words: 'Comfort of the socket', unit: 'of 10', better: 'higher', low: 0, high: 10 },
  timed_walk: { words: 'Timed walk', unit: 's', better: 'lower' },
  two_minute_walk: { words: 'Two-minute walk', unit: 'm', better: 'higher' },
  up_and_go: { words: 'Timed up-and-go', unit: 's', better: 'lower' },
};
const number = (text) => (text?.trim() ? Number(text.trim().replace(',', '.')) : null);

export async function show(root, { params, context }) {
  const story = await api.limb(params.limb);
  const { person, limb } = story;
  const measures = story.outcome_measures;
  render(root, html`<div class="page om"><p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <header class="page-head"><h1>Outcome measures: ${person.name}, ${limbName(limb)}</h1></header>
    <div class="om-two"><div>${seriesOf(measures).map(card)}${measures.length ? '' : html`<p class="hint">None yet. Measured on each visit, they show what a socket changed.</p>`}</div><div data-add></div></div></div>`);
  form(root.querySelector('[data-add]'), {
    title: 'Measured today', level: 2, words: 'Keep', intro: 'Public procedures, done the same way each time: same course, same shoes.',
    fields: [
      { name: 'kind', label: 'What', kind: 'choice', required: true, options: Object.entries(KINDS).map(([kind, { words, unit }]) => [kind, `${words}, ${unit}`]) },
      { name: 'value', label: 'Result', kind: 'text', required: true, hint: 'Seconds, metres, or 0 to 10 (10 is the most comfortable).' },
      { name: 'distance_m', label: 'Distance of a timed walk, m', kind: 'text', hint: 'Only times over the same distance are drawn together.' },
      { name: 'device', label: 'Walked with', kind: 'text', hint: 'Such as a stick, two crutches, nothing.' },
      { name: 'on', label: 'On', kind: 'date', required: true, value: today(), max: today() },
      { name: 'note', label: 'Note', kind: 'area' },
    ],
    save: async ({ value, distance_m: distance, ...given }) => {
      await api.addToLimb(limb.id, 'outcome-measures', { ...given, value: number(value), distance_m: number(distance) });
      context.say('Kept.');
      context.again();
    },
  });
  on(root, 'click', '[data-out]', async (button) => {
    await api.takeOutcomeMeasureOut(button.dataset.out);
    context.say('Taken out. It stays in the file as a mistake.');
    context.again();
  });
  return { title: `Outcome measures, ${person.name}`, keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${limb.id}`) } } };
}

function card(series) {
  const { kind, distance_m: distance } = series[0];
  const { words, unit, better } = KINDS[kind] ?? { words: kind, unit: '' };
  const title = `${words}${distance ? `, ${distance} m` : ''}`;
  return html`<section class="om-card"><h2>${title}</h2>${picture(series, title)}<p class="hint">${unit === 'of 10' ? '10 is the most comfortable' : `In ${unit === 's' ? 'seconds' : 'metres'}; ${better} is better`}.</p>
    <ul class="plain-list">${[...series].reverse().map((one) => html`<li><b>${one.value} ${unit}</b> ${fullDay(one.on)}${one.device ? `, with ${one.device}` : ''}, by ${one.by}${one.note ? `. ${one.note}` : ''} <button type="button" class="plain" data-out="${one.id}" aria-label="Take out: ${title}, ${fullDay(one.on)}">take out</button></li>`)}</ul></section>`;
}

/** The values by day; one alone is no line. */
function picture(series, title) {
  if (series.length < 2) return '';
  const { low, high } = KINDS[series[0].kind] ?? {};
  const values = series.map(({ value }) => value);
  const [least, most] = [low ?? Math.min(...values), high ?? Math.max(...values)];
  const days = series.map(({ on: date }) => dayNumber(date));
  const x = (at) => 8 + (304 * (at - days[0])) / Math.max(days.at(-1) - days[0], 1);
  const y = (value) => 8 + (54 * (most - value)) / Math.max(most - least, 1e-9);
  const points = series.map((one, n) => `${x(days[n]).toFixed(1)} ${y(one.value).toFixed(1)}`);
  return html`<svg class="om-line" viewBox="0 0 320 84" role="img" aria-label="${title}: ${series.map((one) => `${one.value} on ${day(one.on)}`).join(', ')}"><path class="rim" d="M8 68H312"/><path class="tide" d="M${points.join('L')}"/>
    ${series.map((one, n) => html`<circle class="end" cx="${x(days[n]).toFixed(1)}" cy="${y(one.value).toFixed(1)}" r="3"/>`)}<text x="8" y="81">${day(series[0].on)}</text><text x="312" y="81" text-anchor="end">${day(series.at(-1).on)}</text></svg>`;
}
