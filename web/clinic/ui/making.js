/** A socket being made: the steps in order, each kept as it is answered; what stands against it; its end. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { scheduleOf } from '../wear-schedule.js';
import { day, fullDay, instant, today } from '../when.js';
import { limbName, MADE, many, MATERIAL, PURPOSE, SUSPENSION } from '../words.js';
import { ask } from './ask.js';
import { despite } from './entry/despite.js';
import { form } from './form.js';
import { newId } from './new-id.js';

const PHASE = { before: 'Before', during: 'Making', after: 'At the fitting' };
const GO_ON = 'Go on all the same';

export async function show(root, { params, context }) {
  let made = await api.making(params.making);
  let items = [];
  const [story, all] = await Promise.all([api.limb(made.limb_id), api.stockItems()]);
  items = all;
  let drawn = new Map();
  /** What was pressed and not kept shows what is kept. */
  const undraw = () => { drawn = new Map([...drawn.keys()].map((name) => [name, ''])); };

  /** Only what differs is drawn again: an answer that comes back takes no list out from under a hand. */
  function draw() {
    const place = root.querySelector('[data-made]');
    const pieces = piecesOf(made, items);
    if ([...pieces.keys()].join() !== [...drawn.keys()].join()) render(place, page(made, pieces));
    else {
      for (const [name, markup] of pieces) {
        if (String(markup) !== drawn.get(name)) render(place.querySelector(`[data-piece="${CSS.escape(name)}"]`), markup);
      }
    }
    drawn = new Map([...pieces].map(([name, markup]) => [name, String(markup)]));
  }

  /** One deed: sent, asked about where something stands against it, and drawn again as it stands then. */
  async function deed(what, given, words = GO_ON) {
    const id = newId();
    try {
      const said = await despite((reason) => api.makingDeed(made.id, what, { id, ...given, ...reason }), words);
      if (said) made = said;
      else undraw();
      return said;
    } catch (fault) {
      undraw();
      if (what === 'finish') throw fault;
      context.say(Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
      return null;
    } finally {
      draw();
    }
  }

  async function answer(code, given) {
    const step = made.steps.find((one) => one.code === code);
    const said = { step: code, ...given }; // only what was changed here: another screen may have answered the rest
    if (made.finished) {
      const why = await ask({
        title: 'Put this step right?', words: 'Keep it', cancel: 'Leave it as it was',
        body: html`<p>${step.text}</p><label>Why<textarea name="why" rows="2" minlength="3" maxlength="400" required></textarea></label><p class="hint">What stood there before stays readable.</p>`,
      });
      if (!why) {
        undraw();
        return draw();
      }
      said.why = why.why.trim();
    }
    await deed('steps', said);
  }

  render(root, html`<div class="page mk-page"><div data-made></div><div data-finish></div></div>`);
  draw();
  if (!made.finished && !made.voided) finishForm();

  on(root, 'change', '[data-tick]', (box) => {
    const step = made.steps.find((one) => one.code === box.dataset.tick);
    if (box.checked && step.asks && step.value === null) {
      box.checked = false;
      context.say('Say what was found: the step is ticked with it.');
      return root.querySelector(`#value-${CSS.escape(step.code)}`).focus();
    }
    answer(step.code, { state: box.checked ? 'done' : 'open' });
  });
  on(root, 'change', '[data-value]', (box) => {
    const step = made.steps.find((one) => one.code === box.dataset.value);
    const text = box.value.trim();
    const number = step.asks.kind === 'number';
    const value = text === '' ? null : number ? Number(text.replace(',', '.')) : text;
    if (number && Number.isNaN(value)) return context.say('This must be a number.');
    answer(step.code, { value, state: value === null ? 'open' : 'done' });
  });
  on(root, 'change', '[data-note]', (box) => answer(box.dataset.note, { note: box.value.trim() || null }));
  on(root, 'click', '[data-skip-step]', (button) => {
    const step = made.steps.find((one) => one.code === button.dataset.skipStep);
    const note = root.querySelector(`#note-${CSS.escape(step.code)}`).value.trim() || null;
    answer(step.code, step.state === 'not-needed' ? { state: 'open' } : { state: 'not-needed', note });
  });
  on(root, 'change', '[data-plan]', () => {
    const [purpose, suspension] = root.querySelectorAll('[data-plan]');
    deed('plan', { purpose: purpose.value, suspension: suspension.value || null });
  });
  on(root, 'submit', '.mk-take', async (own, event) => {
    event.preventDefault();
    const item = own.elements.taken.value;
    if (!item) return;
    if (await deed('items', { item_id: item, count: Number(own.elements.count.value) || 1 }, 'Take it all the same')) {
      items = await api.stockItems();
      draw();
      context.say('Taken from stock.');
    }
  });
  on(root, 'click', '[data-give-back]', async (button) => {
    made = await api.giveBack(button.dataset.giveBack);
    items = await api.stockItems();
    draw();
    context.say('Given back to stock.');
  });
  on(root, 'click', '[data-do=mistake]', async () => {
    const given = await ask({
      title: 'Take this out as a mistake?', words: 'Take it out',
      body: html`<p>${made.finished ? 'Its socket is worn no more, the one before is worn again, and ' : ''}what was taken from stock goes back. It can be put back.</p>
        <label>Why<textarea name="reason" rows="2" minlength="3" maxlength="400" required></textarea></label>`,
    });
    if (given && await deed('void', { reason: given.reason.trim() })) context.again();
  });
  on(root, 'click', '[data-do=back]', async () => {
    if (await deed('restore', {}, 'Put it back all the same')) context.again();
  });

  function finishForm() {
    const worn = story.sockets.filter((one) => !one.retired_on);
    const place = root.querySelector('[data-finish]');
    const wear = (made.list.wear ?? []).join(', ');
    form(place, {
      title: 'Finish: the socket is entered', level: 2,
      intro: 'This starts a new baseline, and for a diagnostic socket the clock of the definitive one. Steps left open are named first.',
      words: 'Finish',
      fields: [
        { name: 'fitted_on', label: 'Fitted on', kind: 'date', required: true, value: today() },
        { name: 'stack_at_fitting', label: 'Sock stack at fitting', kind: 'stack', value: null, hint: 'Everything later is counted from it.' },
        { name: 'wear_schedule', label: 'First wear schedule', kind: 'text', value: wear, hint: 'Hours on each day from the fitting, for example: 1, 2, 4, 8. The person sees it on their phone.' },
        { name: 'bring', label: 'What to bring next time', kind: 'text', value: made.list.bring },
        { name: 'material', label: 'Material', kind: 'choice', options: Object.entries(MATERIAL) },
        { name: 'weight_limit_kg', label: 'Body-weight limit', kind: 'quantity', measure: 'weight', low: 15, high: 200, hint: 'Of the weakest part. Left empty, the limit of the step counts.' },
        { name: 'liner_size', label: 'Liner size', kind: 'text' },
        { name: 'liner_profile', label: 'Liner profile', kind: 'text' },
        { name: 'liner_mm', label: 'Liner thickness', kind: 'quantity', measure: 'thickness', low: 1.5, high: 12 },
        { name: 'lock_or_valve', label: 'Lock or valve', kind: 'text', hint: 'Which, as you write it. Numbers and warranty go with the parts, afterwards.' },
        { name: 'trim_lines', label: 'Trim lines', kind: 'text' },
        { name: 'note', label: 'Reliefs, anything else', kind: 'area' },
        ...(worn.length ? [{ name: 'retires', label: 'Retires the socket', kind: 'choice', options: worn.map((one) => [one.id, `${PURPOSE[one.purpose]}, fitted ${day(one.fitted_on)}`]), value: worn.at(-1).id },
          { name: 'retired_why', label: 'Why it is retired', kind: 'text' }] : []),
      ],
      save: async ({ bring, retires = null, retired_why = null, ...socket }) => {
        socket.wear_schedule = scheduleOf(socket.wear_schedule);
        const given = { socket, bring, retires, retired_why };
        let said;
        try {
          said = await deed('finish', given, 'Finish all the same');
        } catch (fault) {
          if (fault.code !== 'left-open') throw atField(fault);
          const sure = await ask({
            title: `${many(fault.against.length, 'step')} left open`, words: 'Finish and leave them open', cancel: 'Back to the steps',
            body: html`<ul class="against">${fault.against.map((one) => html`<li>${one.text}</li>`)}</ul><p class="hint">They are named in the record.</p>`,
          });
          said = sure && await deed('finish', { ...given, open_seen: true }, 'Finish all the same').catch((later) => { throw atField(later); });
        }
        if (!said?.finished) return;
        context.say('The socket is entered.');
        context.again();
      },
    });
  }
  // Taken up again on this screen: what another one answered meanwhile is shown.
  const seenAgain = async () => {
    if (document.visibilityState !== 'visible' || root.contains(document.activeElement)) return;
    made = await api.making(made.id);
    draw();
  };
  document.addEventListener('visibilitychange', seenAgain);
  return { title: `Socket being made, ${made.person.name}`, leave: () => document.removeEventListener('visibilitychange', seenAgain), keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${made.limb_id}`) } } };
}

/** Faults of the socket inside stand at the form's own fields. */
function atField(fault) {
  fault.fields = Object.fromEntries(Object.entries(fault.fields ?? {}).map(([name, words]) => [name.replace(/^socket[.]/, ''), words]));
  return fault;
}

/** What is drawn, by name: each step, each part beside them, and the words above. */
function piecesOf(made, items) {
  const open = made.steps.filter((one) => one.state === 'open').length;
  const stands = made.finished ? `Finished ${instant(made.finished.at)} by ${made.finished.by}.` : open ? `${open} of ${made.steps.length} steps open. Each answer is kept at once; go on at any screen.` : 'All steps are answered.';
  const voided = made.voided && html`<p class="problem" role="note">Taken out as a mistake by ${made.voided.by}, ${instant(made.voided.at)}: “${made.voided.reason}” <button type="button" class="second" data-do="back">Put it back</button></p>`;
  return new Map([
    ['head', html`Begun ${fullDay(made.begun_on)} by ${made.begun_by}. ${stands}`],
    ['end', html`${voided || ''}${made.finished && !made.voided ? end(made) : ''}`],
    ...Object.keys(PHASE).map((phase) => [`left-${phase}`, html`${left(made, phase)}`]),
    ...made.steps.map((one) => [`step-${one.code}`, step(one, made)]),
    ['stops', stopsOf(made)], ['instructions', instructions(made.list)], ['plan', planOf(made)], ['taken', taken(made, items)], ['other', html`${other(made)}`],
    ['deeds', html`${made.voided ? '' : html`<button type="button" class="plain" data-do="mistake">Take out as a mistake…</button>`}<a class="plain" href="#/making-lists?made=${made.made}">The clinic’s steps</a>`],
  ]);
}

function page(made, pieces) {
  const piece = (name) => html`<div data-piece="${name}">${pieces.get(name)}</div>`;
  return html`<p class="crumb"><a href="#/limbs/${made.limb_id}">${made.person.name}</a> · <a href="#/limbs/${made.limb_id}/made">Sockets made</a></p>
    <header class="mk-head"><h1>${made.person.name}, ${limbName(made.limb)}: socket ${MADE[made.made]}</h1><p class="hint" data-piece="head">${pieces.get('head')}</p></header>
    ${piece('end')}
    <div class="mk-body">${folded(made, html`<div class="mk-steps">${Object.entries(PHASE).map(([phase, words]) => html`<section aria-labelledby="phase-${phase}"><h2 id="phase-${phase}">${words} <span class="hint" data-piece="left-${phase}">${left(made, phase)}</span></h2>
      <ol>${made.steps.filter((one) => one.phase === phase).map((one) => html`<li data-piece="step-${one.code}">${pieces.get(`step-${one.code}`)}</li>`)}</ol></section>`)}</div>`)}
    <aside class="mk-beside">${['stops', 'instructions', 'plan', 'taken', 'other'].map(piece)}<p class="buttons" data-piece="deeds">${pieces.get('deeds')}</p></aside></div>`;
}

/** Once the socket is finished its steps are a record to open, no list to work off. */
function folded(made, steps) {
  if (!made.finished) return steps;
  const answered = made.steps.filter((one) => one.state !== 'open').length;
  return html`<details class="mk-record"><summary>Step by step: ${answered} of ${made.steps.length} answered</summary>${steps}</details>`;
}

function left(made, phase) {
  const open = made.steps.filter((one) => one.phase === phase && one.state === 'open').length;
  return open ? `${open} open` : 'all answered';
}

function step(one, made) {
  const id = one.code;
  const off = made.voided ? html` disabled` : '';
  const skipped = one.state === 'not-needed';
  return html`<div class="mk-step ${one.state}"><label class="check"><input type="checkbox" id="tick-${id}" data-tick="${id}"${one.state === 'done' ? html` checked` : ''}${skipped ? html` disabled` : ''}${off}> <span>${one.text}</span></label>
    ${one.asks ? control(one, off) : ''}
    <details class="mk-more" id="more-${id}"><summary>${skipped ? 'not needed' : one.note ? 'note' : 'more'}<span class="hidden">: ${one.text}</span></summary>
      <label>Note<input id="note-${id}" data-note="${id}" value="${one.note ?? ''}" maxlength="1000" autocomplete="off"${off}></label>
      ${made.voided ? '' : html`<button type="button" class="plain" data-skip-step="${id}">${skipped ? 'It is needed' : 'Not needed here'}</button>`}
      ${one.at ? html`<p class="hint">${one.by}, ${instant(one.at)}${one.why ? `, put right: “${one.why}”` : ''}</p>` : ''}
      ${one.history.length ? html`<ul class="mk-was">${[...one.history].reverse().map((was) => html`<li class="hint">Before: ${said(was, one)}, ${was.by}, ${instant(was.at)}</li>`)}</ul>` : ''}</details>
    ${one.note ? html`<p class="mk-note hint">${one.note}</p>` : ''}</div>`;
}

const STATE = { done: 'done', open: 'open', 'not-needed': 'not needed' };

function said(was, { asks }) {
  const words = was.value === null ? '' : asks?.options.find(([code]) => code === was.value)?.[1] ?? `${was.value} ${asks?.unit ?? ''}`.trim();
  return [STATE[was.state], words, was.note].filter(Boolean).join(', ');
}

function control({ code, asks, value, text }, off) {
  if (asks.kind === 'choice') {
    return html`<select class="mk-value" id="value-${code}" data-value="${code}" aria-label="${text}: found"${off}><option value="">not said</option>${asks.options.map(([one, words]) => html`<option value="${one}"${one === value ? html` selected` : ''}>${words}</option>`)}</select>`;
  }
  return html`<span class="mk-value"><input id="value-${code}" data-value="${code}" value="${value ?? ''}"${asks.kind === 'number' ? html` inputmode="decimal" class="mk-number"` : html` maxlength="400"`} autocomplete="off" aria-label="${text}${asks.unit ? `, ${asks.unit}` : ''}"${off}> ${asks.unit}</span>`;
}

function stopsOf({ against, despite: gone }) {
  if (!against.length && !gone.length) return html`<section class="mk-stops"><h2>What stands against it</h2><p class="hint">Nothing that is known.</p></section>`;
  return html`<section class="mk-stops${against.some((one) => !one.answered) ? ' stands' : ''}"><h2>What stands against it</h2>
    ${against.length ? html`<ul>${against.map((one) => html`<li><strong>${one.answered ? 'Gone on' : 'Stops'}:</strong> ${one.text}</li>`)}</ul>` : ''}
    ${gone.map((one) => html`<p class="hint">“${one.reason}” ${one.by}, ${instant(one.at)}, of: ${one.against.map(({ text }) => text).join(' ')}</p>`)}</section>`;
}

function instructions({ instructions: words, url }) {
  return html`<section><h2>The maker’s instructions come first</h2>${words ? html`<p class="mk-words">${words}</p>` : ''}${url ? html`<p><a href="${url}" rel="noreferrer" target="_blank">${url}</a></p>` : ''}
    ${words || url ? '' : html`<p class="hint">None are linked. Add them under the clinic’s steps.</p>`}</section>`;
}

function planOf({ plan, finished, voided }) {
  if (finished || voided) return html`<section><h2>Planned</h2><p>${PURPOSE[plan.purpose]}${plan.suspension ? `, ${SUSPENSION[plan.suspension]}` : ''}</p></section>`;
  const options = (list, value) => Object.entries(list).map(([code, words]) => html`<option value="${code}"${code === value ? html` selected` : ''}>${words}</option>`);
  return html`<section class="mk-plan"><h2>Planned</h2><label>Purpose<select id="plan-purpose" data-plan>${options(PURPOSE, plan.purpose)}</select></label>
    <label>Suspension<select id="plan-suspension" data-plan><option value="">not decided</option>${options(SUSPENSION, plan.suspension)}</select></label></section>`;
}

function taken(made, items) {
  const can = items.filter((one) => one.kind !== 'other' || one.on_hand);
  return html`<section><h2>From stock</h2>${made.items.length ? html`<ul class="mk-items">${made.items.map((one) => html`<li class="${one.given_back_at ? 'gone' : ''}">${one.words} × ${one.name}${one.size ? ` ${one.size}` : ''}${one.lots.length ? `, lot ${one.lots.join(', ')}` : ''}
      ${one.given_back_at ? html`<span class="hint">given back</span>` : made.voided ? '' : html`<button type="button" class="plain" data-give-back="${one.id}" aria-label="Give back ${one.name}">give back</button>`}${one.despite ? html`<span class="hint block">“${one.despite}”</span>` : ''}</li>`)}</ul>` : html`<p class="hint">Nothing taken yet.</p>`}
    ${made.voided ? '' : can.length ? html`<form class="mk-take"><label>Item<select name="taken" id="take-item" required><option value="">Choose…</option>${can.map((one) => html`<option value="${one.id}">${one.name}${one.size ? ` ${one.size}` : ''}: ${one.on_hand_words} on hand</option>`)}</select></label>
      <label>How many<input name="count" id="take-count" type="number" min="1" max="100" value="1"></label><button class="second">Take</button></form>` : html`<p><a href="#/stock">Enter what is in stock</a></p>`}</section>`;
}

function other({ beside }) {
  if (!beside.length) return '';
  return html`<section><h2>The other limb</h2><ul class="plain-list">${beside.map((one) => html`<li><a href="#/makings/${one.id}">${limbName(one)}: ${MADE[one.made]}</a> <span class="hint">${one.finished ? 'finished' : `${one.open} of ${one.steps} open`}</span></li>`)}</ul></section>`;
}

/** What goes home with the person, and what the clinic keeps. */
function end({ finished, socket, remake, limb_id: limb }) {
  return html`<section class="mk-end"><h2>The socket is entered</h2>
    ${remake ? html`<p><strong>${remake.words}</strong></p>` : ''}
    ${socket?.wear_schedule?.length ? html`<p>First wear schedule, hours a day from ${day(socket.fitted_on)}:</p><ol class="mk-wear">${socket.wear_schedule.map(({ day: n, hours }) => html`<li><span class="hint">day ${n}</span> <b>${hours}</b></li>`)}</ol>` : html`<p class="hint">No wear schedule was entered.</p>`}
    ${finished.bring ? html`<p>To bring next time: ${finished.bring}</p>` : ''}
    ${finished.left_open.length ? html`<details id="left-open"${finished.left_open.length < 5 ? html` open` : ''}><summary>${many(finished.left_open.length, 'step')} left open</summary><ul class="mk-left">${finished.left_open.map((words) => html`<li>${words}</li>`)}</ul></details>` : ''}
    <p class="buttons"><a class="second" href="#/limbs/${limb}/made">Parts and numbers</a><a class="second" href="#/limbs/${limb}/pad">A pad</a><a class="second" href="#/limbs/${limb}">The limb</a></p></section>`;
}
