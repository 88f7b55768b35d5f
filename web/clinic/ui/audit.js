/** Who read or wrote what, newest first: for a manager. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { instant } from '../when.js';

export async function show(root, { query }) {
  let lines = [];
  let next = null;
  const fetchMore = async () => {
    const page = await api.audit({ subject: query.subject, next });
    lines = [...lines, ...page.lines];
    next = page.next;
  };
  await fetchMore();

  function draw() {
    render(root, html`<div class="page"><p class="crumb"><a href="#/settings">Clinic</a></p><header class="page-head"><h1>Who read or wrote what</h1></header>
      <p class="intro">Every line is bound to the one before it, so that none can be changed or taken out unseen.</p>
      <div class="table tall audit" tabindex="0" role="region" aria-label="Record of reads and writes"><table><thead><tr><th scope="col">When</th><th scope="col">Who</th><th scope="col">What</th><th scope="col">Of whom or what</th></tr></thead>
      <tbody>${lines.map((line) => html`<tr><td>${instant(line.at)}</td><td>${line.name}${line.device ? html` <span class="hint">${line.device}</span>` : ''}</td>
        <td>${deed(line.what)}${line.detail ? html` <span class="hint">${line.detail}</span>` : ''}</td>
        <td>${line.person_id ? html`<a href="#/people/${line.person_id}"><bdi>${line.about}</bdi></a>` : line.about}</td></tr>`)}</tbody></table></div>
      ${next ? html`<p class="more"><button type="button" class="second" data-do="more">Show more</button></p>` : ''}</div>`);
  }

  draw();
  on(root, 'click', '[data-do=more]', async () => {
    await fetchMore();
    draw();
  });
  return { title: 'Who read or wrote what' };
}

/** "visit-page.print" as "visit page: print". */
const deed = (what) => what.replaceAll('-', ' ').replace('.', ': ');
