import { main } from '../app/cli/main.ts';

/** Calls the terminal program in this process, without a terminal, and answers all it said. */
export async function callCli(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const io = {
    out: (text: string) => void (said.out += text),
    err: (text: string) => void (said.err += text),
    isTerminal: false,
  };
  return { code: await main(args, io), ...said };
}
