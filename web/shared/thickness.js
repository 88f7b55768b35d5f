/** Sock millimetres by ply and make, for pictures only; the clinic's engine has its own, with uncertainty.
 *
 *  1, 3 and 5 ply under walking load: Sanders JE et al., Prosthet Orthot Int 2012;36(1):77-86.
 *  2 ply is in between, sheath and 6 ply are a judgement. A make not known lies half way.
 */

const SINGLE = { 0: 0.2, 1: 0.7, 2: 0.95, 3: 1.2, 5: 1.5, 6: 1.65 };
const BLEND = { 0: 0.2, 1: 0.4, 2: 0.55, 3: 0.7, 5: 0.8, 6: 0.85 };

export function thickness(stack) {
  return stack.reduce((mm, { ply, make }) => {
    const single = SINGLE[ply] ?? 0;
    const blend = BLEND[ply] ?? 0;
    return mm + (make === 'single' ? single : make === 'blend' ? blend : (single + blend) / 2);
  }, 0);
}
