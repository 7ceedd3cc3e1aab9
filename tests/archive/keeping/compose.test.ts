import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { z } from 'zod';

const DEPLOY = new URL('../../../deploy/', import.meta.url);
const read = (name: string): Promise<string> => readFile(fileURLToPath(new URL(name, DEPLOY)), 'utf8');

/** What of the Compose Specification is used (its chapters "Services" and "Volumes"; from memory), and nothing else. */
const ServiceSchema = z.strictObject({
  image: z.string().optional(),
  build: z.strictObject({ context: z.string(), dockerfile: z.string() }).optional(),
  command: z.array(z.string()).optional(),
  restart: z.enum(['no', 'always', 'on-failure', 'unless-stopped']).optional(),
  environment: z.record(z.string().regex(/^[A-Z_]+$/), z.string()).optional(),
  volumes: z.array(z.string().regex(/^[a-z]+:\/[\w/]+$/)).optional(),
  ports: z.array(z.string().regex(/^127\.0\.0\.1:\d+:\d+$/, 'is open to other machines')).optional(),
  depends_on: z.record(z.string(), z.strictObject({ condition: z.literal('service_healthy') })).optional(),
  healthcheck: z
    .strictObject({
      test: z.array(z.string()).min(2),
      interval: z.string().regex(/^\d+s$/),
      timeout: z.string().regex(/^\d+s$/),
      retries: z.number().int().positive(),
    })
    .optional(),
  deploy: z.strictObject({ replicas: z.number().int().positive() }).optional(),
});
const ComposeSchema = z.strictObject({
  name: z.string(),
  'x-archive': ServiceSchema,
  services: z.record(z.string(), ServiceSchema),
  volumes: z.record(z.string(), z.null()),
});

const compose = ComposeSchema.parse(parse(await read('compose.yml'), { merge: true }));
const services = Object.entries(compose.services);

describe('the compose file', () => {
  it('sets up a database, the archive and two workers', () => {
    expect(services.map(([name]) => name)).toEqual(['database', 'archive', 'worker']);
    expect(compose.services['worker']?.deploy?.replicas).toBe(2);
    expect(compose.services['archive']?.command?.slice(0, 2)).toEqual(['archive', 'serve']);
    expect(compose.services['worker']?.command).toEqual(['archive', 'work']);
  });

  it('names only services and volumes that are there, waits for what has a health check, and gets images by plain names', () => {
    for (const [name, { volumes = [], depends_on = {}, image = '' }] of services) {
      for (const volume of volumes) expect(compose.volumes, name).toHaveProperty(volume.split(':')[0] ?? '');
      for (const other of Object.keys(depends_on)) expect(compose.services[other]?.healthcheck).toBeDefined();
      expect(image, name).toMatch(/^[a-z-]+(:\d+)?$/);
    }
  });

  it('has the archive and the workers use the same database and the same sound', () => {
    const { archive, worker } = compose.services;
    expect(worker?.environment).toEqual(archive?.environment);
    expect(worker?.volumes).toEqual(archive?.volumes);
    expect(archive?.environment?.['SINKSIDE_DATABASE']).toMatch(
      /^postgres:\/\/sinkside:\$\{SINKSIDE_PASSWORD:\?/,
    );
  });

  it('builds an image of folders that are there, which needs no root', async () => {
    const lines = (await read('Dockerfile'))
      .split('\n')
      .filter((line) => line !== '' && !line.startsWith('#'));
    const known = /^(FROM|WORKDIR|COPY|RUN|USER|VOLUME|EXPOSE|ENTRYPOINT) /;
    expect(lines.filter((line) => !known.test(line))).toEqual([]);
    expect(lines).toContain('USER node');
    for (const [, folder = ''] of lines
      .map((line) => /^COPY ([a-z]+) /.exec(line) ?? [])
      .filter(([all]) => all))
      await expect(readFile(fileURLToPath(new URL(`../${folder}/`, DEPLOY)))).rejects.toMatchObject({
        code: 'EISDIR',
      });
  });
});
