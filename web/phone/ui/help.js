/** Help, in the same place on every screen: when to call whom. Told from the same rules as the advice, so the two can't
 *  disagree. Works without a network.
 */

import { html } from '../../shared/html.js';
import { rednessLimit } from '../../shared/safety.js';
import { fromKg } from '../weight.js';
import { ageOn } from '../when.js';
import { either, list, number, say } from '../words.js';
import { shapeOf, ways, wordsOf } from './advice.js';
import { frame } from './frame.js';
import { nameOf, sayOf } from './phrases.js';

const LEVELS = ['emergency', 'stop_wear', 'heart_team', 'call_clinic'];
const ALWAYS = ['']; // a condition that holds for this person, and needs no words

/** What makes a rule fire for this person, a phrase for each way; none where it can't. */
export function causes(when, who) {
  const [[name, value]] = Object.entries(when);
  switch (name) {
    case 'any': return anyOf(value.flatMap((inner) => causes(inner, who)));
    case 'all': return together(value.map((inner) => causes(inner, who)));
    case 'finding': case 'sign': return [say(`${name}.${value}`)];
    case 'profile': return who.tags.includes(value) ? ALWAYS : [];
    case 'child': return who.child === value ? ALWAYS : [];
    case 'redness_over': return [say('help.redness', { n: value === 'clinic' ? rednessLimit(who) : value })];
    case 'pain_at_least': return [say('help.pain', { n: value })];
    case 'comfort_at_most': return [say('help.comfort', { n: value })];
    case 'falls_at_least': return [say('help.fall')];
    case 'weight_gain': return [say('help.weight', { kg: `${number(fromKg(value.kg, who.unit))} ${who.unit}`, n: value.days })];
    default: throw new Error(`help: there are no words for ${name}`);
  }
}

const anyOf = (told) => (told.includes('') ? ALWAYS : [...new Set(told)]);

function together(parts) {
  if (parts.some((part) => !part.length)) return [];
  const told = parts.map((part) => part.filter(Boolean)).filter((part) => part.length);
  if (!told.length) return ALWAYS;
  return told.length === 1 ? told[0] : [told.map(either).reduce((first, second) => say('help.with', { first, second }))];
}

/** By what to do: the rules of a level that say the same are told once, and no cause twice. */
export function helpOf(rules, who) {
  const told = new Set();
  return LEVELS.map((level) => {
    const groups = new Map();
    for (const rule of rules.filter((one) => one.level === level)) {
      const own = causes(rule.when, who).filter((cause) => cause && !told.has(cause));
      own.forEach((cause) => told.add(cause));
      const text = wordsOf(rule, 'do', who.name);
      if (own.length) groups.set(text, [...(groups.get(text) ?? []), ...own]);
    }
    return { level, groups: [...groups].map(([text, own]) => ({ text, causes: own })) };
  }).filter(({ groups }) => groups.length);
}

export function helpScreen(view) {
  const { person, clinic } = view;
  const who = {
    tags: person?.tags ?? [], child: (ageOn(person?.born_on, view.today) ?? 99) < 18,
    redness_minutes: clinic?.redness_minutes, unit: view.unit, name: nameOf(view),
  };
  const used = new Set();
  const whom = (level) => {
    const { above, below } = ways([level], view, used);
    return html`${above}${below}`;
  };
  return frame(view, {
    title: say('help.title'),
    back: 'help.close',
    body: html`
      ${helpOf(view.rules?.rules ?? [], who).map(({ level, groups }) => html`<section class="advice ${level}" id="help-${level}">
        <h2>${shapeOf(level)}${sayOf(view, `help.${level}`)}</h2>
        ${whom(level)}
        <ul>${groups.flatMap(({ causes: own }) => own).map((cause) => html`<li>${cause}</li>`)}</ul>
        <details id="do-${level}"><summary>${say('help.what_to_do')}</summary>
          ${groups.map(({ text, causes: own }) => html`<p><strong>${list(own)}.</strong> ${text}</p>`)}</details></section>`)}
      ${view.rules ? '' : html`<section class="advice emergency">${whom('emergency')}${whom('call_clinic')}</section>`}
      ${numbers(view, used)}
      <section><h2>${say('help.use')}</h2><p>${say('help.use_text')}</p><p>${say('advice.unread')}</p></section>`,
  });
}

/** Numbers kept for this person that no section above has a key for. */
function numbers(view, used) {
  const { heart_team_phone: heart, kidney_team_phone: kidney } = view.person?.contacts ?? {};
  const left = [heart && 'heart_team', kidney && 'kidney_team'].filter(Boolean).map((team) => ways([team], view, used)).filter((one) => one.some);
  return left.length ? html`<section><h2>${say('help.numbers')}</h2>${left.map((one) => one.above)}</section>` : '';
}
