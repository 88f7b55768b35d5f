/** A new socket on a limb: a new baseline. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { limbName, MADE, MATERIAL, PURPOSE, SUSPENSION } from '../../words.js';
import { form } from '../form.js';
import { despite } from './despite.js';

export async function show(root, { params, context }) {
  const { person, limb, sockets } = await api.limb(params.limb);
  const worn = sockets.filter((socket) => !socket.retired_on).at(-1);
  form(root, {
    title: `New socket for ${person.name}, ${limbName(limb)}`,
    intro: worn ? 'The socket worn until now is retired on the day this one is fitted. The limb’s story goes on: the limb has not changed, the socket has. Nothing is carried over from the old one: limit, liner, material and suspension are decided anew.' : '',
    words: 'Add the socket',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'fitted_on', label: 'Fitted on', kind: 'date', required: true, value: today() },
      { name: 'purpose', label: 'Purpose', kind: 'choice', options: Object.entries(PURPOSE), required: true },
      { name: 'stack_at_fitting', label: 'Sock stack at fitting', kind: 'stack', value: null, hint: 'The baseline every change is counted from: what was worn over the liner when the fit was good.' },
      { name: 'made', label: 'How it was made', kind: 'choice', options: Object.entries(MADE) },
      { name: 'material', label: 'Material', kind: 'choice', options: Object.entries(MATERIAL), hint: 'Its maker’s instructions and limits come first.' },
      { name: 'suspension', label: 'Suspension', kind: 'choice', options: Object.entries(SUSPENSION) },
      { name: 'liner_mm', label: 'Liner thickness', kind: 'quantity', measure: 'thickness', low: 1.5, high: 12 },
      { name: 'weight_limit_kg', label: 'Body-weight limit', kind: 'quantity', measure: 'weight', low: 15, high: 200, hint: 'Of the weakest part, as its maker states it.' },
      { name: 'trim_lines', label: 'Trim lines', kind: 'text' },
      { name: 'note', label: 'Reliefs, anything else', kind: 'area' },
    ],
    save: async (values) => {
      const added = await despite((reason) => api.addToLimb(limb.id, 'sockets', { ...values, ...reason }), 'Add it all the same');
      if (!added) return;
      if (worn && worn.fitted_on <= values.fitted_on) await api.changeSocket(worn.id, { retired_on: values.fitted_on });
      context.say('The socket is added.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'New socket' };
}
