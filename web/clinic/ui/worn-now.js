/** What is worn now, in the clinic's largest letters, hung from the rim beside it. */

import { html } from '../../shared/html.js';
import { day } from '../when.js';
import { plies } from '../words.js';
import { plyStrip } from './marks.js';
import { stripOf } from './ply.js';

/** Ply first: what is worn, what it was four weeks ago, and what the socket was made for. */
export function wornNow({ as_of: asOf, sockets, pads }, lines) {
  const strip = stripOf(lines, asOf, sockets, pads);
  const socket = sockets.filter((one) => !one.retired_on || one.retired_on > asOf).at(-1);
  if (!strip.now) return '';
  return html`<p class="worn-now">${plyStrip(strip, 168, 44)}<span><b>${plies(strip.now)}</b>${strip.now_on === asOf ? '' : ` on ${day(strip.now_on)}`}<span class="hint block">${
    [strip.was ? `was ${plies(strip.was)} four weeks ago` : '', socket?.stack_at_fitting ? `${plies(socket.stack_at_fitting)} at fitting` : ''].filter(Boolean).join(', ')}</span></span></p>`;
}
