import { AwsClient } from 'aws4fetch';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { DamagedPart, MissingPart, openParts, type Parts } from '../../../app/archive/parts/parts.ts';
import { StoreRefused } from '../../../app/archive/parts/s3Parts.ts';
import { sha256 } from '../made.ts';
import { startS3Store, type S3Store } from './s3Store.ts';

describe('parts in an S3-compatible store', () => {
  let store: S3Store;
  let parts: Parts;
  beforeAll(async () => {
    store = await startS3Store();
    parts = openParts(`${store.bucket}/below/here?region=us-east-1`, store.keys);
  });
  afterAll(() => store.stop());

  it('are kept, read and removed, also large ones', async () => {
    const large = 'sound '.repeat(2_000_000);
    for (const content of ['some sound', large]) {
      const hash = sha256(content);
      expect(await parts.has(hash)).toBe(false);
      await Promise.all([parts.put(hash, Buffer.from(content)), parts.put(hash, Buffer.from(content))]);
      expect(await parts.has(hash)).toBe(true);
      expect((await parts.read(hash)).equals(Buffer.from(content))).toBe(true);
      await parts.remove(hash);
      await parts.remove(hash);
      expect(await parts.has(hash)).toBe(false);
      await expect(parts.read(hash)).rejects.toThrow(MissingPart);
    }
  });

  it('are checked on both ways', async () => {
    const hash = sha256('what was said');
    await expect(parts.put(hash, Buffer.from('something else'))).rejects.toThrow(DamagedPart);
    expect(await parts.has(hash)).toBe(false);
    await parts.put(hash, Buffer.from('what was said'));
    const { SINKSIDE_S3_KEY: accessKeyId, SINKSIDE_S3_SECRET: secretAccessKey } = store.keys;
    const somebody = new AwsClient({ accessKeyId, secretAccessKey, service: 's3', region: 'us-east-1' });
    const file = `${store.bucket}/below/here/${hash.slice(0, 2)}/${hash}`;
    const { status } = await somebody.fetch(file, { method: 'PUT', body: 'what was not said' });
    expect(status).toBe(200);
    await expect(parts.read(hash)).rejects.toThrow(DamagedPart);
  });

  it('are refused to who has another key, and without one', async () => {
    const hash = sha256('secret');
    const wrong = openParts(store.bucket, { ...store.keys, SINKSIDE_S3_SECRET: 'guessed' });
    await expect(wrong.put(hash, Buffer.from('secret'))).rejects.toThrow(StoreRefused);
    expect(await parts.has(hash)).toBe(false);
    expect(() => openParts(store.bucket, {})).toThrow(/SINKSIDE_S3_KEY/);
  });
});
