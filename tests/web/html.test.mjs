import assert from 'node:assert/strict';
import { test } from 'node:test';

import { html } from '../../web/shared/html.js';

test('what is put in is escaped, also inside an attribute', () => {
  const name = `"><script>alert('x')</script>&`;
  assert.equal(String(html`<p title="${name}">${name}</p>`).includes('<script>'), false);
  assert.equal(String(html`${name}`), '&quot;&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;');
});

test('markup of ours and lists of it pass as they are', () => {
  assert.equal(String(html`<ul>${['a', '<'].map((one) => html`<li>${one}</li>`)}</ul>`), '<ul><li>a</li><li>&lt;</li></ul>');
});

test('nothing is shown for nothing, and a zero is shown', () => {
  assert.equal(String(html`${null}${undefined}${false}${0}`), '0');
});
