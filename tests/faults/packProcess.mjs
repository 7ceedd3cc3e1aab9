// Packs the sound of all rehearsals that are over, in a process of its own, to be killed or starved.
import { register } from 'tsx/esm/api';

register();
const { dataFolder } = await import('../../app/disk/dataFolder.ts');
const { openLibrary } = await import('../../app/library/library.ts');
const { Rehearsals } = await import('../../app/records/rehearsals.ts');
const rehearsals = new Rehearsals(dataFolder(), await openLibrary(), (message) => console.log(message));
console.log('packing');
await rehearsals.packAll();
console.log('done');
