/** The motif as a picture: the socket is a rim that stays, the limb inside it is the water. No meaning of its own. */

import { thickness } from '../../shared/thickness.js';
import { html } from '../../shared/html.js';
import { daysBetween } from '../when.js';

const DAYS = 28;

/** Sock millimetres of the last four weeks as a water line: more sock, lower water. Gaps stay gaps. */
export function tidePicture(rows, today) {
  const said = rows
    .map((row) => ({ ago: daysBetween(row.checkin.date, today), mm: thickness(row.checkin.stack) }))
    .filter((day) => day.ago >= 0 && day.ago < DAYS)
    .sort((a, b) => b.ago - a.ago);
  const most = Math.max(4, ...said.map((day) => day.mm));
  const x = (ago) => 14 + ((DAYS - 1 - ago) / (DAYS - 1)) * 292;
  const y = (mm) => 22 + (mm / most) * 40;
  const dots = said.map((day) => html`<circle class="drop" cx="${x(day.ago).toFixed(1)}" cy="${y(day.mm).toFixed(1)}" r="3"/>`);
  const level = said.length ? y(said.at(-1).mm) : 40;
  return html`<svg class="tide-picture" viewBox="0 0 320 90" aria-hidden="true" focusable="false">
    <path class="water" d="M4 ${level.toFixed(1)} q20 -7 39 0 t39 0 t39 0 t39 0 t39 0 t39 0 t39 0 t39 0 V76 a10 10 0 0 1 -10 10 H14 a10 10 0 0 1 -10 -10 z"/>
    <path class="rim" d="M4 10 V76 a10 10 0 0 0 10 10 H306 a10 10 0 0 0 10 -10 V10"/>
    ${dots}
  </svg>`;
}
