/** A sock stack in words and as bands, from the skin out. */

import { html } from '../../shared/html.js';
import { list, say } from '../words.js';

export const PLIES = [0, 1, 2, 3, 5, 6];
export const MAKES = ['single', 'blend', 'unknown'];

export const plyWords = (sock) => (sock.ply === 0 ? say('ply.0') : say('ply', { n: sock.ply }));

export const sockWords = (sock) => sock.name || plyWords(sock);

export const makeWords = (sock) => (sock.ply === 0 ? '' : say(`make.${sock.make}`));

export const stackWords = (stack) => (stack.length ? list(stack.map(sockWords)) : say('stack.none'));

/** "3 socks, 13-ply in all": plies are added up, as clinics count them. */
export function totalLine(stack) {
  const total = stack.reduce((sum, sock) => sum + sock.ply, 0);
  return stack.length > 1 && total ? html`<p class="total">${say('stack.total', { n: stack.length, total })}</p>` : '';
}

/** Each band is a key that takes that sock off again. */
export function bands(stack, drawer = []) {
  return html`<ol class="bands" aria-label="${say('stack.label')}">
    ${stack.map((sock, i) => html`<li><button class="band ply-${sock.ply} ${colour(sock, drawer)}" id="band-${i}" data-do="day.off" data-arg="${i}"
      aria-label="${say('stack.take_off', { sock: sockWords(named(sock, drawer)) })}"><span>${sockWords(named(sock, drawer))}</span><span class="small">${makeWords(sock)}</span><span aria-hidden="true" class="cross">×</span></button></li>`)}
  </ol>`;
}

export const named = (sock, drawer) => drawer.find((one) => one.ply === sock.ply && one.make === sock.make) ?? sock;

export const colour = (sock, drawer) => (named(sock, drawer).colour ? `colour-${named(sock, drawer).colour}` : '');
