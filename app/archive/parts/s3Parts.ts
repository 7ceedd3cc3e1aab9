import { AwsClient } from 'aws4fetch';
import { checked, MissingPart, pathOf, type Parts } from './parts.ts';

/** The store did not do what it was asked. */
export class StoreRefused extends Error {
  override readonly name = 'StoreRefused';
}

/** How long one answer of the store may take, ms: a part may have some 100 MB. */
const ANSWER_WITHIN = 120_000;

/** Parts in a bucket of an S3-compatible store, addressed by path (Amazon S3 API reference; signature version 4). */
export class S3Parts implements Parts {
  /**
   * @param where the address of the bucket, and of a prefix in it
   * @param client signs what is asked
   */
  private constructor(
    readonly where: string,
    private readonly client: AwsClient,
  ) {}

  /** @throws {StoreRefused} its keys are not set */
  static at(address: string, env: NodeJS.ProcessEnv): S3Parts {
    const url = new URL(address);
    const region = url.searchParams.get('region') ?? 'us-east-1';
    const { SINKSIDE_S3_KEY: accessKeyId, SINKSIDE_S3_SECRET: secretAccessKey } = env;
    if (!accessKeyId || !secretAccessKey)
      throw new StoreRefused(`Set SINKSIDE_S3_KEY and SINKSIDE_S3_SECRET to the keys of ${url.origin}.`);
    const client = new AwsClient({ accessKeyId, secretAccessKey, service: 's3', region });
    return new S3Parts(`${url.origin}${url.pathname.replace(/\/$/, '')}`, client);
  }

  async has(sha256: string): Promise<boolean> {
    const { status } = await this.ask('HEAD', sha256, [200, 404]);
    return status === 200;
  }

  async put(sha256: string, content: Uint8Array): Promise<void> {
    checked(sha256, content, this.where);
    if (await this.has(sha256)) return;
    await this.ask('PUT', sha256, [200], content);
  }

  async read(sha256: string): Promise<Buffer> {
    const response = await this.ask('GET', sha256, [200, 404]);
    if (response.status === 404) throw new MissingPart(sha256, this.where);
    return checked(sha256, Buffer.from(await response.arrayBuffer()), this.where);
  }

  async remove(sha256: string): Promise<void> {
    await this.ask('DELETE', sha256, [200, 204, 404]);
  }

  private async ask(
    method: string,
    sha256: string,
    expected: readonly number[],
    content?: Uint8Array,
  ): Promise<Response> {
    const response = await this.client.fetch(`${this.where}/${pathOf(sha256)}`, {
      method,
      signal: AbortSignal.timeout(ANSWER_WITHIN),
      // The store compares what comes with the hash that was signed.
      ...(content && { body: new Uint8Array(content), headers: { 'x-amz-content-sha256': sha256 } }),
    });
    if (expected.includes(response.status)) return response;
    const said = (await response.text().catch(() => '')).slice(0, 300);
    throw new StoreRefused(`${method} ${this.where}/${pathOf(sha256)}: ${response.status} ${said}`);
  }
}
