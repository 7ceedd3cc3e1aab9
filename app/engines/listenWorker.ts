import { serveListener } from './listenService.ts';
import type { Port } from './messages.ts';

// The module worker that listens, so that recognition never holds up a screen. The types know only a page's global scope.
serveListener(self as unknown as Port);
