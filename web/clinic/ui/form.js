/** One way of asking for all entry screens: fields by description, live units, slips asked back, faults at their field.
 *
 *  A field is { name, label, kind, hint?, required?, value?, ... } with kind
 *  text · email · area · date · time · whole · choice {options} · checks {options} · quantity {measure, low?, high?}
 *  · stack.
 *  A stack is null where it is not entered, and empty where no sock was worn.
 *  A quantity outside [low, high] is asked back once; its value is in mm or kg.
 */

import { html, on, render } from '../../shared/html.js';
import { choose, chosen, parse, shown, UNITS } from '../units.js';
import { thickness } from '../../shared/thickness.js';

const PLIES = [[0, 'sheath'], [1, '1-ply'], [2, '2-ply'], [3, '3-ply'], [5, '5-ply'], [6, '6-ply']];
const MAKES = [['single', 'one material'], ['blend', 'blend'], ['unknown', 'don’t know']];

/** Put a form into `root`. `save(values)` sends them; what it throws is shown at the fields it names. */
export function form(root, { title, level = 1, intro = '', fields, words, back, save, extra = '' }) {
  const seen = new Map(fields.map((field) => [field.name, field]));
  const confirmed = new Set();
  render(root, html`<form class="entry" novalidate>
    ${back ? html`<p class="crumb"><a href="${back.href}">${back.words}</a></p>` : ''}
    ${level === 1 ? html`<h1>${title}</h1>` : html`<h2>${title}</h2>`}${intro ? html`<p class="intro">${intro}</p>` : ''}
    <p class="problem" role="alert" hidden></p>
    ${fields.map(field)}${extra}
    <p class="buttons"><button class="main">${words}</button> ${back ? html`<a class="second" href="${back.href}">Cancel</a>` : ''}</p></form>`);
  const element = root.querySelector('form');

  on(element, 'input', '[data-quantity]', (box) => convert(box.closest('[data-field]')));
  on(element, 'change', '[data-unit]', (box) => {
    choose(box.dataset.unit, box.value);
    convert(box.closest('[data-field]'));
  });
  on(element, 'click', '[data-do=add-sock]', (button) => {
    const list = button.closest('[data-field]').querySelector('.socks');
    button.closest('[data-field]').querySelector('[data-entered][value=socks]').checked = true;
    list.insertAdjacentHTML('beforeend', sock({ ply: 1, make: 'single' }).toString());
    list.lastElementChild.querySelector('select').focus();
    total(button.closest('[data-field]'));
  });
  on(element, 'click', '[data-do=drop-sock]', (button) => {
    const own = button.closest('[data-field]');
    button.closest('li').remove();
    total(own);
    own.querySelector('[data-do=add-sock]').focus();
  });
  on(element, 'change', '.socks select', (box) => total(box.closest('[data-field]')));
  for (const own of element.querySelectorAll('[data-field]')) {
    convert(own);
    if (own.querySelector('.socks')) total(own);
  }
  element.addEventListener('submit', submit);

  function convert(own) {
    const box = own?.querySelector('[data-quantity]');
    if (!box) return;
    const unit = own.querySelector('[data-unit]').value;
    const read = parse(box.value, unit);
    const standard = UNITS[seen.get(own.dataset.field).measure][0];
    own.querySelector('output').textContent = !box.value.trim() ? '' : read ? `${read.unit === standard ? '' : '= '}${
      read.unit === standard ? '' : `${shown(read.value, standard)} ${standard}`}` : 'This can’t be read as a number.';
  }

  function total(own) {
    const socks = stackOf(own);
    own.querySelector('output').textContent = socks.length ? `${thickness(socks).toFixed(1)} mm together` : '';
  }

  async function submit(event) {
    event.preventDefault();
    const { values, faults } = read();
    if (Object.keys(faults).length) return tell(faults);
    const button = element.querySelector('button.main');
    button.disabled = true;
    try {
      await save(values);
    } catch (fault) {
      if (!fault.fields) throw fault;
      tell(Object.keys(fault.fields).length ? fault.fields : {}, fault.message);
    } finally {
      button.disabled = false;
    }
  }

  function read() {
    const values = {};
    const faults = {};
    for (const [name, { kind, label, required, measure, low, high }] of seen) {
      const own = element.querySelector(`[data-field="${name}"]`);
      if (kind === 'checks') values[name] = [...own.querySelectorAll('input:checked')].map((box) => box.value);
      else if (kind === 'stack') {
        const entered = own.querySelector('[data-entered]:checked').value;
        values[name] = { none: [], socks: stackOf(own) }[entered] ?? null;
        if (entered === 'socks' && !values[name].length) faults[name] = ['Add a sock, or choose “no sock” or “not entered”.'];
      }
      else if (kind === 'quantity') {
        const text = own.querySelector('[data-quantity]').value.trim();
        const got = text ? parse(text, own.querySelector('[data-unit]').value) : null;
        values[name] = got ? Math.round(got.value * 100) / 100 : null;
        if (text && !got) faults[name] = ['This can’t be read as a number with a unit.'];
        else if (got && low !== undefined && (got.value < low || got.value > high) && !confirmed.has(`${name}:${values[name]}`)) {
          confirmed.add(`${name}:${values[name]}`);
          const unit = UNITS[measure][0];
          faults[name] = [`${shown(got.value, unit)} ${unit} is unusual. Check it and the unit; press the button again if it is right.`];
        }
      } else {
        const text = own.querySelector('input, select, textarea').value.trim();
        values[name] = text === '' ? null : kind === 'whole' ? Number(text) : text;
        if (kind === 'whole' && text !== '' && !Number.isInteger(values[name])) faults[name] = ['This must be a whole number.'];
      }
      const missing = values[name] === null || (kind === 'checks' && required && !values[name].length);
      if (required && missing && !faults[name]) faults[name] = [`${label} is needed.`];
    }
    return { values, faults };
  }

  function tell(faults, message = 'Some fields need another look.') {
    const problem = element.querySelector('.problem');
    for (const own of element.querySelectorAll('[data-field]')) mark(own, null);
    const lost = [];
    for (const [name, words] of Object.entries(faults)) {
      const own = element.querySelector(`[data-field="${CSS.escape(name.split(/[.[]/)[0])}"]`);
      if (own) mark(own, words.join(' '));
      else lost.push(`${name}: ${words.join(' ')}`);
    }
    problem.textContent = [message, ...lost].join(' ');
    problem.hidden = false;
    (element.querySelector('[aria-invalid]') ?? problem).focus?.();
  }

  return { element, tell };
}

function mark(own, words) {
  const place = own.querySelector('.fault');
  place.textContent = words ?? '';
  for (const box of own.querySelectorAll('input, select, textarea')) {
    if (words) box.setAttribute('aria-invalid', 'true');
    else box.removeAttribute('aria-invalid');
  }
}

/** Of a stack: what was not entered is not "no sock". */
const ENTERED = [['', 'not entered'], ['none', 'no sock: the liner alone'], ['socks', 'these socks']];
const enteredOf = (stack) => (stack === null || stack === undefined ? '' : stack.length ? 'socks' : 'none');

function stackOf(own) {
  return [...own.querySelectorAll('.socks li')].map((line) => {
    const [ply, make] = line.querySelectorAll('select');
    return { ply: Number(ply.value), make: make.value };
  });
}

const options = (list, value) => list.map(([code, words]) => html`<option value="${code}"${String(code) === String(value) ? html` selected` : ''}>${words}</option>`);

function sock({ ply, make }) {
  return html`<li><select aria-label="Ply">${options(PLIES, ply)}</select> <select aria-label="Make">${options(MAKES, make)}</select>
    <button type="button" class="plain" data-do="drop-sock">take off</button></li>`;
}

function field(own) {
  const { name, label, kind, hint, required } = own;
  const id = `field-${name}`;
  const tail = html`${hint ? html`<span class="hint" id="${id}-hint">${hint}</span>` : ''}<span class="fault" id="${id}-fault"></span>`;
  const told = `${hint ? `${id}-hint ` : ''}${id}-fault`;
  const name_ = html`${label}${required ? '' : html` <span class="optional">optional</span>`}`;
  if (kind === 'checks' || kind === 'stack') {
    return html`<fieldset data-field="${name}" aria-describedby="${told}"><legend>${name_}</legend>${kind === 'checks'
      ? html`<div class="checks">${own.options.map(([code, words]) => html`<label class="check"><input type="checkbox" value="${code}"${
        own.value?.includes(code) ? html` checked` : ''}> ${words}</label>`)}</div>`
      : html`<div class="entered">${ENTERED.map(([code, words]) => html`<label class="check"><input type="radio" name="${id}-entered" data-entered value="${code}"${
        code === enteredOf(own.value) ? html` checked` : ''}> ${words}</label>`)}</div><ul class="socks">${(own.value ?? []).map(sock)}</ul><button type="button" class="second" data-do="add-sock">Add a sock</button> <output></output>`}${tail}</fieldset>`;
  }
  if (kind === 'quantity') {
    const unit = chosen(own.measure);
    return html`<div class="field" data-field="${name}"><label for="${id}">${name_}</label><span class="with-unit">
      <input id="${id}" data-quantity inputmode="decimal" autocomplete="off" value="${shown(own.value, unit)}" aria-describedby="${told}">
      <select data-unit="${own.measure}" aria-label="Unit of ${label.toLowerCase()}">${options(UNITS[own.measure].map((one) => [one, one]), unit)}</select>
      <output for="${id}"></output></span>${tail}</div>`;
  }
  const box = kind === 'choice' ? html`<select id="${id}" aria-describedby="${told}">${own.required && own.value !== undefined ? '' : html`<option value=""></option>`}${options(own.options, own.value)}</select>`
    : kind === 'area' ? html`<textarea id="${id}" rows="3" maxlength="${own.most ?? 1000}" aria-describedby="${told}">${own.value ?? ''}</textarea>`
      : html`<input id="${id}" type="${{ date: 'date', time: 'time', whole: 'number', email: 'email' }[kind] ?? 'text'}" value="${own.value ?? ''}" autocomplete="off" aria-describedby="${told}"${own.max ? html` max="${own.max}"` : ''}>`;
  return html`<div class="field" data-field="${name}"><label for="${id}">${name_}</label>${box}${tail}</div>`;
}

/** What changed between two sets of values, for a PATCH. */
export function changed(values, before) {
  return Object.fromEntries(Object.entries(values)
    .filter(([name, value]) => JSON.stringify(value ?? null) !== JSON.stringify(before[name] ?? null)));
}
