/** Keys of which one is chosen, for who has a keyboard: arrows go from one to the next, and choose nothing by themselves. */

const STEPS = { ArrowUp: -1, ArrowLeft: -1, ArrowDown: 1, ArrowRight: 1 };

export function alongRadios(event) {
  const radio = event.target.closest?.('[role=radio]');
  const step = STEPS[event.key];
  if (!radio || !step) return;
  event.preventDefault();
  const all = [...radio.closest('[role=radiogroup]').querySelectorAll('[role=radio]')];
  const next = all[(all.indexOf(radio) + step + all.length) % all.length];
  for (const one of all) one.tabIndex = one === next ? 0 : -1;
  next.focus();
}
