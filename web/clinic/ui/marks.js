/** Small drawn marks. Each has a shape of its own and a word beside it or in its label. */

import { html } from '../../shared/html.js';
import { day, daysBetween } from '../when.js';
import { CHIP, many, plies, READING, said, URGENCY } from '../words.js';

const SHAPES = {
  3: html`<path d="M10 1 19 10 10 19 1 10Z"/><path class="cut" d="M10 5.500v6M10 13.200v1.500"/>`,
  2: html`<circle class="ring" cx="10" cy="10" r="7.500"/><path d="M10 2.500a7.500 7.500 0 0 1 0 15Z"/>`,
  1: html`<circle class="ring" cx="10" cy="10" r="7.500"/><circle cx="10" cy="10" r="2.200"/>`,
  0: html`<path class="ring" d="M4 10h12"/>`,
};

export function urgencyMark(urgency) {
  return html`<svg class="mark u${urgency}" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">${SHAPES[urgency]}</svg>`;
}

export const urgencyWord = (urgency) => URGENCY[urgency].means;

/** The facts of a person that change how everything is read, in words; on a row in one word each. */
export function chips(tags, { short = false, most = Infinity } = {}) {
  if (!tags?.length) return '';
  const shown = tags.length > most ? tags.slice(0, most - 1) : tags;
  const rest = tags.slice(shown.length);
  return html`<ul class="chips" aria-label="To know about this person">${shown.map((tag) => html`<li${short && CHIP[tag] ? html` title="${said(READING, tag)}"` : ''}>${short ? CHIP[tag] ?? said(READING, tag) : said(READING, tag)}</li>`)}${
    rest.length ? html`<li title="${rest.map((tag) => said(READING, tag)).join(', ')}">+${rest.length}</li>` : ''}</ul>`;
}

/** Millimetres of sock the strips have room for, the same on every row: what is more ends on the ground. */
const DEEPEST = 7;
/** A gap of so many days is drawn fainter and without a line; a longer one is left open. */
const BRIDGED = 4;

/** Four weeks of what the days began with, hung from the socket's rim: the more sock, the lower the tide, the smaller
 *  the limb. One scale for all rows. A day that does not say leaves a gap; the mark at the left is the stack at
 *  fitting. */
export function plyStrip(strip, width = 112, height = 34) {
  const known = strip?.mm.filter((mm) => mm !== null) ?? [];
  if (!known.length) return html`<span class="strip none">no morning socks known</span>`;
  const step = (width - 6) / strip.mm.length;
  const rim = 3;
  const y = (mm) => rim + ((height - rim - 2) * Math.min(mm, DEEPEST)) / DEEPEST;
  const f = (value) => value.toFixed(1);
  // a new socket breaks the line
  const changed = strip.socket_on ? strip.mm.length - 1 - daysBetween(strip.socket_on, strip.until) : -1;
  const runs = [];
  strip.mm.forEach((mm, i) => {
    if (mm === null) return;
    if (i && i !== changed && strip.mm[i - 1] !== null) runs.at(-1).push(i);
    else runs.push([i]);
  });
  const line = (run) => `M${f(3 + run[0] * step)} ${f(y(strip.mm[run[0]]))}${run.map((i) => `V${f(y(strip.mm[i]))}H${f(3 + (i + 1) * step)}`).join('')}`;
  const end = strip.mm.findLastIndex((mm) => mm !== null);
  const was = changed > 0 ? `a new socket on ${day(strip.socket_on)}, ` : strip.was ? `${plies(strip.was)} four weeks ago, ` : '';
  return html`<span class="strip"><svg viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="Socks over ${strip.mm.length} days, ${many(known.length, 'morning')} known: ${was}${strip.now ? `${plies(strip.now)} ${strip.now_on === strip.until ? 'now' : `on ${day(strip.now_on)}`}` : ''}">
    ${runs.map((run) => html`<path class="water" d="${line(run)}V${height}H${f(3 + run[0] * step)}Z"/>`)}
    ${runs.slice(1).map((run, i) => [runs[i].at(-1), run[0]]).filter(([last, next]) => next - last > 1 && next - last <= BRIDGED && !(last < changed && changed <= next)).map(([last, next]) => html`<path class="between" d="M${f(3 + (last + 1) * step)} ${f(y(strip.mm[last]))}H${f(3 + next * step)}V${height}H${f(3 + (last + 1) * step)}Z"/>`)}
    ${strip.fitted_mm === null ? '' : html`<path class="fitted" d="M0 ${f(y(strip.fitted_mm))}H${width}"/>`}
    ${changed > 0 ? html`<path class="epoch" d="M${f(3 + changed * step)} 0V${height}"/>` : ''}<path class="rim" d="M0 ${rim - 1.5}H${width}"/>
    ${runs.map((run) => html`<path class="tide" d="${line(run)}"/>`)}
    <circle class="end" cx="${f(3 + (end + 1) * step)}" cy="${f(y(strip.mm[end]))}" r="2.600"/></svg></span>`;
}
