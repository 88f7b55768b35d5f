/** What the clinic's own past limbs taught the engine, beside what is taken elsewhere; and the switch for it. */

import { html } from '../../shared/html.js';
import { day } from '../when.js';
import { many } from '../words.js';

const percent = (share) => `${Math.round(share * 100)} %`;
const ROW = { exponential: (one) => `fading, two thirds done in ${many(one.days, 'day')}`, 'log-time': () => 'slower and slower, never quite done' };

export function learntFrom(found) {
  return html`<section aria-labelledby="learnt-head"><h2 id="learnt-head">Learnt from your own limbs</h2>
    <p><label><input type="checkbox" name="learn_from_own_limbs"${found.learn_from_own_limbs ? html` checked` : ''}> Read each limb with what your own past limbs showed</label></p>
    <p class="hint">How common each way to settle is here, and how much limbs differ from day to day. It is counted anew every four weeks, from ${many(found.learn_from_limbs, 'limb')} on, each with a month of entries over two. Nobody else’s limbs are used, and nobody else sees yours. Earlier days keep the reading they had.</p>
    ${found.learnt ? figures(found.learnt, found.learn_from_own_limbs) : html`<p>Nothing is learnt yet: there are too few limbs with a long log, or it has not been counted.</p>`}</section>`;
}

function figures(learnt, counts) {
  return html`<p>${counts ? 'In use' : 'Not in use'}: learnt on ${day(learnt.on)} from ${many(learnt.limbs, 'limb')}.</p>
    ${table('How limbs settle', learnt.settling.map((one) => [ROW[one.law](one), one]))}
    ${table('Up and down from day to day', learnt.wobble.map((one) => [`about ${one.mm} mm of sock`, one]))}`;
}

const table = (label, rows) => html`<div class="table whole" tabindex="0" role="region" aria-label="${label}, table"><table>
  <thead><tr><th scope="col">${label}</th><th scope="col">Here</th><th scope="col">Taken elsewhere</th></tr></thead>
  <tbody>${rows.map(([name, one]) => html`<tr><th scope="row">${name}</th><td>${percent(one.here)}</td><td>${percent(one.elsewhere)}</td></tr>`)}</tbody></table></div>`;
