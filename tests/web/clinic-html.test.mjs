import assert from 'node:assert/strict';
import { test } from 'node:test';

import { html } from '../../web/shared/html.js';

test('what people wrote is escaped, our own markup is not, nothing is empty', () => {
  const name = '<img src=x onerror="1">\'&';
  assert.equal(String(html`<b>${name}</b>`), '<b>&lt;img src=x onerror=&quot;1&quot;&gt;&#39;&amp;</b>');
  assert.equal(String(html`${[html`<i>1</i>`, 2, null, false, undefined]}`), '<i>1</i>2');
  assert.equal(String(html`${0}`), '0');
});
