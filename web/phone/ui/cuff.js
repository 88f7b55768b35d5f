/** Socks as pictures: a cuff in the wearer's colour with a rib for each ply, and all that are on around the limb. */

import { html } from '../../shared/html.js';
import { colour } from './socks.js';

/** Ribs say ply, as the number on the sock does; a sheath has none and is only an outline. */
export function cuff(sock, drawer = []) {
  const ribs = Array.from({ length: sock.ply }, (_, i) => `M${(12 + (24 * (i + 0.5)) / sock.ply).toFixed(1)} 12v15`).join('');
  return html`<svg class="cuff ${colour(sock, drawer)} ${sock.ply ? '' : 'sheath'}" viewBox="0 0 48 36" aria-hidden="true">
    <path class="tube" d="M9 9v13q0 12 15 12t15 -12V9z"/><path class="ribs" d="${ribs}"/><rect class="top" x="6" y="2" width="36" height="9" rx="3"/></svg>`;
}

const CORE = 13; // half the limb's width
const ROOM = 24; // for all socks on one side

/** The limb and its socks from the skin out, each as thick as its ply, cut lengthwise. */
export function layers(stack, drawer = []) {
  const thick = stack.map((sock) => 2 + sock.ply);
  const scale = Math.min(1.6, ROOM / thick.reduce((sum, one) => sum + one, 0));
  let out = CORE;
  const drawn = stack.map((sock, i) => {
    const wide = thick[i] * scale;
    const at = out + wide / 2;
    out += wide;
    return html`<path class="layer ${colour(sock, drawer)} ${sock.ply ? '' : 'sheath'}" stroke-width="${Math.max(1, wide - 1).toFixed(1)}" d="M${(40 - at).toFixed(1)} 4V44a${at.toFixed(1)} ${at.toFixed(1)} 0 0 0 ${(2 * at).toFixed(1)} 0V4"/>`;
  });
  return html`<svg class="layers" viewBox="0 0 80 86" aria-hidden="true"><path class="limb" d="M${40 - CORE} 4V44a${CORE} ${CORE} 0 0 0 ${2 * CORE} 0V4z"/>${drawn}</svg>`;
}
