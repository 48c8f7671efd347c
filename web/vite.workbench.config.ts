// The workbench: hashed files beside its page, nothing inline, so that it runs under `default-src 'self'`.
// npm run build:workbench -- --outDir FOLDER
import { svelte } from '@sveltejs/vite-plugin-svelte'
import { fileURLToPath } from 'node:url'
import { defineConfig } from 'vite'

const here = (path: string) => fileURLToPath(new URL(path, import.meta.url))

export default defineConfig({
  root: here('src/workbench'),
  base: './',
  plugins: [svelte({ configFile: here('svelte.config.js') })],
  build: {
    target: 'es2022',
    outDir: here('dist/workbench'),
    emptyOutDir: true,
    reportCompressedSize: false,
    // Inlined assets would be data: addresses, which the page's policy refuses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  // A server already running (provenit serve) answers the page under development.
  server: { proxy: { '/api': process.env.PROVENIT_SERVER ?? 'http://127.0.0.1:8420' } },
})
