import { CAUTION } from '../../app/marking/result.ts';

/** What a rehearsal here is and is not. */
export const Caution = () => <p className="caution">{CAUTION}</p>;
