import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BadSound } from './badSound.ts';
import { openSound } from './soundFile.ts';
import { aLaw, muLaw } from './wav.ts';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'sinkside-sound-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

interface Made {
  tag?: number;
  bits?: number;
  channels?: number;
  rate?: number;
  /** Samples as bytes. */
  data?: Buffer;
  /** Overrides the length that the data chunk states. */
  promised?: number;
  /** Chunks before and after the samples. */
  before?: Buffer;
  after?: Buffer;
}

function wav({ tag = 1, bits = 16, channels = 1, rate = 16_000, data = tone16(1), ...rest }: Made): Buffer {
  const frame = (channels * bits) / 8;
  const format = Buffer.alloc(16);
  format.writeUInt16LE(tag, 0);
  format.writeUInt16LE(channels, 2);
  format.writeUInt32LE(rate, 4);
  format.writeUInt32LE(rate * frame, 8);
  format.writeUInt16LE(frame, 12);
  format.writeUInt16LE(bits, 14);
  const parts = [
    rest.before ?? Buffer.alloc(0),
    chunk('fmt ', format),
    chunk('data', data, rest.promised),
    rest.after,
  ];
  const body = Buffer.concat(parts.filter((part) => part !== undefined));
  return Buffer.concat([chunk('RIFF', Buffer.alloc(0), body.length + 4), Buffer.from('WAVE'), body]);
}

function chunk(id: string, body: Buffer, length = body.length): Buffer {
  const head = Buffer.alloc(8);
  head.write(id, 'latin1');
  head.writeUInt32LE(length, 4);
  return Buffer.concat([head, body, Buffer.alloc(body.length % 2)]);
}

/** A 440 Hz tone of 16 bits, amplitude a half. */
function tone16(seconds: number, rate = 16_000): Buffer {
  const data = Buffer.alloc(Math.round(seconds * rate) * 2);
  for (let n = 0; n < data.length / 2; n++)
    data.writeInt16LE(Math.round(16384 * Math.sin((2 * Math.PI * 440 * n) / rate)), n * 2);
  return data;
}

function put(name: string, data: Buffer | string): string {
  const file = path.join(folder, name);
  writeFileSync(file, data);
  return file;
}

async function read(
  file: string,
): Promise<{ seconds: number | null; samples: Float32Array; warnings: readonly string[] }> {
  const sound = await openSound(file);
  const samples: number[] = [];
  for await (const piece of sound.chunks) samples.push(...piece);
  return { seconds: sound.seconds, samples: Float32Array.from(samples), warnings: sound.warnings };
}

/** The first audio stream of a file as ffmpeg decodes it: an independent reading. */
function byFfmpeg(file: string): Float32Array {
  const args = ['-v', 'error', '-i', file, '-ac', '1', '-ar', '16000', '-f', 'f32le', 'pipe:1'];
  const { stdout } = spawnSync('ffmpeg', args, { maxBuffer: 1e9 });
  return new Float32Array(stdout.buffer.slice(stdout.byteOffset, stdout.byteOffset + stdout.length));
}

function make(name: string, ...options: string[]): string {
  const file = path.join(folder, name);
  const run = spawnSync('ffmpeg', ['-v', 'error', '-y', ...options, file]);
  if (run.status !== 0) throw new Error(run.stderr.toString());
  return file;
}

const rms = (samples: Float32Array) => Math.sqrt(samples.reduce((sum, x) => sum + x * x, 0) / samples.length);
const apart = (a: Float32Array, b: Float32Array) =>
  a.reduce((most, x, n) => Math.max(most, Math.abs(x - (b[n] ?? 9))), 0);

describe('WAV files', () => {
  it('come in chunks of half a second, the last one shorter', async () => {
    const sound = await openSound(put('chunks.wav', wav({ data: tone16(1.25) })));
    const lengths: number[] = [];
    for await (const piece of sound.chunks) lengths.push(piece.length);
    expect(lengths).toEqual([8000, 8000, 4000]);
    expect(sound.seconds).toBe(1.25);
    expect(sound.warnings).toEqual([]);
  });

  it.each([
    'pcm_u8',
    'pcm_s16le',
    'pcm_s24le',
    'pcm_s32le',
    'pcm_f32le',
    'pcm_f64le',
    'pcm_alaw',
    'pcm_mulaw',
  ])("of coding %s read as ffmpeg's reader has them", async (coding) => {
    const noise = ['-f', 'lavfi', '-i', 'anoisesrc=r=16000:d=1:seed=7:a=0.9', '-c:a', coding];
    const file = make(`${coding}.wav`, ...noise);
    const { samples } = await read(file);
    expect(samples.length).toBe(16_000);
    expect(rms(samples)).toBeGreaterThan(0.1);
    expect(apart(samples, byFfmpeg(file))).toBeLessThan(1e-6);
  });

  it.each([0, 127, 128, 255])('give G.711 code %i the value of the standard', (code) => {
    // ITU-T G.711 tables 1a/1b and 2a/2b: largest and smallest decoder outputs, on the 16-bit scale.
    const a = { 0: -5504, 127: -848, 128: 5504, 255: 848 }[code]!;
    const mu = { 0: -32124, 127: 0, 128: 32124, 255: 0 }[code]!;
    expect(aLaw(code) * 32768).toBe(a);
    expect(muLaw(code) * 32768).toBeCloseTo(mu, 10);
  });

  it.each([
    [8_000, 1],
    [8_000, 2],
    [22_050, 1],
    [44_100, 2],
    [48_000, 2],
    [48_000, 6],
    [96_000, 1],
  ])('of %i samples a second and %i channels become 16 kHz mono', async (rate, channels) => {
    const tones = Array.from({ length: channels }, () => `0.5*sin(2*PI*440*t)`).join('|');
    const file = make(`${rate}x${channels}.wav`, '-f', 'lavfi', '-i', `aevalsrc=${tones}:s=${rate}:d=2`);
    const { samples, seconds } = await read(file);
    expect(seconds).toBe(2);
    const wanted = Float32Array.from(
      { length: 32_000 },
      (_, n) => 0.5 * Math.sin((2 * Math.PI * 440 * n) / 16_000),
    );
    expect(samples.length).toBe(32_000);
    expect(apart(samples.subarray(1000, -1000), wanted.subarray(1000, -1000))).toBeLessThan(2e-4);
  });

  it('average their channels', async () => {
    const data = Buffer.alloc(16_000 * 4);
    for (let n = 0; n < 16_000; n++) data.writeInt16LE(16384, n * 4);
    const { samples } = await read(put('left.wav', wav({ channels: 2, data })));
    expect(samples[8000]).toBe(0.25);
  });

  it('may hold other chunks, of odd length too, and the extensible form', async () => {
    const before = Buffer.concat([chunk('JUNK', Buffer.alloc(7)), chunk('bext', Buffer.alloc(602))]);
    const after = chunk('LIST', Buffer.from('INFOISFT\x03\0\0\0us\0'));
    const plain = await read(put('chunks2.wav', wav({ before, after })));
    expect(plain.samples.length).toBe(16_000);
    const extensible = make(
      'ext.wav',
      '-f',
      'lavfi',
      '-i',
      'sine=r=48000:d=1',
      '-ac',
      '6',
      '-c:a',
      'pcm_s24le',
    );
    expect(readFileSync(extensible).readUInt16LE(20)).toBe(0xfffe);
    expect((await read(extensible)).samples.length).toBe(16_000);
  });

  it.each([0, 0x7ffff000, 0x80000000, 0xffffffff])(
    'written to a pipe, with %i for their length, are read to their end without complaint',
    async (promised) => {
      const { samples, warnings } = await read(put('piped.wav', wav({ promised })));
      expect(samples.length).toBe(16_000);
      expect(warnings).toEqual([]);
    },
  );

  it('cut short give what is there and say so', async () => {
    const file = put('cut.wav', wav({ data: tone16(12) }));
    truncateSync(file, 44 + 5.3 * 32_000);
    const { samples, seconds, warnings } = await read(file);
    expect(seconds).toBe(5.3);
    expect(samples.length).toBe(5.3 * 16_000);
    expect(warnings).toEqual([expect.stringContaining('the header promises 12.0 s, 5.3 s are there')]);
  });

  it('of floats that are no numbers become silence there, and stay inside −1…1', async () => {
    const data = Buffer.alloc(16_000 * 4);
    [NaN, Infinity, -Infinity, 3, -0.5].forEach((value, n) => data.writeFloatLE(value, n * 4));
    const { samples } = await read(put('float.wav', wav({ tag: 3, bits: 32, data })));
    expect([...samples.subarray(0, 5)]).toEqual([0, 1, -1, 1, -0.5]);
  });

  it('that are silent are read, with a remark', async () => {
    const { samples, warnings } = await read(put('silent.wav', wav({ data: Buffer.alloc(32_000) })));
    expect(samples.length).toBe(16_000);
    expect(warnings).toEqual([expect.stringContaining('silent')]);
  });

  it('in a coding of their own go through ffmpeg', async () => {
    const file = make('adpcm.wav', '-f', 'lavfi', '-i', 'sine=r=16000:d=2', '-c:a', 'adpcm_ima_wav');
    const { samples } = await read(file);
    expect(Math.abs(samples.length - 32_000)).toBeLessThan(1100);
  });

  it('need no ffmpeg', async () => {
    const file = put('alone.wav', wav({ rate: 44_100, data: tone16(1, 44_100) }));
    await withoutFfmpeg(async () => expect((await read(file)).samples.length).toBe(16_000));
  });
});

async function withoutFfmpeg(task: () => Promise<void>): Promise<void> {
  const before = process.env['PATH'];
  process.env['PATH'] = folder;
  try {
    await task();
  } finally {
    process.env['PATH'] = before;
  }
}

describe('other sound files', () => {
  const source = ['-f', 'lavfi', '-i', 'sine=f=440:r=44100:d=3', '-ac', '2'];

  it.each(['flac', 'mp3', 'm4a', 'ogg', 'webm', 'opus', 'aiff'])(
    'of kind %s are decoded by ffmpeg',
    async (kind) => {
      const file = make(`tone.${kind}`, ...source);
      const { samples, seconds, warnings } = await read(file);
      expect(warnings).toEqual([]);
      expect(seconds).toBeCloseTo(3, 0);
      // Coders pad their last block.
      expect(Math.abs(samples.length - 48_000)).toBeLessThan(2500);
      // lavfi's sine has an amplitude of an eighth; what is measured is that it is neither silent nor doubled.
      expect(rms(samples)).toBeCloseTo(0.125 / Math.SQRT2, 2);
    },
  );

  it('take their sound from a film too', async () => {
    const film = ['-f', 'lavfi', '-i', 'color=s=64x64:d=1', '-f', 'lavfi', '-i', 'sine=r=16000:d=1'];
    expect((await read(make('film.mkv', ...film))).samples.length).toBeGreaterThan(15_000);
  });

  it('are found under any name, even one that looks like an option', async () => {
    const file = path.join(folder, '-i a:b "c".flac');
    writeFileSync(file, readFileSync(make('tone.flac', ...source)));
    expect((await read(file)).samples.length).toBe(48_000);
  });

  it('cut short give what is there and say so', async () => {
    const noise = ['-f', 'lavfi', '-i', 'anoisesrc=r=16000:d=12:seed=3'];
    const file = make('cut.flac', ...noise);
    truncateSync(file, Math.round(readFileSync(file).length / 2));
    const { samples, warnings } = await read(file);
    expect(samples.length / 16_000).toBeGreaterThan(5);
    expect(samples.length / 16_000).toBeLessThan(7);
    expect(warnings.join(' ')).toMatch(/the header promises 12\.0 s, \d\.\d s are there/);
  });

  it('say what to install where ffmpeg is missing', async () => {
    const file = make('tone2.mp3', ...source);
    await withoutFfmpeg(async () => {
      await expect(openSound(file)).rejects.toThrow(BadSound);
      await expect(openSound(file)).rejects.toThrow(/apt-get install ffmpeg/);
    });
  });
});

describe('what is no usable sound is refused, saying why', () => {
  const png = Buffer.from(
    'iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==',
    'base64',
  );
  const header = wav({ data: Buffer.alloc(0) });
  it.each<[string, () => string, RegExp]>([
    ['a missing file', () => path.join(folder, 'nowhere.wav'), /There is no file .*nowhere\.wav/],
    ['a folder', () => folder, /is a folder/],
    ['an empty file', () => put('empty.wav', ''), /is empty/],
    [
      'text named .wav',
      () => put('text.wav', 'Dear diary, today I washed my hands.\n'.repeat(50)),
      /not a sound file/,
    ],
    ['text named .txt', () => put('notes.txt', 'Wash hands.\n'.repeat(50)), /not a sound file/],
    ['a picture', () => put('picture.png', png), /not a sound file/],
    [
      'random bytes',
      () => put('bytes.mp3', Buffer.from(Array.from({ length: 5000 }, (_, n) => (n * 7919) % 251))),
      /not a sound file/,
    ],
    ['a play list', () => put('list.m3u8', '#EXTM3U\n#EXTINF:1,\ntone.mp3\n'), /not a sound file/],
    ['a header without samples', () => put('header.wav', header), /no samples/],
    [
      'a header and another chunk',
      () => put('header2.wav', wav({ data: Buffer.alloc(0), after: chunk('LIST', Buffer.from('INFO')) })),
      /no samples/,
    ],
    ['a header broken off before its samples', () => put('broken.wav', header.subarray(0, 36)), /no samples/],
    ['a header broken off in its format', () => put('broken2.wav', header.subarray(0, 30)), /damaged WAV/],
    ['a contradictory header', () => put('contra.wav', wav({ channels: 0 })), /damaged WAV/],
    [
      'samples before any format',
      () =>
        put(
          'order.wav',
          Buffer.concat([chunk('RIFF', Buffer.alloc(0), 100), Buffer.from('WAVE'), chunk('data', tone16(1))]),
        ),
      /no format/,
    ],
    ['a rate no speech fits in', () => put('slow.wav', wav({ rate: 1000 })), /1000 samples a second/],
    [
      'a film without sound',
      () => make('mute.mp4', '-f', 'lavfi', '-i', 'color=s=64x64:d=1'),
      /no audio stream/,
    ],
    [
      'a container without samples',
      () => make('none.flac', '-f', 'lavfi', '-i', 'sine=r=16000', '-frames:a', '0'),
      /no samples/,
    ],
  ])('%s', async (_, file, message) => {
    const where = file();
    const attempt = read(where);
    await expect(attempt).rejects.toThrow(BadSound);
    await expect(attempt).rejects.toThrow(message);
    await expect(attempt).rejects.toThrow(path.basename(where));
  });

  it('three hours of WAV, before reading', async () => {
    const file = put(
      'long.wav',
      wav({ rate: 8000, bits: 8, data: Buffer.alloc(0), promised: 3 * 3600 * 8000 }),
    );
    truncateSync(file, 44 + 3 * 3600 * 8000);
    await expect(openSound(file)).rejects.toThrow(/3\.0 hours long/);
  });

  it('three hours of FLAC, before reading', async () => {
    const file = make('long.flac', '-f', 'lavfi', '-i', `anullsrc=r=8000:cl=mono:d=${3 * 3600}`);
    await expect(openSound(file)).rejects.toThrow(/3\.0 hours long/);
  });

  it('more than two hours of unknown length, once two hours have been read', async () => {
    // A bare AAC stream has no header: one minute, over and over, is a longer one.
    const minute = readFileSync(make('minute.aac', '-f', 'lavfi', '-i', 'anullsrc=r=8000:cl=mono:d=60'));
    const file = put('long.aac', Buffer.concat(Array.from({ length: 122 }, () => minute)));
    const sound = await openSound(file);
    expect(sound.seconds).toBeNull();
    const drain = async () => {
      let chunks = 0;
      for await (const piece of sound.chunks) chunks += piece.length ? 1 : 0;
      return chunks;
    };
    await expect(drain()).rejects.toThrow(/hours is the most/);
  }, 60_000);
});

it('holds no more of a long recording at its end than at its beginning', () => {
  const file = put('long8k.wav', wav({ rate: 8000, data: Buffer.alloc(0), promised: 600 * 16_000 }));
  truncateSync(file, 44 + 600 * 16_000);
  // Ten minutes kept whole would be 38 MB. Garbage is collected before each look, so what is seen is held.
  const script = `
    import { openSound } from ${JSON.stringify(new URL('./soundFile.ts', import.meta.url).href)};
    const { chunks } = await openSound(${JSON.stringify(file)});
    const held = [];
    let count = 0;
    for await (const chunk of chunks) {
      if (count++ % 100 !== 0 || chunk.length === 0) continue;
      gc();
      const { heapUsed, arrayBuffers } = process.memoryUsage();
      held.push(heapUsed + arrayBuffers);
    }
    console.log(JSON.stringify({ count, growth: Math.max(...held) - held[0] }));`;
  const args = ['--expose-gc', '--import', 'tsx', '--input-type=module', '-e', script];
  const run = spawnSync(process.execPath, args, { encoding: 'utf8' });
  expect(run.stderr).toBe('');
  const { count, growth } = JSON.parse(run.stdout) as { count: number; growth: number };
  expect(count).toBe(1200);
  expect(growth).toBeLessThan(16 * 2 ** 20);
});
