import { svelte } from '@sveltejs/vite-plugin-svelte'
import { viteSingleFile } from 'vite-plugin-singlefile'
import { defineConfig } from 'vitest/config'

export default defineConfig({
  plugins: [svelte(), viteSingleFile({ removeViteModuleLoader: true })],
  build: { target: 'es2022', emptyOutDir: true, reportCompressedSize: false },
  test: { include: ['src/**/*.test.ts'] },
})
