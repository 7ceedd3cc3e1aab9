import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';

/** The room's screens, and the archive's page. */
const PAGES = ['index', 'archive'].map((name) =>
  fileURLToPath(new URL(`renderer/${name}.html`, import.meta.url)),
);

/** Builds the screens into dist/renderer, whole: nothing is asked of any other origin when they run. */
export default defineConfig({
  root: 'renderer',
  plugins: [react()],
  // The listening worker is a module: it loads the inference runtime's WebAssembly by its own address.
  worker: { format: 'es' },
  build: {
    outDir: '../dist/renderer',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    rolldownOptions: { input: PAGES },
  },
});
