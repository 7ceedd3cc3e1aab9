/** Stands where a reply is not there yet, or never came. */
export const Waiting = ({ failed }: { readonly failed: string }) =>
  failed === '' ? <p>Opening…</p> : <p role="alert">{failed}</p>;
