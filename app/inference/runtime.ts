/**
 * The inference runtime, in Node and in the browser the same WebAssembly build: what is measured in one holds in the
 * other. Nothing else in the house imports it.
 */
import * as ort from 'onnxruntime-web/wasm';

export { ort };

/** Named inputs or outputs of a session. */
export type Tensors = Record<string, ort.Tensor>;

/**
 * Opens a model held in memory. One thread runs it: speech is recognised several times faster than it is spoken, and
 * more threads would need cross-origin isolation and, in Node, another build of the runtime.
 *
 * @throws {Error} the bytes are no model this runtime can run
 */
export async function openModel(bytes: Uint8Array): Promise<ort.InferenceSession> {
  ort.env.wasm.numThreads = 1;
  return ort.InferenceSession.create(bytes, { executionProviders: ['wasm'] });
}

/** The float32 data of an output. @throws {Error} the model has no such output, or one of another type */
export function floats(outputs: Tensors, name: string): Float32Array {
  const data = outputs[name]?.data;
  if (!(data instanceof Float32Array)) throw new Error(`The model gave no float32 output "${name}".`);
  return data;
}

/** A tensor an output must hold. @throws {Error} it does not */
export function output(outputs: Tensors, name: string): ort.Tensor {
  const tensor = outputs[name];
  if (!tensor) throw new Error(`The model gave no output "${name}".`);
  return tensor;
}
