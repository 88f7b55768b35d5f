/** The clinic's own limits and words, how it is reached, and who agreed to the safety rules. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { LIMITS } from '../limits.js';
import { instant } from '../when.js';
import { many } from '../words.js';
import { closedDay, hoursFields, readHours, sameHours } from './hours.js';
import { learntFrom } from './learnt.js';
import { safetyRules } from './safety-rules.js';

const ABOUT = [['phone', 'Telephone the phones show', 'tel'], ['out_of_hours_phone', 'Out-of-hours number', 'tel'],
  ['emergency_number', 'Emergency number', 'tel'], ['mail', 'Urgent signals go by mail to', 'email']];

const MONTHS = [['recall_months', 'Months between visits'], ['child_recall_months', 'And of a growing child']];

export async function show(root, { query, context }) {
  const [found, rules] = await Promise.all([api.settings(), api.safetyRules()]);
  const role = context.staff.role;
  render(root, page(found, rules, role));
  on(root, 'click', '[data-do=add-closed]', (button) => {
    const place = button.parentElement.querySelector('.dates');
    place.insertAdjacentHTML('beforeend', closedDay().toString());
    place.lastElementChild.focus();
  });
  const shown = { ...found,
    thresholds: Object.fromEntries(Object.entries(found.thresholds).map(([name, one]) => [name, one.value])) };
  on(root, 'submit', '.limits-form', async (form, event) => {
    event.preventDefault();
    clear(form);
    const { thresholds, faults } = readLimits(form, found);
    const { hours, closed_on, zone, faults: wrong } = readHours(form);
    if (faults.length || wrong.length) return tell(form, [...faults, ...wrong]);
    const about = Object.fromEntries(ABOUT.map(([name]) => [name, form.elements[name].value.trim() || null])
      .filter(([name, value]) => value !== (found[name] ?? null)));
    if (!sameHours(hours, found.hours)) about.hours = hours;
    if (closed_on.join() !== [...found.closed_on].sort().join()) about.closed_on = closed_on;
    if (zone !== (found.zone ?? null)) about.zone = zone;
    for (const name of ['recall_months', 'child_recall_months']) {
      const months = form.elements[name].value.trim() ? Number(form.elements[name].value) : null;
      if (months !== (found[name] ?? null)) about[name] = months;
    }
    const chairs = form.elements.chairs.value.split(',').map((one) => one.trim()).filter(Boolean);
    if (chairs.join() !== found.chairs.join()) about.chairs = chairs;
    if (form.elements.learn_from_own_limbs.checked !== found.learn_from_own_limbs) about.learn_from_own_limbs =
      !found.learn_from_own_limbs;
    const limits = Object.keys(thresholds).length ? { thresholds } : {};
    try {
      await api.changeSettings({ ...about, ...limits }, shown);
      context.say(limits.thresholds || 'learn_from_own_limbs' in about ? 'Kept. Every limb is read again by it.' : 'Kept.');
      context.again();
    } catch (fault) {
      tell(form, Object.entries(fault.fields ?? {}).map(([name, words]) => [fieldOf(name), words.join(' ')]),
        fault.message);
    }
  });
  on(root, 'submit', '.agree', async (form, event) => {
    event.preventDefault();
    clear(form);
    const physician = form.elements.physician.value.trim();
    if (!physician) return tell(form, [['physician', 'A name is needed.']], 'Who agreed is not said.');
    try {
      await api.agreeToRules({ physician, sha256: rules.sha256 });
      context.say('The agreement is recorded.');
      context.again();
    } catch (fault) {
      tell(form, Object.entries(fault.fields ?? {}).map(([name, words]) => [name, words.join(' ')]), fault.message);
    }
  });
  return { title: 'Clinic', ready: () => query.part === 'safety-rules' && root.querySelector('#safety-rules').scrollIntoView() };
}

/** The box a fault of the server is about: thresholds by name, hours and closed days as one. */
const fieldOf = (name) => name.replace(/^thresholds\./, '').replace(/[[.].*$/, '');

function readLimits(form, found) {
  const thresholds = {};
  const faults = [];
  for (const [name, one] of Object.entries(found.thresholds)) {
    const text = form.elements[`threshold-${name}`].value.trim().replace(',', '.');
    const value = text === '' ? null : Number(text);
    if (Number.isNaN(value)) faults.push([name, 'This must be a number.']);
    else if ((value ?? one.default) !== one.value) thresholds[name] = value === one.default ? null : value;
  }
  return { thresholds, faults };
}

function clear(form) {
  form.querySelector('.problem').hidden = true;
  for (const box of form.querySelectorAll('[aria-invalid]')) box.removeAttribute('aria-invalid');
  for (const place of form.querySelectorAll('.fault')) place.textContent = '';
}

function tell(form, list, message = 'Some fields need another look.') {
  const problem = form.querySelector('.problem');
  for (const [name, words] of list) {
    const box = form.elements[`threshold-${name}`] ?? form.elements[name] ?? form.elements[`${name}-0-from`];
    if (box?.setAttribute) box.setAttribute('aria-invalid', 'true');
    const place = form.querySelector(`#fault-${CSS.escape(name)}`);
    if (place) place.textContent = words;
    else message += ` ${words}`;
  }
  problem.textContent = message;
  problem.hidden = false;
  (form.querySelector('[aria-invalid]') ?? problem).focus?.();
}

function page(found, rules, role) {
  return html`<div class="page settings"><header class="page-head"><h1>The clinic</h1><span class="buttons"><a class="second" href="#/me">My sign-in</a><a class="second" href="#/staff">Staff</a>
      <a class="second" href="#/letter-templates">Letters</a><a class="second" href="#/making-lists">Steps of making</a><a class="second" href="#/stock">Stock</a><a class="second" href="#/own-record">Our own record</a>${role === 'manager' ? html`<a class="second" href="#/audit">Who read or wrote what</a>` : ''}</span></header>
    ${room(found.room ?? [])}${failing(found.failing ?? [])}
    <form class="limits-form" novalidate><p class="problem" role="alert" hidden></p>
      <section><h2>How to reach it</h2><div class="in-line reach">${ABOUT.map(([name, words, type]) => html`<div class="field"><label for="about-${name}">${words}</label>
        <input id="about-${name}" name="${name}" type="${type}" value="${found[name] ?? ''}" autocomplete="off" aria-describedby="fault-${name}"><span class="fault" id="fault-${name}"></span></div>`)}</div>
        <p class="hint">The phones show the numbers and the hours. Mail says that something is waiting and where, never whose or what.</p>
        ${hoursFields(found)}
        <div class="in-line">${MONTHS.map(([name, words]) => html`<div class="field"><label for="about-${name}">${words}</label><input id="about-${name}" name="${name}" type="number" min="1" max="60" value="${found[name] ?? ''}" aria-describedby="fault-${name}"><span class="fault" id="fault-${name}"></span></div>`)}</div>
        <p class="hint">Whoever has no visit for so long comes up on the list. Left empty, nobody does.</p>
        <div class="field"><label for="about-chairs">Chairs or rooms</label><input id="about-chairs" name="chairs" value="${found.chairs.join(', ')}" autocomplete="off" aria-describedby="hint-chairs fault-chairs">
          <span class="hint" id="hint-chairs">With a comma between, such as: Room 1, Room 2. So many visits can be at once; without any, one.</span><span class="fault" id="fault-chairs"></span></div></section>
      <section><h2>Limits</h2><p class="hint">What makes a signal, and when. An empty box takes the default. Most limits are a judgement; the source says so.</p>
      <ul class="limits">${Object.entries(found.thresholds).map(([name, one]) => limit(name, one))}</ul></section>
      ${learntFrom(found)}
      <p class="buttons"><button class="main">Keep</button></p></form>
    ${safetyRules(rules, role !== 'assistant')}</div>`;
}

const AFFECTED = {
  mail: (one) => html`Mail to <strong>${one.to}</strong>`,
  reminder: () => html`A phone’s reminder`,
  limb: (one) => html`The reading of <a href="#/limbs/${one.limb_id}">one limb</a>`,
};

/** What runs short on the server, said before anything stops. */
const room = (list) => (list.length ? html`<section class="failing" aria-labelledby="room-head"><h2 id="room-head">Room on the server</h2>
    ${list.map((said) => html`<p>${said}</p>`)}<p class="hint">Check-ins are the last to stop. Whoever runs the server can make room.</p></section>` : '');

/** What the server could not do, by itself and since when; it tries again on its own. */
function failing(list) {
  if (!list.length) return '';
  return html`<section class="failing" aria-labelledby="failing-head"><h2 id="failing-head">What fails</h2>
    <ul>${list.map((one) => html`<li>${AFFECTED[one.what](one)} has failed since ${instant(one.since)}, ${one.tries === 1 ? 'once' : many(one.tries, 'time')}. ${one.why} Next try ${instant(one.again_at)}.</li>`)}</ul>
    <p class="hint">Nothing else waits for these. A wrong address is put right below, or by whose it is under My sign-in.</p></section>`;
}

function limit(name, one) {
  const [words, unit, source] = LIMITS[name] ?? [name, '', ''];
  return html`<li><label for="threshold-${name}">${words}</label>
    <span class="with-unit"><input id="threshold-${name}" name="threshold-${name}" inputmode="decimal" autocomplete="off" value="${one.value}" aria-describedby="about-${name} fault-${name}"> ${unit}</span>
    <span class="hint" id="about-${name}">${one.own ? html`<strong>own</strong>, ` : ''}default ${one.default}, from ${one.low} to ${one.high}. ${source}</span><span class="fault" id="fault-${name}"></span></li>`;
}
