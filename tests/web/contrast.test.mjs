import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { test } from 'node:test';

const WEB = new URL('../../web/', import.meta.url);
const sheet = (name) => readFileSync(new URL(name, WEB), 'utf8').replace(/\/\*[\s\S]*?\*\//g, '');
const tokens = sheet('shared/tokens.css');
const [light, dark] = tokens.split('@media (prefers-color-scheme: dark)')
  .map((part) => Object.fromEntries([...part.matchAll(/--([\w-]+): (#[0-9a-f]{6})/g)].map(([, name, hex]) => [name, hex])));
const themes = { light, dark: { ...light, ...dark } };

/** WCAG 2.2, relative luminance and contrast ratio. */
const channel = (value) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
const luminance = (hex) => [1, 3, 5].map((at) => channel(parseInt(hex.slice(at, at + 2), 16) / 255))
  .reduce((sum, one, i) => sum + one * [0.2126, 0.7152, 0.0722][i], 0);
const contrast = (a, b) => {
  const [low, high] = [luminance(a), luminance(b)].sort((one, other) => one - other);
  return (high + 0.05) / (low + 0.05);
};

test('the formula says what its definition says', () => {
  assert.equal(contrast('#000000', '#ffffff'), 21);
  assert.ok(Math.abs(contrast('#767676', '#ffffff') - 4.54) < 0.01);
});

const BORDERS = ['edge', 'teal', 'alert', 'c1', 'c2', 'c3', 'c4', 'c5', 'c6'];
for (const [name, colours] of Object.entries(themes)) {
  test(`what a control is edged with stands out 3 to 1 from each ground, ${name}`, () => {
    const weak = BORDERS.flatMap((border) => ['paper', 'card', 'wash', 'teal-wash'].map((ground) =>
      [border, ground, contrast(colours[border], colours[ground])])).filter(([, , ratio]) => ratio < 3);
    assert.deepEqual(weak.map(([border, ground, ratio]) => `${border} on ${ground}: ${ratio.toFixed(2)}`), []);
  });
}

test('no control of the phone is edged with the colour of mere lines', () => {
  const controls = /(?:^|[\s,])(?:button|input|textarea|select|details|\.(?:key|primary|secondary|help|dial|band|alarm|sock|gauge-row))(?=[\s,.:[]|$)/;
  const wrong = readdirSync(new URL('phone/css/', WEB)).flatMap((file) =>
    [...sheet(`phone/css/${file}`).matchAll(/([^{}]+)\{([^{}]*)\}/g)].filter(([, selector, body]) => controls.test(selector.trim()) && /border(?:-color)?: [^;]*var\(--line\)/.test(body)).map(([, selector]) => `${file}: ${selector.trim()}`));
  assert.deepEqual(wrong, []);
});
