import { vitePreprocess } from '@sveltejs/vite-plugin-svelte'

export default {
  preprocess: vitePreprocess(),
  compilerOptions: {
    // Tables whose rows become blocks on narrow screens must name their roles: browsers drop the implied ones.
    warningFilter: (warning) => warning.code !== 'a11y_no_redundant_roles',
  },
}
