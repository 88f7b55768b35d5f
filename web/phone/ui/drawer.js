/** Own socks: number, yarn, a name and a colour, set up once. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { cuff } from './cuff.js';
import { choice, frame, primary, secondary } from './frame.js';
import { limbWords } from './phrases.js';
import { MAKES, makeWords, PLIES, plyWords } from './socks.js';

const COLOURS = [1, 2, 3, 4, 5, 6];

export function drawerScreen(view) {
  const { pick = {} } = view.params;
  const met = view.drawer.slice(view.own.length); // worn and logged, not set up yet
  return frame(view, {
    title: say('drawer.title'),
    lead: say('drawer.lead'),
    about: view.person.limbs.length > 1 ? limbWords(view.limb) : '',
    back: 'drawer.close',
    body: html`
      ${view.params.error ? html`<p class="notice bad" role="alert">${view.params.error}</p>` : ''}
      <ul class="plain">${view.own.map((sock, i) => html`<li class="owned colour-${sock.colour ?? 6}">${cuff(sock, view.own)}<span><strong>${sock.name || plyWords(sock)}</strong>
        <span class="small">${[sock.name ? plyWords(sock) : '', makeWords(sock)].filter(Boolean).join(' · ')}</span></span>
        <button class="link" id="lose-${i}" data-do="drawer.lose" data-arg="${i}" aria-label="${say('drawer.lose_what', { sock: sock.name || plyWords(sock) })}">${say('drawer.lose')}</button></li>`)}
        ${met.map((sock, i) => html`<li class="owned">${cuff(sock)}<span><strong>${plyWords(sock)}</strong> <span class="small">${makeWords(sock)}</span></span>
        <button class="link" id="met-${i}" data-do="drawer.met" data-ply="${sock.ply}" data-make="${sock.make}" aria-label="${say('drawer.met_what', { sock: plyWords(sock) })}">${say('drawer.met')}</button></li>`)}</ul>
      <section class="card" id="new-sock"><h2>${say('drawer.new')}</h2>
        <fieldset><legend>${say('socks.ply')}</legend><p class="small">${say('socks.ply.what')}</p><div class="keys">${PLIES.map((ply) => choice(`ply-${ply}`, 'drawer.ply', ply, html`${cuff({ ply, colour: pick.colour })}<span>${plyWords({ ply })}</span>`, pick.ply === ply))}</div></fieldset>
        <fieldset><legend>${say('socks.make')}</legend><div class="keys">${MAKES.map((make) => choice(`make-${make}`, 'drawer.make', make, say(`make.${make}`), pick.make === make))}</div></fieldset>
        <fieldset><legend>${say('drawer.colour')}</legend><div class="keys">${COLOURS.map((colour) => choice(`colour-${colour}`, 'drawer.colour', colour, html`<span class="swatch colour-${colour}" aria-hidden="true"></span><span>${say(`colour.${colour}`)}</span>`, pick.colour === colour))}</div></fieldset>
        <label for="sock-name">${say('drawer.name')}</label>
        <input id="sock-name" maxlength="24" autocomplete="off" value="${pick.name ?? ''}">
        ${secondary('keep-sock', 'drawer.keep', say('socks.add'))}</section>`,
    foot: primary('drawer-done', 'drawer.close', say('done')),
  });
}
