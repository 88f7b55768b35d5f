/** Every test of the pure modules in one process: a process for each file takes four times as long. */

import { readdirSync } from 'node:fs';

const here = new URL('.', import.meta.url);
for (const name of readdirSync(here).filter((one) => one.endsWith('.test.mjs')).sort()) await import(new URL(name, here));
