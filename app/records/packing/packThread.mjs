// The thread in which sound is packed. Here tsx reads it; the build of the desktop program has its own file of this name.
import { register } from 'tsx/esm/api';

register();
await import('./packingWorker.ts');
