/** The pocket plan: written for the wearer's phone, in the clinic's own words, and taken back. */

import * as api from '../../api.js';
import { html, on } from '../../../shared/html.js';
import { day } from '../../when.js';
import { limbName } from '../../words.js';
import { changed, form } from '../form.js';
import { ask } from '../ask.js';
import { pocketBefore, pocketLines, PARTS } from '../pocket.js';

const HINTS = {
  loose: 'Shown after a loose fit was logged, for example: Add one thin sock. At 10-ply call us.', tight: 'Shown after a tight fit was logged.',
  wear: 'The hours of each day are the socket’s wear schedule: the phone shows them with a clock.', care: '', bring: '',
};
const MOST = 300;
const TO = [['all', 'wearer and caregivers'], ['wearer', 'the wearer alone'], ['caregiver', 'caregivers alone']];

export async function show(root, { params, context }) {
  const story = await api.limb(params.limb);
  const { person, limb, pocket, sockets } = story;
  const stands = Boolean(pocketLines(pocket));
  const before = {
    ...Object.fromEntries([...PARTS.map(([name]) => name), 'to'].map((name) => [name, pocket[0]?.[name] ?? null])) };
  const worn = sockets.filter((socket) => !socket.retired_on).at(-1);
  form(root, {
    title: `The pocket plan for ${person.name}, ${limbName(limb)}`,
    intro: html`Short and plain: a phone shows it as it stands here, also without a network, with the day it was written. Where the phone advises to stop wearing or to call, it hides what to do when loose or tight, and the hours.
      ${worn ? html` <a href="#/limbs/${limb.id}/socket/${worn.id}">Wear schedule of the socket of ${day(worn.fitted_on)}</a>${worn.wear_schedule?.length ? html`: ${worn.wear_schedule.map(({ hours }) => hours).join(', ')} hours` : ': none'}.` : ''}`,
    words: 'Keep it for the phone',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      ...PARTS.map(([name, label]) => ({ name, label, kind: 'area', most: MOST, value: before[name], hint: HINTS[name] })),
      { name: 'to', label: 'For', kind: 'choice', options: TO, value: before.to, hint: person.own_log ? 'This person writes alone: left open, it is for the wearer alone.' : 'Left open, it is for all phones.' },
    ],
    extra: html`${stands ? html`<p><button type="button" class="plain" data-do="take-back">Take the plan back</button></p>` : ''}${pocketBefore(pocket)}`,
    save: async (values) => {
      const news = changed(values, before);
      if (Object.keys(news).length) {
        await api.changePocket(limb.id, news, before);
        context.say('Kept. Their phone shows it once it joins a network.');
      }
      context.go(`limbs/${limb.id}`);
    },
  });
  on(root, 'click', '[data-do=take-back]', async () => {
    const sure = await ask({ title: 'Take the plan back?', words: 'Take it back', body: html`<p>Phones show none once they join a network. What was written stays to be read here.</p>` });
    if (!sure) return;
    try {
      await api.takePocketBack(limb.id, pocket[0].version);
    } catch (fault) {
      if (fault.code !== 'changed-meanwhile') throw fault;
      context.say(fault.message);
      context.again();
      return;
    }
    context.say('The plan is taken back.');
    context.go(`limbs/${limb.id}`);
  });
  return { title: 'The pocket plan' };
}
