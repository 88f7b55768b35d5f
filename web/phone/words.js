/** Words by key, in the language chosen. Plurals and numbers are the platform's own (Intl). */

import en from './words/en.js';

export const LANGUAGES = { en: 'English', es: 'Español', de: 'Deutsch', ar: 'العربية' };

// Making a formatter costs a slow phone more than using it a hundred times.
const made = new Map();

function formatter(Kind, options, where = language) {
  const key = `${Kind.name} ${where} ${JSON.stringify(options ?? {})}`;
  if (!made.has(key)) made.set(key, new Kind(where, options));
  return made.get(key);
}

let language = 'en';
let catalogue = en;

export const languageNow = () => language;
export const directionNow = () => say('language.direction');

export async function speak(wanted) {
  const known = Object.hasOwn(LANGUAGES, wanted) ? wanted : 'en';
  catalogue = known === 'en' ? en : (await import(`./words/${known}.js`)).default;
  language = known;
}

export const has = (key) => key in catalogue || key in en;

/** The words of a key. {name} is filled in; a value with plural forms is chosen by `n`. */
export function say(key, fill = {}) {
  let words = catalogue[key] ?? en[key] ?? key;
  if (typeof words === 'object') words = words[formatter(Intl.PluralRules).select(fill.n ?? 0)] ?? words.other;
  return words.replace(/\{(\w+)\}/g, (_, name) => {
    const value = fill[name];
    return typeof value === 'number' ? number(value) : value ?? '';
  });
}

export const number = (value, options) => formatter(Intl.NumberFormat, options).format(value);

export const list = (items) => formatter(Intl.ListFormat, { type: 'conjunction' }).format(items);

export const either = (items) => formatter(Intl.ListFormat, { type: 'disjunction' }).format(items);

/** Dates as the reader's own region writes them, where the phone names one for this language; English without one is British. */
export const dateWords = (day, options) => together(formatter(Intl.DateTimeFormat, options, regional()).format(day));

/** "26 November" stays on one line. */
const together = (date) => date.replace(/(\d\.?) (de )?/g, (_, day, of) => `${day}\u00a0${of ? 'de\u00a0' : ''}`);

function regional() {
  const own = globalThis.navigator?.languages?.find((one) => one.startsWith(`${language}-`));
  return language !== 'en' ? language : own ?? 'en-GB';
}
