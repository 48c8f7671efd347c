import { expect, it } from 'vitest'
import { keyMeant, type KeyDone } from './keys'

const all: KeyDone[] = [
  { key: 'p', run: () => {} },
  { key: 'z', ctrl: true, run: () => {} },
]
const press = (key: string, more: object = {}) => ({ key, ctrlKey: false, metaKey: false, altKey: false, target: null, defaultPrevented: false, ...more })

it('finds the key', () => {
  expect(keyMeant(press('p'), all, true)).toBe(all[0])
  expect(keyMeant(press('z', { ctrlKey: true }), all, true)).toBe(all[1])
  expect(keyMeant(press('z'), all, true)).toBeNull()
  expect(keyMeant(press('p', { ctrlKey: true }), all, true)).toBeNull()
  expect(keyMeant(press('p', { altKey: true }), all, true)).toBeNull()
})
it('rests while a person types', () => {
  const into = (tagName: string, type = '') => ({ target: { tagName, type } as unknown as EventTarget })
  expect(keyMeant(press('p', into('INPUT', 'text')), all, true)).toBeNull()
  expect(keyMeant(press('p', into('TEXTAREA')), all, true)).toBeNull()
  expect(keyMeant(press('p', into('INPUT', 'checkbox')), all, true)).toBe(all[0])
  expect(keyMeant(press('p', into('BUTTON')), all, true)).toBe(all[0])
})
it('can be switched off, save with Control', () => {
  expect(keyMeant(press('p'), all, false)).toBeNull()
  expect(keyMeant(press('z', { metaKey: true }), all, false)).toBe(all[1])
})
