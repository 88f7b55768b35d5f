/** What was done at the clinic: an intervention on a day, marked on the limb's story. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { limbName } from '../../words.js';
import { correcting, keepCorrection, WHY } from '../corrections.js';
import { form } from '../form.js';

const KINDS = ['Trim line changed', 'Relief made', 'Liner changed', 'Alignment changed', 'Wear schedule set', 'Shrinker given', 'Dressing changed',
  'Rigid dressing on', 'Volume advice given', 'Skin looked at', 'Referred to a doctor', 'Other'];

export async function show(root, { params, query, context }) {
  const story = await api.limb(params.limb);
  const { person, limb } = story;
  const before = correcting(story, query);
  const kinds = before && !KINDS.includes(before.kind) ? [before.kind, ...KINDS] : KINDS;
  form(root, {
    title: `${before ? 'Correct what was done' : 'Done at the clinic'} for ${person.name}, ${limbName(limb)}`,
    words: 'Keep',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'on', label: 'On', kind: 'date', required: true, value: before?.on ?? today(), max: today() },
      { name: 'kind', label: 'What', kind: 'choice', required: true, options: kinds.map((words) => [words, words]), value: before?.kind },
      { name: 'note', label: 'More', kind: 'area', value: before?.note },
      ...(before ? [WHY] : []),
    ],
    save: async (values) => {
      if (before) return keepCorrection('intervention', before, limb, values, context);
      await api.addToLimb(limb.id, 'interventions', values);
      context.say('Kept.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Done at the clinic' };
}
