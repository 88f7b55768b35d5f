/** Small drawn marks. Each has a shape of its own and a word beside it or in its label. */

import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';
import { pct, URGENCY } from '../words.js';

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

/** The last weeks of the volume against the rim (0 %): one line, its end marked, its end figure in words. */
export function spark(points, width = 104, height = 34) {
  if (points.length < 2) return html`<span class="spark none">no trend yet</span>`;
  const values = points.map(({ pct: value }) => value);
  const top = Math.max(0.5, ...values) + 0.3;
  const bottom = Math.min(-3, ...values) - 0.3;
  const days = Math.max(1, daysBetween(points[0].date, points.at(-1).date));
  const x = (point) => 2 + ((width - 8) * daysBetween(points[0].date, point.date)) / days;
  const y = (value) => 2 + ((height - 4) * (top - value)) / (top - bottom);
  const at = points.map((point) => `${x(point).toFixed(1)} ${y(point.pct).toFixed(1)}`);
  const last = points.at(-1);
  const moved = last.pct - points[0].pct;
  const words = `Volume over ${days} days: ${pct(points[0].pct)} to ${pct(last.pct)} of the fitting day, ${
    Math.abs(moved) < 0.5 ? 'level' : moved < 0 ? 'falling' : 'rising'}`;
  return html`<span class="spark"><svg viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${words}">
    <path class="water" d="M${at.join('L')}L${x(last).toFixed(1)} ${height}L2 ${height}Z"/>
    <path class="rim" d="M0 ${y(0).toFixed(1)}H${width}"/>
    <path class="tide" d="M${at.join('L')}"/>
    <circle class="end" cx="${x(last).toFixed(1)}" cy="${y(last.pct).toFixed(1)}" r="2.600"/></svg>
</span>`;
}
