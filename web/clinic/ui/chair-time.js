/** How many recasts the coming weeks will need, from each limb's own forecast, with an interval. */

import * as api from '../api.js';
import { html, render } from '../../shared/html.js';
import { day, fullDay } from '../when.js';
import { many } from '../words.js';
import { empty } from './notice.js';

const LIKELY = 0.05;

export async function show(root) {
  const [found, stock] = await Promise.all([api.chairTime(), api.stock()]);
  const most = Math.max(3, ...found.weeks.map((week) => week.high));
  render(root, html`<div class="page chair">
    <header class="page-head"><h1>Chair time, the coming ${many(found.weeks.length, 'week')}</h1></header>
    <p class="intro">Recasts to expect each week, all limbs together, and what the calendar holds. ${found.basis}</p>
    ${found.weeks.length ? html`<ol class="weeks">${found.weeks.map((week) => row(week, most))}</ol>` : empty('Too little is logged to look ahead.')}
    <section><h2>In stock for ${many(stock.recasts, 'planned recast')}</h2>${stock.items.length ? html`<ul class="plain-list">${stock.items.map((one) => html`<li><b>${one.count} ×</b> ${one.what}${one.size ? `, ${one.size}` : ''}</li>`)}</ul>`
      : html`<p class="hint">No recast is planned with a date yet. Plan one from a limb’s recast plan.</p>`}
      <p><a href="#/stock">Stock: what is on hand against it</a></p></section></div>`);
  return { title: 'Chair time' };
}

function row(week, most) {
  const at = (value) => (4 + (value / most) * 292).toFixed(1);
  const low = Math.round(week.low);
  const high = Math.round(week.high);
  const words = `Week of ${fullDay(week.from)}: ${week.expected.toFixed(1)} recasts, ${low} to ${high}`;
  return html`<li><span class="of"><strong>${day(week.from)}</strong> to ${day(week.to, week.to.slice(0, 4))}</span>
    <svg class="interval" viewBox="0 0 300 26" width="300" height="26" role="img" aria-label="${words}">
      ${Array.from({ length: Math.floor(most) + 1 }, (_, i) => html`<path class="tick" d="M${at(i)} 4V22"/>`)}
      <path class="span" d="M${at(week.low)} 13H${at(week.high)}"/><circle class="mid" cx="${at(week.expected)}" cy="13" r="5"/></svg>
    <span class="count"><b>${week.expected.toFixed(1)}</b> <span class="hint">${low} to ${high}</span></span>
    ${diary(week.booked)}
    <details><summary>from whom?</summary>${from(week.limbs.filter(likely))}${rest(week.limbs.filter((one) => !likely(one)))}
      ${week.quiet.limbs ? html`<p class="hint">And ${many(week.quiet.limbs, 'limb')} without a reason, together ${week.quiet.expected.toFixed(1)}.</p>` : ''}</details></li>`;
}

const hours = (minutes) => (minutes / 60).toFixed(minutes % 60 ? 1 : 0);

/** What the calendar says of the week, against the chairs. */
const diary = ({ visits, minutes, chair_minutes: all }) => html`<p class="diary hint">${many(visits, 'visit')} booked${all === null ? '' : `, ${hours(minutes)} of ${hours(all)} chair hours`}</p>`;

const likely = ({ chance }) => chance >= LIKELY;

const from = (limbs) => (limbs.length ? html`<ul class="plain-list">${limbs.map((one) => html`<li><a href="#/limbs/${one.limb_id}/plan">${one.person.name}</a> <span class="hint">${Math.round(one.chance * 100)} in 100: ${one.reason.words}${one.next_visit ? ` Next visit ${day(one.next_visit)}.` : ''}</span></li>`)}</ul>`
  : html`<p class="hint">Nobody in particular.</p>`);

/** Those with a reason and a small chance, folded away: together they may make a recast. */
const rest = (limbs) => (limbs.length ? html`<details><summary>${many(limbs.length, 'limb')} with less than ${LIKELY * 100} in 100 each, together ${limbs.reduce((sum, { chance }) => sum + chance, 0).toFixed(1)}</summary>${from(limbs)}</details>` : '');
