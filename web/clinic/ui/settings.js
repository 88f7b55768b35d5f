/** The clinic's own limits and words. Each limit shows where its default comes from. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { LIMITS } from '../limits.js';

const ABOUT = [['phone', 'Telephone the phones show', 'tel'], ['emergency_number', 'Emergency number', 'tel'], ['mail', 'Urgent signals go by mail to', 'email']];

export async function show(root, { context }) {
  const found = await api.settings();
  render(root, page(found, context.staff.role === 'manager'));
  on(root, 'submit', 'form', async (form, event) => {
    event.preventDefault();
    const problem = form.querySelector('.problem');
    problem.hidden = true;
    for (const box of form.querySelectorAll('[aria-invalid]')) box.removeAttribute('aria-invalid');
    const thresholds = {};
    const faults = [];
    for (const [name, one] of Object.entries(found.thresholds)) {
      const text = form.elements[`threshold-${name}`].value.trim().replace(',', '.');
      const value = text === '' ? null : Number(text);
      if (Number.isNaN(value)) faults.push([name, 'This must be a number.']);
      else if ((value ?? one.default) !== one.value) thresholds[name] = value === one.default ? null : value;
    }
    if (faults.length) return tell(faults);
    try {
      const about = Object.fromEntries(ABOUT.map(([name]) => [name, form.elements[name].value.trim() || null]).filter(([name, value]) => value !== (found[name] ?? null)));
      await api.changeSettings({ ...about, ...(Object.keys(thresholds).length ? { thresholds } : {}) });
      context.say('Kept. Every limb is read again by the new limits.');
      context.again();
    } catch (fault) {
      tell(Object.entries(fault.fields ?? {}).map(([name, words]) => [name.replace(/^thresholds\./, ''), words.join(' ')]), fault.message);
    }

    function tell(list, message = 'Some limits need another look.') {
      for (const [name, words] of list) {
        const box = form.elements[`threshold-${name}`];
        box?.setAttribute('aria-invalid', 'true');
        const place = form.querySelector(`#fault-${CSS.escape(name)}`);
        if (place) place.textContent = words;
        else message += ` ${words}`;
      }
      problem.textContent = message;
      problem.hidden = false;
      (form.querySelector('[aria-invalid]') ?? problem).focus?.();
    }
  });
  return { title: 'Clinic' };
}

function page(found, manages) {
  return html`<div class="page settings"><header class="page-head"><h1>The clinic</h1><span class="buttons"><a class="second" href="#/me">My sign-in</a><a class="second" href="#/staff">Staff</a>${manages ? html`<a class="second" href="#/audit">Who read or wrote what</a>` : ''}</span></header>
    <form novalidate><p class="problem" role="alert" hidden></p>
      <section><h2>How to reach it</h2><div class="in-line">${ABOUT.map(([name, words, type]) => html`<div class="field"><label for="about-${name}">${words}</label>
        <input id="about-${name}" name="${name}" type="${type}" value="${found[name] ?? ''}" autocomplete="off"></div>`)}</div>
        <p class="hint">Mail says that something is waiting and where, never whose or what.</p></section>
      <section><h2>Limits</h2><p class="hint">What makes a signal, and when. An empty box takes the default. Most limits are a judgement; the source says so.</p>
      <ul class="limits">${Object.entries(found.thresholds).map(([name, one]) => limit(name, one))}</ul></section>
      <p class="buttons"><button class="main">Keep</button></p></form></div>`;
}

function limit(name, one) {
  const [words, unit, source] = LIMITS[name] ?? [name, '', ''];
  return html`<li><label for="threshold-${name}">${words}</label>
    <span class="with-unit"><input id="threshold-${name}" name="threshold-${name}" inputmode="decimal" autocomplete="off" value="${one.value}" aria-describedby="about-${name} fault-${name}"> ${unit}</span>
    <span class="hint" id="about-${name}">${one.own ? html`<strong>own</strong>, ` : ''}default ${one.default}, from ${one.low} to ${one.high}. ${source}</span><span class="fault" id="fault-${name}"></span></li>`;
}
