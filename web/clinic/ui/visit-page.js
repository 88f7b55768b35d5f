/** One page to read in a minute before the person comes in; prints on one sheet of A4 or Letter. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { day, fullDay, later } from '../when.js';
import { bothViews, byPlace, kindsOf } from './bodymap.js';
import { byDay } from './log.js';
import { pocketLines } from './pocket.js';
import { evidenceLinks, paperButtons, stackPicture, tidePicture } from './paper.js';

const SKIN_DAYS = 42;

export async function show(root, { params, context }) {
  const [story, visit] = await Promise.all([api.limb(params.limb), api.visitPage(params.limb)]);
  const coming = story.visits.find((one) => !one.cancelled && one.on >= story.as_of);
  const lines = byDay(story.days);
  const found = byPlace(lines.filter((line) => line.date > later(story.as_of, -SKIN_DAYS)));
  render(root, html`<article class="sheet">
    <p class="crumb"><a href="#/limbs/${story.limb.id}">${story.person.name}</a></p>
    ${paperButtons(story.limb.id, 'visit-page')}
    <header><h1>${visit.who}</h1><p>${visit.limb}</p>${visit.reading ? html`<p><strong>To know: ${visit.reading}</strong></p>` : ''}<p class="right">${context.clinic.name}<br>as of ${fullDay(visit.as_of)}${coming ? html`<br>visit ${fullDay(coming.on)}${coming.time ? `, ${coming.time}` : ''}` : ''}</p></header>
    <section><h2>Socket</h2><p>${visit.socket}</p></section>
    <section><h2>How it stands</h2><p>${visit.state}</p></section>
    <section><h2>What changed</h2>${visit.changed.length ? html`<ul class="plain-list">${visit.changed.map((line) => html`<li>${line.text} ${evidenceLinks(line.evidence, story)}</li>`)}</ul>` : html`<p>Nothing that stands out.</p>`}</section>
    ${visit.decided.length ? html`<section class="decisions"><h2>Decided on a recast</h2><ul class="plain-list">${visit.decided.map((line) => html`<li>${line}</li>`)}</ul></section>` : ''}
    <section class="picture">${stackPicture(lines, story.as_of, story.sockets, story.pads)}${tidePicture(story.band, story.sockets)}</section>
    <div class="columns"><section><h2>Ask</h2>${list(visit.ask)}</section><section><h2>Look at</h2>${list(visit.look)}</section></div>
    <div class="columns"><section><h2>Lately</h2><dl class="lately">${visit.recent.filter(([what]) => !found.length || !what.startsWith('Skin')).map(([what, value]) => html`<div><dt>${what}</dt><dd>${value}</dd></div>`)}</dl></section>
    ${found.length ? html`<section><h2>Skin, last ${SKIN_DAYS / 7} weeks</h2><div class="skin-map">${bothViews(story.limb, found)}
      <ul class="plain-list">${found.map((own) => html`<li>${own.words}: ${kindsOf(own)}, last on ${day(own.days.at(-1).date)}</li>`)}</ul></div></section>` : ''}
    </div>
    ${pocketLines(story.pocket) ? html`<section><h2>The pocket plan</h2>${pocketLines(story.pocket)}</section>` : ''}
    <section class="print-only by-hand-notes"><h2>Notes</h2></section>
    <footer>In brackets: the range made to hold the true value 9 times in 10 (tried on simulated limbs). Patient-reported unless it says clinic. Not a diagnosis; the decision is the prosthetist’s. Steady is a signal, never a verdict.</footer></article>`);
  on(root, 'click', '[data-do=print]', () => print());
  return { title: `Visit page, ${story.person.name}`, keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${story.limb.id}`) } } };
}

const list = (lines) => (lines.length ? html`<ul class="boxes">${lines.map((line) => html`<li>${line}</li>`)}</ul>` : html`<p class="hint">Nothing special.</p>`);
