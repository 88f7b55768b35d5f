/** The pocket plan: the clinic's own words for a wearer's phone, as they stand and as they stood. */

import { html } from '../../shared/html.js';
import { instant } from '../when.js';

export const PARTS = [['loose', 'When it is loose'], ['tight', 'When it is tight'], ['wear', 'How long to wear it'], ['care', 'Liner and skin'], ['bring', 'Bring to the visit']];

const written = (version) => PARTS.filter(([name]) => version?.[name]);

/** What stands on the phone now, a line for each part; '' where nothing does. */
export const pocketLines = (versions) => {
  const [now] = versions;
  return written(now).length ? html`<dl class="pocket">${written(now).map(([name, words]) => html`<div><dt>${words}</dt><dd dir="auto">${now[name]}</dd></div>`)}</dl>` : '';
};

export function pocketSection({ pocket, limb }, { acts = true } = {}) {
  const [now] = pocket;
  const lines = pocketLines(pocket);
  return html`<section><h2>The pocket plan</h2>${lines || html`<p class="hint">${now ? `Taken back by ${now.by}, ${instant(now.at)}.` : 'Nothing is written for their phone.'}</p>`}
    ${lines ? html`<p class="hint">${now.by}, ${instant(now.at)}</p>` : ''}${acts ? html`<a class="plain" href="#/limbs/${limb.id}/pocket">${lines ? 'Change it' : 'Write it'}</a>` : ''}</section>`;
}

/** Every version before the one that stands, newest first. */
export const pocketBefore = (versions) => (versions.length < 2 ? '' : html`<details><summary>Before: ${versions.length - 1}</summary><ol class="notes">${versions.slice(1).map((one) => html`<li>${
  written(one).length ? pocketLines([one]) : html`<p>Taken back.</p>`}<p class="hint">${one.by}, ${instant(one.at)}</p></li>`)}</ol></details>`);
