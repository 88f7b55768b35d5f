import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { test } from 'node:test';
import { fileURLToPath } from 'node:url';

import { ago, ahead } from '../../web/clinic/when.js';
import { byPlace, bodyMap } from '../../web/clinic/ui/bodymap.js';
import { comfortPlot, eventsPlot } from '../../web/clinic/ui/plots.js';

const CLINIC = fileURLToPath(new URL('../../web/clinic/', import.meta.url));
const NOUNS = 'days|weeks|months|years|rows|times|limbs|visits|entries|check-ins|places|minutes|hours|falls|people|photos|signals';
/** A figure before a noun that stands in the plural whatever the figure is. */
const FIXED = new RegExp(String.raw`\$\{([^{}]*)\}(?:</b>|</strong>)? (?:logged |more )?(?:${NOUNS})\b`, 'g');
/** Figures that are never one: constants, spans the engine fixes, shares of a whole ("3 of 20 days"). */
const NEVER_ONE = [/WEEKS|DAYS|\bweeks$/, /^silent$/, /at30\.days/, /^one$/, /^strip\.mm\.length$/, /toFixed|^one\(mean/, /^looked$/];

const files = readdirSync(CLINIC, { recursive: true }).filter((name) => name.endsWith('.js'));

test('no count stands before a plural it cannot be sure of', () => {
  const found = files.flatMap((name) => readFileSync(CLINIC + name, 'utf8').split('\n').flatMap((line) =>
    [...line.matchAll(FIXED)].filter(([, figure]) => !/^many\(/.test(figure) && !NEVER_ONE.some((known) => known.test(figure)))
      .map(([text]) => `${name}: ${text}`)));
  assert.deepEqual(found, []);
});

test('one month is one month, and one day one day', () => {
  for (let days = 0; days < 800; days += 1) {
    for (const words of [ago(days), ahead(days)]) assert.doesNotMatch(words, /\b1 (days|weeks|months|years)\b/);
  }
});

const line = (more) => ({ date: '2026-11-01', day: 20758, skin: [], looked: true, comfort: 7, falls: null, tags: [], ...more });

test('a log of one day is told in the singular', () => {
  const one = [line({ skin: [{ place: 'limb_end', finding: 'blister', redness_minutes: null }], falls: 1 })];
  const story = { sockets: [] };
  const said = [comfortPlot(story, one).says, eventsPlot(story, one).says, eventsPlot(story, [line()]).says,
    String(bodyMap({ side: 'left', level: 'transtibial' }, one, 6)), String(bodyMap({ side: 'left', level: 'transtibial' }, [line()], 6))];
  assert.equal(byPlace(one)[0].days.length, 1);
  for (const words of said) assert.doesNotMatch(words, /\b1 (logged )?days\b/);
});
