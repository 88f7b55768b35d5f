/** What is said to a caregiver is said of the one they care for, by name; and every number a card speaks of has a
 *  key. */

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { adviceCard } from '../../web/phone/ui/advice.js';
import { cardsFor, tipWords } from '../../web/phone/ui/cards.js';
import { helpScreen } from '../../web/phone/ui/help.js';
import { LANGUAGES, speak } from '../../web/phone/words.js';

const FILE = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));
const HOURS = [{ days: [1, 2, 3, 4, 5, 6, 7], from: '00:00', to: '23:59' }];
const CLINIC = { name: 'Tide', contact: { phone: '555 0100', hours: HOURS, emergency_number: '112' } };
const PERSON = { id: 'p', name: 'Isla Marchbank', born_on: '2017-01-01', tags: ['heart_failure', 'blood_thinners', 'diabetes'], limbs: [{ id: 'a', sockets: [] }], account: {}, contacts: {} };
const view = (role, more = {}) => ({ role, person: PERSON, clinic: CLINIC, now: new Date('2025-09-15T10:00Z'),
  today: '2025-09-15', rules: FILE, unit: 'kg', people: [PERSON], notices: [], ...more });

/** Words of somebody's own body, or of what happened to them; "your clinic" is the caregiver's too. */
const OWN = {
  en: /\byour\b(?! clinic| own clinic| doctor)|(?<!told )\byou\b(?! put it| may)|(?<!clinic )told you\b(?! to)/iu,
  es: /\bsu\b(?! clínica| médico)|\bsus\b|usted|\bse (cayó|golpeó)|llevarlo mucho/iu,
  de: /\b(Ihr|Ihre|Ihren|Ihres|Ihrem|Ihrer)\b(?! Klinik)|Sie sind gestürzt|Sie gestürzt|Sie können|wenn Sie schwitzen|fühlen Sie hier|Setzen Sie sich/u,
  ar: /طرفك|جرحك|وزنك|قلبك|قدمك|جواربك|سقطت|رأسك|ساقك|عضوك|تعرقت|تشعر|خطتك|سجلك|لا تمشِ|اجلس/u,
};
const plain = (page) => String(page).replace(/<svg[\s\S]*?<\/svg>/g, '').replace(/<[^>]+>/g, ' ').replace(/&#39;/g, '’');
const advice = (rule) => ({ id: rule.id, level: rule.level, text: rule.text, calls: rule.calls,
  clinic: { status: 'seen', on: '2025-09-14', answer: '' } });
const EMERGENCY = { en: /emergency number/i, es: /emergencias/i, de: /Notruf/, ar: /الطوارئ/ };

for (const name of Object.keys(LANGUAGES)) {
  test(`no rule speaks to a caregiver of their own body, and each says whom it is about (${name})`, async () => {
    await speak(name);
    for (const rule of FILE.rules) {
      const said = plain(adviceCard(view('caregiver'), [advice(rule)]));
      assert.doesNotMatch(said, OWN[name], `${rule.id}: ${said}`);
      assert.match(said, /Isla/, rule.id);
      assert.doesNotMatch(said, /Marchbank|\{name\}/, rule.id);
      assert.doesNotMatch(plain(adviceCard(view('wearer'), [advice(rule)])), /Isla|\{/, rule.id);
    }
    await speak('en');
  });

  test(`nor does a tip, a card or Help (${name})`, async () => {
    await speak(name);
    const days = Array.from({ length: 10 }, (_, i) => `2025-09-${10 + i}`);
    const fresh = { sockets: [{ fitted_on: '2025-09-10', retired_on: null, wear_schedule: [{ day: 1, hours: 2 }] }] };
    const told = (role) => [
      ...days.map((today) => tipWords(view(role, { today, careful: false }))),
      ...days.map((today) => tipWords(view(role, { today, careful: true }))),
      plain(cardsFor(view(role, { careful: true, standing: {}, settings: {} }), fresh).join(' ')),
      plain(helpScreen(view(role))),
    ];
    for (const said of told('caregiver')) assert.doesNotMatch(said, OWN[name], said);
    assert.match(told('caregiver').at(-2), /Isla/);
    for (const said of told('wearer')) assert.doesNotMatch(said, /Isla|\{/, said);
    await speak('en');
  });

  test(`a card that speaks of the emergency number has its key while the clinic is open (${name})`, async () => {
    await speak(name);
    for (const role of ['wearer', 'caregiver']) {
      for (const rule of FILE.rules) {
        const card = String(adviceCard(view(role), [advice(rule)]));
        assert.equal(card.includes('tel:112'), EMERGENCY[name].test(plain(card).replace('112', '')), `${rule.id} ${role}`);
      }
    }
    await speak('en');
  });
}

test('each rule to stop the wear says what to use meanwhile, the shrinker too', async () => {
  const { default: words } = await import('../../web/phone/words/de.js');
  for (const rule of FILE.rules.filter((one) => one.level === 'stop_wear')) {
    assert.match(rule.text.en.do, /crutches or a wheelchair/, rule.id);
    assert.match(rule.text.en.do, /shrinker/, rule.id);
    assert.match(words[`advice.${rule.id}.do`], /Krücken.*Kompression/, rule.id);
  }
});

/** Words in which somebody speaks of their own limb; who looks at the skin and found something may be the caregiver. */
const FIRST = {
  en: /\b(I|my|me|mine)\b/u, es: /\b(yo|me|mi|mis|hundo|entro|siento|tengo)\b/iu, de: /\b(ich|mir|mich|mein\w*)\b/iu,
  ar: /أغوص|أستطيع|أشعر|عندي|لدي|جواربي|طرفي/u,
};

for (const name of Object.keys(LANGUAGES)) {
  test(`a sign is named for whoever taps it, and the drawer is nobody's (${name})`, async () => {
    const { default: words } = await import(`../../web/phone/words/${name}.js`);
    const signs = Object.keys(words).filter((key) => key.startsWith('sign.'));
    assert.ok(signs.length > 20);
    for (const key of [...signs, 'drawer.open']) assert.doesNotMatch(words[key], FIRST[name], key);
  });
}
