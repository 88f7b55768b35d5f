/** What was measured and done, with a way to mend what was entered wrongly: another record in its place, out, and
 *  back. */

import * as api from '../api.js';
import { html, on } from '../../shared/html.js';
import { day, instant } from '../when.js';
import { ask } from './ask.js';
import { nameOf } from './signals.js';
import { marksOf, workWords } from './plots.js';

const SHOWN = 8;
const FORM = { measurement: 'measure', intervention: 'deed', pad: 'pad' };
const DEED = { replace: 'corrected', void: 'taken out', restore: 'put back' };

/** Measurements, interventions and pads, newest first, then what became of those that were mended. */
export function clinicWork(story, { replay, context }) {
  const marks = marksOf(story).reverse();
  const lines = marks.map((mark) => workLine(mark, story.limb, replay));
  return html`<section class="work"><h2>Measured and done</h2>${lines.length ? html`<ol class="notes">${lines.slice(0, SHOWN)}</ol>` : html`<p class="hint">Nothing entered yet.</p>`}
    ${lines.length > SHOWN ? html`<details><summary>Earlier: ${lines.length - SHOWN}</summary><ol class="notes">${lines.slice(SHOWN)}</ol></details>` : ''}
    ${story.corrected.length ? html`<details data-corrected><summary>Corrected or taken out: ${story.corrected.length}</summary><ol class="notes">${story.corrected.map((line) => correctedLine(line, context, replay))}</ol></details>` : ''}</section>`;
}

function workLine({ words, date, kind, id, more }, limb, replay) {
  const about = `${words.replace(/\.$/, '')}, ${day(date)}`;
  return html`<li>${words} <span class="hint">${day(date)}</span>${more ? html`<span class="hint block">${more}</span>` : ''}${kind && !replay ? html`<span class="mend">
    <a class="plain" href="#/limbs/${limb.id}/${FORM[kind]}?correct=${id}" aria-label="Correct: ${about}">Correct</a>
    <button type="button" class="plain" data-void="${id}" data-about="${about}" aria-label="Entered by mistake: ${about}">Entered by mistake</button></span>` : ''}</li>`;
}

function correctedLine(line, context, replay) {
  const words = workWords(line.kind, line.record);
  return html`<li>${line.deed === 'restore' ? words : html`<s>${words}</s>`} <span class="hint">${day(line.record.on)}</span>
    <span class="hint block">${DEED[line.deed]} by ${nameOf(context.everyone, line.by_staff)}, ${instant(line.at)}${line.reason ? `: ${line.reason}` : ''}</span>
    ${line.can_come_back && !replay ? html`<span class="mend"><button type="button" class="plain" data-restore="${line.record.id}" aria-label="Put back: ${words}, ${day(line.record.on)}">${line.deed === 'replace' ? 'Undo the correction' : 'Put it back'}</button></span>` : ''}</li>`;
}

/** Act on the buttons; every deed is said with its undo. */
export function listenToWork(root, context) {
  const back = async (id) => {
    await api.restoreRecord(id);
    context.say('It counts again.');
    context.again();
  };
  on(root, 'click', '[data-void]', async ({ dataset }) => {
    const given = await ask({
      title: 'Entered by mistake?', words: 'Take it out',
      body: html`<p>${dataset.about}</p><p>It counts no longer. It stays to be read under “Corrected or taken out”, and can be put back.</p>
        <label>Why<input name="reason" maxlength="400" required autocomplete="off"></label>`,
    });
    if (!given) return;
    await api.voidRecord(dataset.void, given.reason.trim());
    context.say('Taken out. The limb is read again without it.', { words: 'Undo', act: () => back(dataset.void) });
    context.again();
  });
  on(root, 'click', '[data-restore]', (button) => back(button.dataset.restore));
}

/** The record a form is to correct, by the address; null for a new one. */
export function correcting(story, query) {
  const all = [...story.measurements, ...story.interventions, ...story.pads];
  const found = all.find((one) => one.id === query.correct) ?? null;
  if (query.correct && !found) throw new api.Fault(404, { message: 'This was corrected or taken out in the meantime.' });
  return found;
}

export const WHY = { name: 'reason', label: 'Why it is corrected', kind: 'text' };

/** Keep the correction, say it with its undo, and go back to the limb. */
export async function keepCorrection(kind, before, limb, values, context) {
  await api.correct(kind, before.id, values);
  const back = () => api.restoreRecord(before.id).then(() => {
    context.say('The correction is undone.');
    context.again();
  });
  context.say('Corrected. What stood there before stays to be read.', { words: 'Undo', act: back });
  context.go(`limbs/${limb.id}`);
}
