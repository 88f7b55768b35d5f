import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { test } from 'node:test';

import { dateWords, LANGUAGES, say, speak } from '../../web/phone/words.js';
import { PLACES } from '../../web/shared/places.js';

const PHONE = new URL('../../web/phone/', import.meta.url);
const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url))).rules;
const load = async (name) => (await import(new URL(`words/${name}.js`, PHONE))).default;
const en = await load('en');
const others = Object.keys(LANGUAGES).filter((name) => name !== 'en');

const scripts = (folder) => readdirSync(new URL(folder, PHONE), { recursive: true })
  .filter((file) => file.endsWith('.js') && !file.startsWith('words/'));
const source = scripts('.').map((file) => readFileSync(new URL(file, PHONE), 'utf8')).join('\n');

const holes = (words) => [...new Set(JSON.stringify(words).match(/\{\w+\}/g) ?? [])].sort().join(' ');

for (const name of others) {
  test(`no string is missing in ${LANGUAGES[name]}, and none is left over`, async () => {
    const words = await load(name);
    const advice = RULES.flatMap((rule) => Object.keys(rule.text.en).map((part) => `advice.${rule.id}.${part}`));
    assert.deepEqual(Object.keys(words).sort(), [...Object.keys(en), ...advice].sort());
  });

  test(`every string in ${LANGUAGES[name]} has the same things to fill in`, async () => {
    const words = await load(name);
    const wrong = Object.keys(en)
      .filter((key) => holes(words[key]).replace('{n}', '').trim() !== holes(en[key]).replace('{n}', '').trim());
    assert.deepEqual(wrong, []);
  });

  test(`plurals in ${LANGUAGES[name]} have every form the language asks for`, async () => {
    const words = await load(name);
    const forms = new Intl.PluralRules(name).resolvedOptions()
      .pluralCategories.filter((form) => form !== 'many' || name === 'ar').sort();
    for (const [key, value] of Object.entries(words)) {
      if (typeof en[key] === 'object') assert.deepEqual(Object.keys(value).sort(), forms, key);
    }
  });
}

test('every key the app speaks by name is in the catalogue', () => {
  const said = [...source.matchAll(/\bsay\(\s*'([\w.-]+)'/g)].map((found) => found[1]);
  assert.ok(said.length > 100);
  assert.deepEqual([...new Set(said)].filter((key) => !(key in en)), []);
});

test('every key in the catalogue is spoken somewhere, by name or by its stem', () => {
  const stems = [...source.matchAll(/`([\w.]+\.)\$\{/g)].map((found) => found[1]);
  const byTheServer = ['remind.body']; // in the push, which no page has to run for
  const spoken = (key) => byTheServer.includes(key) || source.includes(`'${key}'`) || stems.some((stem) => key.startsWith(stem)) || /\.(limb|child|of_child|of)$/.test(key);
  assert.deepEqual(Object.keys(en).filter((key) => !spoken(key)), []);
});

test('every place, sign, finding and tag of the wire has words', () => {
  const places = Object.values(PLACES).flat().map((place) => `place.${place}`);
  assert.deepEqual(places.filter((key) => !(key in en)), []);
});

test('numbers and plurals are the language’s own', async () => {
  await speak('de');
  assert.match(say('outbox.waiting', { n: 1 }), /^1 Eintrag /);
  assert.match(say('outbox.waiting', { n: 1200 }), /^1\.200 Einträge /);
  await speak('ar');
  const forms = [1, 2, 3, 11, 100].map((n) => say('outbox.waiting', { n }));
  assert.equal(new Set(forms.map((form) => form.replace(/[\d٠-٩]+/g, ''))).size, 5);
  await speak('en');
});

test('a sock of one ply is not spoken of as several', async () => {
  const said = {};
  for (const name of Object.keys(LANGUAGES)) {
    await speak(name);
    said[name] = [1, 2, 3].map((n) => say('ply', { n }));
  }
  assert.deepEqual(said.de, ['1 Lage', '2 Lagen', '3 Lagen']);
  assert.deepEqual(said.ar.map((words) => words.split(' ').slice(1).join(' ')), ['طبقة واحدة', 'طبقتين', '3 طبقات']);
  assert.deepEqual([said.en[0], said.es[0]], ['1‑ply', 'Calceta de 1']);
  await speak('en');
});

test('no line breaks between the day of the month and what belongs to it', async () => {
  for (const name of Object.keys(LANGUAGES)) {
    await speak(name);
    const date = dateWords(new Date(2026, 10, 26, 12), { weekday: 'long', day: 'numeric', month: 'long' });
    assert.doesNotMatch(date, /26\.? |26\S* de /, `${name}: ${date}`);
  }
  await speak('en');
});
