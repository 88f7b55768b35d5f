/** What was done at the clinic: an intervention on a day, marked on the limb's story. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { limbName } from '../../words.js';
import { form } from '../form.js';

export const KINDS = ['Trim line changed', 'Relief made', 'Liner changed', 'Alignment changed', 'Wear schedule set', 'Shrinker given', 'Dressing changed',
  'Rigid dressing on', 'Volume advice given', 'Skin looked at', 'Referred to a doctor', 'Other'];

export async function show(root, { params, context }) {
  const { person, limb } = await api.limb(params.limb);
  form(root, {
    title: `Done at the clinic for ${person.name}, ${limbName(limb)}`,
    words: 'Keep',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'on', label: 'On', kind: 'date', required: true, value: today(), max: today() },
      { name: 'kind', label: 'What', kind: 'choice', required: true, options: KINDS.map((words) => [words, words]) },
      { name: 'note', label: 'More', kind: 'area' },
    ],
    save: async (values) => {
      await api.addToLimb(limb.id, 'interventions', values);
      context.say('Kept.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Done at the clinic' };
}
