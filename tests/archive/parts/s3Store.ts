import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createServer, type AddressInfo } from 'node:net';
import path from 'node:path';
import { AwsClient } from 'aws4fetch';

const PYTHON = path.resolve(
  process.platform === 'win32' ? '.cache/venv/Scripts/python.exe' : '.cache/venv/bin/python',
);
/** Milliseconds that the store is given to start. */
const STARTS_WITHIN = 50_000;
/** Requests that are taken before it checks signatures: those with which the user and the bucket are made. */
const UNCHECKED = 4;
const BUCKET = 'sound';

/** An S3-compatible store of the test's own: moto, a program in Python, which checks signatures and keeps all in memory. */
export interface S3Store {
  /** The address of its bucket. */
  readonly bucket: string;
  /** The keys of the one user there is, as the program takes them. */
  readonly keys: Readonly<Record<'SINKSIDE_S3_KEY' | 'SINKSIDE_S3_SECRET', string>>;
  stop(): Promise<void>;
}

export async function startS3Store(): Promise<S3Store> {
  const port = await freePort();
  const server = spawn(PYTHON, ['-m', 'moto.server', '-H', '127.0.0.1', '-p', String(port)], {
    stdio: 'ignore',
    env: { ...process.env, INITIAL_NO_AUTH_ACTION_COUNT: String(UNCHECKED) },
  });
  process.once('exit', () => server.kill('SIGKILL'));
  const url = `http://127.0.0.1:${port}`;
  await untilReady(`${url}/moto-api/data.json`);
  const nobody = new AwsClient({ accessKeyId: 'x', secretAccessKey: 'x', region: 'us-east-1', retries: 0 });
  const manage = async (action: Readonly<Record<string, string>>): Promise<string> => {
    const body = new URLSearchParams({ ...action, UserName: 'tester', Version: '2010-05-08' }).toString();
    const headers = { 'content-type': 'application/x-www-form-urlencoded' };
    const response = await nobody.fetch(`${url}/`, {
      method: 'POST',
      body,
      headers,
      aws: { service: 'iam' },
    });
    if (!response.ok) throw new Error(await response.text());
    return response.text();
  };
  await manage({ Action: 'CreateUser' });
  const made = await manage({ Action: 'CreateAccessKey' });
  const all = { Version: '2012-10-17', Statement: [{ Effect: 'Allow', Action: 's3:*', Resource: '*' }] };
  await manage({ Action: 'PutUserPolicy', PolicyName: 'all', PolicyDocument: JSON.stringify(all) });
  const { status } = await nobody.fetch(`${url}/${BUCKET}`, { method: 'PUT', aws: { service: 's3' } });
  if (status !== 200) throw new Error(`The bucket was not made: ${status}.`);
  const within = (tag: string): string => new RegExp(`<${tag}>(.*?)</${tag}>`).exec(made)?.[1] ?? '';
  return {
    bucket: `${url}/${BUCKET}`,
    keys: { SINKSIDE_S3_KEY: within('AccessKeyId'), SINKSIDE_S3_SECRET: within('SecretAccessKey') },
    stop: async () => {
      server.kill('SIGTERM');
      await once(server, 'exit');
    },
  };
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}

async function untilReady(url: string): Promise<void> {
  const late = performance.now() + STARTS_WITHIN;
  for (;;)
    try {
      await fetch(url);
      return;
    } catch (error) {
      if (performance.now() > late) throw error;
      await new Promise((done) => setTimeout(done, 100));
    }
}
