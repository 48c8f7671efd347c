// The pages, each loaded when it is first opened. A page is a folder with a Page.svelte that takes no props; the ones that
// are there are the ones that the workbench offers.
import type { Component } from 'svelte'
import { PAGES, type Page } from './lib/router.svelte'

type Loaded = { default: Component }
const found = import.meta.glob<Loaded>('./*/Page.svelte')

const loaderOf = (folder: string) => found[`./${folder}/Page.svelte`]
export const offered: Page[] = PAGES.filter((page) => loaderOf(page) !== undefined)

const loaded = new Map<string, Promise<Component>>()
export function pageOf(folder: string): Promise<Component> | null {
  const load = loaderOf(folder)
  if (!load) return null
  const known = loaded.get(folder) ?? load().then((m) => m.default)
  loaded.set(folder, known)
  known.catch(() => loaded.delete(folder))
  return known
}
