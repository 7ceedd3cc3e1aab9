import { useState } from 'react';

/** Asks for the token that the archive gave an instructor or the school. */
export function SignIn({ onToken }: { readonly onToken: (token: string) => void }) {
  const [typed, setTyped] = useState('');
  return (
    <form
      className="panel"
      onSubmit={(event) => {
        event.preventDefault();
        onToken(typed.trim());
      }}
    >
      <label>
        Your token{' '}
        <input
          type="password"
          autoComplete="current-password"
          required
          value={typed}
          onChange={({ target }) => setTyped(target.value)}
        />
      </label>
      <p className="hint">
        The school hands it out. It is kept until you sign out or close this tab, and nowhere else.
      </p>
      <button type="submit" className="button main">
        Sign in
      </button>
    </form>
  );
}
