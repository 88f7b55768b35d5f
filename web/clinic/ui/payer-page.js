/** Supporting evidence for the payer's file under the usual heads, marked as patient-reported. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay } from '../when.js';
import { limbName } from '../words.js';
import { evidenceLinks, paperButtons } from './paper.js';

export async function show(root, { params, context }) {
  const [story, page] = await Promise.all([api.limb(params.limb), api.payerPage(params.limb)]);
  render(root, html`<article class="sheet">
    <p class="crumb"><a href="#/limbs/${story.limb.id}">${story.person.name}</a></p>
    ${paperButtons(story.limb.id, 'payer-page')}
    <header><h1>${page.who}</h1><p>${limbName(story.limb)}${story.person.born_on ? `, born ${fullDay(story.person.born_on)}` : ''}</p><p class="right">${context.clinic.name}<br>as of ${fullDay(page.as_of)}</p></header>
    <p class="hint">Supporting evidence, patient-reported unless it says “by the clinic”. It does not replace the practitioner’s own record.</p>
    ${page.heads.map((head) => html`<section><h2>${head.head}</h2><ul class="plain-list">${head.lines.map((line) => html`<li>${line.text} ${evidenceLinks(line.evidence, story)}</li>`)}</ul></section>`)}
    <section class="sign"><p>Prosthetist</p><p>Date</p></section></article>`);
  on(root, 'click', '[data-do=print]', () => print());
  return { title: `Payer’s page, ${story.person.name}`, keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${story.limb.id}`) } } };
}
