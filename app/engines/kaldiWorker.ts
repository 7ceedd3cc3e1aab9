// The worker of the engine Kaldi. A file of its own, since its host must let it make code out of text (app/host/guard.ts).
import './listenWorker.ts';
